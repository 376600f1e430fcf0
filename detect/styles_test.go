package detect_test

import (
	"bytes"
	"math"
	"slices"
	"testing"

	"downlock/detect"
	"downlock/ingest"
	"downlock/ingest/export"
	"downlock/ingest/simulator"
	"downlock/schemas"
	"downlock/testdata/effort"
)

// The demonstration flights as other readouts would write them: words in place of numbers,
// counts, positions, packed words, samples of a row, other units, shapes and encodings.
// The events are those of the same parameters written as the demonstration is. Where these
// are also those of all parameters, they are held against the simulator's truth.
func TestDemoInEveryStyle(t *testing.T) {
	styles, err := export.Styles("tuned")
	if err != nil {
		t.Fatal(err)
	}
	if len(styles) < 12 {
		t.Errorf("%d styles", len(styles))
	}
	demo, err := simulator.Demo()
	if err != nil {
		t.Fatal(err)
	}
	_, profile := shippedDetector(t)
	whole := detectorOf(t, profile)
	truth := readDemoTruth(t, "../testdata/demo/truth.json")
	for s, style := range styles {
		t.Run(style.Name, func(t *testing.T) {
			t.Parallel()
			events, held := 0, 0
			every := effort.Of(12, 6, 3) // each flight in so many styles of twelve
			for n, file := range truth.Files {
				at := slices.IndexFunc(demo, func(f simulator.DemoFile) bool { return f.Name == file.File })
				if at < 0 || demo[at].Clock || (n+s)%every != 0 {
					continue
				}
				table := demo[at].Flight.Record()
				table.Columns = append(table.Columns, demo[at].Flight.OtherCircuits()...)
				var b bytes.Buffer
				hand, err := style.Write(&b, table, profile)
				if err != nil {
					t.Fatal(err)
				}
				got := inCSV(t, b.Bytes(), detectorOf(t, hand), hand)
				b.Reset()
				if err := export.Write(&b, export.Format{Layout: export.WideCSV}, table); err != nil {
					t.Fatal(err)
				}
				same := sameParameters(profile, style)
				want, all := inCSV(t, b.Bytes(), detectorOf(t, same), same), inCSV(t, b.Bytes(), whole, profile)
				if len(got) != len(want) || len(got) != len(file.Flights) || len(got) != len(all) {
					t.Errorf("%s: %d flights, want %d", file.File, len(got), len(file.Flights))
					continue
				}
				for i, one := range want {
					events += len(got[i].Events)
					alikeEvents(t, file.File, one.Events, got[i].Events)
					complete := func(rule string) bool {
						is := []string{rule}
						return len(likeness(ofRules(one.Events, is), ofRules(all[i].Events, is))) == 0
					}
					flight := file.Flights[i]
					flight.Events = slices.DeleteFunc(slices.Clone(flight.Events), func(e trueEvent) bool { return !complete(e.Rule) })
					held += len(flight.Events)
					sameEvents(t, flight, truth.among(t, flight, slices.DeleteFunc(slices.Clone(got[i].Events), func(e detect.Event) bool { return !complete(e.Rule.ID) })))
				}
			}
			t.Logf("%d events, of which %d are held against the truth", events, held)
		})
	}
}

func inCSV(t *testing.T, data []byte, detector *detect.Detector, p *schemas.Profile) []*detect.Result {
	t.Helper()
	r, err := ingest.ReadBytes("flight", data, p)
	if err != nil {
		t.Fatal(err)
	}
	return detector.Detect(r)
}

// sameParameters is the profile with the parameters a style has.
func sameParameters(p *schemas.Profile, style export.Style) *schemas.Profile {
	out := *p
	out.Columns = map[string]schemas.Sources{}
	for _, c := range style.Columns {
		if c.Parameter != "" {
			out.Columns[c.Parameter] = schemas.Sources{c.Plain(p)}
		}
	}
	return &out
}

