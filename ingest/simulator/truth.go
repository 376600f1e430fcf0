package simulator

import (
	"math"
	"slices"
)

// Certainties of a true event, seen through the samples.
const (
	Certain  = "certain"  // every history the samples allow contains it
	Possible = "possible" // the samples leave it undecided
)

// Truth is the true course of one flight of a recording. LiftOff or Touchdown is nil
// if it was not recorded.
type Truth struct {
	Number       int       `json:"number"`
	LiftOff      *float64  `json:"lift_off,omitempty"`  // first one, s
	Touchdown    *float64  `json:"touchdown,omitempty"` // last one, s
	TouchAndGoes []float64 `json:"touch_and_goes,omitempty"`
	GoArounds    []float64 `json:"go_arounds,omitempty"` // lowest points
	Events       []Event   `json:"events"`
}

// Event is one true event, in seconds of the recording. A moment has equal Start and
// End. Where the samples leave the order of actions open, the event is possible, and
// Start to End is the whole open stretch.
type Event struct {
	Rule      string  `json:"rule"`
	Start     float64 `json:"start"`
	End       float64 `json:"end"`
	Moment    bool    `json:"moment,omitempty"`
	Certainty string  `json:"certainty"`
}

// mergeGap joins spans of one kind that are less than this apart, s.
const mergeGap = 3

// between is the longest stop on the ground within one flight, s. A landing roll that
// continues into another take-off is a touch-and-go.
const between = 30

// Truths returns the true events of the recording, flight by flight.
func (f *Flight) Truths() []Truth {
	var truths []Truth
	events := f.events(true)
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
		for _, e := range events {
			if e.Start >= w.start && e.Start < w.end {
				e.Start, e.End = *milli(e.Start), *milli(e.End)
				t.Events = append(t.Events, e)
			}
		}
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

// Happened returns every event that really happens in the recording. It leaves out
// those of Truths that the samples merely leave open, so the sampling changes
// nothing.
func (f *Flight) Happened() []Event { return f.events(false) }

// events returns the events of the recording in order of time. With undecided it
// adds those that the samples leave open.
func (f *Flight) events(undecided bool) []Event {
	var events []Event
	for _, r := range f.spanRules() {
		r.undecided = r.undecided && undecided
		events = append(events, f.spanEvents(r)...)
	}
	for _, r := range f.momentRules() {
		events = append(events, f.momentEvents(r)...)
	}
	events = append(events, f.auditEvents()...)
	slices.SortStableFunc(events, func(a, b Event) int { return compareTimes(a.Start, b.Start) })
	return events
}

func milli(t float64) *float64 {
	rounded := math.Round(t*1000) / 1000
	return &rounded
}
