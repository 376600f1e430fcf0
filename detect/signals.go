package detect

import (
	"math"
	"slices"

	"downlock/detect/readings"
	"downlock/ingest"
	"downlock/schemas"
)

// signals holds a recording's parameters in the form the readings need, each
// made when first asked for.
type signals struct {
	recording *ingest.Recording
	series    map[string]*ingest.Series
	window    readings.Spans // the whole recording
	lines     map[string]*readings.Line
	codes     map[string]*readings.Held[uint8]
	steps     map[string]*readings.HeldNumber
	tops      map[string]float64 // see top
	unpacked  int                // samples of packed series in lines, codes and steps

	checks     []Check           // of the recording against its profile
	excursions readings.Spans    // where the radio altitude cannot have been what was recorded
	distrusted map[string]string // parameters a check has taken out, and why
}

func newSignals(r *ingest.Recording) *signals {
	series := make(map[string]*ingest.Series, len(r.Series))
	for _, s := range r.Series {
		series[s.Parameter.Name] = s
	}
	return &signals{
		recording: r,
		series:    series,
		window:    readings.Spans{{Start: r.Start, End: r.End}},
		lines:     map[string]*readings.Line{},
		codes:     map[string]*readings.Held[uint8]{},
		steps:     map[string]*readings.HeldNumber{},
		tops:      map[string]float64{},

		distrusted: map[string]string{},
	}
}

func (s *signals) has(name string) bool {
	series := s.series[name]
	return series != nil && series.Len() > 0
}

// within is the signals with the samples of a flight alone, where those of the
// recording are packed. What was found out about the whole stays.
func (s *signals) within(flight Span) (*signals, error) {
	if !s.recording.Packed() {
		return s, nil
	}
	piece, err := s.recording.Between(flight.Start, flight.End)
	if err != nil {
		return nil, err
	}
	s.top("radio_altitude")
	s.forget()
	out := newSignals(piece)
	out.checks, out.distrusted, out.tops = s.checks, s.distrusted, s.tops
	for name := range s.distrusted {
		delete(out.series, name)
	}
	return out, nil
}

// mostUnpacked is how many samples of packed series are kept for the next who asks.
const mostUnpacked = 2 << 20

// makeRoom forgets what was unpacked before it is too much.
func (s *signals) makeRoom(series *ingest.Series) {
	if !series.Packed() {
		return
	}
	if s.unpacked += series.Len(); s.unpacked > mostUnpacked {
		s.forget()
		s.unpacked = series.Len()
	}
}

// forget lets go of what was made of the series.
func (s *signals) forget() {
	clear(s.lines)
	clear(s.codes)
	clear(s.steps)
	s.unpacked = 0
}

// top is the largest value of a continuous parameter in the whole recording, minus
// infinity where it was not recorded.
func (s *signals) top(name string) float64 {
	top, known := s.tops[name]
	if !known {
		top = math.Inf(-1)
		if l := s.line(name); l != nil {
			top = largest(l.Values)
		}
		s.tops[name] = top
	}
	return top
}

func sampling(s *ingest.Series) readings.Sampling {
	return readings.Sampling{Times: s.TimeValues(), Interval: s.Interval, Gap: s.Gap}
}

// line is a continuous parameter, nil when it was not recorded.
func (s *signals) line(name string) *readings.Line {
	l, ok := s.lines[name]
	if !ok {
		if series := s.series[name]; series != nil && series.Len() > 0 && series.Parameter.Kind == schemas.Continuous {
			s.makeRoom(series)
			l = &readings.Line{Sampling: sampling(series), Values: series.Numbers(), Accuracy: series.Accuracy}
			if name == "radio_altitude" {
				l, s.excursions = plausible(l, s.line("pressure_altitude"))
			}
		}
		s.lines[name] = l
	}
	return l
}

// code is a discrete or state parameter, nil when it was not recorded.
func (s *signals) code(name string) *readings.Held[uint8] {
	h, ok := s.codes[name]
	if !ok {
		if series := s.series[name]; series != nil && series.Len() > 0 && !series.Parameter.Numeric() {
			s.makeRoom(series)
			h = readings.NewHeld(sampling(series), series.Codes())
		}
		s.codes[name] = h
	}
	return h
}

// step is a number held from sample to sample, nil when it was not recorded.
func (s *signals) step(name string) *readings.HeldNumber {
	h, ok := s.steps[name]
	if !ok {
		if series := s.series[name]; series != nil && series.Len() > 0 && series.Parameter.Kind == schemas.Step {
			s.makeRoom(series)
			h = &readings.HeldNumber{Held: readings.NewHeld(sampling(series), series.Numbers())}
		}
		s.steps[name] = h
	}
	return h
}

// codeTrue is how a discrete that is true is recorded; a state is recorded as its
// place among the states of its parameter.
const codeTrue = 1

// samples is when a parameter was sampled, and the values of a number; neither is
// a copy.
func (s *signals) samples(name string) (at readings.Sampling, values []float64) {
	if l := s.line(name); l != nil {
		return l.Sampling, l.Values
	}
	if h := s.step(name); h != nil {
		return h.Sampling, h.Values()
	}
	if h := s.code(name); h != nil {
		return h.Sampling, nil
	}
	return readings.Sampling{}, nil
}

// discrete is where a discrete parameter is true.
func (s *signals) discrete(name string, within readings.Spans) readings.Condition {
	if h := s.code(name); h != nil {
		return h.Condition(func(v uint8) bool { return v == codeTrue }, within)
	}
	return readings.Unknown(within)
}

// state is where a parameter of states is in one of them.
func (s *signals) state(name, state string, within readings.Spans) readings.Condition {
	if h := s.code(name); h != nil {
		code := slices.Index(s.series[name].Parameter.States, state)
		return h.Condition(func(v uint8) bool { return int(v) == code }, within)
	}
	return readings.Unknown(within)
}

// compare is where a numeric parameter stands in the relation to a constant.
func (s *signals) compare(name string, r readings.Relation, constant float64, within readings.Spans) readings.Condition {
	if l := s.line(name); l != nil {
		return l.Compare(r, constant, within)
	}
	if h := s.step(name); h != nil {
		return readings.Compare(s.number(name, within), r, readings.Constant(constant, within), within)
	}
	return readings.Unknown(within)
}

// number is a numeric parameter over time, empty when it was not recorded.
func (s *signals) number(name string, within readings.Spans) readings.Number {
	if l := s.line(name); l != nil {
		return l.Number(within)
	}
	if h := s.step(name); h != nil {
		return h.Number(within)
	}
	return readings.Number{}
}
