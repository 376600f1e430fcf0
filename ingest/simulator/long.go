package simulator

import (
	"time"

	"downlock/schemas"
)

// LongFlight returns a flight without events for measuring speed. It lands touchdown
// seconds after the recording begins (600 or more). The seed sets its noise.
func LongFlight(seed uint64, touchdown float64) (*Flight, error) {
	profile, err := schemas.ShippedProfile()
	if err != nil {
		return nil, err
	}
	s := outward(day(time.June, 1, 6, 0), func(_ *departure, a *arrival) { *a = usualArrival(touchdown) })
	s.Name, s.Seed = "long flight", seed
	return New(s.done(), profile)
}
