package detect_test

import (
	"bytes"
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"downlock/detect"
	"downlock/ingest"
	"downlock/ingest/export"
)

// secondSource is a further source of a parameter, under a column of its own.
func secondSource(name, column string, every, end float64, value func(t float64) float64) *ingest.Series {
	s := sampledEvery(name, every, end, value)
	s.Column = column
	return s
}

// withoutSamples takes out the samples from one time to another.
func withoutSamples(s *ingest.Series, from, to float64) *ingest.Series {
	var times, numbers []float64
	var codes []uint8
	for i, at := range s.TimeValues() {
		if from <= at && at <= to {
			continue
		}
		times = append(times, at)
		if s.Parameter.Numeric() {
			numbers = append(numbers, s.Numbers()[i])
		} else {
			codes = append(codes, s.Codes()[i])
		}
	}
	out := sampledAt(s.Parameter, times, numbers, codes)
	out.Column, out.Interval, out.Gap, out.Accuracy = s.Column, s.Interval, s.Gap, s.Accuracy
	out.Longest = to - from
	return out
}

// disagreementsIn detects one flight, in the air from 100 to 700 s of 800 s, and
// gives what is said about sources.
func disagreementsIn(t *testing.T, used, other []*ingest.Series) (found []detect.Observation) {
	t.Helper()
	r := recordingOf(800, append(struts(800, 100, 700), used...)...)
	r.Alternatives = other
	results := detected(t, r)
	if len(results) != 1 {
		t.Fatalf("%d flights, want 1", len(results))
	}
	for _, o := range results[0].Observations {
		if o.Kind == detect.SourcesDisagree {
			found = append(found, o)
		}
	}
	return found
}

// The airspeed is 140 kt throughout, ±1 kt; the other source is ±4 kt. The margin
// is 2 % of 500 kt, so they may differ by 1 + 4 + 10 = 15 kt.
func TestSpeedSourcesDisagree(t *testing.T) {
	t.Parallel()
	level := through(0, 140)
	for _, c := range []struct {
		name     string
		other    func(t float64) float64
		gap      [2]float64 // without samples of the other source
		used     func(t float64) float64
		want     []detect.Span
		evidence string
	}{
		{name: "the same", other: level},
		{name: "as far apart as they may be", other: through(0, 155)},
		// 15 kt apart 15/34 of the way up, after 4.412 s, and as long before the end.
		{name: "34 kt apart for a while", other: through(300, 140, 310, 174, 400, 174, 410, 140),
			want: []detect.Span{{Start: 300 + 10*15.0/34, End: 410 - 10*15.0/34}}, evidence: "airspeed and airspeed standby differ by up to 34 kt for 101 s of 800 s"},
		{name: "too low twice", other: through(200, 140, 201, 110, 220, 110, 221, 140, 500, 140, 501, 120, 520, 120, 521, 140),
			want:     []detect.Span{{Start: 200.5, End: 220.5}, {Start: 500.75, End: 520.25}},
			evidence: "airspeed and airspeed standby differ by up to 30 kt for 40 s of 800 s"}, // 20 + 19.5
		// From 300.5 to 304.9 s: shorter than 5 s.
		{name: "for a moment", other: through(300, 140, 301, 170, 304, 170, 305.8, 140)},
		{name: "where one has a gap nothing is said", other: through(300, 140, 301, 174, 399, 174, 400, 140), gap: [2]float64{301, 399}},
		// Before the gap: 295 + 15/34 s to 320 s, the last sample; after it from 380 s, the
		// first one, to 400 - 15/34 s. Known are 320 and 420 s.
		{name: "apart on both sides of a gap", other: through(295, 140, 296, 174, 399, 174, 400, 140), gap: [2]float64{321, 379},
			want:     []detect.Span{{Start: 295 + 15.0/34, End: 320}, {Start: 380, End: 400 - 15.0/34}},
			evidence: "airspeed and airspeed standby differ by up to 34 kt for 44 s of 740 s"},
		// On the ground one rests at 45 kt, the other at 20: neither is made for that.
		{name: "below what the instruments are made for", used: through(0, 45, 60, 45, 100, 140), other: through(0, 20, 60, 20, 65, 56.875, 100, 140)},
		{name: "one reads nothing in flight", other: through(0, 0), want: []detect.Span{{Start: 0, End: 800}},
			evidence: "airspeed and airspeed standby differ by up to 140 kt for 800 s of 800 s"},
	} {
		t.Run(c.name, func(t *testing.T) {
			if c.used == nil {
				c.used = level
			}
			used := sampledEvery("computed_airspeed", 1, 800, c.used)
			used.Column, used.Accuracy = "airspeed", 1
			other := secondSource("computed_airspeed", "airspeed standby", 1, 800, c.other)
			if c.gap[1] > 0 {
				other = withoutSamples(other, c.gap[0], c.gap[1])
			}
			other.Accuracy = 4
			checkDisagreement(t, disagreementsIn(t, []*ingest.Series{used}, []*ingest.Series{other}), "computed_airspeed", c.want, c.evidence)
		})
	}
}

