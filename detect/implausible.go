package detect

import (
	"fmt"
	"math"

	"downlock/detect/readings"
)

// What a radio altimeter cannot have seen: at 250 kt a slope of 100 per cent changes
// it by 420 ft in a second. Common practice.
const (
	radioJump     = 300.0 // ft from one sample to the next
	radioRate     = 450.0 // ft/s
	radioReturns  = 60.0  // s within which it jumps back
	pressureShare = 0.3   // of the jump, that the pressure altitude does not make too
)

// excursions lists the samples, first and last, between a jump of the radio altitude
// and a jump back, neither of which the pressure altitude makes.
func excursions(radio, pressure *readings.Line) (out [][2]int) {
	jump := func(i int) float64 {
		t0, t1 := radio.Times[i-1], radio.Times[i]
		by := radio.Values[i] - radio.Values[i-1]
		if math.Abs(by) < radioJump || math.Abs(by) < radioRate*(t1-t0) || t1-t0 > radio.Gap {
			return 0
		}
		if climbed, ok := change(pressure, t0-1, t1+1); !ok || math.Abs(climbed) > pressureShare*math.Abs(by) {
			return 0
		}
		return by
	}
	away := 0 // the sample it jumped to, 0 for none
	for i := 1; i < len(radio.Times); i++ {
		by := jump(i)
		switch {
		case by == 0:
		case away > 0 && by*(radio.Values[away]-radio.Values[away-1]) < 0 && radio.Times[i]-radio.Times[away] <= radioReturns:
			out = append(out, [2]int{away, i - 1})
			away = 0
		default:
			away = i
		}
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
		spans = append(spans, stretch(radio.Times[x[0]], radio.Times[x[1]]))
		next = x[1] + 1
	}
	out.Times = append(out.Times, radio.Times[next:]...)
	out.Values = append(out.Values, radio.Values[next:]...)
	return &out, spans
}

// terrain lists where the radio altitude dips and comes back while the pressure
// altitude does not: the ground rises below the aircraft.
func terrain(f *Flight) (out []Observation) {
	radio, pressure := f.signals.line("radio_altitude"), f.signals.line("pressure_altitude")
	if radio == nil || pressure == nil {
		return nil
	}
	for _, a := range f.air {
		from, to := radio.Within(a.span())
		times, values := radio.Times[from:to], radio.Values[from:to]
		for _, i := range turningPoints(values, func(int) bool { return true }) {
			first, last := dip(values, i)
			climbed, ok := change(pressure, times[i], times[last])
			if !ok || climbed > goAroundDeviation/2 {
				continue
			}
			out = append(out, Observation{Terrain, "radio_altitude", readings.Spans{stretch(times[first], times[last])},
				fmt.Sprintf("dips to %.0f ft and comes back to %.0f ft while the pressure altitude changes by %.0f ft: terrain below", values[i], values[last], climbed)})
		}
	}
	return out
}

// dip is the place before and after a lowest point where the values are higher by
// goAroundDeviation.
func dip(values []float64, lowest int) (first, last int) {
	first, last = lowest, lowest
	for first > 0 && values[first] < values[lowest]+goAroundDeviation {
		first--
	}
	for last < len(values)-1 && values[last] < values[lowest]+goAroundDeviation {
		last++
	}
	return first, last
}
