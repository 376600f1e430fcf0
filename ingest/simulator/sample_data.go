package simulator

import (
	"math"
	"time"

	"downlock/ingest/export"
	"downlock/schemas"
)

// SampleFlights returns flights recorded as public sample flight data are: MATLAB files
// of an aircraft with four engines, whose rates, units and circuits were read in
// published descriptions and header dumps. The aircraft flown is a TH-120 with
// four engines. The clock shows whole seconds twice each, and the recording begins
// between two of them.
func SampleFlights() ([]DemoFile, error) {
	profile, err := schemas.ShippedProfileNamed("th120")
	if err != nil {
		return nil, err
	}
	fourEngined := *profile
	fourEngined.Engines = 4
	var out []DemoFile
	for _, e := range []entry{
		{"sample-1.mat", "landing flap before the gear was locked", lateGear(), sampleFormat, false},
		{"sample-2.mat", "gear and flap extended above their limit speeds", fastApproach(), sampleFormat, false},
	} {
		e.scenario.Name, e.scenario.Seed = e.name, 1
		e.scenario.Faults.NotRecorded = []string{"gear lever", "flap handle", "gear horn", "too low gear", "too low flaps", "too low terrain"}
		e.scenario.Epoch = e.scenario.Epoch.Add(300 * time.Millisecond)
		flight, err := New(e.scenario, &fourEngined)
		if err != nil {
			return nil, err
		}
		out = append(out, DemoFile{e.name, e.about, flight, e.format, false})
	}
	return out, nil
}

var sampleFormat = export.Format{Layout: export.MATLAB}

// The counts of the flap transducer of one aircraft: at flap up (read) and at landing
// flap, about (read). 33 deg are the landing flap of the type: from memory.
const (
	countsUp, countsLanding = 2438.0, 3660.0
	landingFlap             = 33.0 // deg
)

// recordSample samples the flight at the rates of the public sample flight data, from
// the beginning of the recording on.
func (f *Flight) recordSample() export.Table {
	table := export.Table{TimeName: "time", Epoch: f.Scenario.Epoch}
	add := func(name, unit string, rate float64, decimals int, value func(t float64) float64) {
		c := export.Column{Name: name, Unit: unit, Decimals: decimals}
		for i := range int((f.Scenario.End-f.Scenario.Start)*rate) + 1 {
			at := float64(i) / rate
			c.Times, c.Numbers = append(c.Times, at), append(c.Numbers, value(f.Scenario.Start+at))
		}
		table.Columns = append(table.Columns, c)
	}
	// A circuit is 0 while the thing is so.
	circuit := func(name string, rate float64, is func(t float64) bool) {
		add(name, "<units>", rate, 0, func(t float64) float64 { return 1 - truth(is(t)) })
	}
	column := func(name, unit string, rate float64, of string) {
		c := f.columns[of]
		add(name, unit, rate, c.decimals, func(t float64) float64 { return c.written(f, t) })
	}
	column("ALT", "FEET", 4, "pressure altitude")
	column("RALT", "FEET", 8, "radio height")
	column("CAS", "KNOTS", 4, "airspeed")
	add("FLAP", "COUNTS", 1, 0, func(t float64) float64 {
		return countsUp + (countsLanding-countsUp)*f.flap.at(t)/landingFlap
	})
	for _, n := range []string{"1", "2", "3", "4"} {
		column("PLA_"+n, "DEG", 4, "throttle "+n)
		column("N1_"+n, "%RPM", 4, "N1 "+n)
	}
	circuit("LGDN", 1, f.AllDown)
	circuit("LGUP", 1, func(t float64) bool { return f.Up(0, t) && f.Up(1, t) && f.Up(2, t) })
	circuit("NSQT", 4, func(t float64) bool { return f.Compressed(0, t) })
	circuit("MSQT_1", 2, func(t float64) bool { return f.Compressed(1, t) })
	circuit("MSQT_2", 2, func(t float64) bool { return f.Compressed(2, t) })
	circuit("WOW", 1, func(t float64) bool { return f.Compressed(1, t) || f.Compressed(2, t) })
	column("TOCW", "<units>", 2, "take-off warning")
	column("HYDG", "<units>", 1, "hydraulic A low")
	column("HYDY", "<units>", 1, "hydraulic B low")
	column("ABRK", "DEG", 1, "speedbrake")
	column("LATP", "DEG", 1, "latitude")
	column("LONP", "DEG", 1, "longitude")
	now := func(t float64) time.Time {
		return f.Scenario.Epoch.Add(time.Duration(math.Round(t * float64(time.Second))))
	}
	add("GMT_HOUR", "HOUR", 2, 0, func(t float64) float64 { return float64(now(t).Hour()) })
	add("GMT_MINUTE", "MINUTE", 2, 0, func(t float64) float64 { return float64(now(t).Minute()) })
	add("GMT_SEC", "SECOND", 2, 0, func(t float64) float64 { return float64(now(t).Second()) })
	add("DATE_YEAR", "YEAR", 0.25, 0, func(t float64) float64 { return float64(now(t).Year()) })
	add("DATE_MONTH", "MONTH", 0.25, 0, func(t float64) float64 { return float64(now(t).Month()) })
	add("DATE_DAY", "DAY", 0.25, 0, func(t float64) float64 { return float64(now(t).Day()) })
	return table
}
