package report

import (
	"math"

	"downlock/detect"
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
	Interval        number  `json:"interval"`
	LongestInterval *number `json:"longest_interval"`
	Confirmed       bool    `json:"longest_interval_confirmed"`
	Accuracy        *number `json:"accuracy"` // ±, in Unit; null: none stated or estimated
	// Estimated says how the accuracy was estimated; "" where the profile states it.
	Estimated  string      `json:"accuracy_estimated_from,omitempty"`
	Gaps       int         `json:"gaps"`
	LongestGap number      `json:"longest_gap"` // s
	Dropped    droppedPart `json:"dropped"`
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

func parameterParts(tracks *detect.Tracks) []parameterPart {
	recorded := tracks.Recorded()
	parts := make([]parameterPart, len(recorded))
	for i, r := range recorded {
		p := r.Parameter
		longest := 0.0
		for _, g := range r.Gaps {
			longest = max(longest, g.Seconds())
		}
		parts[i] = parameterPart{
			Parameter: p.Name, Column: clean(r.Column), Kind: string(p.Kind), Unit: clean(p.Unit), Samples: r.Samples,
			Interval: finite(r.Interval, 0), LongestInterval: positive(p.LongestInterval), Confirmed: p.Read,
			Accuracy: positive(r.Accuracy), Estimated: clean(r.Estimated), Gaps: len(r.Gaps), LongestGap: finite(longest, 0), Dropped: droppedPart(r.Dropped),
		}
	}
	return parts
}

func positive(x float64) *number {
	if !(x > 0) || math.IsInf(x, 0) {
		return nil
	}
	n := number(x)
	return &n
}

func absentParts(f *detect.Flight) []absentPart {
	absent := f.Recording.Absent
	parts := make([]absentPart, len(absent))
	for i, a := range absent {
		parts[i] = absentPart{a.Parameter, cleanAll(a.Columns)}
	}
	return parts
}
