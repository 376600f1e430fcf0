package detect_test

import (
	"fmt"
	"slices"

	"downlock/detect"
	"downlock/ingest/simulator"
)

// counted names, for every count of the truth, the kind of opportunity and how it
// ended ("": however).
var counted = []struct {
	kind, ended string
	of          func(simulator.Opportunities) int
}{
	{"take-off roll", "", func(o simulator.Opportunities) int { return o.TakeOffRolls }},
	{"take-off roll", "rejected", func(o simulator.Opportunities) int { return o.RejectedTakeOffs }},
	{"lift-off", "", func(o simulator.Opportunities) int { return o.LiftOffs }},
	{"gear retraction", "", func(o simulator.Opportunities) int { return o.GearRetractions }},
	{"gear extension", "", func(o simulator.Opportunities) int { return o.GearExtensions }},
	{"approach", "", func(o simulator.Opportunities) int { return o.Approaches }},
	{"go-around", "", func(o simulator.Opportunities) int { return o.GoArounds }},
	{"touchdown", "", func(o simulator.Opportunities) int { return o.Touchdowns }},
	{"landing", "", func(o simulator.Opportunities) int { return o.Landings }},
	{"touch-and-go", "", func(o simulator.Opportunities) int { return o.TouchAndGoes }},
	{"balked landing", "", func(o simulator.Opportunities) int { return o.BalkedLandings }},
}

// ofKind counts the opportunities of a kind that were found.
func (h held) ofKind(kind string) int { return h.endedAs(kind, "") }

func (h held) endedAs(kind, ended string) (n int) {
	for _, r := range h.results {
		for _, o := range r.Opportunities {
			if string(o.Kind) == kind && (ended == "" || o.Ended == ended) {
				n++
			}
		}
	}
	return n
}

func (h held) trueOfKind(kind string) int {
	i := slices.IndexFunc(counted, func(c struct {
		kind, ended string
		of          func(simulator.Opportunities) int
	}) bool {
		return c.kind == kind && c.ended == ""
	})
	if i < 0 {
		return 0
	}
	return counted[i].of(h.truth.Opportunities)
}

// countFaults are the counts that differ.
func (h held) countFaults() (out []string) {
	flights := 1
	if h.truth.Facts.Flights != nil {
		flights = *h.truth.Facts.Flights
	}
	if len(h.results) != flights {
		out = append(out, fmt.Sprintf("%d flights, want %d", len(h.results), flights))
	}
	for _, c := range counted {
		if n, want := h.endedAs(c.kind, c.ended), c.of(h.truth.Opportunities); n != want {
			out = append(out, fmt.Sprintf("%s %s: %d, want %d", c.kind, c.ended, n, want))
		}
	}
	return out
}

// factFaults are the lift-offs, beginnings of approaches and touchdowns that lie
// outside the bounds found. In more than one flight the clock may have begun anew.
func (h held) factFaults() (out []string) {
	if len(h.results) != 1 {
		return nil
	}
	f := h.results[0].Flight
	outside := func(what string, true float64, found []detect.Time) {
		if !slices.ContainsFunc(found, func(t detect.Time) bool { return t.Earliest-h.slack <= true && true <= t.Latest+h.slack }) {
			out = append(out, fmt.Sprintf("%s at %.2f s lies outside %v", what, true, found))
		}
	}
	var lifted, touched []detect.Time
	for _, o := range h.results[0].Opportunities {
		if o.Kind == detect.OpenAir {
			lifted = append(lifted, o.Begins)
		}
	}
	for _, d := range f.Touchdowns {
		touched = append(touched, d.Time)
	}
	var begun []detect.Time
	for _, a := range f.Approaches {
		begun = append(begun, a.Begins)
	}
	for _, a := range h.truth.Facts.Approaches {
		outside("beginning of an approach", a.Start, begun)
	}
	for _, l := range h.truth.Facts.LiftOffs {
		outside("lift-off", l.At, lifted)
	}
	for _, d := range h.truth.Facts.Touchdowns {
		outside("touchdown", d.At, touched)
	}
	return out
}
