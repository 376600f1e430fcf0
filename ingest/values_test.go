package ingest

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"downlock/ingest/export"
	"downlock/schemas"
)

const testDetents = `
flaps:
  parameters: [flap_handle]
  detents:
    - {name: UP, angle: 0, classes: [up], states: [UP, 0]}
    - {name: "1", angle: 5, classes: [takeoff]}
    - {name: FULL, angle: 40, classes: [landing], states: [FULL, 4]}
`

// Every value is worked out by hand from the profile's entries.
func TestWrittenValues(t *testing.T) {
	t.Parallel()
	for _, tt := range []struct {
		name, columns, text string
		want                samples
		notes               []string
	}{
		{name: "detents by word, number and case", columns: "  flap_handle: {column: F, unit: detent}" + testDetents,
			text: "time,F\n0,UP\n1,0\n2,1\n3,1.0\n4,full\n5, 4 \n6,bad\n7,UP\n",
			want: samples{"flap_handle": {{0, 0}, {1, 0}, {2, 5}, {3, 5}, {4, 40}, {5, 40}, {7, 0}}}},
		// 2438 counts are 0 deg, 3048 are 20, 3658 are 40: 610 counts for 20 deg. Before the first
		// point and after the last the same lines go on: 2377 is 61 counts before, so -2; 3719 is 42.
		{name: "counts by points", columns: "  flap_angle: {column: F, unit: deg, points: [[2438, 0], [3048, 20], [3658, 40]]}",
			text: "time,F\n0,2438\n1,2743\n2,3048\n3,3658\n4,3719\n5,3658\n6,2438\n7,2377\n",
			want: samples{"flap_angle": {{0, 0}, {1, 10}, {2, 20}, {3, 40}, {4, 42}, {5, 40}, {6, 0}, {7, -2}}}},
		// Per cent of travel against feet of altitude in metres: 50 is 100 m, 100 ft is 30.48 m.
		{name: "points, then the unit", columns: "  pressure_altitude: {column: A, unit: m, points: [[0, 0], [50, 30.48], [100, 304.8]]}",
			text: "time,A\n0,0\n1,25\n2,50\n3,75\n", want: samples{"pressure_altitude": {{0, 0}, {1, 50}, {2, 100}, {3, 550}}}},
		{name: "points that fall", columns: "  flap_angle: {column: F, unit: deg, points: [[0, 40], [100, 0]]}",
			text: "time,F\n0,0\n1,25\n2,100\n", want: samples{"flap_angle": {{0, 40}, {1, 30}, {2, 0}}}},
		// 0.5 and the levels themselves keep the state; the first 0.5 has none before it.
		{name: "levels", columns: "  nose_gear_down_locked: {column: P, true_above: 0.9, false_below: 0.1}",
			text: "time,P\n0,0.5\n1,0.95\n2,0.9\n3,0.1\n4,bad\n5,0.05\n6,0.5\n7,0.9\n8,1\n",
			want: samples{"nose_gear_down_locked": {{1, 1}, {2, 1}, {3, 1}, {5, 0}, {6, 0}, {7, 0}, {8, 1}}}, notes: []string{"1 samples of nose_gear_down_locked lie between"}},
		{name: "levels the other way", columns: "  nose_gear_up_locked: {column: P, true_below: 0.1, false_above: 0.1}",
			text: "time,P\n0,0\n1,0.1\n2,0.2\n3,0.1\n", want: samples{"nose_gear_up_locked": {{0, 1}, {1, 1}, {2, 0}, {3, 0}}}},
		// A gap is more than three intervals of 1 s, or of allowed_gap: what went on in it nobody knows.
		{name: "levels across a gap", columns: "  gear_horn: {column: P, true_above: 1, false_below: 0, allowed_gap: 2}",
			text: "time,P\n0,5\n1,0.5\n2,0.5\n5,0.5\n6,0.5\n7,-1\n", want: samples{"gear_horn": {{0, 1}, {1, 1}, {2, 1}, {7, 0}}}, notes: []string{"2 samples of gear_horn lie between"}},
		// Rows out of their order are sorted before the state in between is looked for.
		{name: "levels, rows out of order", columns: "  gear_horn: {column: P, true_above: 1, false_below: 0}",
			text: "time,P\n0,5\n2,0.5\n1,-1\n3,0.5\n", want: samples{"gear_horn": {{0, 1}, {1, 0}, {2, 0}, {3, 0}}}, notes: []string{"time steps back in 1 row, the first in line 4; samples were sorted by time"}},
		// 5 = 101b, 10 = 1010b, 0x1A = 11010b, -1 has every bit set, 26.0 = 11010b.
		{name: "bits of one column", columns: "  gear_horn: {column: W, bit: 0}\n  parking_brake: {column: W, bit: 1, true_when: 0}\n  speedbrake_armed: {column: W, bit: 3}",
			text: "time,W\n0,5\n1,10\n2,0x1A\n3,-1\n4,26.0\n5,-999\n6,bad\n",
			want: samples{"gear_horn": {{0, 1}, {1, 0}, {2, 0}, {3, 1}, {4, 0}}, "parking_brake": {{0, 1}, {1, 0}, {2, 0}, {3, 0}, {4, 0}},
				"speedbrake_armed": {{0, 0}, {1, 1}, {2, 1}, {3, 1}, {4, 1}}}},
		// 0x10 = 10000b and 0010 in hexadecimal is 16 too; FF has bit 4.
		{name: "hexadecimal without 0x", columns: "  gear_horn: {column: W, bit: 4, word: hex}", text: "time,W\n0,0010\n1,ff\n2,0xF\n3,1E5\n",
			want: samples{"gear_horn": {{0, 1}, {1, 1}, {2, 0}, {3, 0}}}},
		{name: "decimal with zeros", columns: "  gear_horn: {column: W, bit: 4, word: decimal}", text: "time,W\n0,0016\n1,0010\n", want: samples{"gear_horn": {{0, 1}, {1, 0}}}},
		// Bits 2 and 3: 0b0000 is 0, 0b0100 is 1, 0b1011 is 2.
		{name: "a field of bits", columns: "  gear_lever: {column: W, bits: [2, 3], states: {0: UP, 1: \"OFF\", 2: DOWN}}", text: "time,W\n0,3\n1,4\n2,0xB\n",
			want: samples{"gear_lever": {{0, 0}, {1, 1}, {2, 2}}}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			got := read(t, tt.text, profileOf(t, "column: time", tt.columns))
			if d := cmp.Diff(tt.want, samplesOf(got), cmpopts.EquateApprox(1e-12, 1e-12)); d != "" {
				t.Errorf("(-want +got):\n%s", d)
			}
			if len(got.Notes) != len(tt.notes) {
				t.Fatalf("notes: %q", got.Notes)
			}
			for i, n := range tt.notes {
				if !strings.Contains(got.Notes[i], n) {
					t.Errorf("note %q, want %q", got.Notes[i], n)
				}
			}
		})
	}
}

