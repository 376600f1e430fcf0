package simulator

import (
	"math"
	"math/rand/v2"
	"slices"
	"time"

	"downlock/ingest/export"
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

// roughness is the noise on a column of a rough recording: normal, of this standard
// deviation, by the column's unit. From memory: turbulence, the noise of sensors and the
// step of a recorder's words.
var roughness = map[string]float64{"kt": 1.5, "ft": 6, "ft/min": 120, "deg": 0.04, "%": 0.3, "g": 0.02, "t": 0.02}

// RecordRough samples the flight as Record does, with noise on every number that is
// measured. Beyond its range the radio altimeter reads now above and now below 0.98 of a
// ceiling of 2,400 ft. Smooth numbers hardly ever cross a level, real ones do; speed is
// measured on these.
func (f *Flight) RecordRough() export.Table {
	table := f.Record()
	random := rand.New(rand.NewPCG(f.Scenario.Seed, 2))
	for _, c := range table.Columns {
		if slices.Contains([]string{"latitude", "longitude", "flap handle"}, c.Name) {
			continue
		}
		step := math.Pow10(-c.Decimals)
		for i, v := range c.Numbers {
			by := roughness[c.Unit]
			if c.Name == "radio height" && v >= 2400 {
				v, by = 2400, 60
			}
			v = math.Round((v+by*random.NormFloat64())/step) * step
			if c.Name == "radio height" {
				v = min(v, radioCeiling)
			}
			c.Numbers[i] = v
		}
	}
	return table
}
