package detect

import (
	"math"

	"downlock/detect/readings"
)

// addedUp is where the condition holds whose seconds are added up.
type addedUp struct {
	holds   readings.Condition
	windows readings.Spans
}

func addUp(env *Tracks, rule *MeasurementRule) addedUp {
	c := rule.seconds.Condition(env)
	if rule.while != nil {
		c = readings.And(rule.while.Condition(env), c)
	}
	return addedUp{c, env.windows()}
}

// measure measures how long a condition holds: in every history at least as long
// as it certainly does, and no longer than it possibly does.
func (a addedUp) measure(m *Measurement, p *part) {
	c := p.condition(a.holds, a.windows)
	m.Outcome = Measured
	m.Value, m.Lowest, m.Highest = c.True.Seconds(), c.Certain.Seconds(), c.Possible.Seconds()
	m.UnknownSeconds = c.Missing(a.windows).Seconds()
}

// extreme is the largest or smallest value of a number while a condition holds.
type extreme struct{ env *Tracks }

// measure finds the extreme and bounds it.
//
// Why the bounds hold: let the condition hold on C in a history, which holds all
// of the certain spans and nothing beyond the possible ones. The largest value on
// C is none larger than the largest of the upper bound over the possible spans,
// and no smaller than the value at any certain time, so no smaller than the
// largest of the lower bound there. With no certain time it is still a value at
// some possible one. The smallest is the largest of the negative.
func (x extreme) measure(m *Measurement, p *part) {
	windows := x.env.windows()
	c := readings.Always(windows)
	if m.Rule.while != nil {
		c = m.Rule.while.Condition(x.env)
	}
	c = p.condition(c, windows)
	sign := 1.0
	if m.Rule.Take == "smallest" {
		sign = -1
	}
	n := m.Rule.of.Number(x.env, c.Possible)
	if sign < 0 {
		n = n.Scale(sign)
	}
	m.UnknownSeconds = readings.Union(c.Missing(windows), n.Nominal.Holes(c.True)).Seconds()
	if len(c.Certain) == 0 && len(c.Possible) > 0 {
		m.Certainty = Possible
	}
	value, at, known := n.Nominal.Peak(c.True)
	switch {
	case len(c.True) == 0 || known && math.IsInf(value, -1): // or nothing limits it
		m.Outcome = DidNotHappen
		return
	case !known || math.IsNaN(value) || math.IsInf(value, 1):
		m.Outcome = NotRecorded
		return
	}
	lowest, highest := extremeBounds(n, c)
	m.Outcome, m.Value, m.Lowest, m.Highest = Measured, value, lowest, highest
	if sign < 0 {
		m.Value, m.Lowest, m.Highest = -value, -highest, -lowest
	}
	reach := c.Possible.Hull()[0]
	m.At = &Time{at, floor(reach.Start), reach.End}
}

// extremeBounds bounds the largest value of a number on a condition.
func extremeBounds(n readings.Number, c readings.Condition) (lowest, highest float64) {
	highest, _, known := n.High.Peak(c.Possible)
	if !known || len(n.High.Holes(c.Possible)) > 0 || math.IsNaN(highest) {
		highest = math.Inf(1)
	}
	lowest, _, known = n.Low.Peak(c.Certain)
	if !known {
		if lowest, _, known = n.Low.Extremes(); len(n.Low.Holes(c.Possible)) > 0 {
			known = false
		}
	}
	if !known || math.IsNaN(lowest) {
		lowest = math.Inf(-1)
	}
	return lowest, highest
}
