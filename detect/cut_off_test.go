package detect_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"downlock/detect"
	"downlock/ingest"
	"downlock/ingest/simulator"
	"downlock/schemas"
	"downlock/testdata/effort"
)

// TestCutOff cuts the recordings of testdata/operations off wherever it may be, before, behind or
// both. What became of a roll or a touchdown is said only where the part in hand shows it, by the
// truth beside the recordings; and no event is certain that is none of the whole flight.
func TestCutOff(t *testing.T) {
	t.Parallel()
	p, d := operationsDetector(t)
	random := rand.New(rand.NewPCG(20341, 6))
	for _, o := range operationsRecordings(t) {
		rows := linesOf(t, o.path)
		part := cutPart{truth: o.truth, whole: d.Detect(readFile(t, o.path, p))}
		cuts := cutsOf(o.truth, effort.Of(2, 4, 60), random)
		for i, at := range cuts {
			for _, part.cut = range []detect.Span{{Start: 0, End: at}, {Start: at, End: o.truth.Seconds}, {Start: min(at, cuts[0]), End: max(at, cuts[0])}} {
				if part.cut.Seconds() < 5 {
					continue
				}
				inPart := func(at float64) bool { return at >= part.cut.Start && at <= part.cut.End }
				for _, one := range d.Detect(rowsWhere(t, rows, inPart, p)) {
					for _, fault := range part.beyond(one) {
						t.Errorf("%s, the part from %.1f to %.1f s (cut %d): %s", o.name, part.cut.Start, part.cut.End, i, fault)
					}
				}
			}
		}
	}
}

// TestOutages takes samples of some seconds out of the recordings of testdata/operations, those of all
// parameters and those of one. No event is certain that is none of the whole flight.
func TestOutages(t *testing.T) {
	t.Parallel()
	p, d := operationsDetector(t)
	random := rand.New(rand.NewPCG(20341, 9))
	for _, o := range operationsRecordings(t) {
		rows := linesOf(t, o.path)
		part := cutPart{truth: o.truth, whole: d.Detect(readFile(t, o.path, p))}
		names := strings.Split(rows[0], ",")
		for i, from := range cutsOf(o.truth, effort.Of(1, 2, 40), random) {
			to := from + []float64{3, 12, 45}[i%3]
			column := 1 + random.IntN(len(names)-1)
			without := slices.Clone(rows)
			for k, row := range without[1:] {
				if at := timeOfRow(row); at >= from && at <= to {
					cells := strings.Split(row, ",")
					cells[column] = ""
					without[1+k] = strings.Join(cells, ",")
				}
			}
			for what, r := range map[string]*ingest.Recording{
				"anything":    rowsWhere(t, rows, func(at float64) bool { return at < from || at > to }, p),
				names[column]: rowsWhere(t, without, func(float64) bool { return true }, p),
			} {
				for _, one := range d.Detect(r) {
					for _, fault := range part.eventsBeyond(one) {
						t.Errorf("%s, without %s from %.1f to %.1f s: %s", o.name, what, from, to, fault)
					}
				}
			}
		}
	}
}

// cutPart is a part of a recording, with what is known of the whole.
type cutPart struct {
	cut   detect.Span
	truth simulator.OperationsTruth
	whole []*detect.Result
}

// rowsWhere reads those rows of a recording whose time is to be kept.
func rowsWhere(t *testing.T, rows []string, keep func(at float64) bool, p *schemas.Profile) *ingest.Recording {
	t.Helper()
	in := []string{rows[0]}
	for _, row := range rows[1:] {
		if keep(timeOfRow(row)) {
			in = append(in, row)
		}
	}
	path := filepath.Join(t.TempDir(), "cut.csv")
	if err := os.WriteFile(path, []byte(strings.Join(in, "\n")), 0o600); err != nil {
		t.Fatal(err)
	}
	return readFile(t, path, p)
}

// cutsOf are moments about what happens on the ground and low above it, and some anywhere.
func cutsOf(truth simulator.OperationsTruth, n int, random *rand.Rand) (cuts []float64) {
	var about []float64
	for _, roll := range truth.Facts.Rolls {
		about = append(about, roll.Thrust, roll.End)
	}
	for _, down := range truth.Facts.Touchdowns {
		about = append(about, down.At)
	}
	for _, around := range truth.Facts.GoArounds {
		about = append(about, around.Start)
	}
	for range n {
		if len(about) > 0 {
			cuts = append(cuts, about[random.IntN(len(about))]+30*random.Float64()-10)
		}
		cuts = append(cuts, 20+random.Float64()*(truth.Seconds-20))
	}
	return cuts
}

