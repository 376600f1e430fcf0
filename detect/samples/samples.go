// Package samples holds a recording's parameters in the form the readings need: a
// continuous one as a line, a number that is held as steps, a discrete or a state
// as codes. It also knows the parameters that are not to be used, and why.
package samples

import (
	"math"
	"slices"

	"downlock/detect/readings"
	"downlock/ingest"
	"downlock/schemas"
)

// Set is the samples of a recording, or of one flight of it. Each parameter is made
// when first asked for.
type Set struct {
	Recording *ingest.Recording
	Window    readings.Spans // the whole of it

	series     map[string]*ingest.Series
	lines      map[string]*readings.Line
	codes      map[string]*readings.Held[uint8]
	steps      map[string]*readings.HeldNumber
	tops       map[string]float64      // see Top
	estimating bool                    // see EstimateAccuracies
	estimated  map[string]bool         // parameters that were
	unpacked   int                     // samples of packed series in lines, codes and steps
	further    map[*ingest.Series]*Set // see Further
	ofFlight   bool                    // see Within
	unpack     func(from, to float64) (*ingest.Recording, error)

	excursions readings.Spans    // see Excursions
	distrusted map[string]string // parameters that were taken out, and why
}

// New is the samples of a recording; none is taken out.
func New(r *ingest.Recording) *Set {
	series := make(map[string]*ingest.Series, len(r.Series))
	for _, s := range r.Series {
		series[s.Parameter.Name] = s
	}
	return &Set{
		Recording:  r,
		Window:     readings.Spans{{Start: r.Start, End: r.End}},
		series:     series,
		lines:      map[string]*readings.Line{},
		codes:      map[string]*readings.Held[uint8]{},
		steps:      map[string]*readings.HeldNumber{},
		tops:       map[string]float64{},
		estimated:  map[string]bool{},
		distrusted: map[string]string{},
		unpack:     r.Between,
	}
}

// Has says whether a parameter was recorded and is not taken out.
func (s *Set) Has(name string) bool {
	series := s.series[name]
	return series != nil && series.Len() > 0
}

// Series is a parameter as it was read, nil when it was not recorded or is taken out.
func (s *Set) Series(name string) *ingest.Series { return s.series[name] }

// Distrust takes a parameter out. Rules that need it state the reason.
func (s *Set) Distrust(name, reason string) {
	if _, already := s.distrusted[name]; already || s.series[name] == nil {
		return
	}
	s.distrusted[name] = reason
	delete(s.series, name)
	delete(s.lines, name)
	delete(s.codes, name)
	delete(s.steps, name)
}

// Distrusted is the reason why a parameter was taken out; ok is false where it was not.
func (s *Set) Distrusted(name string) (reason string, ok bool) {
	reason, ok = s.distrusted[name]
	return reason, ok
}

// Within is the set with the samples of a flight alone, where those of the
// recording are packed. Findings about the whole stay. The error is that
// of the recording's Between.
func (s *Set) Within(flight readings.Span) (*Set, error) {
	if !s.Recording.Packed() {
		return s, nil
	}
	s.Top("radio_altitude")
	s.forget() // before others are unpacked
	piece, err := s.unpack(flight.Start, flight.End)
	if err != nil {
		return nil, err
	}
	out := New(piece)
	out.distrusted, out.tops = s.distrusted, s.tops
	out.estimating, out.estimated, out.ofFlight = s.estimating, s.estimated, true
	for name := range s.distrusted {
		delete(out.series, name)
	}
	return out, nil
}

// mostUnpacked is how many samples of packed series are kept for the next who asks.
const mostUnpacked = 2 << 20

// makeRoom forgets unpacked series before they are too many.
func (s *Set) makeRoom(series *ingest.Series) {
	if !series.Packed() {
		return
	}
	if s.unpacked += series.Len(); s.unpacked > mostUnpacked {
		s.forget()
		s.unpacked = series.Len()
	}
}

// forget lets go of all readings made of the series.
func (s *Set) forget() {
	clear(s.lines)
	clear(s.codes)
	clear(s.steps)
	s.further = nil
	s.unpacked = 0
}

// Top is the largest value of a continuous parameter in the whole recording, minus
// infinity where it was not recorded.
func (s *Set) Top(name string) float64 {
	top, known := s.tops[name]
	if !known {
		top = math.Inf(-1)
		if l := s.Line(name); l != nil {
			top = readings.Largest(l.Values)
		}
		s.tops[name] = top
	}
	return top
}

// Sampling says when a series was sampled.
func Sampling(s *ingest.Series) readings.Sampling {
	return readings.Sampling{Times: s.TimeValues(), Interval: s.Interval, Gap: s.Gap, TimeAccuracy: s.TimeAccuracy}
}

