package tally_test

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"testing"

	"downlock/report/trend/tally"
	"downlock/schemas"
)

// The flights with extreme values are those that whole rows, sorted, give.
func TestExtremes(t *testing.T) {
	t.Parallel()
	dir := written(t)
	counted, err := tally.Read(tally.Options{Archive: dir, By: []string{"aircraft"}})
	if err != nil {
		t.Fatal(err)
	}
	months := []string{}
	for _, m := range counted.Months[2:8] {
		months = append(months, m.Name)
	}
	const asked, most = "retraction-time-left", 7
	place := slices.Index(counted.Columns, "aircraft")
	o := tally.Options{Archive: dir, By: counted.Columns, From: months[0], To: months[len(months)-1], Recordings: true}
	found, recordings, err := tally.Extremes(o, []tally.Extreme{
		{Measurement: asked, Most: most},
		{Measurement: asked, Most: most, Lowest: true},
		{Measurement: asked, Most: most, Of: func(stratum []string) bool { return stratum[place] == "TH-440" }},
		{Measurement: "touchdown-airspeed", Most: 1_000_000},
		{Measurement: "nothing", Most: most},
		{Measurement: "touchdown-airspeed", Most: most, Lowest: true},
	})
	if err != nil {
		t.Fatal(err)
	}

	type reading struct {
		flight, aircraft, month string
		value                   float64
	}
	var all []reading
	others, landings := map[string]float64{}, 0
	for _, month := range months {
		aircraft := map[string]schemas.FlightRow{}
		for _, f := range rowsOf[schemas.FlightRow](t, dir, schemas.FlightsTable, month) {
			aircraft[f.FlightID] = f
		}
		for _, row := range rowsOf[schemas.MeasurementRow](t, dir, schemas.MeasurementsTable, month) {
			switch {
			case row.Value == nil:
			case row.Measurement == asked:
				all = append(all, reading{row.FlightID, aircraft[row.FlightID].Aircraft, month, *row.Value})
			case row.Measurement == "touchdown-airspeed":
				landings++
				if before, ok := others[row.FlightID]; !ok || *row.Value < before {
					others[row.FlightID] = *row.Value
				}
			}
		}
		for id, r := range recordings {
			if f, ok := aircraft[id]; ok && (r.Name != f.RecordingName || r.SHA256 != f.Recording || r.Number != int(f.Number)) {
				t.Errorf("%s is of %+v", id, r)
			}
		}
	}
	// extreme sorts the flights, each with its most extreme value; of equal ones the
	// newest comes first.
	extreme := func(sign float64, keep func(reading) bool) (out []string) {
		list := slices.DeleteFunc(slices.Clone(all), func(r reading) bool { return !keep(r) })
		slices.SortFunc(list, func(a, b reading) int {
			return cmp.Or(cmp.Compare(sign*b.value, sign*a.value), cmp.Compare(b.month, a.month), cmp.Compare(a.flight, b.flight))
		})
		for i, r := range list {
			if !slices.ContainsFunc(list[:i], func(before reading) bool { return before.flight == r.flight }) {
				out = append(out, fmt.Sprint(r.flight, " ", r.value))
			}
		}
		return out
	}
	any := func(reading) bool { return true }
	sorted, lowest := extreme(1, any), extreme(-1, any)
	ofType := extreme(1, func(r reading) bool { return r.aircraft == "TH-440" })
	for i, want := range [][]string{sorted[:most], lowest[:most], ofType[:most]} {
		var got []string
		for _, r := range found[i] {
			got = append(got, fmt.Sprint(r.Flight, " ", r.Value))
			if _, ok := recordings[r.Flight]; !ok {
				t.Errorf("the recording of %s is not known", r.Flight)
			}
		}
		if !slices.Equal(got, want) {
			t.Errorf("extremes %d: got %v, want %v", i, got, want)
		}
	}
	if len(found[3]) != len(others) || landings < len(others)+500 || len(found[4]) != 0 {
		t.Errorf("asked for more than there are: %d of %d flights with %d values; for nothing: %d", len(found[3]), len(others), landings, len(found[4]))
	}
	// Each flight once, with its lowest.
	slowest := slices.Sorted(maps.Values(others))
	for i, r := range found[5] {
		if len(found[5]) != most || r.Value != slowest[i] || r.Value != others[r.Flight] {
			t.Errorf("lowest %d of %d is %+v, want %v", i, len(found[5]), r, slowest[i])
		}
	}
}
