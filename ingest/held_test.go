package ingest

import (
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// Eight rows a second for twenty minutes, every cell filled: normal acceleration is sampled in
// every row; airspeed once a second, in the row of 3/8 s; altitude twice a second; the
// lever, once a second in the row of 6/8 s, moves once, at 20.75 s. The true samples are
// known since the test writes it.
func TestHeldColumns(t *testing.T) {
	t.Parallel()
	const columns = testColumns + "  normal_acceleration: {column: NZ, unit: g}\n"
	text := "time,NZ,CAS,ALT,LEVER,WOW\n"
	want := samples{}
	add := func(name string, at, v float64) { want[name] = append(want[name], [2]float64{at, v}) }
	nz := func(i int) float64 { return float64((i*i)%17) / 16 }
	cas, alt, lever := "99", "999", "UP"
	for i := range 9600 {
		at := float64(i) / 8
		add("normal_acceleration", at, nz(i))
		if i%8 == 3 {
			cas = fmt.Sprint(100 + i/8%300)
			add("computed_airspeed", at, float64(100+i/8%300))
		}
		if i%4 == 1 {
			alt = fmt.Sprint(1000 + i)
			add("pressure_altitude", at, float64(1000+i))
		}
		if i == 20*8+6 {
			lever = "DN"
		}
		if i%8 == 6 {
			add("gear_lever", at, map[string]float64{"UP": 0, "DN": 2}[lever])
		}
		if i%8 == 0 { // it never changes, so any row will do
			add("weight_on_wheels", at, 0)
		}
		text += fmt.Sprintf("%g,%g,%s,%s,%s,0\n", at, nz(i), cas, alt, lever)
	}
	// Before the first sample the row holds a value from before.
	profile := profileOf(t, "column: time", columns)
	check := func(name string, r *Recording) {
		t.Helper()
		if d := cmp.Diff(want, samplesOf(r)); d != "" {
			t.Errorf("%s (-want +got):\n%s", name, d)
		}
		for _, s := range r.Series {
			accuracy, interval := 0.125, map[string]float64{"computed_airspeed": 1, "pressure_altitude": 0.5, "gear_lever": 1, "weight_on_wheels": 1, "normal_acceleration": 0.125}[s.Parameter.Name]
			if s.Parameter.Name == "normal_acceleration" {
				accuracy = 0
			}
			if s.TimeAccuracy != accuracy || s.Interval != interval {
				t.Errorf("%s: %s every %v s, ±%v s; want %v, %v", name, s.Parameter.Name, s.Interval, s.TimeAccuracy, interval, accuracy)
			}
		}
		notes := []string{"columns that repeat a value until the next sample were reduced to the true samples, as their changes show: computed_airspeed 1 row in 8, pressure_altitude 1 row in 4",
			"columns that change too rarely to show this were treated in the same way: gear_lever 1 row in 8, weight_on_wheels 1 row in 8"}
		if d := cmp.Diff(notes, r.Notes); d != "" {
			t.Errorf("%s: notes (-want +got):\n%s", name, d)
		}
	}
	check("CSV", read(t, text, profile))
	for name, data := range columnarOf(t, text) {
		r, err := ReadBytes("f", data, profile)
		if err != nil {
			t.Fatal(err)
		}
		check(name, r)
	}
	r, err := Limits{PackAbove: 1}.read("f", strings.NewReader(text), int64(len(text)), profile, nopHash())
	if err != nil {
		t.Fatal(err)
	}
	if !r.Packed() {
		t.Error("not packed")
	}
	check("packed", r)
}

// Nothing is taken out of columns that are sampled in every row.
func TestColumnsThatAreNotHeld(t *testing.T) {
	t.Parallel()
	text := "time,CAS,WOW\n"
	for i := range 400 {
		text += fmt.Sprintf("%g,%d,%d\n", float64(i)/8, 100+(i*7)%13/4, i/200)
	}
	r := read(t, text, profileOf(t, "column: time", testColumns))
	for _, s := range r.Series {
		if s.Len() != 400 || s.TimeAccuracy != 0 || len(r.Notes) != 0 {
			t.Errorf("%s: %d samples, ±%v s, %q", s.Parameter.Name, s.Len(), s.TimeAccuracy, r.Notes)
		}
	}
}

// The place of a word in its frame is added to the time of its samples, not to that of
// the others, packed or not.
func TestTimeOffset(t *testing.T) {
	t.Parallel()
	profile := profileOf(t, "column: time", "  computed_airspeed: {column: CAS, unit: kt, time_offset: 0.25}\n  pressure_altitude: {column: ALT, unit: ft, time_offset: -0.5}\n  weight_on_wheels: {column: WOW, true_when: 1}\n")
	text, want := "time,CAS,ALT,WOW\n", samples{}
	for i := range 9000 {
		text += fmt.Sprintf("%d,%d,%d,1\n", i, 100+i%100, 1000+i)
		want["computed_airspeed"] = append(want["computed_airspeed"], [2]float64{float64(i) + 0.25, float64(100 + i%100)})
		want["pressure_altitude"] = append(want["pressure_altitude"], [2]float64{float64(i) - 0.5, float64(1000 + i)})
		want["weight_on_wheels"] = append(want["weight_on_wheels"], [2]float64{float64(i), 1})
	}
	for _, packAbove := range []int{0, 1} {
		r, err := Limits{PackAbove: packAbove}.read("f", strings.NewReader(text), int64(len(text)), profile, nopHash())
		if err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(want, samplesOf(r)); d != "" || r.Packed() != (packAbove > 0) {
			t.Errorf("packed: %v (-want +got):\n%s", r.Packed(), d)
		}
	}
}
