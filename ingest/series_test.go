package ingest

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"downlock/schemas"
)

// seriesOf makes the series of a numeric parameter from its samples.
func seriesOf(t *testing.T, parameter string, source schemas.Source, list ...[2]float64) (*Series, int) {
	t.Helper()
	p, ok := schemas.LookupParameter(parameter)
	if !ok {
		t.Fatalf("no parameter %s", parameter)
	}
	source.Unit = p.Unit
	c := newChannel(p, &source, nil)
	for _, s := range list {
		c.addNumber(s[0], s[1])
	}
	return c.series()
}

// pressure_altitude: -2000 to 60000 ft, at most 400 ft/s; computed_airspeed:
// 0 to 500 kt, at most 30 kt/s. What is kept is decided by hand.
func TestPlausibility(t *testing.T) {
	for _, tt := range []struct {
		name      string
		parameter string
		source    schemas.Source
		in, want  [][2]float64
		dropped   Dropped
	}{
		{name: "range ends are plausible", parameter: "pressure_altitude", in: [][2]float64{{0, -2000}, {200, 60000}}, want: [][2]float64{{0, -2000}, {200, 60000}}},
		{name: "out of range", parameter: "pressure_altitude", in: [][2]float64{{0, -2001}, {1, 5}, {200, 60001}}, want: [][2]float64{{1, 5}}, dropped: Dropped{Range: 2}},
		{name: "the source's own range", parameter: "pressure_altitude", source: schemas.Source{Range: &[2]float64{0, 10}}, in: [][2]float64{{0, -1}, {1, 5}, {2, 11}}, want: [][2]float64{{1, 5}}, dropped: Dropped{Range: 2}},
		{name: "a spike", parameter: "computed_airspeed", in: [][2]float64{{0, 150}, {1, 250}, {2, 152}, {3, 153}}, want: [][2]float64{{0, 150}, {2, 152}, {3, 153}}, dropped: Dropped{Spike: 1}},
		{name: "a spike downwards", parameter: "computed_airspeed", in: [][2]float64{{0, 150}, {1, 20}, {2, 152}}, want: [][2]float64{{0, 150}, {2, 152}}, dropped: Dropped{Spike: 1}},
		{name: "exactly the largest rate", parameter: "computed_airspeed", in: [][2]float64{{0, 150}, {1, 180}, {2, 150}}, want: [][2]float64{{0, 150}, {1, 180}, {2, 150}}},
		{name: "two samples are no spike", parameter: "computed_airspeed", in: [][2]float64{{0, 150}, {1, 250}, {2, 250}, {3, 150}}, want: [][2]float64{{0, 150}, {1, 250}, {2, 250}, {3, 150}}},
		{name: "a step is no spike", parameter: "computed_airspeed", in: [][2]float64{{0, 150}, {1, 250}, {2, 251}}, want: [][2]float64{{0, 150}, {1, 250}, {2, 251}}},
		{name: "neighbours that disagree", parameter: "computed_airspeed", in: [][2]float64{{0, 50}, {1, 250}, {2, 150}}, want: [][2]float64{{0, 50}, {1, 250}, {2, 150}}},
		{name: "slow enough over a gap", parameter: "computed_airspeed", in: [][2]float64{{0, 150}, {10, 250}, {20, 150}}, want: [][2]float64{{0, 150}, {10, 250}, {20, 150}}},
		{name: "first and last are kept", parameter: "computed_airspeed", in: [][2]float64{{0, 400}, {1, 150}, {2, 151}, {3, 10}}, want: [][2]float64{{0, 400}, {1, 150}, {2, 151}, {3, 10}}},
		{name: "chatter is held to the first level", parameter: "computed_airspeed", in: [][2]float64{{0, 150}, {1, 400}, {2, 150}, {3, 400}, {4, 150}}, want: [][2]float64{{0, 150}, {2, 150}, {4, 150}}, dropped: Dropped{Spike: 2}},
		{name: "no largest rate is known", parameter: "longitude", in: [][2]float64{{0, 10}, {1, 100}, {2, 10}}, want: [][2]float64{{0, 10}, {1, 100}, {2, 10}}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			s, _ := seriesOf(t, tt.parameter, tt.source, tt.in...)
			got := samplesOf(&Recording{Series: []*Series{s}})[tt.parameter]
			if diff := cmp.Diff(tt.want, got); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
			if s.Dropped != tt.dropped {
				t.Errorf("dropped %+v, want %+v", s.Dropped, tt.dropped)
			}
		})
	}
}

func TestIntervalAndGap(t *testing.T) {
	at := func(times ...float64) (list [][2]float64) {
		for _, x := range times {
			list = append(list, [2]float64{x, 5})
		}
		return list
	}
	for _, tt := range []struct {
		name          string
		parameter     string
		source        schemas.Source
		in            [][2]float64
		interval, gap float64
	}{
		{"none", "computed_airspeed", schemas.Source{}, nil, 0, 1},
		{"1 Hz", "computed_airspeed", schemas.Source{}, at(0, 1, 2, 3), 1, 3},
		{"8 Hz: the regulation's second is longer than three intervals", "computed_airspeed", schemas.Source{}, at(0, 0.125, 0.25), 0.125, 1},
		{"a hole does not matter", "computed_airspeed", schemas.Source{}, at(0, 1, 2, 30, 31), 1, 3},
		{"the first interval is odd", "computed_airspeed", schemas.Source{}, at(0, 0.3, 1.3, 2.3, 3.3), 1, 3},
		{"tenths", "computed_airspeed", schemas.Source{}, at(0.1, 0.2, 0.3, 0.4, 0.5), 0.1, 1},
		{"all differ: the median of 1 2 3", "vertical_speed", schemas.Source{}, at(0, 3, 5, 6), 2, 6},
		{"the profile's own", "computed_airspeed", schemas.Source{AllowedGap: 2.5}, at(0, 1, 2), 1, 2.5},
	} {
		s, _ := seriesOf(t, tt.parameter, tt.source, tt.in...)
		if diff := s.Gap - tt.gap; s.Interval != tt.interval || diff < -1e-12 || diff > 1e-12 {
			t.Errorf("%s: interval %v, gap %v; want %v and %v", tt.name, s.Interval, s.Gap, tt.interval, tt.gap)
		}
	}
}

func TestOrder(t *testing.T) {
	s, repeated := seriesOf(t, "computed_airspeed", schemas.Source{}, [][2]float64{{2, 120}, {0, 100}, {1, 1}, {1, 111}, {0, 101}, {3, 130}}...)
	want := [][2]float64{{0, 101}, {1, 111}, {2, 120}, {3, 130}}
	if diff := cmp.Diff(want, samplesOf(&Recording{Series: []*Series{s}})["computed_airspeed"]); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	if repeated != 2 {
		t.Errorf("%d samples repeat a time, want 2", repeated)
	}
}

func TestManyOutOfRangeIsNoted(t *testing.T) {
	r := read(t, "time,ALT\n0,5\n1,99999\n2,99999\n", profileOf(t, "column: time", testColumns))
	want := []string{`2 of 3 samples of pressure_altitude are out of its plausible range: check the unit and scale of column "ALT" in the profile`}
	if diff := cmp.Diff(want, r.Notes); diff != "" {
		t.Errorf("notes (-want +got):\n%s", diff)
	}
}
