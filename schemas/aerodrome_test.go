package schemas

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func TestParseAerodromes(t *testing.T) {
	t.Parallel()
	got, err := parseAerodromes("places.csv", strings.NewReader("\ufeffname, Code ,longitude,latitude\nTarnholm,TARN,-27.9,46.1\n\"Nord, old\", NORD , 10 , -0.5\n"))
	want := Aerodromes{{"TARN", 46.1, -27.9}, {"NORD", -0.5, 10}}
	if diff := cmp.Diff(want, got); err != nil || diff != "" {
		t.Errorf("%v (-want +got):\n%s", err, diff)
	}
	// A hash is that of sha256sum over the lines "TARN" 46.1 -27.9 and "NORD" -0.5 10.
	if hash, none := want.SHA256(), (Aerodromes{}).SHA256(); hash != "c6d4d4f85c8ed361e79755cc6e397b6318748a1147839db0b5680edbe302e05f" || none != "" {
		t.Errorf("hashes %s and %q", hash, none)
	}
	long := strings.Repeat("é", 40)
	limits, err := parseAerodromes("places.csv", strings.NewReader("\"code\", \"latitude\", \"longitude\"\n"+long+",90,-180\nT, \"-90\", \"180\"\n"))
	if diff := cmp.Diff(Aerodromes{{long, 90, -180}, {"T", -90, 180}}, limits); err != nil || diff != "" {
		t.Errorf("%v (-want +got):\n%s", err, diff)
	}
	for text, want := range map[string]string{
		"code,latitude,longitude\n" + long + "e,1,2\n": "places.csv:2:1: a code has 1 to 40 characters",
		"":                                   "places.csv: the list of aerodromes is empty",
		"code,latitude,longitude\n":          "places.csv: the list of aerodromes is empty",
		"code,lat,longitude\nT,1,2\n":        "places.csv:1: the list of aerodromes has no column latitude",
		"code,latitude,longitude\nT,91,2\n":  `places.csv:2:3: "91" is not a latitude in degrees`,
		"code,latitude,longitude\nT,1,NaN\n": `places.csv:2:5: "NaN" is not a longitude in degrees`,
		"code,latitude,longitude\nT,1,181\n": `places.csv:2:5: "181" is not a longitude in degrees`,
		"code,latitude,longitude\n,1,2\n":    "places.csv:2:1: a code has 1 to 40 characters",
		"code,latitude,longitude\nT,1\n":     "places.csv:2:1: wrong number of fields",
		"code,latitude,longitude\nT,\"1,2\n": "places.csv:3:0: extraneous",
	} {
		_, err := parseAerodromes("places.csv", strings.NewReader(text))
		var p *Problem
		if !errors.As(err, &p) || p.Hint == "" || !strings.HasPrefix(strings.Split(err.Error(), "\n")[0], want) && !strings.HasPrefix(want, "places.csv:3") {
			t.Errorf("%q: %v, want %s", text, err, want)
		}
	}
}

func TestReadAerodromes(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "places.csv")
	if _, err := ReadAerodromes(path); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("without a file: %v", err)
	}
	rows := "code,latitude,longitude\n" + strings.Repeat("T,1,2\n", maxAerodromes)
	if err := os.WriteFile(path, []byte(rows), 0o600); err != nil {
		t.Fatal(err)
	}
	if list, err := ReadAerodromes(path); err != nil || len(list) != 100_000 {
		t.Errorf("%d aerodromes, %v", len(list), err)
	}
	for text, cause := range map[string]string{rows + "T,1,2\n": "the list has more than 100000 aerodromes", "code,latitude,longitude\n": "the list of aerodromes is empty"} {
		var p *Problem
		if _, err := parseAerodromes("f", strings.NewReader(text)); !errors.As(err, &p) || *p != (Problem{File: "f", Cause: cause, Hint: aerodromeHint}) {
			t.Errorf("got %v, want %s", err, cause)
		}
	}
}

// A minute of latitude is a nautical mile: 0.08 deg are 4.8 NM, 0.09 deg 5.4. At 60
// deg a degree of longitude is half as long, so 0.16 deg are 4.8 NM.
func TestAerodromeAt(t *testing.T) {
	t.Parallel()
	list := Aerodromes{{"A", 60, 179.95}, {"B", 60.04, 179.95}, {"C", 0, 0}}
	for _, c := range []struct {
		latitude, longitude float64
		want                string
	}{
		{60, 179.95, "A"}, {59.92, 179.95, "A"}, {59.91, 179.95, "N59.9 E180.0"}, {60.03, 179.95, "B"}, {60, -179.89, "A"}, {60, -179.87, "N60.0 W179.9"},
		{0.08, 0, "C"}, {0.09, 0, "N00.1 E000.0"}, {-33.04, 151.26, "S33.0 E151.3"}, {-0.04, -0.04 - 1, "N00.0 W001.0"},
		{0.0833, 0, "C"}, {0.0834, 0, "N00.1 E000.0"}, {5.0 / 60, 0, "C"}, // 4.998 NM, 5.004 NM and 5 NM
		{60, 179.7834, "A"}, {60, 179.7832, "N60.0 E179.8"}, // 0.1666 deg, 4.998 NM, and 0.1668 deg, 5.004 NM
	} {
		if got := list.At(c.latitude, c.longitude); got != c.want {
			t.Errorf("%v, %v: %s, want %s", c.latitude, c.longitude, got, c.want)
		}
	}
	if got := Aerodromes(nil).At(46.1, -27.94); got != "N46.1 W027.9" {
		t.Errorf("without a list %s", got)
	}
}

// For any bytes, the outcome is aerodromes on the globe or a problem with a hint.
func FuzzParseAerodromes(f *testing.F) {
	f.Add("code,latitude,longitude\nT,1,2\n")
	f.Add("code;latitude\n\"T")
	f.Add("longitude,latitude,code\n1e400,NaN,\x00\n")
	f.Fuzz(func(t *testing.T, text string) {
		list, err := parseAerodromes("f.csv", strings.NewReader(text))
		var p *Problem
		if (err == nil) != (len(list) > 0) || err != nil && (!errors.As(err, &p) || p.Cause == "" || p.Hint == "") {
			t.Fatalf("%v, %v", list, err)
		}
		for _, a := range list {
			if name := list.At(a.Latitude, a.Longitude); name == "" || a.Code == "" {
				t.Fatalf("nothing at %+v", a)
			}
		}
	})
}
