package ingest

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"downlock/ingest/export"
	"downlock/schemas"
)

const sampledColumns = "  radio_altitude: {samples: [RA_1, RA_2, RA_3, RA_4], unit: ft}\n" +
	"  nose_strut_compressed: {samples: ['W[0]', 'W[1]'], true_when: 1, time_offset: 0.125}\n" +
	"  computed_airspeed: {column: CAS, unit: kt}\n"

// The expected samples of every case are worked out by hand, from the rule: the i-th of n
// lies i/n of the distance to the next row behind its row.
func TestRowSamples(t *testing.T) {
	t.Parallel()
	for _, tt := range []struct {
		name, time, text string
		want             samples
		end              float64
	}{
		{"even rows, the last as long as the others", "column: time",
			"time,RA_1,RA_2,RA_3,RA_4\n10,1,2,3,4\n11,5,6,7,8\n",
			samples{"radio_altitude": {{10, 1}, {10.25, 2}, {10.5, 3}, {10.75, 4}, {11, 5}, {11.25, 6}, {11.5, 7}, {11.75, 8}}}, 11.75},
		{"blank and invalid cells are missing samples", "column: time",
			"time,RA_1,RA_2,RA_3,RA_4\n0,1,,bad,4\n1,,6,7,\n2,9,,,\n",
			samples{"radio_altitude": {{0, 1}, {0.75, 4}, {1.25, 6}, {1.5, 7}, {2, 9}}}, 2},
		{"rows 2 s apart, a late one, and a gap that samples are not spread over", "column: time",
			"time,RA_1,RA_2,RA_3,RA_4\n0,1,2,3,4\n2,5,6,7,8\n4.4,9,10,11,12\n6,1,2,3,4\n60,5,6,7,8\n62,9,9,9,9\n",
			samples{"radio_altitude": {{0, 1}, {0.5, 2}, {1, 3}, {1.5, 4}, {2, 5}, {2.6, 6}, {3.2, 7}, {3.8, 8},
				{4.4, 9}, {4.8, 10}, {5.2, 11}, {5.6, 12}, {6, 1}, {6.5, 2}, {7, 3}, {7.5, 4}, {60, 5}, {60.5, 6}, {61, 7}, {61.5, 8}, {62, 9}, {62.5, 9}, {63, 9}, {63.5, 9}}}, 63.5},
		{"a row without a sample between", "column: time",
			"time,CAS,RA_1,RA_2,RA_3,RA_4\n0,100,1,2,3,4\n1,101,5,6,7,8\n2,102,,,,\n3,103,1,2,3,4\n",
			samples{"computed_airspeed": {{0, 100}, {1, 101}, {2, 102}, {3, 103}},
				"radio_altitude": {{0, 1}, {0.25, 2}, {0.5, 3}, {0.75, 4}, {1, 5}, {1.25, 6}, {1.5, 7}, {1.75, 8}, {3, 1}, {3.25, 2}, {3.5, 3}, {3.75, 4}}}, 3.75},
		{"rows 4 to a second and samples in the first of each", "column: time",
			"time,CAS,RA_1,RA_2,RA_3,RA_4\n0,100,1,2,3,4\n0.25,,,,,\n0.5,,,,,\n0.75,,,,,\n1,101,5,6,7,8\n1.25,,,,,\n",
			samples{"computed_airspeed": {{0, 100}, {1, 101}},
				"radio_altitude": {{0, 1}, {0.25, 2}, {0.5, 3}, {0.75, 4}, {1, 5}, {1.25, 6}, {1.5, 7}, {1.75, 8}}}, 1.75},
		{"offset of the word, in a discrete", "column: time",
			"time,W[0],W[1]\n0,1,0\n1,0,1\n",
			samples{"nose_strut_compressed": {{0.125, 1}, {0.625, 0}, {1.125, 0}, {1.625, 1}}}, 1.625},
		{"two rows share each second of a clock", "column: time",
			"time,RA_1,RA_2,RA_3,RA_4\n00:00:01,1,2,3,4\n00:00:01,5,6,7,8\n00:00:02,1,2,3,4\n00:00:02,5,6,7,8\n",
			samples{"radio_altitude": {{1, 1}, {1.125, 2}, {1.25, 3}, {1.375, 4}, {1.5, 5}, {1.625, 6}, {1.75, 7}, {1.875, 8},
				{2, 1}, {2.125, 2}, {2.25, 3}, {2.375, 4}, {2.5, 5}, {2.625, 6}, {2.75, 7}, {2.875, 8}}}, 2.875},
		{"two rows share each second of a time in numbers", "column: time",
			"time,RA_1,RA_2,RA_3,RA_4\n1,1,2,3,4\n1,5,6,7,8\n2,1,2,3,4\n2,5,6,7,8\n",
			samples{"radio_altitude": {{1, 1}, {1.125, 2}, {1.25, 3}, {1.375, 4}, {1.5, 5}, {1.625, 6}, {1.75, 7}, {1.875, 8},
				{2, 1}, {2.125, 2}, {2.25, 3}, {2.375, 4}, {2.5, 5}, {2.625, 6}, {2.75, 7}, {2.875, 8}}}, 2.875},
		{"a row out of place keeps the usual interval", "column: time",
			"time,RA_1,RA_2,RA_3,RA_4\n0,1,2,3,4\n2,1,2,3,4\n1,5,6,7,8\n3,9,9,9,9\n4,9,9,9,9\n",
			samples{"radio_altitude": {{0, 1}, {0.25, 2}, {0.5, 3}, {0.75, 4}, {1, 5}, {1.25, 6}, {1.5, 7}, {1.75, 8}, {2, 1}, {2.25, 2}, {2.5, 3}, {2.75, 4},
				{3, 9}, {3.25, 9}, {3.5, 9}, {3.75, 9}, {4, 9}, {4.25, 9}, {4.5, 9}, {4.75, 9}}}, 4.75},
		{"a single row has room for one sample", "column: time",
			"time,RA_1,RA_2,RA_3,RA_4\n7,,2,3,4\n",
			samples{"radio_altitude": {{7, 2}}}, 7},
		{"a single row with samples among others", "column: time",
			"time,CAS,RA_1,RA_2,RA_3,RA_4\n0,1,,,,\n2,1,1,2,3,4\n4,1,,,,\n",
			samples{"computed_airspeed": {{0, 1}, {2, 1}, {4, 1}}, "radio_altitude": {{2, 1}, {2.5, 2}, {3, 3}, {3.5, 4}}}, 4},
		{"a long export", "column: time",
			"time,parameter,value\n0,RA_1,1\n0,RA_2,2\n0,RA_3,3\n0,RA_4,4\n1,RA_1,5\n1,RA_2,6\n1,RA_3,7\n1,RA_4,8\n",
			samples{"radio_altitude": {{0, 1}, {0.25, 2}, {0.5, 3}, {0.75, 4}, {1, 5}, {1.25, 6}, {1.5, 7}, {1.75, 8}}}, 1.75},
		{"a long export, one parameter after the other", "column: time",
			"time,parameter,value\n0,RA_1,1\n1,RA_1,5\n0,RA_2,2\n1,RA_2,6\n0,RA_3,3\n1,RA_3,7\n0,RA_4,4\n1,RA_4,8\n",
			samples{"radio_altitude": {{0, 1}, {0.25, 2}, {0.5, 3}, {0.75, 4}, {1, 5}, {1.25, 6}, {1.5, 7}, {1.75, 8}}}, 1.75},
	} {
		r := read(t, tt.text, profileOf(t, tt.time, sampledColumns))
		got := samplesOf(r)
		if diff := cmp.Diff(tt.want, got, cmp.Comparer(func(a, b float64) bool { return math.Abs(a-b) < 1e-9 })); diff != "" {
			t.Errorf("%s (-want +got):\n%s", tt.name, diff)
		}
		if math.Abs(r.End-tt.end) > 1e-9 {
			t.Errorf("%s: ends at %g, want %g", tt.name, r.End, tt.end)
		}
		for _, s := range r.Series {
			if s.Parameter.Name == "radio_altitude" && (s.Column != "RA_1 … RA_4" || !slices.Equal(s.Samples, []string{"RA_1", "RA_2", "RA_3", "RA_4"})) {
				t.Errorf("%s: column %q of %q", tt.name, s.Column, s.Samples)
			}
		}
		checkSound(t, r)
	}
}