// likeness lists the events that are in one of the two lists only. Converted numbers are
// rounded anew, which moves bounds by a little.
func likeness(want, got []detect.Event) (differ []detect.Event) {
	got = slices.Clone(got)
	near := func(a, b detect.Time) bool {
		return math.Abs(a.Nominal-b.Nominal) < 0.02 && math.Abs(a.Earliest-b.Earliest) < 0.02 && math.Abs(a.Latest-b.Latest) < 0.02
	}
	for _, w := range want {
		i := slices.IndexFunc(got, func(e detect.Event) bool {
			return e.Rule.ID == w.Rule.ID && e.Certainty == w.Certainty && e.Severity == w.Severity && near(e.Start, w.Start) && near(e.End, w.End)
		})
		if i < 0 {
			differ = append(differ, w)
			continue
		}
		got = slices.Delete(got, i, i+1)
	}
	return append(differ, got...)
}

func alikeEvents(t *testing.T, file string, want, got []detect.Event) {
	t.Helper()
	for _, e := range likeness(want, got) {
		t.Errorf("%s: %s %s %s %v to %v is in one only", file, e.Certainty, e.Severity, e.Rule.ID, e.Start, e.End)
	}
}

// Rows of a second that do not say when in the second a word was sampled: nothing certain
// is false and no bounds exclude the truth, unless the profile says that all are sampled
// at the time of the row. Then the order of two changes within a second is guessed.
func TestPlacesInARowNotKnown(t *testing.T) {
	t.Parallel()
	demo, err := simulator.Demo()
	if err != nil {
		t.Fatal(err)
	}
	truth := readDemoTruth(t, "../testdata/demo/truth.json")
	_, profile := shippedDetector(t)
	none := 0.
	for _, layout := range []export.Layout{export.WideCSV, export.WideParquet} {
		placesNotKnown(t, demo, truth, profile, layout, nil)
	}
	if placesNotKnown(t, demo, truth, profile, export.WideCSV, &none) == 0 {
		t.Error("the places in a row make no difference")
	}
}

// placesNotKnown counts what is certain and wrong, with the accuracy of times that the
// profile states or nil.
func placesNotKnown(t *testing.T, demo []simulator.DemoFile, truth demoTruth, profile *schemas.Profile, layout export.Layout, stated *float64) (wrong int) {
	t.Helper()
	perhaps, found, missed := 0, 0, 0
	for n, file := range truth.Files {
		at := slices.IndexFunc(demo, func(f simulator.DemoFile) bool { return f.Name == file.File })
		if at < 0 || demo[at].Clock || n%effort.Of(6, 2, 1) != 0 {
			continue
		}
		rows, places, err := export.SampledRows(demo[at].Flight.Record())
		if err != nil {
			t.Fatal(err)
		}
		p := export.RowsProfile(profile, places)
		p.Time.Accuracy = stated
		for _, sources := range p.Columns {
			for i := range sources {
				sources[i].TimeOffset = 0
			}
		}
		var b bytes.Buffer
		if err := export.Write(&b, export.Format{Layout: layout}, rows); err != nil {
			t.Fatal(err)
		}
		results := inCSV(t, b.Bytes(), detectorOf(t, p), p)
		if len(results) != len(file.Flights) {
			t.Errorf("%s: %d flights, want %d", file.File, len(results), len(file.Flights))
			continue
		}
		for i, want := range file.Flights {
			left := slices.Clone(results[i].Events)
			for _, w := range want.Events {
				k := slices.IndexFunc(left, func(e detect.Event) bool {
					return e.Rule.ID == w.Rule && holds(e.Start, w.Start) && holds(e.End, w.End)
				})
				if k < 0 {
					missed++
					if stated == nil && evaluated(results[i], w.Rule) {
						t.Logf("%s: %s %.3f to %.3f not found", file.File, w.Rule, w.Start, w.End)
					}
					continue
				}
				found++
				left = slices.Delete(left, k, k+1)
			}
			for _, e := range truth.among(t, trueFlight{Events: make([]trueEvent, 1)}, left) {
				perhaps++
				if e.Certainty == detect.Certain {
					wrong++
					if stated == nil {
						t.Errorf("%s: certain %s %v to %v is not a true event", file.File, e.Rule.ID, e.Start, e.End)
					}
				}
			}
		}
	}
	t.Logf("%d found, %d missed, %d certain and wrong, %d possible and false", found, missed, wrong, perhaps-wrong)
	return wrong
}

func evaluated(result *detect.Result, rule string) bool {
	return slices.ContainsFunc(result.Evaluations, func(e detect.Evaluation) bool { return e.Rule.ID == rule && e.Coverage != detect.NotEvaluable })
}
