package ingest

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"downlock/ingest/export"
	"downlock/schemas"
)

func readMATFile(t testing.TB, name string, profile *schemas.Profile) (*Recording, error) {
	t.Helper()
	return Read(filepath.Join("..", "testdata", "mat", name), profile)
}

// matProfile is the profile for a file of testdata/mat.
func matProfile(t testing.TB, name string) *schemas.Profile {
	t.Helper()
	utc := "utc: {year: DATE_YEAR, month: DATE_MONTH, day: DATE_DAY, hour: GMT_HOUR, minute: GMT_MINUTE, second: GMT_SEC}"
	switch name {
	case "classes.mat":
		return profileOf(t, utc, `
  computed_airspeed: {column: UINT8, unit: kt}
  pressure_altitude: {column: INT16, unit: ft}
  stabiliser_trim: {column: SINGLE, unit: deg}
  pitch_attitude: {column: DOUBLE, unit: deg}
`)
	case "big-endian.mat":
		return profileOf(t, utc, testColumns)
	}
	p, err := schemas.ReadProfile(filepath.Join("..", "schemas", "profiles", "matlab-sample.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// The values are those of generate.py; sample i is i/Rate seconds after the
// beginning.
func TestMATSamples(t *testing.T) {
	t.Parallel()
	r, err := readMATFile(t, "classes.mat", matProfile(t, "classes.mat"))
	if err != nil {
		t.Fatal(err)
	}
	want := samples{
		"computed_airspeed": {{0, 0}, {1, 1}, {2, 255}},
		"pressure_altitude": {{1, 1}, {2, 32767}},                                 // -32768 is out of its range
		"stabiliser_trim":   {{0, -1.5}, {0.5, float64(float32(0.1))}, {1, 3.25}}, // 2 a second
		"pitch_attitude":    {{0, -1.5}, {4, 0.1}},                                // one every 4 s, the last no number
	}
	if diff := cmp.Diff(want, samplesOf(r)); diff != "" {
		t.Errorf("classes.mat (-want +got):\n%s", diff)
	}
	// 23:59:55 on 30 December 2031, in a clock that goes past midnight.
	if got := r.Epoch.Format("2006-01-02 15:04:05.000"); got != "2031-12-30 23:59:55.000" {
		t.Errorf("epoch %s", got)
	}
	if r.Start != 0 || r.End != 8 || r.Format != "MATLAB 5" || r.Lookup("pitch_attitude").Dropped != (Dropped{Token: 1}) {
		t.Errorf("%s from %v to %v s, dropped %+v", r.Format, r.Start, r.End, r.Lookup("pitch_attitude").Dropped)
	}
	r, err = readMATFile(t, "big-endian.mat", matProfile(t, "big-endian.mat"))
	if err != nil {
		t.Fatal(err)
	}
	want = samples{
		"computed_airspeed": {{0, 0}, {0.5, 140}, {1, 255}, {1.5, 7}, {2, 8}}, // jumps, but none of them there and back
		"pressure_altitude": {{0, -2}, {0.25, 340}, {0.5, 12000}},
		"weight_on_wheels":  {{0, 0}, {1, 1}},
	}
	if diff := cmp.Diff(want, samplesOf(r)); diff != "" {
		t.Errorf("big-endian.mat (-want +got):\n%s", diff)
	}
}

// The circuit's story, in generate.py: inverted discretes, UTC of 10:57:30.
func TestMATCircuit(t *testing.T) {
	t.Parallel()
	r, err := readMATFile(t, "circuit.mat", matProfile(t, "circuit.mat"))
	if err != nil {
		t.Fatal(err)
	}
	checkSound(t, r)
	checkSamples(t, r, []sample{
		{"gear_down_locked", 85, 1}, {"gear_down_locked", 86, 0}, {"gear_down_locked", 306, 1},
		{"gear_up_locked", 94, 0}, {"gear_up_locked", 95, 1}, {"gear_up_locked", 296, 0},
		{"left_strut_compressed", 79.5, 1}, {"left_strut_compressed", 80, 0}, {"right_strut_compressed", 415, 0}, {"right_strut_compressed", 415.5, 1},
		{"weight_on_wheels", 79, 1}, {"weight_on_wheels", 80, 0},
		{"pressure_altitude", 0, 340}, {"pressure_altitude", 200, 3940}, {"radio_altitude", 300, 2158}, {"radio_altitude", 200, 2500},
		{"throttle_angle_3", 100, 42.6}, {"computed_airspeed", 65, 70},
	})
	// Counts are whole, of 33/(3660-2438) deg each: 0, 5 and 30 deg to half a count.
	for at, want := range map[float64]float64{200: 0, 115: 5, 400: 30} {
		flap := r.Lookup("flap_angle")
		if i := slices.Index(flap.TimeValues(), at); i < 0 || math.Abs(flap.Numbers()[i]-want) > 0.0136 {
			t.Errorf("the flap angle at %v s is not %v deg", at, want)
		}
	}
	for name, interval := range map[string]float64{"radio_altitude": 0.125, "computed_airspeed": 0.25, "flap_angle": 1, "left_strut_compressed": 0.5, "nose_strut_compressed": 0.25} {
		if got := r.Lookup(name).Interval; got != interval {
			t.Errorf("%s every %v s, want %v", name, got, interval)
		}
	}
	if !r.Epoch.IsZero() {
		t.Errorf("epoch %v of a file without a date", r.Epoch)
	}
	if diff := cmp.Diff([]string{"the recording begins at 10:57:30 UTC; its date is not recorded, so its month is not known: give it with --date, or take it from the file's name with file_date in the profile"}, r.Notes); diff != "" {
		t.Errorf("notes (-want +got):\n%s", diff)
	}
	if len(r.Absent) != 0 {
		t.Errorf("absent %v", r.Absent)
	}
}

func TestMATProblems(t *testing.T) {
	t.Parallel()
	data, err := os.ReadFile(filepath.Join("..", "testdata", "mat", "circuit.mat"))
	if err != nil {
		t.Fatal(err)
	}
	utc := "utc: {hour: GMT_HOUR, minute: GMT_MINUTE, second: GMT_SEC}"
	for _, tt := range []struct {
		name, columns string
		data          []byte
		cause, hint   string
	}{
		{"nothing mapped", "  mach: {column: alt, unit: \"1\"}\n", data, `has none of the columns test.yaml maps; it has: "ALT", "RALT"`, `did you mean "ALT"?`},
		{"another unit", "  pressure_altitude: {column: ALT, unit: m}\n", data, `at byte 128: column "ALT" is in FEET here, but the profile says m`, "under pressure_altitude in test.yaml"},
		{"a unit that is not known", "  flap_angle: {column: FLAP, unit: deg}\n", data, `column "FLAP" is in "COUNTS" here, a unit that is not known, and the profile says deg for flap_angle`, `add stated_unit: "COUNTS" if`},
		{"another unit than stated_unit", "  pressure_altitude: {column: ALT, unit: ft, stated_unit: FL}\n", data, `column "ALT" is in "FEET" here, but the profile says that the export states "FL"`, "stated_unit under pressure_altitude"},
		{"no meaning", "  gear_lever: {column: LGDN, states: {0: DOWN}}\n", data, `: column "LGDN": "1" is not a known state of gear_lever`, "under states of gear_lever"},
		{"cut off", testColumns, data[:3000], "is not a readable MATLAB file: at byte ", "damaged"},
		{"version 7.3", testColumns, []byte("MATLAB 7.3 MAT-file, Platform: any, Created on: a day"), "version 7.3", "-v7"},
		{"no file of this kind", testColumns, []byte("time,CAS\n0,1\n"), "has no time column: test.yaml names none", "under time"},
	} {
		_, err := ReadBytes("f.mat", tt.data, profileOf(t, utc, tt.columns))
		if p := problemsOf(t, err)[0]; !strings.Contains(p.Cause, tt.cause) || !strings.Contains(p.Hint, tt.hint) || p.File != "f.mat" {
			t.Errorf("%s: %+v, want %s and %s", tt.name, *p, tt.cause, tt.hint)
		}
	}
}

// clockFile is a MATLAB export of a recording that begins at an instant, with a clock in
// whole seconds and a date at their rates, as a recorder samples them.
func clockFile(t testing.TB, begin time.Time, seconds int, clockRate, dateRate float64) []byte {
	t.Helper()
	table := export.Table{Columns: []export.Column{{Name: "ALT", Unit: "FEET"}}}
	for i := range seconds {
		table.Columns[0].Times, table.Columns[0].Numbers = append(table.Columns[0].Times, float64(i)), append(table.Columns[0].Numbers, 1000)
	}
	for _, part := range []struct {
		name string
		rate float64
		of   func(time.Time) int
	}{
		{"GMT_HOUR", clockRate, time.Time.Hour}, {"GMT_MINUTE", clockRate, time.Time.Minute}, {"GMT_SEC", clockRate, time.Time.Second},
		{"DATE_YEAR", dateRate, time.Time.Year}, {"DATE_MONTH", dateRate, func(t time.Time) int { return int(t.Month()) }}, {"DATE_DAY", dateRate, time.Time.Day},
	} {
		if part.rate == 0 {
			continue
		}
		c := export.Column{Name: part.name}
		for i := range int(float64(seconds) * part.rate) {
			at := float64(i) / part.rate
			c.Times, c.Numbers = append(c.Times, at), append(c.Numbers, float64(part.of(begin.Add(time.Duration(at*float64(time.Second))))))
		}
		table.Columns = append(table.Columns, c)
	}
	var out bytes.Buffer
	if err := export.Write(&out, export.Format{Layout: export.MATLAB}, table); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

// A clock in whole seconds, sampled so many times a second, tells the beginning to the
// interval between samples, and not later than it was: of the beginnings its samples
// show the latest is the nearest. Over midnight the slow date lags behind.
func TestMATClock(t *testing.T) {
	t.Parallel()
	profile := profileOf(t, "utc: {year: DATE_YEAR, month: DATE_MONTH, day: DATE_DAY, hour: GMT_HOUR, minute: GMT_MINUTE, second: GMT_SEC}", "  pressure_altitude: {column: ALT, unit: ft}\n")
	for _, rate := range []float64{1, 2, 4, 8} {
		for _, hour := range []string{"10:57:30", "23:59:50", "23:58:59"} {
			for ms := range 10 {
				clock, err := time.Parse("2006-01-02 15:04:05", "2031-12-30 "+hour)
				if err != nil {
					t.Fatal(err)
				}
				begin := clock.Add(time.Duration(ms*100) * time.Millisecond)
				r, err := ReadBytes("f.mat", clockFile(t, begin, 120, rate, 0.25), profile)
				if err != nil {
					t.Fatal(err)
				}
				if late := begin.Sub(r.Epoch).Seconds(); late < 0 || late >= 1/rate {
					t.Errorf("%v Hz, begun at %s: taken for %s", rate, begin.Format("15:04:05.000"), r.Epoch.Format("2006-01-02 15:04:05.000"))
				}
				if len(r.Notes) != 0 {
					t.Errorf("notes %q", r.Notes)
				}
			}
		}
	}
	// Without a date the time of day alone is known, over midnight too: 30.7 s show
	// 30 at 0 s and 31 at 0.5 s, so the beginning is at 30.5 s or later.
	for begin, want := range map[string]string{"10:57:30.7": "10:57:30", "23:59:59.9": "23:59:59", "00:00:00.2": "00:00:00"} {
		at, err := time.Parse("15:04:05", begin)
		if err != nil {
			t.Fatal(err)
		}
		r, err := ReadBytes("f.mat", clockFile(t, at.AddDate(2031, 0, 0), 120, 2, 0), profile)
		if err != nil {
			t.Fatal(err)
		}
		if len(r.Notes) != 1 || !strings.HasPrefix(r.Notes[0], fmt.Sprintf("the recording begins at %s UTC; its date is not recorded", want)) {
			t.Errorf("begun at %s: %q", begin, r.Notes)
		}
	}
	// Three days without a date agree on one beginning.
	r, err := ReadBytes("f.mat", clockFile(t, time.Date(2031, 1, 1, 10, 57, 30, 0, time.UTC), 3*secondsPerDay, 0.01, 0), profile)
	if err != nil {
		t.Fatal(err)
	}
	if len(r.Notes) != 1 || !strings.HasPrefix(r.Notes[0], "the recording begins at 10:57:30 UTC") {
		t.Errorf("three days: %q", r.Notes)
	}
}