// checkDisagreement wants one observation with these spans, or none.
func checkDisagreement(t *testing.T, found []detect.Observation, parameter string, want []detect.Span, evidence string) {
	t.Helper()
	if len(want) == 0 {
		if len(found) > 0 {
			t.Errorf("%+v, want nothing", found)
		}
		return
	}
	if len(found) != 1 {
		t.Fatalf("%+v, want one", found)
	}
	if o := found[0]; o.Parameter != parameter || o.Evidence != evidence {
		t.Errorf("%s: %q, want %s: %q", o.Parameter, o.Evidence, parameter, evidence)
	}
	// A microsecond: how long a sample beside a gap counts.
	if diff := cmp.Diff(want, []detect.Span(found[0].Spans), cmpopts.EquateApprox(0, 2e-6)); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}

// Nominal values hold from sample to sample: at 1 Hz the lever and its other
// source differ from the first sample of one to the first sample of the other.
func TestCodeSourcesDisagree(t *testing.T) {
	t.Parallel()
	const up, down = 0, 2
	lever := func(upFrom, upTo float64) func(float64) float64 {
		return func(t float64) float64 {
			if upFrom <= t && t < upTo {
				return up
			}
			return down
		}
	}
	for _, c := range []struct {
		name      string
		parameter string
		every     float64
		used      func(t float64) float64
		other     func(t float64) float64
		gap       [2]float64
		want      []detect.Span
		evidence  string
	}{
		{name: "the same", parameter: "gear_lever", every: 1, used: lever(110, 600), other: lever(110, 600)},
		{name: "a little later", parameter: "gear_lever", every: 1, used: lever(110, 600), other: lever(114, 604)},
		{name: "20 s later and 8 s earlier", parameter: "gear_lever", every: 1, used: lever(110, 600), other: lever(130, 592),
			want: []detect.Span{{Start: 110, End: 130}, {Start: 592, End: 600}}, evidence: "used and other differ (at first UP and DOWN) for 28 s of 800 s"},
		// Every 8 s: the change at 113 s shows at 120 s in one, at 113 s in the other.
		{name: "slow samples", parameter: "gear_lever", every: 8, used: lever(113, 603), other: lever(113, 603)},
		{name: "discrete", parameter: "gear_horn", every: 1, used: during(200, 230), other: during(),
			want: []detect.Span{{Start: 200, End: 230}}, evidence: "used and other differ (at first true and false) for 30 s of 800 s"},
		// The other source lacks its samples from 201 to 229 s; its last one holds to 201 s.
		{name: "gap", parameter: "gear_horn", every: 1, used: during(200, 230), other: during(), gap: [2]float64{201, 229}},
	} {
		t.Run(c.name, func(t *testing.T) {
			used, other := sampledEvery(c.parameter, c.every, 800, c.used), secondSource(c.parameter, "other", 1, 800, c.other)
			used.Column = "used"
			if c.gap[1] > 0 {
				other = withoutSamples(other, c.gap[0], c.gap[1])
			}
			checkDisagreement(t, disagreementsIn(t, []*ingest.Series{used}, []*ingest.Series{other}), c.parameter, c.want, c.evidence)
		})
	}
}

// The flap handle is a step from 0 to 60 deg: 2 % are 1.2 deg, and ±0.5 deg of
// either source make it 2.2 deg. Between two samples that differ a step may have
// either value, so the stretch begins and ends with samples that surely differ.
func TestStepSourcesDisagree(t *testing.T) {
	t.Parallel()
	for by, want := range map[float64][]detect.Span{2: nil, 3: {{Start: 300, End: 349}}} {
		used := sampledEvery("flap_handle", 1, 800, through(0, 15))
		other := secondSource("flap_handle", "other", 1, 800, func(t float64) float64 { return 15 + by*during(300, 350)(t) })
		used.Column, used.Accuracy, other.Accuracy = "used", 0.5, 0.5
		checkDisagreement(t, disagreementsIn(t, []*ingest.Series{used}, []*ingest.Series{other}), "flap_handle", want, "used and other differ by up to 3 deg for 49 s of 800 s")
	}
}

