package detect

import (
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
func heightAboveAerodrome(s *signals, f *Flight, air readings.Spans) (readings.Number, string) {
	window := readings.Spans{f.Span}
	ceiling, ok := f.Profile.Values["radio_altitude_ceiling"]
	if !ok {
		ceiling = defaultRadioCeiling
	}
	radioValid := s.compare("radio_altitude", readings.Below, ceiling, window).True
	height := s.number("radio_altitude", radioValid)
	rest := radioValid.Complement(window)
	if len(rest) == 0 {
		return height, ""
	}
	if !s.has("pressure_altitude") {
		return height, "no pressure altitude recorded: height above the aerodrome is unknown beyond the range of radio altitude"
	}
	altitude := s.number("pressure_altitude", window)
	for _, part := range aerodromeParts(f, air, altitude.Nominal) {
		where := readings.Intersect(rest, readings.Spans{part.span})
		n := readings.Subtract(altitude.Within(where), readings.Constant(part.elevation, where))
		height = height.Beside(n)
	}
	note := ""
	if !s.has("radio_altitude") {
		note = "height above the aerodrome from pressure altitude alone: no radio altitude recorded"
	}
	return height, note
}

// aerodromePart is a stretch of the flight and the pressure altitude of the
// aerodrome it is measured from.
type aerodromePart struct {
	span      Span
	elevation float64
}

func aerodromeParts(f *Flight, air readings.Spans, altitude readings.Curve) []aerodromePart {
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
		top := highestTime(altitude.Within(readings.Spans{a}), a)
		parts = append(parts, aerodromePart{stretch(from, top), departure}, aerodromePart{stretch(top, a.End), arrival})
		from = a.End
	}
	if n := len(parts); n > 0 {
		parts = append(parts, aerodromePart{stretch(from, f.Span.End), parts[n-1].elevation})
	}
	return parts
}

// highestTime is the time of the highest point, the middle of the span when
// nothing is known.
func highestTime(c readings.Curve, span Span) float64 {
	if len(c) == 0 {
		return (span.Start + span.End) / 2
	}
	at, highest := c[0].Start, c[0].From
	for _, p := range c {
		if p.From > highest {
			at, highest = p.Start, p.From
		}
		if p.To > highest {
			at, highest = p.End, p.To
		}
	}
	return at
}

// Height is the height above the aerodrome in feet at the times of its samples,
// in order of time, for drawing. Both slices are empty where it is unknown
// throughout.
func (f *Flight) Height() (times, heights []float64) {
	for _, p := range f.height.Nominal {
		if n := len(times); n == 0 || times[n-1] != p.Start {
			times, heights = append(times, p.Start), append(heights, p.From)
		}
		times, heights = append(times, p.End), append(heights, p.To)
	}
	return times, heights
}
