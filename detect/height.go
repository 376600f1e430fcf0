package detect

import (
	"slices"
	"sort"

	"downlock/detect/readings"
)

// defaultRadioCeiling (ft) is where a radio altitude stops being used as height
// when the profile does not say: a little below 2500 ft, the end of the range
// 14 CFR part 121 appendix M asks to be recorded, where readings saturate.
const defaultRadioCeiling = 2400.0

// heightAboveAerodrome is the height of the flight in feet: radio altitude
// below its ceiling, pressure altitude less that of the aerodrome above it. The
// aerodrome is that of departure until the highest point of each stay in the
// air, that of arrival after it; the pressure altitude at lift-off and touchdown
// stands for it. The note says what could not be had.
func heightAboveAerodrome(s *signals, f *Flight, air readings.Spans) (readings.Spliced, string) {
	window := readings.Spans{f.Span}
	var height readings.Spliced
	rest, note := window, "height above the aerodrome from pressure altitude alone: no radio altitude recorded"
	if radio := s.line("radio_altitude"); radio != nil {
		ceiling, ok := f.Profile.Values["radio_altitude_ceiling"]
		if !ok {
			ceiling = defaultRadioCeiling
		}
		valid := radio.Compare(readings.Below, ceiling, window).True
		height = append(height, readings.Part{Line: radio, Where: valid})
		rest, note = valid.Complement(window), ""
	}
	if len(rest) == 0 {
		return height, note
	}
	pressure := s.line("pressure_altitude")
	if pressure == nil {
		return height, "no pressure altitude recorded: height above the aerodrome is unknown beyond the range of radio altitude"
	}
	for _, part := range aerodromeParts(f, air, pressure) {
		if where := rest.Within(part.span); len(where) > 0 {
			height = append(height, readings.Part{Line: pressure, Shift: -part.elevation, Where: where})
		}
	}
	return height, note
}

// aerodromePart is a stretch of the flight and the pressure altitude of the
// aerodrome it is measured from.
type aerodromePart struct {
	span      Span
	elevation float64
}

func aerodromeParts(f *Flight, air readings.Spans, pressure *readings.Line) []aerodromePart {
	altitude := readings.Spliced{{Line: pressure, Where: readings.Spans{f.Span}}}
	var parts []aerodromePart
	from := f.Span.Start
	for i, a := range air {
		departure, haveDeparture := altitude.At(a.Start)
		arrival, haveArrival := altitude.At(a.End)
		haveDeparture = haveDeparture && !(i == 0 && f.BeginsInAir)
		haveArrival = haveArrival && !(i == len(air)-1 && f.EndsInAir)
		if !haveDeparture {
			departure = arrival
		}
		if !haveArrival {
			arrival = departure
		}
		if !haveDeparture && !haveArrival {
			continue // neither aerodrome is in the recording: unknown beyond radio altitude
		}
		top := highestTime(altitude, a)
		parts = append(parts, aerodromePart{stretch(from, top), departure}, aerodromePart{stretch(top, a.End), arrival})
		from = a.End
	}
	if n := len(parts); n > 0 {
		parts = append(parts, aerodromePart{stretch(from, f.Span.End), parts[n-1].elevation})
	}
	return parts
}

// highestTime is the time of the highest sample, the middle of the span when
// nothing is known.
func highestTime(height readings.Spliced, span Span) float64 {
	times, values := height.Samples(readings.Spans{span})
	if len(times) == 0 {
		return (span.Start + span.End) / 2
	}
	highest := 0
	for i, v := range values {
		if v > values[highest] {
			highest = i
		}
	}
	return times[highest]
}

// Height is the height above the aerodrome in feet at the times of its samples,
// in order of time, for drawing. Where the aerodrome it is measured from changes
// there are two values at one time, that of the old one first. Both slices are
// empty where it is unknown throughout.
func (f *Flight) Height() (times, heights []float64) {
	times, heights = f.height.Samples(readings.Spans{f.Span})
	for i := 1; i < len(f.height); i++ {
		before, after := f.height[i-1:i], f.height[i:i+1]
		at := after[0].Where[0].Start
		if before[0].Line != after[0].Line || before[0].Shift == after[0].Shift || before[0].Where.Hull()[0].End != at {
			continue
		}
		// The change is at the highest sample, which counts as one of the new aerodrome.
		if k := sort.SearchFloat64s(times, at); k < len(times) && times[k] == at {
			if v, known := before.At(at); known {
				times, heights = slices.Insert(times, k, at), slices.Insert(heights, k, v)
			}
		}
	}
	return times, heights
}
