package identity

import (
	"math"
	"sort"

	"downlock/detect"
	"downlock/ingest"
	"downlock/schemas"
)

// Places names the aerodromes of a flight, from the positions of r, the recording
// as it was read: each by its code among those known, else by its position to a
// tenth of a degree; where identity is withheld by the token of that. Without
// positions or without the ends of the flight there is nothing to name. The
// error is that of unpacking a part of the recording.
func (k *Key) Places(result *detect.Result, r *ingest.Recording, known schemas.Aerodromes) (err error) {
	f := result.Flight
	for _, end := range []struct {
		at *detect.Time
		to *string
	}{{f.LiftOff, &f.Departure}, {f.Touchdown, &f.Arrival}} {
		if end.at == nil {
			continue
		}
		at := end.at.Nominal
		if k != nil { // the times of the result begin again at the first second
			at += first(r)
		}
		here, err := r.Between(at, at)
		if err != nil {
			return err
		}
		latitude, ok1 := nearest(here.Lookup(positions[0]), at)
		longitude, ok2 := nearest(here.Lookup(positions[1]), at)
		if ok1 && ok2 {
			*end.to = k.Token(Place, known.At(latitude, longitude))
		}
	}
	return nil
}

// nearest is the sample of a number nearest to a time, unless it is a gap away.
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
