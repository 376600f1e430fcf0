package detect_test

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"downlock/detect"
	"downlock/ingest/simulator"
)

// score is how far the findings in one recording are from the truth about it.
// Each fault is a line of plain words.
type score struct {
	missed   []string // must be reported and is not
	certain  []string // must not be reported and is, certainly
	possible []string // must not be reported and is, possibly
	counts   []string // opportunities and facts that differ
}

func (s score) clean() bool {
	return len(s.missed)+len(s.certain)+len(s.possible)+len(s.counts) == 0
}

func (s *score) add(o score) {
	s.missed, s.certain = append(s.missed, o.missed...), append(s.certain, o.certain...)
	s.possible, s.counts = append(s.possible, o.possible...), append(s.counts, o.counts...)
}

// held holds the findings of a detector in a recording, to compare with the truth. Turbulence
// and the recorder's own delays move findings by up to slack, s.
type held struct {
	results []*detect.Result
	note    string // what is said of a recording without a flight
	truth   simulator.OperationsTruth
	slack   float64
}

func (h held) score() (s score) {
	for _, due := range h.truth.Must {
		if why := h.misses(due); why != "" {
			s.missed = append(s.missed, why)
		}
	}
	for _, barred := range h.truth.MustNot {
		for _, e := range h.eventsOf(barred.Rule) {
			if !h.touches(e.Start, e.End, barred.Start, barred.End) {
				continue
			}
			line := fmt.Sprintf("%s at %.1f to %.1f s", e.Rule.ID, e.Start.Nominal, e.End.Nominal)
			if e.Certainty == detect.Certain {
				s.certain = append(s.certain, line)
			} else {
				s.possible = append(s.possible, line)
			}
		}
		if n := h.ofKind(barred.Kind); n > h.trueOfKind(barred.Kind) {
			s.certain = append(s.certain, fmt.Sprintf("%d of kind %s, %d are true", n, barred.Kind, h.trueOfKind(barred.Kind)))
		}
	}
	s.counts = append(s.counts, h.countFaults()...)
	s.counts = append(s.counts, h.factFaults()...)
	for _, id := range h.truth.NoOpportunity {
		for _, r := range h.results {
			for _, e := range r.Evaluations {
				if e.Rule.ID == id && e.Coverage != detect.NoOpportunity && e.Coverage != detect.NotEvaluable {
					s.counts = append(s.counts, fmt.Sprintf("%s is %s, had no opportunity", id, e.Coverage))
				}
			}
		}
	}
	return s
}

func (h held) eventsOf(rule string) (out []detect.Event) {
	if rule == "" {
		return nil
	}
	for _, r := range h.results {
		out = append(out, ofRules(r.Events, []string{rule})...)
	}
	return out
}

// touches reports whether something found touches a window, absent at either end
// where it is open.
func (h held) touches(begins, ends detect.Time, from, to *float64) bool {
	return (from == nil || ends.Latest >= *from-h.slack) && (to == nil || begins.Earliest <= *to+h.slack)
}

// misses says that something due is not reported, "" when it is, and when nothing
// in a Result says such a thing: what its pages say is tested there.
func (h held) misses(due simulator.Due) string {
	if due.Rule == nil {
		return h.missesFact(due)
	}
	if due.What == simulator.Partly {
		for _, r := range h.results {
			for _, e := range r.Evaluations {
				if e.Rule.ID == *due.Rule && e.Coverage == detect.NotEvaluable {
					return fmt.Sprintf("%s is not evaluable: %s", *due.Rule, strings.Join(e.Missing, ", "))
				}
			}
		}
		return ""
	}
	n, tooSevere := 0, false
	for _, e := range h.eventsOf(*due.Rule) {
		if h.touches(e.Start, e.End, &due.Start, &due.End) {
			n++
			tooSevere = tooSevere || due.SeverityBelow != "" && rank(e.Severity) >= rank(detect.Severity(due.SeverityBelow))
		}
	}
	switch {
	case n == 0 || due.Count > 0 && n != due.Count:
		return fmt.Sprintf("%s: %s %d times from %.1f to %.1f s", due.What, *due.Rule, n, due.Start, due.End)
	case tooSevere:
		return fmt.Sprintf("%s: %s as severe as if the approach had been continued", due.What, *due.Rule)
	}
	return ""
}

func rank(s detect.Severity) int {
	return slices.Index([]detect.Severity{detect.Low, detect.Medium, detect.High}, s)
}

