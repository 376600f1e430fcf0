package report

import (
	"math"
	"sort"

	"downlock/detect"
	"downlock/ingest"
)

// parameterPart tells how well one parameter was recorded. Samples and gaps are
// those of the flight; dropped samples are counted over the whole recording,
// because a dropped sample is not placed.
type parameterPart struct {
	Parameter string `json:"parameter"`
	Column    string `json:"column"`
	Kind      string `json:"kind"`
	Unit      string `json:"unit,omitempty"`
	Samples   int    `json:"samples"`
	// Interval is the usual time between samples in s, LongestInterval the longest
	// one 14 CFR part 121 appendix M allows, null where it has no row; Confirmed is
	// false where that figure has not been held against the published text.
	Interval        number      `json:"interval"`
	LongestInterval *number     `json:"longest_interval"`
	Confirmed       bool        `json:"longest_interval_confirmed"`
	Accuracy        *number     `json:"accuracy"` // ±, in Unit; null: none stated
	Gaps            int         `json:"gaps"`
	LongestGap      number      `json:"longest_gap"` // s
	Dropped         droppedPart `json:"dropped"`
}

type droppedPart struct {
	Range int `json:"range"`
	Spike int `json:"spike"`
	Token int `json:"token"`
}

// Total adds the causes up.
func (d droppedPart) Total() int { return d.Range + d.Spike + d.Token }

// absentPart is a parameter the profile knows and the recording lacks.
type absentPart struct {
	Parameter string   `json:"parameter"`
	Columns   []string `json:"columns"`
}

// Slow says whether the parameter is sampled more rarely than regulation
// allows; a hundredth is granted for jittered sample times.
func (p parameterPart) Slow() bool {
	return p.LongestInterval != nil && float64(p.Interval) > float64(*p.LongestInterval)*1.01
}

func parameterParts(f *detect.Flight) []parameterPart {
	parts := make([]parameterPart, len(f.Recording.Series))
	for i, s := range f.Recording.Series {
		p := s.Parameter
		parts[i] = parameterPart{
			Parameter: p.Name, Column: clean(s.Column), Kind: string(p.Kind), Unit: clean(p.Unit),
			Interval: finite(s.Interval, 0), LongestInterval: positive(p.LongestInterval), Confirmed: p.Read,
			Accuracy: positive(s.Accuracy), Dropped: droppedPart(s.Dropped),
		}
		measureGaps(&parts[i], s, f.Span)
	}
	return parts
}

// measureGaps counts samples and gaps within the flight. A gap at either end of
// the flight counts from the flight's end.
func measureGaps(part *parameterPart, s *ingest.Series, span detect.Span) {
	times := s.TimeValues()
	first := sort.SearchFloat64s(times, span.Start)
	last := sort.Search(len(times), func(i int) bool { return times[i] > span.End })
	part.Samples = max(last-first, 0)
	before := span.Start
	longest := 0.0
	check := func(at float64) {
		if between := at - before; between > s.Gap {
			part.Gaps++
			longest = math.Max(longest, between)
		}
		before = at
	}
	for i := first; i < last; i++ {
		check(times[i])
	}
	check(span.End)
	part.LongestGap = finite(longest, 0)
}

func positive(x float64) *number {
	if !(x > 0) || math.IsInf(x, 0) {
		return nil
	}
	n := number(x)
	return &n
}

func absentParts(rec *ingest.Recording) []absentPart {
	parts := make([]absentPart, len(rec.Absent))
	for i, a := range rec.Absent {
		parts[i] = absentPart{a.Parameter, cleanAll(a.Columns)}
	}
	return parts
}
