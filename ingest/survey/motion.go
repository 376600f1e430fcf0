package survey

import (
	"fmt"
	"math"
	"slices"

	"downlock/ingest/accuracy"
	"downlock/schemas"
)

// motion watches the numbers of a column pass. For each that moves it keeps the
// distance from the line between the numbers before and after it.
type motion struct {
	times, values [2]float64 // the last two
	seen          int
	off           sketch
}

// uneven is the largest ratio of two neighbouring intervals; a larger one means a
// gap.
const uneven = 2

func (m *motion) add(at, v float64) {
	if m.seen >= 2 && (v != m.values[1] || m.values[0] != m.values[1]) {
		before, after := m.times[1]-m.times[0], at-m.times[1]
		if before > 0 && after > 0 && before <= uneven*after && after <= uneven*before {
			line := m.values[0] + (v-m.values[0])*before/(before+after)
			m.off.add(at, math.Abs(m.values[1]-line))
		}
	}
	m.times, m.values = [2]float64{m.times[1], at}, [2]float64{m.values[1], v}
	m.seen++
}

// estimate returns the accuracy that the samples of a column allow, in its own unit.
func (c *columnTally) estimate() accuracy.Estimate {
	return accuracy.Sum(accuracy.Resolution(c.sketch.values), slices.Clone(c.motion.off.values))
}

// accuracy returns the accuracy that the samples of a continuous parameter allow, in
// its canonical unit, and its evidence. It returns "" where the samples do not tell.
// The figure is not put in force: one figure for the whole is cruder than the estimate
// from place to place made without it.
func (s *Suggestion) accuracy(c *Column) string {
	p, _ := schemas.LookupParameter(s.Parameter)
	factor, err := schemas.UnitFactor(s.Unit, p.Unit)
	if p.Kind != schemas.Continuous || c == nil || err != nil {
		return ""
	}
	if s.Scale != 0 {
		factor *= math.Abs(s.Scale)
	}
	e := accuracy.Estimate{Resolution: c.Resolution * factor, Motion: c.Motion * factor}
	if e.Accuracy() == 0 {
		return ""
	}
	unit := p.Unit
	if unit == "1" {
		unit = ""
	}
	return fmt.Sprintf("accuracy: %s, estimated: %s. Give it if it is known; otherwise it is estimated at each sample.", e, e.Evidence(unit))
}
