package samples

import (
	"math"
	"slices"

	"downlock/detect/readings"
	"downlock/schemas"
)

// defaultRadioCeiling (ft) is where a radio altitude stops being used as height
// when the profile does not say: a little below 2500 ft, the end of the range
// 14 CFR part 121 appendix M asks to be recorded, where readings saturate.
const defaultRadioCeiling = 2400.0

// RadioCeiling is the radio altitude (ft) from which on its reading is no height.
func RadioCeiling(p *schemas.Profile) float64 {
	if ceiling, ok := p.Values["radio_altitude_ceiling"]; ok {
		return ceiling
	}
	return defaultRadioCeiling
}

// saturated is the share of the ceiling below which a reading is a height for sure:
// what saturates there wavers with the noise and the steps of the column.
const saturated = 0.98

// HeightBelow is the radio altitude (ft) below which its reading is a height.
func HeightBelow(p *schemas.Profile) float64 { return saturated * RadioCeiling(p) }

// Excursions is where the radio altitude cannot have been as recorded.
func (s *Set) Excursions() readings.Spans {
	s.Line("radio_altitude")
	return s.excursions
}

// No radio altimeter sees more than this: at 250 kt a slope of 100 per cent changes
// it by 420 ft in a second. Common practice.
const (
	radioJump     = 300.0 // ft from one sample to the next
	radioRate     = 450.0 // ft/s
	radioReturns  = 60.0  // s within which it jumps back
	pressureShare = 0.3   // of the jump, that the pressure altitude does not make too
)

// excursions lists the samples, first and last, between a jump of the radio altitude
// and a jump back, neither of which the pressure altitude makes. Of a jump alone one side is wrong,
// and which is not known where a side is as short as an excursion: it is listed.
func excursions(radio, pressure *readings.Line) (out [][2]int) {
	jump := func(i int) float64 {
		t0, t1 := radio.Times[i-1], radio.Times[i]
		by := radio.Values[i] - radio.Values[i-1]
		if math.Abs(by) < radioJump || math.Abs(by) < radioRate*(t1-t0) || t1-t0 > radio.Gap {
			return 0
		}
		climbed, ok := pressure.Change(t0-1, t1+1)
		if from, to := pressure.Within(readings.Span{Start: t0 - 1, End: t1 + 1}); !ok && from < to { // beside an outage
			climbed, ok = pressure.Values[to-1]-pressure.Values[from], true
		}
		if !ok || math.Abs(climbed) > pressureShare*math.Abs(by) {
			return 0
		}
		return by
	}
	away := 0 // the sample it jumped to, 0 for none
	var alone []int
	for i := 1; i < len(radio.Times); i++ {
		by := jump(i)
		switch {
		case by == 0:
		case away > 0 && by*(radio.Values[away]-radio.Values[away-1]) < 0 && radio.Times[i]-radio.Times[away] <= radioReturns:
			out = append(out, [2]int{away, i - 1})
			away = 0
		default:
			alone = append(alone, away)
			away = i
		}
	}
	for _, i := range append(alone, away) {
		if i > 0 {
			out = append(out, shortSides(radio.Sampling, i)...)
		}
	}
	slices.SortFunc(out, func(a, b [2]int) int { return a[0] - b[0] })
	n := 0
	for _, x := range out {
		if n > 0 && x[0] <= out[n-1][1]+1 {
			out[n-1][1] = max(out[n-1][1], x[1])
			continue
		}
		out[n] = x
		n++
	}
	return out[:n]
}

// shortSides lists the samples before a jump to sample i and those from it on, each up to an outage
// or to an end of the recording, where they take no longer than an excursion.
func shortSides(s readings.Sampling, i int) (out [][2]int) {
	lost := func(k int) bool { return k == 0 || k == len(s.Times) || s.Times[k]-s.Times[k-1] > s.Gap }
	from, to := i-1, i+1
	for !lost(from) && s.Times[i]-s.Times[from] <= radioReturns {
		from--
	}
	for !lost(to) && s.Times[to]-s.Times[i] <= radioReturns {
		to++
	}
	if lost(from) && s.Times[i]-s.Times[from] <= radioReturns {
		out = append(out, [2]int{from, i - 1})
	}
	if lost(to) && s.Times[to-1]-s.Times[i] <= radioReturns {
		out = append(out, [2]int{i, to - 1})
	}
	return out
}

// plausible is a radio altitude without its excursions: where one was, nothing is
// known.
func plausible(radio, pressure *readings.Line) (*readings.Line, readings.Spans) {
	if pressure == nil {
		return radio, nil
	}
	found := excursions(radio, pressure)
	if len(found) == 0 {
		return radio, nil
	}
	out := *radio
	out.Times, out.Values = nil, nil
	var spans readings.Spans
	next := 0
	for _, x := range found {
		out.Times = append(out.Times, radio.Times[next:x[0]]...)
		out.Values = append(out.Values, radio.Values[next:x[0]]...)
		spans = append(spans, readings.Span{Start: radio.Times[x[0]], End: radio.Times[x[1]]})
		next = x[1] + 1
	}
	out.Times = append(out.Times, radio.Times[next:]...)
	out.Values = append(out.Values, radio.Values[next:]...)
	return &out, spans
}
