package detect

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"iter"
	"math"

	"downlock/detect/readings"
	"downlock/ingest"
	"downlock/schemas"
)

// slowSpeed (kt) is the speed below which a stay on the ground ends a flight:
// in a touch-and-go the aircraft stays fast. Common practice.
const slowSpeed = 40.0

// longTurnaround (s) ends a flight where no speed was recorded.
const longTurnaround = 90.0

// findFlights splits a recording into flights, in order of time. A recording in
// which the aircraft never leaves the ground has none. The error is a
// schemas.Problem of a flight with too many samples, which a recording that is not
// packed cannot have.
func findFlights(s *signals, profile *schemas.Profile) iter.Seq2[*Flight, error] {
	return func(yield func(*Flight, error) bool) {
		airborne, note, ok := airborneCondition(s, profile)
		if !ok {
			return
		}
		begins, ends := readings.Begins(airborne), readings.Begins(readings.Not(airborne, s.window))
		for i, b := range flightBounds(s, airSpans(airborne, s.window)) {
			f := &Flight{Number: i + 1, ID: flightID(s.recording, i+1), Profile: profile, Span: b.span, airborne: airborne}
			var err error
			if f.signals, err = s.within(f.Span); err != nil {
				yield(nil, err)
				return
			}
			f.Recording = f.signals.recording
			if note != "" {
				f.Notes = append(f.Notes, note)
			}
			f.fill(b.air, begins, ends)
			if !yield(f, nil) {
				return
			}
		}
	}
}

// bounds is what a flight has of a recording, and its stays in the air.
type bounds struct {
	span Span
	air  readings.Spans
}

// flightBounds cuts a recording between flights, where the aircraft is slow.
func flightBounds(s *signals, air readings.Spans) (flights []bounds) {
	start, first := s.window[0].Start, 0
	for i := range air {
		end := s.window[0].End
		if i+1 < len(air) {
			between := stretch(air[i].End, air[i+1].Start)
			slow, isSlow := slowPart(s, between)
			if !isSlow {
				continue
			}
			end = (slow.Start + slow.End) / 2
		}
		flights = append(flights, bounds{stretch(start, end), air[first : i+1]})
		start, first = end, i+1
	}
	return flights
}

// slowPart is the longest slow stretch of a stay on the ground; ok is false
// when the aircraft stays fast.
func slowPart(s *signals, ground Span) (Span, bool) {
	within := readings.Spans{ground}
	slow := readings.Spans{}
	switch {
	case s.has("ground_speed"):
		slow = s.compare("ground_speed", readings.Below, slowSpeed, within).True
	case s.has("computed_airspeed"):
		slow = s.compare("computed_airspeed", readings.Below, slowSpeed, within).True
	default:
		return ground, ground.Seconds() > longTurnaround
	}
	var longest Span
	for _, x := range slow {
		if x.Seconds() > longest.Seconds() {
			longest = x
		}
	}
	return longest, longest.Seconds() > 0
}

// flightID is stable: the recording's bytes and the flight's place in them.
func flightID(r *ingest.Recording, number int) string {
	sum := sha256.Sum256(fmt.Appendf(nil, "flight %s %d", r.SHA256, number))
	return "F" + hex.EncodeToString(sum[:6])
}

// fill finds everything about the flight from its stays in the air.
func (f *Flight) fill(air readings.Spans, begins, ends []readings.Moment) {
	first, last := air[0], air[len(air)-1]
	whole := f.signals.window[0]
	f.BeginsInAir = first.Start <= whole.Start
	f.EndsInAir = last.End >= whole.End
	for i, a := range air {
		if i > 0 || !f.BeginsInAir {
			t := timeOf(begins, a.Start)
			f.liftOffs = append(f.liftOffs, readings.Moment{Nominal: t.Nominal, Earliest: t.Earliest, Latest: t.Latest, Certain: true})
		}
		if i < len(air)-1 || !f.EndsInAir {
			t := timeOf(ends, a.End)
			f.touchdowns = append(f.touchdowns, readings.Moment{Nominal: t.Nominal, Earliest: t.Earliest, Latest: t.Latest, Certain: true})
		}
		if i < len(air)-1 {
			f.TouchAndGoes = append(f.TouchAndGoes, timeOf(ends, a.End))
		}
	}
	if !f.BeginsInAir {
		t := timeOf(begins, first.Start)
		f.LiftOff = &t
	}
	if !f.EndsInAir {
		t := timeOf(ends, last.End)
		f.Touchdown = &t
	}
	height, note := heightAboveAerodrome(f.signals, f, air)
	f.height = height
	if note != "" {
		f.Notes = append(f.Notes, note)
	}
	f.findApproaches(air)
	f.findPhases(air)
}

// passes lists the nominal times at which the height passes a level in
// the given direction.
func (f *Flight) passes(relation readings.Relation, level float64) []float64 {
	window := readings.Spans{f.Span}
	c := f.height.Compare(relation, level, window)
	var out []float64
	for _, m := range readings.Begins(c) {
		if !math.IsNaN(m.Nominal) {
			out = append(out, m.Nominal)
		}
	}
	return out
}

// lastIn is the last of the times in a span.
func lastIn(times []float64, within Span) (float64, bool) {
	for i := len(times) - 1; i >= 0; i-- {
		if within.Start <= times[i] && times[i] <= within.End {
			return times[i], true
		}
	}
	return 0, false
}

// firstIn is the first of the times in a span.
func firstIn(times []float64, within Span) (float64, bool) {
	for _, t := range times {
		if within.Start <= t && t <= within.End {
			return t, true
		}
	}
	return 0, false
}