// Where the time steps back the samples before it keep the usual interval: nothing is
// spread over the step, and the stretch after it is one of its own.
func TestRowSamplesInStretches(t *testing.T) {
	t.Parallel()
	text := "time,RA_1,RA_2,RA_3,RA_4\n"
	for _, start := range []float64{1000, 0} {
		for i := range 8 {
			text += fmt.Sprintf("%g,1,2,3,4\n", start+float64(i))
		}
	}
	r := read(t, text, profileOf(t, "column: time", sampledColumns))
	if len(r.Later) != 1 {
		t.Fatalf("%d later stretches, want 1", len(r.Later))
	}
	for k, one := range r.Stretches() {
		times := one.Series[0].TimeValues()
		if first, last := []float64{1000, 0}[k], []float64{1007.75, 7.75}[k]; len(times) != 32 || times[0] != first || times[31] != last || one.End != last {
			t.Errorf("stretch %d: %d samples from %g to %g, ends at %g; want 32 from %g to %g", k+1, len(times), times[0], times[len(times)-1], one.End, first, last)
		}
	}
}

// An export with a part of the columns has no times for them.
func TestRowSamplesInPart(t *testing.T) {
	t.Parallel()
	profile := profileOf(t, "column: time", sampledColumns)
	for _, text := range []string{"time,CAS,RA_1,RA_2,RA_4\n0,100,1,2,4\n", "time,parameter,value\n0,CAS,100\n0,RA_1,1\n0,RA_2,1\n0,RA_4,1\n"} {
		r := read(t, text, profile)
		if len(r.Series) != 1 || len(r.Absent) != 2 {
			t.Errorf("%d series and %d absent, want 1 and 2", len(r.Series), len(r.Absent))
		}
		want := `radio_altitude is not read from its 4 sample columns: the export has no "RA_3"; under samples in the profile, list those it has`
		if !slices.Contains(r.Notes, want) {
			t.Errorf("notes %q lack %q", r.Notes, want)
		}
	}
	_, err := ReadBytes("f.csv", []byte("time,RA_1\n0,1\n"), profile)
	if p := problemsOf(t, err); !strings.Contains(p[0].Cause, "has none of the columns test.yaml maps") {
		t.Errorf("%v", p)
	}
}

