package detect

import (
	"fmt"

	"downlock/detect/readings"
)

// terrain lists where the radio altitude dips and comes back while the pressure
// altitude does not: the ground rises below the aircraft.
func terrain(f *Flight) (out []Observation) {
	radio, pressure := f.signals.Line("radio_altitude"), f.signals.Line("pressure_altitude")
	if radio == nil || pressure == nil {
		return nil
	}
	for _, a := range f.air {
		from, to := radio.Within(a.span())
		times, values := radio.Times[from:to], radio.Values[from:to]
		for _, i := range turningPoints(values, func(int) bool { return true }) {
			first, last := dip(values, i)
			climbed, ok := pressure.Change(times[i], times[last])
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