func TestUnreadableValues(t *testing.T) {
	t.Parallel()
	for _, tt := range []struct{ name, columns, text, cause, hint string }{
		{"an unknown detent", "  flap_handle: {column: F, unit: detent}" + testDetents, "time,F\n0,UP\n1,3\n", `"3" is not a flap detent`, "states of its detent"},
		{"the detents are named", "  flap_handle: {column: F, unit: detent}" + testDetents, "time,F\n0,UP\n1,3\n", "0 or UP (0 deg), 1 (5 deg), 4 or FULL (40 deg)", "test.yaml"},
		{"a text for a level", "  gear_horn: {column: P, true_above: 1, false_below: 0}", "time,P\n0,1\n1,x\n", `"x" is not a number`, "invalid_tokens"},
		{"hexadecimal by its letters", "  gear_horn: {column: W, bit: 4}", "time,W\n0,16\n1,1A\n", `"1A" may be hexadecimal or decimal`, "word: hex or word: decimal"},
		{"leading zeros", "  gear_horn: {column: W, bit: 4}", "time,W\n0,16\n1,0010\n", `"0010" may be`, "word: hex"},
		{"an exponent is no word", "  gear_horn: {column: W, bit: 4, word: decimal}", "time,W\n0,16\n1,1E5\n", `"1E5" is not a packed word`, "check the column"},
		{"a fraction", "  gear_horn: {column: W, bit: 4}", "time,W\n0,16\n1,1.5\n", `"1.5" is not a packed word`, "check the column"},
		{"a word too long", "  gear_horn: {column: W, bit: 4}", "time,W\n0,16\n1,0x1FFFFFFFFFFFFFFFF\n", "is not a packed word", ""},
		{"a field without a state", "  gear_lever: {column: W, bits: [2, 3], states: {0: UP, 2: DOWN}}", "time,W\n0,0\n1,12\n", `bits 2 to 3 of "12" is 3`, "add 3 under states"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			_, err := ReadBytes("test.csv", []byte(tt.text), profileOf(t, "column: time", tt.columns))
			var all schemas.Problems
			if !errors.As(err, &all) || len(all) != 1 {
				t.Fatalf("got %v, want one problem", err)
			}
			p := all[0]
			if p.Line != 3 || p.Column != 3 || !strings.Contains(p.Cause, tt.cause) || !strings.Contains(p.Hint, tt.hint) {
				t.Errorf("%v, want line 3, column 3, %q and %q", err, tt.cause, tt.hint)
			}
		})
	}
}

