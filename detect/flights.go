package detect

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"iter"

	"downlock/detect/readings"
	"downlock/detect/samples"
	"downlock/ingest"
	"downlock/schemas"
)

// slowSpeed (kt) is the speed below which a stay on the ground ends a flight:
// in a touch-and-go the aircraft stays fast. Common practice.
const slowSpeed = 40.0

// shortDash (s) above slowSpeed between two slow stretches is a wavering speed or a
// quick taxi, no roll. Common practice.
const shortDash = 5.0

// longTurnaround (s) ends a flight where no speed was recorded.
const longTurnaround = 90.0

// findFlights splits a recording into flights, in order of time. A recording in
// which the aircraft never leaves the ground has one where a take-off was begun,
// else none. The error is a
// schemas.Problem of a flight with too many samples, which a recording that is not
// packed cannot have.
func findFlights(s *samples.Set, profile *schemas.Profile, c criteria) iter.Seq2[*Flight, error] {
	return func(yield func(*Flight, error) bool) {
		airborne, note, ok := airborneCondition(s, profile)
		if !ok {
			return
		}
		begins, ends := readings.Begins(airborne), readings.Begins(readings.Not(airborne, s.Window))
		flights := flightBounds(s, airSpans(s, airborne))
		grounded := len(flights) == 0
		if grounded {
			flights = []bounds{{span: s.Window[0]}}
		}
		for i, b := range flights {
			f := &Flight{Number: i + 1, Profile: profile, Span: b.span, airborne: airborne}
			var err error
			if f.signals, err = s.Within(f.Span); err != nil {
				yield(nil, err)
				return
			}
			f.Recording = f.signals.Recording
			if note != "" {
				f.Notes = append(f.Notes, note)
			}
			f.fill(newTracks(f, c), stays(b.air, begins, ends))
			if f.StaysOnGround = grounded; grounded && len(f.Rolls) == 0 {
				return
			}
			if !yield(f, nil) {
				return
			}
		}
	}
}

// bounds is the part of a recording that is a flight, and its stays in the air.
type bounds struct {
	span Span
	air  readings.Spans
}

// flightBounds cuts a recording between flights, where the aircraft is slow.
func flightBounds(s *samples.Set, air readings.Spans) (flights []bounds) {
	start, first := s.Window[0].Start, 0
	for i := range air {
		end := s.Window[0].End
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
func slowPart(s *samples.Set, ground Span) (Span, bool) {
	within := readings.Spans{ground}
	var slow readings.Spans
	switch {
	case s.Has("ground_speed"):
		slow = s.Compare("ground_speed", readings.Below, slowSpeed, within).True
	case s.Has("computed_airspeed"):
		slow = s.Compare("computed_airspeed", readings.Below, slowSpeed, within).True
	default:
		return ground, ground.Seconds() > longTurnaround
	}
	var longest Span
	for i, x := range slow {
		if i > 0 && x.Start-slow[i-1].End > shortDash {
			break // a take-off that was rejected belongs to the flight that follows
		}
		if x.Seconds() > longest.Seconds() {
			longest = x
		}
	}
	return longest, longest.Seconds() > 0
}

func flightID(r *ingest.Recording, number int) string { return FlightID(r.Content(), number) }

// FlightID returns the id of a flight, which is stable: it follows from the SHA-256, in hex,
// of the recording's content and the flight's number in it, from 1.
func FlightID(content string, number int) string {
	sum := sha256.Sum256(fmt.Appendf(nil, "flight %s %d", content, number))
	return "F" + hex.EncodeToString(sum[:6])
}

// stay is a stay in the air.
type stay struct{ begins, ends Time }

// span is its nominal reading.
func (s stay) span() Span { return stretch(s.begins.Nominal, s.ends.Nominal) }

// stays finds the bounds of the stays in the air, from the moments at which the
// aircraft begins and ceases to be in the air. An end that the recording cuts off is
// exact.
func stays(air readings.Spans, begins, ends []readings.Moment) []stay {
	out := make([]stay, len(air))
	for i, a := range air {
		out[i] = stay{timeOf(begins, a.Start), timeOf(ends, a.End)}
	}
	return out
}

// fill finds everything about the flight from its stays in the air.
func (f *Flight) fill(t *Tracks, air []stay) {
	f.air = air
	whole := f.signals.Window[0]
	if len(air) > 0 {
		f.BeginsInAir = air[0].begins.Nominal <= whole.Start
		f.EndsInAir = air[len(air)-1].ends.Nominal >= whole.End
	}
	f.findTouchdowns(t, air)
	var liftOffs, touchdowns []Time
	for i, a := range air {
		if i > 0 || !f.BeginsInAir {
			liftOffs = append(liftOffs, a.begins)
		}
	}
	for _, down := range f.Touchdowns {
		touchdowns = append(touchdowns, down.Time)
	}
	f.liftOffs, f.touchdowns = happened(liftOffs), happened(touchdowns)
	if len(air) > 0 && !f.BeginsInAir {
		f.LiftOff = &liftOffs[0]
	}
	if len(touchdowns) > 0 && !f.EndsInAir {
		f.Touchdown = &touchdowns[len(touchdowns)-1]
	}
	height, note := heightAboveAerodrome(f.signals, f, air)
	f.height = height
	if note != "" {
		f.Notes = append(f.Notes, note)
	}
	f.findRolls(t, air)
	if f.perhapsTouchedDown() {
		f.Notes = append(f.Notes, "the recording begins in a take-off roll: whether it follows a touchdown is not known")
	}
	if n := len(f.Touchdowns); n > 0 && f.Touchdowns[n-1].Perhaps {
		f.Notes = append(f.Notes, "the recording ends before the aircraft is slow: the last touchdown is taken for a landing")
	}
	f.findApproaches(t, air)
	f.findPhases(air)
}
