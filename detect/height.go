package detect

import (
	"math"

	"downlock/detect/readings"
	"downlock/detect/samples"
)

// heightAboveAerodrome is the height of the flight in feet: radio altitude
// below its ceiling, pressure altitude less that of the aerodrome above it. The
// aerodrome is that of departure until the highest point of each stay in the
// air, that of arrival after it; the pressure altitude at lift-off and touchdown
// stands for it. The note says what could not be had.
func heightAboveAerodrome(s *samples.Set, f *Flight, air []stay) (readings.Spliced, string) {
	window := readings.Spans{f.Span}
	var height readings.Spliced
	rest, note := window, "height above the aerodrome from pressure altitude alone: no radio altitude recorded"
	if radio := s.Line("radio_altitude"); radio != nil {
		// Beyond its last sample before a gap its nominal reading goes on for an interval, its
		// bounds do not: there the other altitude knows more.
		recorded := radio.Compare(readings.AtLeast, math.Inf(-1), window).Certain
		valid := readings.Intersect(recorded, radio.Compare(readings.Below, samples.HeightBelow(f.Profile), window).True)
		height = append(height, readings.Part{Line: radio, Where: valid})
		rest, note = valid.Complement(window), ""
	}
	if len(rest) == 0 {
		return height, note
	}
	pressure := s.Line("pressure_altitude")
	if pressure == nil {
		return height, "no pressure altitude recorded: height above the aerodrome is unknown beyond the range of radio altitude"
	}
	for _, part := range aerodromeParts(f, air, pressure) {
		if where := rest.Within(part.span); len(where) > 0 {
			height = append(height, readings.Part{Line: pressure.Widened(part.accuracy), Shift: -part.elevation, Where: where})
		}
	}
	return height, note
}

// aerodromePart is a stretch of the flight and the pressure altitude of the
// aerodrome it is measured from, with its accuracy. An accuracy that is stated is
// that of a difference: the constant error of an altimeter is in both.
type aerodromePart struct {
	span                Span
	elevation, accuracy float64
}

func aerodromeParts(f *Flight, air []stay, pressure *readings.Line) []aerodromePart {
	altitude := readings.Spliced{{Line: pressure, Where: readings.Spans{f.Span}}}
	var parts []aerodromePart
	from := f.Span.Start
	for i, a := range air {
		departure, haveDeparture := altitude.At(a.begins.Nominal)
		arrival, haveArrival := altitude.At(a.ends.Nominal)
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
		up, down := f.elevationAccuracy(pressure, a.begins), f.elevationAccuracy(pressure, a.ends)
		if !haveDeparture {
			up = down
		}
		if !haveArrival {
			down = up
		}
		top := highestTime(altitude, a.span()).Nominal
		parts = append(parts, aerodromePart{stretch(from, top), departure, up}, aerodromePart{stretch(top, a.ends.Nominal), arrival, down})
		from = a.ends.Nominal
	}
	if n := len(parts); n > 0 {
		parts = append(parts, aerodromePart{stretch(from, f.Span.End), parts[n-1].elevation, parts[n-1].accuracy})
	}
	return parts
}

// elevationAccuracy is how far the pressure altitude at a lift-off or touchdown may be
// wrong by as that of the aerodrome: as a sample, where that is estimated, and where
// the time is that of a stand-in, by as much as the altitude changes within its bounds.
func (f *Flight) elevationAccuracy(pressure *readings.Line, at Time) (accuracy float64) {
	within := stretch(at.Earliest, at.Latest)
	if pressure.Accuracy == 0 {
		accuracy = pressure.AccuracyWithin(within)
	}
	if f.signals.AirGroundStandIn(f.Profile) == "" {
		return accuracy
	}
	low, high, _ := pressure.Number(readings.Spans{within}).Nominal.Extremes()
	return accuracy + max(0, high-low)
}

// highestTime is the time of the highest sample, the middle of the span when
// nothing is known.
func highestTime(height readings.Spliced, span Span) Time {
	times, values := height.Samples(readings.Spans{span})
	if len(times) == 0 {
		return Time{(span.Start + span.End) / 2, span.Start, span.End}
	}
	highest := 0
	for i, v := range values {
		if v > values[highest] {
			highest = i
		}
	}
	return extremeTime(times, highest, span, height.Accuracy(span), func(i int) float64 { return -values[i] })
}
