package language

import (
	"slices"
	"testing"

	"downlock/detect/readings"
)

// TestComparisons: the comparisons of an expression, and the seconds at which each decides.
// The flight has a sample each second; the lever goes DOWN at 10 s, the horn is on from 5 s.
func TestComparisons(t *testing.T) {
	t.Parallel()
	at := func(values func(i int) float64) *readings.Line {
		l := &readings.Line{Sampling: readings.Sampling{Interval: 1, Gap: 3}}
		for i := range int(flightEnd) + 1 {
			l.Times, l.Values = append(l.Times, float64(i)), append(l.Values, values(i))
		}
		return l
	}
	held := func(from int, before, after uint8) *readings.Held[uint8] {
		s := readings.Sampling{Interval: 1, Gap: 3}
		var values []uint8
		for i := range int(flightEnd) + 1 {
			s.Times = append(s.Times, float64(i))
			if i >= from {
				values = append(values, after)
			} else {
				values = append(values, before)
			}
		}
		return readings.NewHeld(s, values)
	}
	flight := testFlight{speed: at(func(i int) float64 { return 200 + float64(i) }), height: at(func(i int) float64 { return 1000 }),
		lever: held(10, 1, 2), horn: held(5, 0, 1), switched: held(99, 0, 1)}
	type compared struct {
		of, with string
		relation readings.Relation
		crossing bool
		applies  []float64 // seconds of 2, 7 and 12
	}
	for expression, want := range map[string][]compared{
		`speed > limit`: {{"speed", "limit", readings.Above, false, []float64{2, 7, 12}}},
		`horn and speed > limit and lever == "DOWN"`: {{"speed", "limit", readings.Above, false, []float64{12}}},
		`lasting(horn and height < floor(speed), 2)`: {{"height", "floor(speed)", readings.Below, false, []float64{7, 12}}},
		`not (switch or speed <= limit)`:             {{"speed", "limit", readings.AtMost, false, []float64{2, 7, 12}}},
		`horn and (switch or lever == "DOWN" and 250 < speed) or horn and height > 3`: {
			{"250", "speed", readings.Below, false, []float64{12}}, {"height", "3", readings.Above, false, []float64{7, 12}}},
		`not (horn and speed > limit)`:                      {{"speed", "limit", readings.Above, false, []float64{7, 12}}},
		`not switch and speed > limit and not (switch)`:     {{"speed", "limit", readings.Above, false, []float64{2, 7, 12}}},
		`switch and horn or horn and height > 3`:            {{"height", "3", readings.Above, false, []float64{7, 12}}},
		`after(begins(height > 3), 5) or speed + 2 < limit`: {{"height", "3", readings.Above, false, []float64{2, 7, 12}}, {"speed + 2", "limit", readings.Below, false, []float64{2, 7, 12}}},
		`after(falls_through(height, 500), 5)`:              {{"height", "500", readings.Below, true, []float64{2, 7, 12}}},
		`horn`:                                              nil,
	} {
		e, err := Compile(expression, testVocabulary, Condition)
		if err != nil {
			t.Fatal(err)
		}
		var got []compared
		for _, c := range e.Comparisons() {
			one := compared{c.Of.Text, c.With.Text, c.Relation, c.Crossing, nil}
			for _, second := range []float64{2, 7, 12} {
				if c.Applies(flight).True.Contains(second) {
					one.applies = append(one.applies, second)
				}
			}
			got = append(got, one)
		}
		if !slices.EqualFunc(got, want, func(a, b compared) bool {
			return a.of == b.of && a.with == b.with && a.relation == b.relation && a.crossing == b.crossing && slices.Equal(a.applies, b.applies)
		}) {
			t.Errorf("%s has %+v, want %+v", expression, got, want)
		}
	}
	e, err := Compile("speed - limit < 5 or height + height < floor(speed)", testVocabulary, Condition)
	if err != nil {
		t.Fatal(err)
	}
	var got [][]string
	for _, c := range e.Comparisons() {
		got = append(got, c.Of.Names, c.With.Names)
	}
	if want := [][]string{{"speed", "limit"}, nil, {"height"}, {"floor", "speed"}}; !slices.EqualFunc(got, want, slices.Equal) {
		t.Errorf("names %v, want %v", got, want)
	}
}
