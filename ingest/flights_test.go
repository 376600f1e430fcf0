package ingest

import (
	"path/filepath"
	"slices"
	"testing"
	"time"

	"downlock/schemas"
)

func x100(t testing.TB, profile string) *schemas.Profile {
	t.Helper()
	p, err := schemas.ReadProfile(filepath.Join("..", "testdata", "x100", profile))
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func readX100(t *testing.T, file, profile string) *Recording {
	t.Helper()
	r, err := Read(filepath.Join("..", "testdata", "x100", file), x100(t, profile))
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// sample is the value of a parameter at a time, of a code its number.
type sample struct {
	parameter string
	at, value float64
}

func checkSamples(t *testing.T, r *Recording, samples []sample) {
	t.Helper()
	for _, want := range samples {
		s := r.Lookup(want.parameter)
		i := slices.Index(s.TimeValues(), want.at)
		if i < 0 {
			t.Errorf("%s has no sample at %v s", want.parameter, want.at)
			continue
		}
		got := 0.0
		if s.Parameter.Numeric() {
			got = s.Numbers()[i]
		} else {
			got = float64(s.Codes()[i])
		}
		if got != want.value {
			t.Errorf("%s at %v s is %v, want %v", want.parameter, want.at, got, want.value)
		}
	}
}

// The values were read by eye from the files' text, near the lines named.
func TestX100Values(t *testing.T) {
	t.Parallel()
	r := readX100(t, "flight-2.csv.gz", "profile.yaml")
	if want := time.Date(2032, 7, 3, 7, 14, 11, 0, time.UTC); !r.Epoch.Equal(want) {
		t.Errorf("epoch %v, want %v", r.Epoch, want)
	}
	if r.Start != 0 || r.End != 768.375 || r.Format != "wide CSV, gzip" || len(r.Absent) != 0 || len(r.Series) != 32 {
		t.Errorf("%s from %v to %v s, %d series, absent %v", r.Format, r.Start, r.End, len(r.Series), r.Absent)
	}
	checkSamples(t, r, []sample{
		{"computed_airspeed", 0, 12},         // line 2
		{"pressure_altitude", 0.125, 1356},   // line 3
		{"radio_altitude", 0.25, -2},         // line 4
		{"nose_gear_down_locked", 0.375, 1},  // line 5
		{"flap_handle", 0.5, 5},              // line 6
		{"gear_lever", 0.625, 2},             // line 7, DN
		{"engine_n1_1", 0.75, 30},            // line 8
		{"latitude", 0, 39.75},               // line 2
		{"longitude", 0.5, -31.2},            // line 6
		{"pressure_altitude", 249.125, 4346}, // long file, 250th of its kind
		{"radio_altitude", 499.75, 2500},     // line 4000
		{"engine_n1_1", 624.75, 67.9},        // line 5000
	})
}

func TestX100WideAndLongAgree(t *testing.T) {
	t.Parallel()
	wide, long := readX100(t, "flight-2.csv.gz", "profile.yaml"), readX100(t, "flight-2-long.csv.gz", "profile.yaml")
	if long.Format != "long CSV, gzip" {
		t.Errorf("read as %s", long.Format)
	}
	long.Epoch = wide.Epoch // the long file has no date
	if diff := sameRecording(wide, long); diff != "" {
		t.Errorf("(-wide +long):\n%s", diff)
	}
}

// flight-6 records circuits: a down-lock of 0 means locked, a strut of 1 in
// the air. Standing at its beginning, all legs are locked and compressed.
func TestX100InvertedDiscretes(t *testing.T) {
	t.Parallel()
	r := readX100(t, "flight-6.csv.gz", "profile-inverted.yaml")
	for _, name := range []string{"nose_gear_down_locked", "left_gear_down_locked", "right_gear_down_locked", "nose_strut_compressed", "left_strut_compressed", "right_strut_compressed"} {
		if got := r.Lookup(name).Codes()[0]; got != 1 {
			t.Errorf("%s begins with %d, want 1", name, got)
		}
	}
}

func TestX100Sound(t *testing.T) {
	t.Parallel()
	for _, n := range []string{"1", "2", "3", "4", "5", "6", "7", "8"} {
		r := readX100(t, "flight-"+n+".csv.gz", "profile.yaml")
		checkSound(t, r)
		for _, s := range r.Series {
			if s.Len() < 100 {
				t.Errorf("flight-%s: %s has %d samples", n, s.Parameter.Name, s.Len())
			}
		}
	}
}
