package tally

import (
	"cmp"
	"math"
	"slices"

	"downlock/schemas"
)

// Extreme asks for the flights with the highest values of a measurement, or the
// lowest.
type Extreme struct {
	Measurement string
	Lowest      bool
	Of          func(stratum []string) bool // which flights; nil for all
	Most        int                         // flights asked for
}

// Reading is a value on a flight.
type Reading struct {
	Flight, Month string
	Value         float64
}

// Extremes reads the flights with extreme values, the most extreme first and each
// once, and their recordings where asked for; a Tally keeps values without their
// flights. The error is as that of Read.
func Extremes(o Options, asked []Extreme) ([][]Reading, map[string]Recording, error) {
	names, err := months(o)
	if err != nil {
		return nil, nil, err
	}
	found := make([][]Reading, len(asked))
	for _, name := range names {
		if err := extremesOf(o, name, asked, found); err != nil {
			return nil, nil, err
		}
	}
	for i, a := range asked {
		found[i] = a.keep(found[i])
	}
	if !o.Recordings {
		return found, nil, nil
	}
	recordings, err := recordingsOf(o, names, found)
	return found, recordings, err
}

// extremesOf adds the extremes of one month.
func extremesOf(o Options, name string, asked []Extreme, found [][]Reading) error {
	m := &monthTally{name: name, stratumOf: map[string]int{}}
	if err := m.readFlights(o); err != nil {
		return err
	}
	var flights, names words
	var values []float64
	var strata []int
	return eachGroup(partPath(o.Archive, schemas.MeasurementsTable, name), func(g *group) (err error) {
		for column, w := range map[string]*words{"flight_id": &flights, "measurement": &names} {
			if err := g.readWords(column, w); err != nil {
				return err
			}
		}
		if values, err = g.readFloats("value", values); err != nil {
			return err
		}
		strata = m.stratumOfWords(&flights, strata)
		wanted := make([][]int, len(names.list)) // by measurement as the file numbers it
		for i, measurement := range names.list {
			for k, a := range asked {
				if a.Measurement == measurement {
					wanted[i] = append(wanted[i], k)
				}
			}
		}
		for row, value := range values {
			s := strata[flights.index[row]]
			if s < 0 || math.IsNaN(value) {
				continue
			}
			for _, k := range wanted[names.index[row]] {
				if a := &asked[k]; a.Of == nil || a.Of(m.strata[s]) {
					found[k] = a.add(found[k], Reading{flights.at(row), name, value})
				}
			}
		}
		return nil
	})
}

// add appends a reading, and now and then drops those that are not extreme.
func (a *Extreme) add(list []Reading, r Reading) []Reading {
	// Once full, the first Most of the list are of different flights and in order, and
	// those after the last of them are out.
	if len(list) >= a.Most && a.order(r, list[a.Most-1]) > 0 {
		return list
	}
	if list = append(list, r); len(list) == a.Most || len(list) >= 4*a.Most {
		list = a.keep(list)
	}
	return list
}

// keep leaves the most extreme reading of each flight.
func (a *Extreme) keep(list []Reading) []Reading {
	slices.SortFunc(list, a.order)
	seen := map[string]bool{}
	list = slices.DeleteFunc(list, func(r Reading) bool {
		before := seen[r.Flight]
		seen[r.Flight] = true
		return before
	})
	return list[:min(len(list), a.Most)]
}

// order puts the more extreme first; equal ones by month and flight, the newest
// first.
func (a *Extreme) order(x, y Reading) int {
	byValue := cmp.Compare(y.Value, x.Value)
	if a.Lowest {
		byValue = -byValue
	}
	return cmp.Or(byValue, cmp.Compare(y.Month, x.Month), cmp.Compare(x.Flight, y.Flight))
}

// recordingsOf finds the recordings of the flights found.
func recordingsOf(o Options, names []string, found [][]Reading) (map[string]Recording, error) {
	wanted := map[string]map[string]Recording{} // by month
	for _, name := range names {
		wanted[name] = map[string]Recording{}
	}
	for _, list := range found {
		for _, r := range list {
			wanted[r.Month][r.Flight] = Recording{}
		}
	}
	all := map[string]Recording{}
	for _, name := range names {
		m := &monthTally{name: name, recordings: wanted[name]}
		if err := m.fillRecordings(o); err != nil {
			return nil, err
		}
		for flight, r := range m.recordings {
			all[flight] = r
		}
	}
	return all, nil
}
