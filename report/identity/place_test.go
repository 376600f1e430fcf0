package identity

import (
	"regexp"
	"testing"

	"downlock/detect"
	"downlock/ingest"
	"downlock/schemas"
)

// The aircraft lifts off at 10 s of a recording that begins at 36912.3 s, between
// samples at 36920 and 36924, and lands in a gap. Worked out by hand.
func TestPlaces(t *testing.T) {
	t.Parallel()
	number := func(name string, values ...float64) *ingest.Series {
		p, _ := schemas.LookupParameter(name)
		return &ingest.Series{Parameter: p, Times: floats(36920, 36924, 36928, 37000), Values: floats(values...), Gap: 12}
	}
	positions := &ingest.Recording{Start: 36912.3, Series: []*ingest.Series{
		number("latitude", 50, 46.12, 50, 50), number("longitude", 10, -27.93, 10, 10)}}
	known := schemas.Aerodromes{{Code: "TARN", Latitude: 46.1, Longitude: -27.9}}
	at := func(s float64) *detect.Time { return &detect.Time{Nominal: s} }
	token := regexp.MustCompile(`^l-[a-z2-7]{12}$`)
	for _, c := range []struct {
		name               string
		key                *Key
		r                  *ingest.Recording
		known              schemas.Aerodromes
		liftOff, touchdown *detect.Time
		departure, arrival string
	}{
		{"by code", nil, positions, known, at(36922.5), at(36965), "TARN", ""},
		{"by position", nil, positions, nil, at(36922.5), at(36928), "N46.1 W027.9", "N50.0 E010.0"},
		{"withheld", key, positions, known, at(10.5), at(16), key.Token(Place, "TARN"), key.Token(Place, "N50.0 E010.0")},
		{"no ends", nil, positions, known, nil, nil, "", ""},
		{"no positions", nil, &ingest.Recording{}, known, at(36922.5), at(36928), "", ""},
	} {
		departure, err1 := c.key.Place(c.liftOff, c.r, c.known)
		arrival, err2 := c.key.Place(c.touchdown, c.r, c.known)
		if err1 != nil || err2 != nil {
			t.Errorf("%s: %v, %v", c.name, err1, err2)
		}
		if departure != c.departure || arrival != c.arrival {
			t.Errorf("%s: from %q to %q, want from %q to %q", c.name, departure, arrival, c.departure, c.arrival)
		}
		if c.key != nil && !token.MatchString(departure) {
			t.Errorf("%s: %q is not a token", c.name, departure)
		}
	}
}
