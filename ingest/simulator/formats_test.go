package simulator

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"downlock/ingest"
	"downlock/schemas"
)

// Every layout of the one flight reads back as the same recording.
func TestLayoutsHoldEqualData(t *testing.T) {
	t.Parallel()
	profile, err := schemas.ShippedProfile()
	if err != nil {
		t.Fatal(err)
	}
	formats, err := Formats()
	if err != nil {
		t.Fatal(err)
	}
	type series struct {
		Times, Numbers []float64
		Codes          []uint8
	}
	var first map[string]series
	for _, d := range formats {
		data, err := d.Bytes()
		if err != nil {
			t.Fatal(err)
		}
		r, err := ingest.ReadBytes(d.Name, data, profile)
		if err != nil {
			t.Errorf("%s: %v", d.Name, err)
			continue
		}
		all := map[string]series{}
		for _, s := range r.Series {
			all[s.Parameter.Name] = series{s.TimeValues(), s.Numbers(), s.Codes()}
		}
		if first == nil {
			first = all
			if len(first) < 40 || len(first["normal_acceleration"].Times) != 8*70+1 {
				t.Errorf("%s: %d parameters, %d samples of normal acceleration", d.Name, len(first), len(first["normal_acceleration"].Times))
			}
		}
		if diff := cmp.Diff(first, all); diff != "" {
			t.Errorf("%s: %s", d.Name, diff)
		}
	}
}
