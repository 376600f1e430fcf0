package report

import (
	"math/rand"
	"testing"

	"github.com/google/go-cmp/cmp"

	"downlock/detect"
	"downlock/ingest"
	"downlock/schemas"
)

func discreteSeries(t *testing.T, times []float64, values []uint8) *ingest.Series {
	t.Helper()
	p, ok := schemas.LookupParameter("gear_horn")
	if !ok {
		t.Fatal("no gear_horn")
	}
	return &ingest.Series{Parameter: p, Times: floats(times), Values: codes(values), Interval: 1, Gap: 3}
}

var compareRuns = cmp.AllowUnexported(run{})

// Worked out by hand: a change after the sample at 1, a gap after that at 3.
func TestHeldRuns(t *testing.T) {
	s := discreteSeries(t, []float64{0, 1, 2, 3, 10, 11}, []uint8{0, 0, 1, 1, 1, 1})
	got := codeRuns(s, detect.Span{Start: 0, End: 20})
	want := []run{
		{start: 0, last: 1, end: 2, joined: true, value: 0},
		{start: 2, last: 3, end: 4, value: 1},
		{start: 10, last: 11, end: 12, value: 1},
	}
	if diff := cmp.Diff(want, got, compareRuns); diff != "" {
		t.Error(diff)
	}
	if diff := cmp.Diff([]detect.Span{{Start: 1, End: 2}}, undecidedSpans(got)); diff != "" {
		t.Error(diff)
	}
	got = codeRuns(s, detect.Span{Start: 1.5, End: 2.5})
	want = []run{{start: 1.5, last: 1, end: 2, joined: true, value: 0}, {start: 2, last: 2, end: 2.5, value: 1}}
	if diff := cmp.Diff(want, got, compareRuns); diff != "" {
		t.Errorf("within 1.5 to 2.5: %s", diff)
	}
	if got := codeRuns(discreteSeries(t, nil, nil), detect.Span{Start: 0, End: 1}); got != nil {
		t.Errorf("no samples give %v", got)
	}
}

// TestHeldRunsOracle asks at many times what the last sample says.
func TestHeldRunsOracle(t *testing.T) {
	random := rand.New(rand.NewSource(1))
	for range 200 {
		var times []float64
		var values []uint8
		at := 0.0
		for range 1 + random.Intn(12) {
			at += []float64{1, 1, 2, 7}[random.Intn(4)]
			times, values = append(times, at), append(values, uint8(random.Intn(2)))
		}
		runs := codeRuns(discreteSeries(t, times, values), detect.Span{Start: 0, End: at + 5})
		for probe := 0.5; probe < at+5; probe++ {
			want := -1
			for i, sample := range times {
				next := sample + 1 // held for one interval before a gap and at the end
				if i+1 < len(times) && times[i+1]-sample <= 3 {
					next = times[i+1]
				}
				if sample <= probe && probe < next {
					want = int(values[i])
				}
			}
			if got := valueAt(runs, probe); got != want {
				t.Fatalf("samples %v %v: at %g the value is %d, want %d", times, values, probe, got, want)
			}
		}
	}
}

// Both locks of a leg: the table of positions, by hand.
func TestLegRuns(t *testing.T) {
	down := []run{{start: 0, end: 10, value: 1}, {start: 10, end: 30, value: 0}, {start: 40, end: 60, value: 1}}
	up := []run{{start: 0, end: 20, value: 0}, {start: 20, end: 50, value: 1}}
	got := legRuns(down, up)
	want := []run{
		{start: 0, last: 10, end: 10, value: legDown},
		{start: 10, last: 20, end: 20, value: legTransit},
		{start: 20, last: 40, end: 40, value: legUp}, // from 30 the down-lock is unknown, but up is enough
		{start: 40, last: 50, end: 50, value: legContradictory},
		{start: 50, last: 60, end: 60, value: legDown},
	}
	if diff := cmp.Diff(want, got, compareRuns); diff != "" {
		t.Error(diff)
	}
	got = legRuns([]run{{start: 0, end: 5, value: 0}, {start: 5, end: 9, value: 1}}, nil)
	want = []run{{start: 0, last: 5, end: 5, value: legNotDown}, {start: 5, last: 9, end: 9, value: legDown}}
	if diff := cmp.Diff(want, got, compareRuns); diff != "" {
		t.Error(diff)
	}
}

// From 20 at 0 s to 0 at 10 s the value passes 5 at 7.5 s.
func TestBelowRuns(t *testing.T) {
	p, _ := schemas.LookupParameter("throttle_angle_1")
	s := &ingest.Series{Parameter: p, Times: floats([]float64{0, 10, 20, 60, 70}), Values: floats([]float64{20, 0, 0, 30, 30}), Interval: 10, Gap: 30}
	got := belowRuns(s, 5, detect.Span{Start: 0, End: 65})
	want := []run{
		{start: 0, last: 7.5, end: 7.5, value: 0},
		{start: 7.5, last: 20, end: 20, value: 1},
		{start: 60, last: 70, end: 65, value: 0},
	}
	if diff := cmp.Diff(want, got, compareRuns); diff != "" {
		t.Error(diff)
	}
}