// A large recording is packed while it is read: its samples are those of the same one
// read at once.
func TestWrittenValuesPacked(t *testing.T) {
	t.Parallel()
	columns := "  flap_handle: {column: F, unit: detent}\n  gear_horn: {column: P, true_above: 0.9, false_below: 0.1}\n  parking_brake: {column: W, bit: 2}\n  flap_angle: {column: C, unit: deg, points: [[0, 0], [100, 7], [1000, 40]]}" + testDetents
	profile := profileOf(t, "column: time", columns)
	var b strings.Builder
	b.WriteString("time,F,P,W,C\n")
	for i := range 3 * blockSamples {
		fmt.Fprintf(&b, "%d,%s,%.2f,%d,%d\n", i, []string{"UP", "1", "FULL"}[i/50%3], math.Abs(math.Sin(float64(i)/7)), i%11, i%1000/2)
	}
	want := samplesOf(read(t, b.String(), profile))
	r, err := Limits{PackAbove: 1}.read("test.csv", strings.NewReader(b.String()), int64(b.Len()), profile, nopHash())
	if err != nil {
		t.Fatal(err)
	}
	if !r.Packed() {
		t.Fatal("not packed")
	}
	if d := cmp.Diff(want, samplesOf(r)); d != "" {
		t.Errorf("(-at once +packed):\n%s", d[:min(len(d), 2000)])
	}
	whole, err := r.Between(5000, 6000)
	if err != nil {
		t.Fatal(err)
	}
	for name, list := range samplesOf(whole) {
		at := map[float64]float64{}
		for _, s := range want[name] {
			at[s[0]] = s[1]
		}
		for _, s := range list {
			if v, ok := at[s[0]]; !ok || v != s[1] {
				t.Fatalf("%s at %v s is %v, want %v", name, s[0], s[1], v)
			}
		}
	}
}

// Numbers of a columnar file mean the same as the text of them.
func TestWrittenValuesColumnar(t *testing.T) {
	t.Parallel()
	times := []float64{0, 1, 2, 3}
	table := export.Table{TimeName: "time", Columns: []export.Column{
		{Name: "F", Times: times, Numbers: []float64{0, 1, 4, 4}},
		{Name: "P", Times: times, Numbers: []float64{0, 0.5, 1, 0.5}, Decimals: 1},
		{Name: "W", Times: times, Numbers: []float64{4, 3, 12, -1}},
		{Name: "H", Times: times, Texts: []string{"0x4", "0x3", "0xC", "0xFF"}},
	}}
	columns := "  flap_handle: {column: F, unit: detent}\n  gear_horn: {column: P, true_above: 0.9, false_below: 0.1}\n  parking_brake: {column: W, bit: 2}\n  speedbrake_armed: {column: H, bit: 2}" + testDetents
	profile := profileOf(t, "column: time", columns)
	want := samples{"flap_handle": {{0, 0}, {1, 5}, {2, 40}, {3, 40}}, "gear_horn": {{0, 0}, {1, 0}, {2, 1}, {3, 1}},
		"parking_brake": {{0, 1}, {1, 0}, {2, 1}, {3, 1}}, "speedbrake_armed": {{0, 1}, {1, 0}, {2, 1}, {3, 1}}}
	for _, layout := range []export.Layout{export.WideParquet, export.WideArrow, export.WideCSV} {
		var b bytes.Buffer
		if err := export.Write(&b, export.Format{Layout: layout}, table); err != nil {
			t.Fatal(err)
		}
		r, err := ReadBytes("f", b.Bytes(), profile)
		if err != nil {
			t.Fatal(layout, err)
		}
		if d := cmp.Diff(want, samplesOf(r)); d != "" {
			t.Errorf("%v (-want +got):\n%s", layout, d)
		}
	}
}

// Points of several slopes make no common step: 1 count is 0.07 deg below 100 and
// 33/900 = 0.0367 above, so the largest step is 0.07 deg.
func TestStepOfPoints(t *testing.T) {
	t.Parallel()
	profile := profileOf(t, "column: time", "  flap_angle: {column: C, unit: deg, points: [[0, 0], [100, 7], [1000, 40]]}\n  pressure_altitude: {column: A, unit: ft}")
	r := read(t, "time,C,A\n0,10,1\n1,11,2\n2,500,3\n3,503,4\n", profile)
	if got := r.Lookup("flap_angle").Step; math.Abs(got-0.07) > 1e-12 {
		t.Errorf("step %v, want 0.07", got)
	}
	if got := r.Lookup("pressure_altitude").Step; got != 0 {
		t.Errorf("step %v of a column without points", got)
	}
}
