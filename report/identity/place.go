package identity

import (
	"math"
	"sort"

	"downlock/detect"
	"downlock/ingest"
	"downlock/schemas"
)

// Place names the aerodrome at an end of a flight, from the positions of r, the
// recording as it was read. It returns the code of a known aerodrome, else the
// position to a tenth of a degree. Where identity is withheld it returns the token of
// that. It returns "" where the end is nil or r has no position there. The error is
// that of unpacking a part of the recording.
func (k *Key) Place(end *detect.Time, r *ingest.Recording, known schemas.Aerodromes) (string, error) {
	if end == nil {
		return "", nil
	}
	at := end.Nominal
	if k != nil { // the times of the result restart at the first second
		at += first(r)
	}
	here, err := r.Between(at, at)
	if err != nil {
		return "", err
	}
	lat, ok1 := nearest(here.Lookup(latitude), at)
	lon, ok2 := nearest(here.Lookup(longitude), at)
	if !ok1 || !ok2 {
		return "", nil
	}
	return k.Token(Place, known.At(lat, lon)), nil
}

// nearest returns the sample of a number nearest to a time; ok is false if it is a
// gap away.
func nearest(s *ingest.Series, at float64) (v float64, ok bool) {
	if s == nil || s.Len() == 0 {
		return 0, false
	}
	times, values := s.TimeValues(), s.Numbers()
	i := min(sort.SearchFloat64s(times, at), len(times)-1)
	if i > 0 && at-times[i-1] < times[i]-at {
		i--
	}
	return values[i], math.Abs(times[i]-at) <= s.Gap
}