func TestRowSamplesWrong(t *testing.T) {
	t.Parallel()
	_, err := ReadBytes("f.csv", []byte("time,RA_1,RA_2,RA_3,RA_4\n0,1,2,3,4\n1,5,6,x,8\n"), profileOf(t, "column: time", sampledColumns))
	p := problemsOf(t, err)[0]
	if p.Line != 3 || p.Column != 7 || !strings.Contains(p.Cause, `column "RA_3": "x" is not a number`) || p.Hint == "" {
		t.Errorf("%+v", p)
	}
	for columns, want := range map[string]string{
		"  radio_altitude: {column: RA, samples: [A, B], unit: ft}\n": "has both column and samples",
		"  radio_altitude: {samples: [A, B, A], unit: ft}\n":          `column "A" appears twice`,
		"  radio_altitude: {unit: ft}\n":                              "has none of the entries column, samples",
		"  radio_altitude: {samples: [A], unit: ft}\n":                "samples",
	} {
		text := "schema: downlock profile 1\naircraft: T\ntitle: t\nlegs: [nose, left, right]\nengines: 2\ntime: {column: t}\ncolumns:\n" + columns
		_, err := schemas.ParseProfile("p.yaml", []byte(text))
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: error %v, want one with %q", columns, err, want)
		}
	}
}

