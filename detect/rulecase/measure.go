package rulecase

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"downlock/detect"
)

// Measure is an expected measurement of the case's first flight.
type Measure struct {
	ID string
	// Opportunity is the number of the opportunity it was made in, 0 for one made
	// outside of all. Where it is negative there must be no more than one.
	Opportunity int
	Outcome     detect.Outcome
	Certainty   detect.Certainty // "" is not looked at
	// Value and its bounds are looked at when it is measured; infinite is no bound.
	Value, Lowest, Highest float64
	Because                string // part of the reasons, when not evaluable
}

// parseMeasure reads ID [of N] [CERTAINTY] VALUE in A..B, or ID [of N] [CERTAINTY]
// OUTCOME [because TEXT].
func parseMeasure(text string) (m Measure, err error) {
	text, m.Because, _ = strings.Cut(text, " because ")
	f := strings.Fields(text)
	m.Opportunity = -1
	if len(f) > 2 && f[1] == "of" {
		if m.Opportunity, err = strconv.Atoi(f[2]); err != nil || m.Opportunity < 0 {
			return m, fmt.Errorf("%q is not a number of an opportunity: they are numbered from 1", f[2])
		}
		f = slices.Delete(f, 1, 3)
	}
	if len(f) > 1 && slices.Contains([]string{string(detect.Certain), string(detect.Possible)}, f[1]) {
		m.Certainty = detect.Certainty(f[1])
		f = slices.Delete(f, 1, 2)
	}
	if len(f) < 3 {
		return m, fmt.Errorf("write measure ID [of N] VALUE in A..B, or measure ID [of N] did not happen, not recorded or not evaluable")
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
		return m, fmt.Errorf("%q is not a range such as 10..20", f[3])
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

// differences compares with the measurements of that id: with the one of the same
// opportunity, or with the only one.
func (w Measure) differences(all []detect.Measurement) []string {
	made := slices.DeleteFunc(slices.Clone(all), func(m detect.Measurement) bool {
		return m.Rule.ID != w.ID || w.Opportunity >= 0 && m.Opportunity != w.Opportunity
	})
	if numbered := slices.DeleteFunc(slices.Clone(made), func(m detect.Measurement) bool { return m.Opportunity == 0 }); w.Opportunity < 0 && len(numbered) > 0 {
		made = numbered
	}
	var found []string
	for i := range made {
		got := Measure{w.ID, made[i].Opportunity, made[i].Outcome, made[i].Certainty, made[i].Value, made[i].Lowest, made[i].Highest, strings.Join(made[i].Missing, "; ")}
		if len(made) == 1 && w.matches(got) {
			return nil
		}
		found = append(found, got.String())
	}
	if len(found) == 0 {
		found = []string{"none"}
	}
	return []string{fmt.Sprintf("measure %s\n  expected: %s\n  found:    %s", w.ID, w, strings.Join(found, "\n            "))}
}

// matches compares an expected measurement with a found one.
func (w Measure) matches(found Measure) bool {
	near := func(a, b float64) bool { return a == b || math.Abs(a-b) <= tolerance }
	same := w.Outcome == found.Outcome && (w.Certainty == "" || w.Certainty == found.Certainty) && strings.Contains(found.Because, w.Because)
	return same && (w.Outcome != detect.Measured || near(w.Value, found.Value) && near(w.Lowest, found.Lowest) && near(w.Highest, found.Highest))
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
	if m.Opportunity >= 0 {
		text = fmt.Sprintf("of %d %s", m.Opportunity, text)
	}
	return text
}
