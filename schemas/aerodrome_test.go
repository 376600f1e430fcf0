package schemas

import (
	"errors"
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
	for text, want := range map[string]string{
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