// A flight written with a row for each time and with a row for each second has the same
// samples at the same times, in every layout, packed or not.
func TestRowSamplesAreTheSame(t *testing.T) {
	t.Parallel()
	table, profile := benchTable([]float64{8, 4, 4, 2, 2, 2, 2, 1, 1, 1, 1, 1, 1, 1, 0.5, 0.25})
	random := rand.New(rand.NewPCG(1, 2))
	for i := range table.Columns { // some lost samples, and two minutes that are not recorded
		c := &table.Columns[i]
		*c = keepSamples(*c, func(at float64) bool { return random.IntN(50) > 0 && (at < 600 || at >= 720) && at < 1800 })
	}
	rows, places, err := export.SampledRows(table)
	if err != nil {
		t.Fatal(err)
	}
	sampled := export.RowsProfile(profile, places)
	sampled.Long = schemas.LongColumns{Parameter: export.ParameterColumn, Value: export.ValueColumn}
	want, err := ReadBytes("f.csv", benchExport(export.WideCSV, table), profile)
	if err != nil {
		t.Fatal(err)
	}
	all := samplesOf(want)
	for _, layout := range []export.Layout{export.WideCSV, export.LongCSV, export.WideParquet, export.WideArrow} {
		for _, packAbove := range []int{0, 1} {
			data := benchExport(layout, rows)
			got, err := Limits{PackAbove: packAbove}.read("f", bytes.NewReader(data), int64(len(data)), sampled, noHash{})
			if err != nil {
				t.Fatalf("%s: %v", layout, err)
			}
			if got.Packed() != (packAbove > 0) {
				t.Errorf("%s: packed is %v", layout, got.Packed())
			}
			if diff := cmp.Diff(all, samplesOf(got)); diff != "" {
				t.Errorf("%s, packed above %d: (-a row for each time +a row a second):\n%.2000s", layout, packAbove, diff)
			}
			if packAbove > 0 { // a stretch of it, as a flight is unpacked
				part, err := got.Between(100, 140)
				if err != nil {
					t.Fatal(err)
				}
				unpacked := samplesOf(part)
				for _, s := range part.Series {
					all := all[s.Parameter.Name]
					times := s.TimeValues()
					from := slices.IndexFunc(all, func(one [2]float64) bool { return one[0] == times[0] })
					if from < 0 || times[0] > 100 || times[len(times)-1] < 136 {
						t.Fatalf("%s: %s between 100 and 140 s is from %g to %g", layout, s.Parameter.Name, times[0], times[len(times)-1])
					}
					for i, one := range unpacked[s.Parameter.Name] {
						if one != all[from+i] {
							t.Fatalf("%s: %s: %v, want %v", layout, s.Parameter.Name, one, all[from+i])
						}
					}
				}
			}
			for i, s := range got.Series {
				if w := want.Series[i]; s.Interval != w.Interval || s.Gap != w.Gap || s.TimeAccuracy != w.TimeAccuracy || s.Dropped != w.Dropped {
					t.Errorf("%s: %s: interval %g, gap %g, accuracy %g, dropped %v; want %g, %g, %g, %v", layout, s.Parameter.Name, s.Interval, s.Gap, s.TimeAccuracy, s.Dropped, w.Interval, w.Gap, w.TimeAccuracy, w.Dropped)
				}
			}
		}
	}
}

func keepSamples(c export.Column, keep func(at float64) bool) export.Column {
	out := export.Column{Name: c.Name, Unit: c.Unit, Decimals: c.Decimals}
	for i, at := range c.Times {
		if !keep(at) {
			continue
		}
		out.Times = append(out.Times, at)
		if c.Texts != nil {
			out.Texts = append(out.Texts, c.Texts[i])
		} else {
			out.Numbers = append(out.Numbers, c.Numbers[i])
		}
	}
	return out
}
