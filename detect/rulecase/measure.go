package rulecase

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"downlock/detect"
)

// Measure is an expected measurement of the case's first flight.
type Measure struct {
	ID        string
	Outcome   detect.Outcome
	Certainty detect.Certainty // "" is not looked at
	// Value and its bounds are looked at when it is measured; infinite is no bound.
	Value, Lowest, Highest float64
	Because                string // part of the reasons, when not evaluable
}

// parseMeasure reads ID [CERTAINTY] VALUE in A..B, or ID [CERTAINTY] OUTCOME
// [because TEXT].
func parseMeasure(text string) (m Measure, err error) {
	text, m.Because, _ = strings.Cut(text, " because ")
	f := strings.Fields(text)
	if len(f) > 1 && slices.Contains([]string{string(detect.Certain), string(detect.Possible)}, f[1]) {
		m.Certainty = detect.Certainty(f[1])
		f = slices.Delete(f, 1, 2)
	}
	if len(f) < 3 {
		return m, fmt.Errorf("write measure ID VALUE in A..B, or measure ID did not happen, not recorded or not evaluable")
	}
	m.ID = f[0]
	if len(f) != 4 || f[2] != "in" {
		m.Outcome, err = oneOf(strings.Join(f[1:], " "), detect.DidNotHappen, detect.NotRecorded, detect.NotMeasurable)
		return m, err
	}
	m.Outcome, m.Lowest, m.Highest = detect.Measured, math.Inf(-1), math.Inf(1)
	if m.Value, err = number(f[1]); err != nil {
		return m, err
	}
	low, high, ok := strings.Cut(f[3], "..")
	if !ok {
		return m, fmt.Errorf("%q is no range such as 10..20", f[3])
	}
	for _, end := range []struct {
		text string
		to   *float64
	}{{low, &m.Lowest}, {high, &m.Highest}} {
		if end.text != "" {
			if *end.to, err = number(end.text); err != nil {
				return m, err
			}
		}
	}
	return m, nil
}

func (w Measure) differences(got detect.Measurement) []string {
	found := Measure{w.ID, got.Outcome, got.Certainty, got.Value, got.Lowest, got.Highest, strings.Join(got.Missing, "; ")}
	near := func(a, b float64) bool { return a == b || math.Abs(a-b) <= tolerance }
	same := w.Outcome == found.Outcome && (w.Certainty == "" || w.Certainty == found.Certainty) && strings.Contains(found.Because, w.Because)
	if same && (w.Outcome != detect.Measured || near(w.Value, found.Value) && near(w.Lowest, found.Lowest) && near(w.Highest, found.Highest)) {
		return nil
	}
	return []string{fmt.Sprintf("measure %s\n  expected: %s\n  found:    %s", w.ID, w, found)}
}

// String writes the rest of the line, after the id, as a case has it.
func (m Measure) String() string {
	text := string(m.Outcome)
	if m.Outcome == detect.Measured {
		end := func(x float64) string {
			if math.IsInf(x, 0) {
				return ""
			}
			return fmt.Sprintf("%.3f", x)
		}
		text = fmt.Sprintf("%.3f in %s..%s", m.Value, end(m.Lowest), end(m.Highest))
	}
	if m.Certainty != "" {
		text = string(m.Certainty) + " " + text
	}
	if m.Because != "" {
		text += " because " + m.Because
	}
	return text
}