// Line is a continuous parameter, nil when it was not recorded.
func (s *Set) Line(name string) *readings.Line {
	l, ok := s.lines[name]
	if !ok {
		if series := s.series[name]; series != nil && series.Len() > 0 && series.Parameter.Kind == schemas.Continuous {
			s.makeRoom(series)
			l = &readings.Line{Sampling: Sampling(series), Values: series.Numbers(), Accuracy: series.Accuracy}
			if name == "radio_altitude" {
				l, s.excursions = plausible(l, s.Line("pressure_altitude"))
			}
			s.estimate(series, l)
		}
		s.lines[name] = l
	}
	return l
}

// Code is a discrete or state parameter, nil when it was not recorded.
func (s *Set) Code(name string) *readings.Held[uint8] {
	h, ok := s.codes[name]
	if !ok {
		if series := s.series[name]; series != nil && series.Len() > 0 && !series.Parameter.Numeric() {
			s.makeRoom(series)
			h = readings.NewHeld(Sampling(series), series.Codes())
		}
		s.codes[name] = h
	}
	return h
}

// Step is a number held from sample to sample, nil when it was not recorded.
func (s *Set) Step(name string) *readings.HeldNumber {
	h, ok := s.steps[name]
	if !ok {
		if series := s.series[name]; series != nil && series.Len() > 0 && series.Parameter.Kind == schemas.Step {
			s.makeRoom(series)
			h = &readings.HeldNumber{Held: readings.NewHeld(Sampling(series), series.Numbers())}
		}
		s.steps[name] = h
	}
	return h
}

// Sampled is a number by its samples, a line or steps, nil when it was not recorded.
func (s *Set) Sampled(name string) readings.Sampled {
	if l := s.Line(name); l != nil {
		return l
	}
	if h := s.Step(name); h != nil {
		return h
	}
	return nil
}

// Further is a set for each of the recording's Alternatives of a parameter, in their
// order, that holds that source alone. They are kept for the next flight; where the set
// is one flight's alone there is none, and room is scarce.
func (s *Set) Further(name string) (sets []*Set) {
	for _, source := range s.Recording.Alternatives {
		if source.Parameter.Name != name {
			continue
		}
		set := s.further[source]
		if set == nil {
			alone := *s.Recording
			alone.Series, alone.Alternatives = []*ingest.Series{source}, nil
			set = New(&alone)
			set.estimating = s.estimating
			if !s.ofFlight {
				if s.further == nil {
					s.further = map[*ingest.Series]*Set{}
				}
				s.further[source] = set
			}
		}
		sets = append(sets, set)
	}
	return sets
}

// codeTrue is how a discrete that is true is recorded; a state is recorded as its
// place among the states of its parameter.
const codeTrue = 1

// Samples is when a parameter was sampled, and the values of a number; neither is
// a copy.
func (s *Set) Samples(name string) (at readings.Sampling, values []float64) {
	if l := s.Line(name); l != nil {
		return l.Sampling, l.Values
	}
	if h := s.Step(name); h != nil {
		return h.Sampling, h.Values()
	}
	if h := s.Code(name); h != nil {
		return h.Sampling, nil
	}
	return readings.Sampling{}, nil
}

// Discrete is where a discrete parameter is true.
func (s *Set) Discrete(name string, within readings.Spans) readings.Condition {
	if h := s.Code(name); h != nil {
		return h.Condition(func(v uint8) bool { return v == codeTrue }, within)
	}
	return readings.Unknown(within)
}

// State is where a parameter of states is in one of them.
func (s *Set) State(name, state string, within readings.Spans) readings.Condition {
	if h := s.Code(name); h != nil {
		code := slices.Index(s.series[name].Parameter.States, state)
		return h.Condition(func(v uint8) bool { return int(v) == code }, within)
	}
	return readings.Unknown(within)
}

// Compare is where a numeric parameter stands in the relation to a constant.
func (s *Set) Compare(name string, r readings.Relation, constant float64, within readings.Spans) readings.Condition {
	if l := s.Line(name); l != nil {
		return l.Compare(r, constant, within)
	}
	if h := s.Step(name); h != nil {
		return readings.Compare(s.Number(name, within), r, readings.Constant(constant, within), within)
	}
	return readings.Unknown(within)
}

// Nominal is the nominal reading of Number, without the bounds.
func (s *Set) Nominal(name string, within readings.Spans) readings.Curve {
	if l := s.Line(name); l != nil {
		return l.Nominal(within)
	}
	return s.Number(name, within).Nominal
}

// Number is a numeric parameter over time, empty when it was not recorded.
func (s *Set) Number(name string, within readings.Spans) readings.Number {
	if l := s.Line(name); l != nil {
		return l.Number(within)
	}
	if h := s.Step(name); h != nil {
		return h.Number(within)
	}
	return readings.Number{}
}
