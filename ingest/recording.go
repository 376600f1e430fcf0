// Package ingest turns one export file into a Recording: Apache Arrow columns,
// one per canonical parameter, each with its own sample times. Formats, units,
// states and polarity end here; nothing behind this package knows of files.
//
// Times are seconds on the recording's own time axis (those of a column of seconds,
// or seconds since the first midnight where the export has clock times).
// Nothing is resampled to a common grid and no blank is kept.
package ingest

import (
	"slices"
	"time"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"

	"downlock/schemas"
)

// Recording is one export file, read.
type Recording struct {
	Name   string // base name of the file
	SHA256 string // hex, of the file's bytes as they are on disk
	// Unpacked is the SHA-256, hex, of the bytes out of gzip, zstd and zip; "" where no
	// file is packed. See Content.
	Unpacked string
	Bytes    int64     // size on disk
	Format   string    // for people: "wide CSV, gzip"
	Epoch    time.Time // UTC at time 0; zero where the export has no date
	Start    float64   // time of the first row, s
	End      float64   // time of the last row, or of the last sample in it, s
	Series   []*Series // one per mapped parameter the export has, in vocabulary order
	// Alternatives are the further sources of parameters in Series that the export
	// has too, in vocabulary order and then that of preference. They are there to be
	// compared; no rule reads them.
	Alternatives []*Series
	Absent       []Absent // mapped parameters the export does not have
	Notes        []string // what a reader of the report must know: "last line cut off"
	// Repairs are the first of Notes: repairs made because time does not run on, or
	// samples stand at the same time. They are for whoever runs the batch as well.
	Repairs []string
	// Month, YYYY-MM, is the one of the first row where the day is known and the time
	// of day is not, so that there is no Epoch; else "".
	Month string
	// Later are the further stretches of a file whose time does not run on, in their
	// order: recordings by themselves, whose times have nothing to do with these. See
	// Stretches.
	Later   []*Recording
	Stretch int // place among the stretches of the file, from 0
}

// Series is one recorded parameter. The arrays have equal length and no nulls;
// times rise strictly. Whoever holds the Recording may read them and nobody
// changes them. Of a recording that was read with Limits.PackAbove they may be nil, and
// the methods unpack the samples anew at every call.
type Series struct {
	Parameter schemas.Parameter
	Column    string         // the export's column it came from, as Source.Name returns it
	Samples   []string       // the columns of the samples of a row, where it came from several; else nil
	Times     *array.Float64 // s
	Values    arrow.Array    // *array.Float64 for numbers in Parameter.Unit; *array.Uint8 for a discrete (0, 1) or a state (index into Parameter.States)
	Interval  float64        // typical sampling interval (median), s; 0 with fewer than two samples
	Longest   float64        // longest interval between neighbouring samples, s; 0 where it is not known
	Gap       float64        // longest interval between samples that is not a gap, s
	Accuracy  float64        // ±, in Parameter.Unit; 0: none stated
	Exact     bool           // the straight line through the samples is the truth, as in a rule case
	// TimeAccuracy is how much earlier or later than its time each sample may have been
	// taken, s; 0 where times are exact. It is the whole second where rows share that of
	// their clock, and the time between rows where a column is filled up between its
	// samples. All samples of a series are in their order and the time between two of
	// them is wrong by no more. To be certain of something at time t, a reader has to
	// find it certain everywhere from t - TimeAccuracy to t + TimeAccuracy.
	TimeAccuracy float64
	Dropped      Dropped
	// Step is the step the export writes where a table of points makes steps of several
	// sizes of it: the largest, in Parameter.Unit. 0 elsewhere: the values show it.
	Step float64

	packed *packed         // the samples, where they are packed: Times and Values are nil
	source *schemas.Source // for their conversion
	shifts []float64       // s, added to their times one after the other
	delay  float64         // s, to be added yet

	undecided int // samples between two levels before any known state
}

// Dropped counts samples that were not valid.
type Dropped struct {
	Range int // outside the plausible range
	Spike int // left and returned faster than the parameter can change
	Token int // a token such as ---- or NaN
}

// Total adds them up.
func (d Dropped) Total() int { return d.Range + d.Spike + d.Token }

// Absent is a parameter the profile maps to columns this export does not have.
type Absent struct {
	Parameter string
	Columns   []string
}

// Lookup finds a parameter's series; nil when the recording has none.
func (r *Recording) Lookup(parameter string) *Series {
	for _, s := range r.Series {
		if s.Parameter.Name == parameter {
			return s
		}
	}
	return nil
}

// Len is the number of valid samples.
func (s *Series) Len() int {
	if s.Packed() {
		return s.packed.times.count
	}
	return s.Times.Len()
}

// TimeValues returns the sample times in seconds; not to be changed.
func (s *Series) TimeValues() []float64 {
	if s.Packed() {
		return s.packed.times.unpacked(0, s.packed.blocks(), s.shifts)
	}
	return s.Times.Float64Values()
}

// Shifted is the series with its samples so many seconds later.
func (s *Series) Shifted(by float64) *Series {
	out := *s
	switch {
	case by == 0:
		return s
	case s.Packed():
		out.shifts = append(slices.Clone(s.shifts), by)
	default:
		times := slices.Clone(s.TimeValues())
		for i := range times {
			times[i] += by
		}
		out.Times = float64Array(times)
	}
	return &out
}

// Numbers returns the values of a continuous or step parameter, nil for others.
func (s *Series) Numbers() []float64 {
	if !s.Parameter.Numeric() {
		return nil
	}
	if s.Packed() {
		return s.unpackedNumbers(0, s.packed.blocks())
	}
	if a, ok := s.Values.(*array.Float64); ok {
		return a.Float64Values()
	}
	return nil
}

// Codes returns the values of a discrete (0, 1) or state (index into
// Parameter.States) parameter, nil for others.
func (s *Series) Codes() []uint8 {
	if s.Parameter.Numeric() {
		return nil
	}
	if s.Packed() {
		return s.unpackedCodes(0, s.packed.blocks())
	}
	if a, ok := s.Values.(*array.Uint8); ok {
		return a.Uint8Values()
	}
	return nil
}
