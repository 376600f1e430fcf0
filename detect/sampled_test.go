package detect_test

import (
	"math"
	"math/rand/v2"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/memory"

	"downlock/ingest"
	"downlock/ingest/simulator"
	"downlock/schemas"
)

// sampled records a simulated flight in memory, without a file: every column, or
// those wanted (nil: all), at the sampling that is asked for. change, where
// given, changes a column's samples as a bad recorder does.
type sampled struct {
	flight   *simulator.Flight
	wanted   map[string]bool // columns
	sampling func(simulator.Channel) simulator.Sampling
	change   func(c simulator.Channel, times, values []float64) ([]float64, []float64)
}

func (s sampled) recording() *ingest.Recording {
	scenario := s.flight.Scenario
	r := &ingest.Recording{Name: scenario.Name, SHA256: scenario.Name, Start: scenario.Start, End: scenario.End}
	for _, c := range s.flight.Channels() {
		if s.wanted != nil && !s.wanted[c.Column] {
			continue
		}
		sampling := c.Sampling
		if s.sampling != nil {
			sampling = s.sampling(c)
		}
		var times, values []float64
		for k := math.Ceil((scenario.Start - sampling.Offset) * sampling.PerSecond); ; k++ {
			t := sampling.Offset + k/sampling.PerSecond
			if t > scenario.End {
				break
			}
			if !c.Lost(t) {
				times, values = append(times, t), append(values, c.Value(t))
			}
		}
		if s.change != nil {
			times, values = s.change(c, times, values)
		}
		r.Series = append(r.Series, seriesOf(c, sampling, s.flight.Profile, times, values))
	}
	return r
}

// seriesOf makes a series of a column as package ingest does: the canonical unit, the
// accuracy of the profile, and three intervals, or what the regulation allows, as
// the gap.
func seriesOf(c simulator.Channel, sampling simulator.Sampling, p *schemas.Profile, times, values []float64) *ingest.Series {
	parameter, _ := schemas.LookupParameter(c.Parameter)
	interval := 1 / sampling.PerSecond
	s := &ingest.Series{Parameter: parameter, Column: c.Column, Interval: interval, Gap: max(3*interval, parameter.LongestInterval)}
	for _, source := range p.Columns[c.Parameter] {
		if source.Column == c.Column {
			s.Accuracy = source.Accuracy
			factor, err := schemas.UnitFactor(source.Unit, parameter.Unit)
			for i := range values {
				if err == nil {
					values[i] *= factor
				}
			}
		}
	}
	s.Times = float64s(times)
	if parameter.Kind != schemas.Discrete && parameter.Kind != schemas.State {
		s.Values = float64s(values)
		return s
	}
	codes := make([]uint8, len(values))
	for i, v := range values {
		codes[i] = uint8(v) // the simulator's words are in the order of the vocabulary's states
	}
	b := array.NewUint8Builder(memory.DefaultAllocator)
	b.AppendValues(codes, nil)
	s.Values = b.NewUint8Array()
	return s
}

func float64s(values []float64) *array.Float64 {
	data := array.NewData(arrow.PrimitiveTypes.Float64, len(values),
		[]*memory.Buffer{nil, memory.NewBufferBytes(arrow.Float64Traits.CastToBytes(values))}, nil, 0, 0)
	return array.NewFloat64Data(data)
}

// anyOffset keeps the usual rate of a column and begins at any moment of it.
func anyOffset(random *rand.Rand) func(simulator.Channel) simulator.Sampling {
	return func(c simulator.Channel) simulator.Sampling {
		return simulator.Sampling{PerSecond: c.Sampling.PerSecond, Offset: random.Float64() / c.Sampling.PerSecond}
	}
}
