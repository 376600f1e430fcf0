package report

import (
	"math"
	"slices"
	"strings"

	"downlock/detect"
	"downlock/detect/readings"
)

// limitView is a limit of an event's rule, for the page.
type limitView struct {
	Name, Of, Unit string
	Source         string
	Limit          *number // where the number was furthest beyond it, or nearest, in the event
	Value          *number // of the number there
	Beyond         *number // how far beyond; not positive where it is within
	Gate           bool
	Upper          bool
}

// Exceeded reports whether the recorded number was beyond the limit. Numbers are compared
// as the page shows them.
func (v limitView) Exceeded() bool {
	return v.Beyond != nil && decimals(float64(*v.Beyond), 3) != "0" && *v.Beyond > 0
}

// limitViews says of each limit of an event's rule how the event stands to it.
func limitViews(result *detect.Result, e detect.Event) []limitView {
	var views []limitView
	span := readings.Spans{{Start: e.Start.Nominal, End: max(e.End.Nominal, e.Start.Nominal)}}
	for _, l := range result.Tracks.Limits(e.Rule) {
		v := limitView{Name: limitName(l), Of: clean(words(l.Of)), Unit: clean(shownUnit(l.Unit)), Source: clean(l.Source), Gate: l.Gate, Upper: l.Upper}
		v.measure(l, result.Tracks, span[0])
		views = append(views, v)
	}
	return views
}

// measure finds the time in the event at which the number was furthest beyond the limit.
func (v *limitView) measure(l detect.Limit, tracks *detect.Tracks, span detect.Span) {
	const margin = 1.0 // s, so that a curve has a piece at the very ends
	curve := tracks.Nominal(l.Of, readings.Spans{{Start: span.Start - margin, End: span.End + margin}})
	furthest := math.Inf(-1)
	for _, p := range curve {
		for _, q := range l.Curve {
			from, to := max(p.Start, q.Start, span.Start), min(p.End, q.End, span.End)
			if from > to {
				continue
			}
			// Both run straight between these times, so one end is furthest.
			for _, t := range []float64{from, to} {
				value, limit := along(p, t), along(q, t)
				beyond := value - limit
				if !l.Upper {
					beyond = -beyond
				}
				if beyond > furthest {
					furthest = beyond
					a, b, c := number(value), number(limit), number(beyond)
					v.Value, v.Limit, v.Beyond = &a, &b, &c
				}
			}
		}
	}
}

// along is the value of a piece at a time within it.
func along(p readings.Piece, t float64) float64 {
	if p.End == p.Start {
		return p.From
	}
	return p.From + (p.To-p.From)*(t-p.Start)/(p.End-p.Start)
}

// limitName is a limit in words. One written in a rule is the number itself.
func limitName(l detect.Limit) string {
	name, _, _ := strings.Cut(l.Name, "(") // too_low_gear_floor(computed_airspeed)
	if name == "" || strings.Trim(name, "0123456789.-") == "" {
		if l.Within != "" {
			return clean(words(l.Within))
		}
		return "limit of the rule"
	}
	if envelope := envelopes[name]; envelope != "" {
		return envelope
	}
	return clean(words(name))
}

// envelopes are the tables whose trade name is another than that of the profile.
var envelopes = map[string]string{"too_low_gear_floor": "mode 4A envelope", "too_low_flaps_floor": "mode 4B envelope"}

// whySeverity says in plain words why an event has its severity.
func whySeverity(e detect.Event) string {
	s := e.Rule.Severity
	if s.By == "" {
		why := "every event of this rule has this severity"
		if s.Always != e.Severity {
			why = "one level lower than " + string(s.Always) + ", because at its start: " + s.LoweredWhile
		}
		return clean(why)
	}
	i := slices.IndexFunc(e.Measures, func(m detect.Measure) bool { return m.Name == s.By })
	levels := s
	levels.LoweredWhile = ""
	if i < 0 || !e.Measures[i].Known {
		return clean(words(s.By) + " was not recorded, so the lowest severity applies; " + words(levels.String()))
	}
	m := e.Measures[i]
	why := words(s.By) + " is " + decimals(m.Value, 1) + " " + shownUnit(m.Unit)
	return clean(strings.TrimSpace(why) + "; " + words(levels.String()) + loweredBecause(s, e))
}

// loweredBecause says that a severity was lowered.
func loweredBecause(s detect.SeverityRule, e detect.Event) string {
	if s.LoweredWhile == "" || !slices.Contains(s.Levels(), e.Severity) {
		return ""
	}
	return "; one level lower if at its start: " + s.LoweredWhile
}

// limitLine is a limit drawn in a strip.
type limitLine struct {
	name  string
	curve readings.Curve
}

// limitsOf lists the lines of those limits that a number has, within a span.
func limitsOf(limits []detect.Limit, parameter string, span detect.Span) (lines []limitLine) {
	for _, l := range limits {
		if l.Of != parameter {
			continue
		}
		if c := l.Curve.Within(readings.Spans{span}); len(c) > 0 {
			lines = append(lines, limitLine{limitName(l), c})
		}
	}
	return lines
}
