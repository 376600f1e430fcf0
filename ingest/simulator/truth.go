package simulator

import (
	"math"
	"slices"
)

// Certainties of a true event, seen through the samples.
const (
	Certain  = "certain"  // no history the samples allow is without it
	Possible = "possible" // the samples leave it undecided
)

// Truth is what really happened in one flight of a recording. A missing
// lift-off or touchdown is one that was not recorded.
type Truth struct {
	Number       int       `json:"number"`
	LiftOff      *float64  `json:"lift_off,omitempty"`  // first one, s
	Touchdown    *float64  `json:"touchdown,omitempty"` // last one, s
	TouchAndGoes []float64 `json:"touch_and_goes,omitempty"`
	GoArounds    []float64 `json:"go_arounds,omitempty"` // lowest points
	Events       []Event   `json:"events"`
}

// Event is one true event, in seconds of the recording. A moment has equal
// Start and End. Of a possible event whose order of actions is undecided, Start
// to End is the whole stretch the samples leave open.
type Event struct {
	Rule      string  `json:"rule"`
	Start     float64 `json:"start"`
	End       float64 `json:"end"`
	Moment    bool    `json:"moment,omitempty"`
	Certainty string  `json:"certainty"`
}

// mergeGap joins spans of one kind less than this apart, s.
const mergeGap = 3

// between is the longest stop on the ground within one flight: a landing roll
// that goes on to another take-off is a touch-and-go.
const between = 30

// Truths gives what really happened, flight by flight.
func (f *Flight) Truths() []Truth {
	var truths []Truth
	for _, w := range f.windows() {
		t := Truth{Number: len(truths) + 1, Events: []Event{}}
		for i, a := range w.airborne {
			if a.LiftOff >= w.start && i == 0 {
				t.LiftOff = milli(a.LiftOff)
			}
			if a.Touchdown <= w.end && i == len(w.airborne)-1 {
				t.Touchdown = milli(a.Touchdown)
			}
			if i < len(w.airborne)-1 {
				t.TouchAndGoes = append(t.TouchAndGoes, *milli(a.Touchdown))
			}
		}
		for _, at := range f.Scenario.GoArounds {
			if at >= w.start && at <= w.end {
				t.GoArounds = append(t.GoArounds, *milli(at))
			}
		}
		t.Events = f.events(w)
		truths = append(truths, t)
	}
	return truths
}

// window is one flight of a recording.
type window struct {
	start, end float64
	airborne   []Airborne
}

func (f *Flight) windows() []window {
	all := []window{{start: f.Scenario.Start, end: f.Scenario.End}}
	for i, a := range f.Scenario.Airborne {
		last := &all[len(all)-1]
		if i > 0 && a.LiftOff-f.Scenario.Airborne[i-1].Touchdown > between {
			last.end = (a.LiftOff + f.Scenario.Airborne[i-1].Touchdown) / 2
			all = append(all, window{start: last.end, end: f.Scenario.End})
			last = &all[len(all)-1]
		}
		last.airborne = append(last.airborne, a)
	}
	return all
}

func (f *Flight) events(w window) []Event {
	var events []Event
	for _, r := range f.spanRules() {
		events = append(events, f.spanEvents(r, w)...)
	}
	events = append(events, f.lockedAfterUp(w)...)
	events = append(events, f.selectionEvents(w)...)
	events = append(events, f.touchdownEvents(w)...)
	events = append(events, f.approachEvents(w)...)
	slices.SortStableFunc(events, func(a, b Event) int {
		switch {
		case a.Start < b.Start:
			return -1
		case a.Start > b.Start:
			return 1
		}
		return 0
	})
	for i := range events {
		events[i].Start, events[i].End = *milli(events[i].Start), *milli(events[i].End)
	}
	if events == nil {
		events = []Event{}
	}
	return events
}

// stretch is a span of time.
type stretch struct{ start, end float64 }

// fineStep is how finely a condition is followed, s; its edges are then halved
// down to a tenth of a millisecond.
const fineStep = 1.0 / 64

// stretches finds where a condition holds, joining what is close together.
func stretches(holds func(float64) bool, start, end float64) []stretch {
	var found []stretch
	was := false
	for t := start; ; t += fineStep {
		if t > end {
			t = end
		}
		is := holds(t)
		switch {
		case is && !was && t == start:
			found = append(found, stretch{t, end})
		case is && !was:
			found = append(found, stretch{edge(holds, t-fineStep, t), end})
		case was && !is:
			found[len(found)-1].end = edge(holds, t-fineStep, t)
		}
		was = is
		if t == end {
			return joined(found)
		}
	}
}

// edge finds where a condition changes between two moments.
func edge(holds func(float64) bool, a, b float64) float64 {
	first := holds(a)
	for b-a > 1e-4 {
		middle := (a + b) / 2
		if holds(middle) == first {
			a = middle
		} else {
			b = middle
		}
	}
	return b
}

func joined(found []stretch) []stretch {
	var out []stretch
	for _, s := range found {
		if n := len(out); n > 0 && s.start-out[n-1].end < mergeGap {
			out[n-1].end = s.end
			continue
		}
		out = append(out, s)
	}
	return out
}

func milli(t float64) *float64 {
	rounded := math.Round(t*1000) / 1000
	return &rounded
}
