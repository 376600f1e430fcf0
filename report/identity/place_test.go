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
		result := &detect.Result{Flight: &detect.Flight{LiftOff: c.liftOff, Touchdown: c.touchdown}}
		if err := c.key.Places(result, c.r, c.known); err != nil {
			t.Errorf("%s: %v", c.name, err)
		}
		if f := result.Flight; f.Departure != c.departure || f.Arrival != c.arrival {
			t.Errorf("%s: from %q to %q, want from %q to %q", c.name, f.Departure, f.Arrival, c.departure, c.arrival)
		}
		if c.key != nil && !token.MatchString(result.Flight.Departure) {
			t.Errorf("%s: %q is no token", c.name, result.Flight.Departure)
		}
	}
}
