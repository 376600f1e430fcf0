package detect_test

import (
	"fmt"
	"testing"

	"downlock/detect"
	"downlock/ingest/simulator"
	"downlock/testdata/effort"
)

// flownTruth works out what is to be measured in a flight of ordinary operations
// from its functions of continuous time and the crew's actions: for each
// measurement a list, by opportunity, of one value or none.
type flownTruth struct {
	flight *simulator.Flight
	facts  simulator.Facts
}

// actions lists the times in a span at which a control is set to a value, in the air.
func (f flownTruth) actions(c simulator.Control, from, to float64, wanted func(before, after float64) bool) (out []float64) {
	before := 0.0
	for _, a := range f.flight.Scenario.Actions {
		if a.Control != c {
			continue
		}
		if a.At > from && a.At < to && f.flight.InAir(a.At) && wanted(before, a.Value) {
			out = append(out, a.At)
		}
		before = a.Value
	}
	return out
}

func setTo(value float64) func(before, after float64) bool {
	return func(before, after float64) bool { return before != value && after == value }
}

// when is the first time from a moment on at which something holds, within 30 s.
func when(from float64, holds func(t float64) bool) []float64 {
	const step = 1.0 / 1024
	for t := from; t < from+30; t += step {
		if holds(t) {
			return []float64{t}
		}
	}
	return nil
}

// all works out every list.
func (f flownTruth) all() map[string][][]float64 {
	truth := map[string][][]float64{}
	height, airspeed := f.flight.Height, f.flight.Airspeed
	add := func(id string, of func(float64) float64, at []float64) {
		truth[id] = append(truth[id], valuesAt(of, at))
	}
	since := func(start float64) func(float64) float64 { return func(t float64) float64 { return t - start } }
	last := func(v []float64) []float64 { return v[max(len(v)-1, 0):] }
	first := func(v []float64) []float64 { return v[:min(1, len(v))] }
	end := f.flight.Scenario.End
	allUp := func(t float64) bool { return f.flight.Up(0, t) && f.flight.Up(1, t) && f.flight.Up(2, t) }
	ups := f.actions(simulator.GearLever, 0, end, setTo(simulator.LeverUp))
	downs := f.actions(simulator.GearLever, 0, end, setTo(simulator.LeverDown))
	var locked []float64
	for _, s := range ups {
		add("gear-up-height", height, []float64{s})
		add("gear-up-airspeed", airspeed, []float64{s})
		add("retraction-time", since(s), when(s, allUp))
		for leg, name := range f.flight.Profile.Legs {
			add("retraction-time-"+name, since(s), when(s, func(t float64) bool { return f.flight.Up(leg, t) }))
		}
	}
	for _, s := range downs {
		add("gear-down-height", height, []float64{s})
		add("gear-down-airspeed", airspeed, []float64{s})
		lock := when(s, f.flight.AllDown)
		locked = append(locked, lock...)
		add("extension-time", since(s), lock)
		for leg, name := range f.flight.Profile.Legs {
			add("extension-time-"+name, since(s), when(s, func(t float64) bool { return f.flight.Down(leg, t) }))
		}
	}
	for i, l := range f.facts.LiftOffs {
		next := end
		if i+1 < len(f.facts.LiftOffs) {
			next = f.facts.LiftOffs[i+1].At
		}
		add("lift-off-airspeed", airspeed, []float64{l.At})
		add("gear-up-time", since(l.At), first(only(ups, func(t float64) bool { return t > l.At && t < next })))
		add("first-flap-retraction-height", height, first(f.actions(simulator.FlapHandle, l.At, next, func(before, after float64) bool { return after < before })))
	}
	before := 0.0
	for _, a := range f.facts.Approaches {
		in := func(t float64) bool { return t > before && t < a.End }
		flap := last(f.actions(simulator.FlapHandle, before, a.End, setTo(30)))
		add("landing-flap-height", height, flap)
		add("landing-flap-airspeed", airspeed, flap)
		add("gear-locked-height", height, last(only(locked, in)))
		add("gear-locked-airspeed", airspeed, last(only(locked, in)))
		before = a.End
	}
	before = 0
	for _, d := range f.facts.Touchdowns {
		add("touchdown-airspeed", airspeed, []float64{d.At})
		lock := last(only(locked, func(t float64) bool { return t > before && t < d.At }))
		add("gear-locked-to-touchdown", func(t float64) float64 { return d.At - t }, lock)
		before = d.At
	}
	for _, g := range f.facts.GoArounds {
		add("go-around-height", func(float64) float64 { return g.LowestHeight }, []float64{g.Lowest})
		add("go-around-gear-time", since(g.Lowest), first(only(ups, func(t float64) bool { return t > g.Lowest && t < g.Lowest+60 })))
	}
	return truth
}

// TestMeasurementsOfEveryOpportunity flies circuits, go-arounds and balked landings,
// and wants a value within its bounds for each of them: six approaches make six.
func TestMeasurementsOfEveryOpportunity(t *testing.T) {
	t.Parallel()
	d, _ := shippedDetector(t)
	times := uint64(effort.Of(2, 4, 8))
	for _, row := range []struct{ number, approaches, touchdowns, retractions int }{
		{1, 2, 1, 2},  // a low go-around
		{10, 6, 6, 6}, // five touch-and-goes and a full stop
		{11, 2, 2, 2}, // a balked landing
		{12, 2, 1, 2}, // the gate missed, then a go-around
	} {
		compared, certain := 0, 0
		for seed := range times {
			o, err := simulator.FlyOperation(row.number, seed+1)
			if err != nil {
				t.Fatal(err)
			}
			results := d.Detect(readBack(t, o))
			if len(results) != 1 {
				t.Fatalf("%s: %d flights", o.Truth.Recording, len(results))
			}
			truth := flownTruth{o.Flight, o.Truth.Facts}.all()
			for id, n := range map[string]int{"landing-flap-height": row.approaches, "touchdown-airspeed": row.touchdowns, "retraction-time": row.retractions} {
				if len(truth[id]) != n {
					t.Fatalf("%s: %d true values of %s", o.Truth.Recording, len(truth[id]), id)
				}
			}
			for id, want := range truth {
				made := measurementsOf(results[0], id)
				if len(made) != len(want) {
					t.Errorf("%s: %d measurements %s, want %d: %+v", o.Truth.Recording, len(made), id, len(want), made)
					continue
				}
				for i, m := range made {
					compared++
					what := fmt.Sprintf("%s: %s, number %d of %d: %s %s %v in %v to %v; true %v", o.Truth.Recording, id, m.Opportunity, len(made), m.Certainty, m.Outcome, m.Value, m.Lowest, m.Highest, want[i])
					switch {
					case m.Opportunity != i+1 || m.Begins.Nominal > m.Ends.Nominal:
						t.Errorf("%s, from %v to %v", what, m.Begins, m.Ends)
					case (len(want[i]) > 0) != (m.Outcome == detect.Measured) || len(want[i]) > 0 && !bounds(m, want[i][0]):
						t.Error(what)
					case m.Certainty == detect.Certain:
						certain++
					}
				}
			}
		}
		t.Logf("row %d: %d values compared, %d certain", row.number, compared, certain)
		if certain < compared*9/10 {
			t.Errorf("row %d: of %d values only %d are certain", row.number, compared, certain)
		}
	}
}