// beyond lists what is said of the recording that the part does not show.
func (c cutPart) beyond(r *detect.Result) (faults []string) {
	add := func(format string, what ...any) { faults = append(faults, fmt.Sprintf(format, what...)) }
	near := func(t detect.Time, truly float64) bool { return t.Nominal > truly-3 && t.Nominal < truly+3 }
	for _, roll := range r.Flight.Rolls {
		shown := slices.ContainsFunc(c.truth.Facts.Rolls, func(x simulator.RollFact) bool {
			return x.EndsAs == string(roll.Ended) && near(roll.Ends, x.End) && x.End < c.cut.End+operationSlack
		})
		if !shown && roll.Ended != detect.RollsOn {
			add("a roll from %.1f to %.1f s ended as %s", roll.Begins.Nominal, roll.Ends.Nominal, roll.Ended)
		}
		// Of the recordings no roll begins within half a minute of a full stop. A touchdown is recorded
		// where a sample before it is.
		fromTouchdown, recorded := false, roll.FromTouchdown
		for _, x := range c.truth.Facts.Touchdowns {
			if x.At < roll.Begins.Nominal && roll.Begins.Nominal < x.At+30 {
				fromTouchdown = true
				if math.Abs(x.At-c.cut.Start) > 1 {
					recorded = x.At > c.cut.Start
				}
			}
		}
		if roll.FromTouchdown != (fromTouchdown && recorded) || fromTouchdown && !recorded && !roll.PerhapsFromTouchdown || roll.PerhapsFromTouchdown && roll.Begins.Nominal > c.cut.Start+30 {
			add("a roll from %.1f s: from a touchdown %v, perhaps %v", roll.Begins.Nominal, roll.FromTouchdown, roll.PerhapsFromTouchdown)
		}
	}
	perhaps := len(r.Flight.Rolls) > 0 && r.Flight.Rolls[0].PerhapsFromTouchdown
	if strings.Contains(strings.Join(r.Flight.Notes, "; "), "the recording begins in a take-off roll") != perhaps {
		add("perhaps a touchdown before the recording %v; notes %q", perhaps, r.Flight.Notes)
	}
	for _, down := range r.Flight.Touchdowns {
		shown := slices.ContainsFunc(c.truth.Facts.Touchdowns, func(x simulator.TouchdownFact) bool {
			return near(down.Time, x.At) && x.EndsAs == string(down.Landed)
		})
		if !shown && down.Landed != detect.LandedOrNot && !down.Perhaps {
			add("the touchdown at %.1f s is certainly a %s", down.Time.Nominal, down.Landed)
		}
	}
	for _, g := range r.Flight.GoArounds {
		if !slices.ContainsFunc(c.truth.Facts.GoArounds, func(x simulator.GoAroundFact) bool { return math.Abs(x.Start-g.Begins.Nominal) < 30 }) {
			add("a go-around at %.1f s", g.Begins.Nominal)
		}
	}
	return append(faults, c.eventsBeyond(r)...)
}

// eventsBeyond lists certain events that the whole recording does not have, or must not.
func (c cutPart) eventsBeyond(r *detect.Result) (faults []string) {
	for _, e := range r.Events {
		same := func(x detect.Event) bool {
			return x.Rule.ID == e.Rule.ID && x.Start.Earliest < e.End.Latest+2 && e.Start.Earliest < x.End.Latest+2
		}
		ofTheWhole := slices.ContainsFunc(c.whole, func(w *detect.Result) bool { return slices.ContainsFunc(w.Events, same) })
		barred := slices.ContainsFunc(c.truth.MustNot, func(b simulator.Barred) bool { return b.Rule == e.Rule.ID && b.Start == nil })
		if e.Certainty == detect.Certain && (barred || !ofTheWhole) {
			faults = append(faults, fmt.Sprintf("%s is certain at %.1f s", e.Rule.ID, e.Start.Nominal))
		}
	}
	return faults
}

// timeOfRow is the first cell of a row, in s.
func timeOfRow(row string) float64 {
	cell, _, _ := strings.Cut(row, ",")
	seconds, _ := strconv.ParseFloat(cell, 64)
	return seconds
}