// missesFact looks among the facts of a flight for those that no rule says. A fact that
// nothing in a Result says is missed.
func (h held) missesFact(due simulator.Due) string {
	if len(h.results) == 0 && strings.Contains(h.note, due.What) {
		return ""
	}
	var kind string
	if _, err := fmt.Sscanf(due.What, "%d %s", new(int), &kind); err == nil {
		kind = strings.TrimSuffix(strings.Replace(kind, "goes", "go", 1), "es")
		kind = strings.TrimSuffix(kind, "s")
		if n := h.ofKind(kind); n != due.Count {
			return fmt.Sprintf("%s: found %d", due.What, n)
		}
		return ""
	}
	for what, says := range sayings {
		if strings.HasPrefix(due.What, what) {
			if slices.ContainsFunc(h.results, func(r *detect.Result) bool { return says(h, r, due) }) {
				return ""
			}
			return fmt.Sprintf("%s from %.1f to %.1f s", due.What, due.Start, due.End)
		}
	}
	return due.What + ": nothing says such a thing"
}

// sayings tell whether a Result says a due fact, by the words it begins with.
// Whoever makes a Result say more adds it here.
var sayings = map[string]func(h held, r *detect.Result, due simulator.Due) bool{
	"go-around": func(h held, r *detect.Result, due simulator.Due) bool {
		return slices.ContainsFunc(r.Flight.GoArounds, func(g detect.GoAround) bool { return h.is(due, g.Lowest, g.Height, g.Known) })
	},
	"rejected take-off": func(h held, r *detect.Result, due simulator.Due) bool {
		return slices.ContainsFunc(r.Flight.Rolls, func(t detect.TakeOffRoll) bool {
			return t.Ended == detect.Rejected && h.is(due, t.Ends, t.HighestSpeed, t.Known)
		})
	},
	"balked landing": func(h held, r *detect.Result, due simulator.Due) bool {
		return slices.ContainsFunc(r.Flight.TouchedDown(detect.BalkedLanding), func(t detect.Time) bool { return h.is(due, t, 0, true) })
	},
	"touchdown with honest bounds": func(held, *detect.Result, simulator.Due) bool { return true }, // the facts are compared
	"the take-off configuration warning sounded in time": func(_ held, r *detect.Result, _ simulator.Due) bool {
		return slices.ContainsFunc(r.Audits, func(a detect.Audit) bool {
			return a.Warning.Name == "takeoff_configuration" && a.AgreementSeconds > 0 && len(a.Findings) == 0
		})
	},
	"highest load about the touchdown": func(h held, r *detect.Result, due simulator.Due) bool {
		return slices.ContainsFunc(r.Measurements, func(m detect.Measurement) bool {
			return m.Rule.ID == "touchdown-acceleration" && m.At != nil && h.is(due, *m.At, m.Value, m.Outcome == detect.Measured)
		})
	},
	"terrain below": func(h held, r *detect.Result, due simulator.Due) bool { return h.observed(r, detect.Terrain, due) },
	"data quality":  func(h held, r *detect.Result, due simulator.Due) bool { return h.observed(r, detect.Implausible, due) },
	"warning tested on the stand": func(_ held, r *detect.Result, _ simulator.Due) bool {
		return slices.ContainsFunc(r.Measurements, func(m detect.Measurement) bool {
			return strings.HasSuffix(m.Rule.ID, "-tests") && m.Value > 0
		})
	},
	"gear cycle with its speeds": func(h held, r *detect.Result, due simulator.Due) bool {
		return slices.ContainsFunc(r.Opportunities, func(o detect.Opportunity) bool {
			return o.Kind == detect.OpenExtension && h.touches(o.Begins, o.Ends, &due.Start, &due.End)
		})
	},
	"gear stayed down": func(_ held, r *detect.Result, _ simulator.Due) bool {
		return len(ofRules(r.Events, []string{"gear-left-down"})) > 0
	},
	"UTC": func(_ held, r *detect.Result, _ simulator.Due) bool { return !r.Flight.Recording.Epoch.IsZero() },
}

// observed reports whether the radio altitude was found odd in that way when it was.
func (h held) observed(r *detect.Result, kind detect.ObservationKind, due simulator.Due) bool {
	return slices.ContainsFunc(r.Observations, func(o detect.Observation) bool {
		return o.Kind == kind && o.Parameter == "radio_altitude" && slices.ContainsFunc(o.Spans, func(s detect.Span) bool {
			return s.Start <= due.End+h.slack && s.End >= due.Start-h.slack
		})
	})
}

// is reports whether something found at a time, with a value, is the due fact.
func (h held) is(due simulator.Due, at detect.Time, value float64, known bool) bool {
	return h.touches(at, at, &due.Start, &due.End) && (due.Value == nil || known && math.Abs(value-*due.Value) <= due.Tolerance)
}