// Two airspeeds written in steps of 16 and of 24 kt, of which nobody states an accuracy:
// a step may be wrong by half, 8 and 12 kt, and the margin is 10 kt, so they may differ by
// 30 kt. The true speed is 132 kt from 300 to 400 s: one reads 128, the other 144. Where
// the other reads a step more they are 40 kt apart. Between the samples of 319 and 320 s it
// goes from 144 to 168 kt, so past 158 kt after 14/24 s, and back as far before 381 s.
func TestCoarseSourcesDisagree(t *testing.T) {
	t.Parallel()
	speed := through(0, 100, 300, 132, 400, 132, 700, 100)
	in := func(step float64, more func(t float64) float64) func(t float64) float64 {
		return func(t float64) float64 { return step * (math.Round(speed(t)/step) + more(t)) }
	}
	for _, c := range []struct {
		name string
		more func(t float64) float64
		want []detect.Span
	}{
		{"within half a step of each", during(), nil},
		{"a step more", during(320, 381), []detect.Span{{Start: 319 + 14.0/24, End: 381 - 14.0/24}}},
	} {
		t.Run(c.name, func(t *testing.T) {
			used := sampledEvery("computed_airspeed", 1, 800, in(16, during()))
			other := secondSource("computed_airspeed", "other", 1, 800, in(24, c.more))
			used.Column = "used"
			checkDisagreement(t, disagreementsIn(t, []*ingest.Series{used}, []*ingest.Series{other}), "computed_airspeed", c.want,
				"used and other differ by up to 40 kt for 61 s of 800 s")
		})
	}
}

// Each further source is compared with the one in use, in the profile's order;
// one without a valid sample is not.
func TestSeveralFurtherSources(t *testing.T) {
	t.Parallel()
	used := sampledEvery("pressure_altitude", 1, 800, through(0, 1000))
	used.Column = "first"
	// The margin is the 400 ft an altitude can change in a second.
	second := secondSource("pressure_altitude", "second", 1, 800, through(0, 1399))
	third := secondSource("pressure_altitude", "third", 1, 800, through(0, 2401))
	empty := withoutSamples(secondSource("pressure_altitude", "empty", 1, 800, through(0, 0)), 0, 800)
	found := disagreementsIn(t, []*ingest.Series{used}, []*ingest.Series{second, third, empty})
	checkDisagreement(t, found, "pressure_altitude", []detect.Span{{Start: 0, End: 800}}, "first and third differ by up to 1400 ft for 800 s of 800 s")
}

// A demonstration flight has no airspeed standby. Written again with one that
// reads 40 kt too little from 300 to 360 s, in every layout, it says so: the two
// may differ by 1 + 4 + 10 kt, so the stretch begins 15/40 of the way between the
// samples of 299 and 300 s and ends as far from that of 361 s.
func TestSourcesDisagreeInEveryLayout(t *testing.T) {
	t.Parallel()
	detector, profile := shippedDetector(t)
	original := readFile(t, demoDir+"tarnholm-07.csv.gz", profile)
	if len(original.Alternatives) != 0 {
		t.Fatalf("the demonstration has further sources: %v", original.Alternatives[0].Column)
	}
	table := export.Table{TimeName: "time"}
	for _, s := range original.Series {
		if s.Parameter.Name == "computed_airspeed" {
			standby := export.Column{Name: "airspeed standby", Decimals: 1, Times: s.TimeValues()}
			for i, v := range s.Numbers() {
				if at := s.TimeValues()[i]; 300 <= at && at <= 360 {
					v -= 40
				}
				standby.Numbers = append(standby.Numbers, v)
			}
			table.Columns = append(table.Columns, export.Column{Name: s.Column, Decimals: 1, Times: s.TimeValues(), Numbers: s.Numbers()}, standby)
		} else if strings.HasSuffix(s.Parameter.Name, "_strut_compressed") {
			c := export.Column{Name: s.Column, Times: s.TimeValues()}
			for _, code := range s.Codes() {
				c.Numbers = append(c.Numbers, float64(code))
			}
			table.Columns = append(table.Columns, c)
		}
	}
	for _, layout := range export.Layouts {
		var b bytes.Buffer
		if err := export.Write(&b, export.Format{Layout: layout}, table); err != nil {
			t.Fatal(err)
		}
		r, err := ingest.ReadBytes("standby", b.Bytes(), profile)
		if err != nil {
			t.Fatal(err)
		}
		var found []detect.Observation
		for _, result := range detector.Detect(r) {
			for _, o := range result.Observations {
				if o.Kind == detect.SourcesDisagree {
					found = append(found, o)
				}
			}
		}
		if len(found) != 1 || len(found[0].Spans) != 1 || !strings.HasPrefix(found[0].Evidence, "airspeed and airspeed standby differ by up to 40 kt for ") {
			t.Fatalf("%s: %+v", layout, found)
		}
		if span := found[0].Spans[0]; math.Abs(span.Start-299.375) > 1e-6 || math.Abs(span.End-360.625) > 1e-6 {
			t.Errorf("%s: %v, want 299.375 to 360.625", layout, span)
		}
	}
}
