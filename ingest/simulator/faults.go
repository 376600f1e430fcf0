package simulator

// Faults are the faults of the aircraft or the recording.
type Faults struct {
	PinsIn       bool      // ground-lock pins hold the legs down
	Jam          *Jam      // one leg stops in transit
	Slow         []SlowLeg // legs that take longer
	Sag          *Sag      // one leg falls out of its up-lock
	Forced       []Force   // values a column shows in place of its own
	NotRecorded  []string  // columns the export does not have
	LostSamples  bool      // dropped samples, a spike, a value out of range, all in the cruise
	RadioOutages [][2]float64
	Lost         []Loss // samples the channels do not have
}

// Jam stops a leg short of its down-lock until it is freed.
type Jam struct {
	Leg     int     // index into Profile.Legs
	At      float64 // position where it stops, 0 up to 1 down
	FreedAt float64 // time
}

// SlowLeg has its own times from one end to the other, s.
type SlowLeg struct {
	Leg             int
	Extend, Retract float64
}

// Loss is a column without samples between two times.
type Loss struct {
	Column     string
	Start, End float64
}

// Sag is a leg out of its up-lock, s.
type Sag struct {
	Leg      int
	From, To float64
}

// Force is a column that has this value between two times, independent of the rest of
// the aircraft. Examples are a warning that stays silent (0) or sounds without cause
// (1), a stuck switch, an open door and a turned wheel. In a column of words the
// value is the word's place.
type Force struct {
	Column     string
	Start, End float64
	Value      float64
}

// forced returns the value a fault gives a column at a time.
func (f *Flight) forced(column string, t float64) (value float64, is bool) {
	for _, x := range f.Scenario.Faults.Forced {
		if x.Column == column && t >= x.Start && t < x.End {
			return x.Value, true
		}
	}
	return 0, false
}

// chatter makes a switch change to value and back, every half period from a time on.
// It makes so many changes in all, an even number.
func chatter(column string, start, halfPeriod float64, changes int, value float64) (out []Force) {
	for i := 0; i < changes; i += 2 {
		from := start + float64(i)*halfPeriod
		out = append(out, Force{column, from, from + halfPeriod, value})
	}
	return out
}
