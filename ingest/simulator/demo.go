package simulator

import (
	"bytes"
	"fmt"
	"time"

	"downlock/ingest/export"
	"downlock/schemas"
)

// DemoFile is one export of the demonstration set.
type DemoFile struct {
	Name   string
	About  string // its contents in one line
	Flight *Flight
	Format export.Format
	Clock  bool // semicolons, decimal commas, a preamble, a units row and clock times
}

// Demo returns the demonstration set: flights of the invented operator Tarnholm Air
// between Ostrey and Fenmark, each in one export format.
func Demo() ([]DemoFile, error) { return files("th120", demoFlights()) }

// DemoLarge returns the demonstration flights of the larger type, the TH-440.
func DemoLarge() ([]DemoFile, error) { return files("th440", largeFlights()) }

// Formats returns the beginning of one flight in every layout, with equal data.
func Formats() ([]DemoFile, error) {
	var list []entry
	for _, x := range []struct {
		ending string
		format export.Format
	}{
		{".csv", export.Format{Layout: export.WideCSV}},
		{".csv.zst", wideZstd},
		{".long.csv.gz", long},
		{".parquet", parquet},
		{".long.parquet", export.Format{Layout: export.LongParquet}},
		{".arrow.zst", arrow},
	} {
		list = append(list, entry{"departure" + x.ending, "a take-off, without an event", departureOnly(), x.format, false})
	}
	return files("th120", list)
}

// entry is a file before its scenario is worked out.
type entry struct {
	name     string
	about    string
	scenario Scenario
	format   export.Format
	clock    bool
}

func files(profileName string, list []entry) ([]DemoFile, error) {
	profile, err := schemas.ShippedProfileNamed(profileName)
	if err != nil {
		return nil, err
	}
	var out []DemoFile
	for i, e := range list {
		e.scenario.Name = e.name
		if e.scenario.Seed == 0 {
			e.scenario.Seed = uint64(i + 1)
		}
		flight, err := New(e.scenario, profile)
		if err != nil {
			return nil, err
		}
		out = append(out, DemoFile{e.name, e.about, flight, e.format, e.clock})
	}
	return out, nil
}

// Bytes returns the content of the file on disk.
func (d DemoFile) Bytes() ([]byte, error) {
	table := d.table()
	var b bytes.Buffer
	write := export.Write
	if d.Clock {
		write = writeClock
	}
	if err := write(&b, d.Format, table); err != nil {
		return nil, fmt.Errorf("%s: %w", d.Name, err)
	}
	return b.Bytes(), nil
}

// table is the recording as the file's recorder samples it.
func (d DemoFile) table() export.Table {
	if d.Format.Layout == export.MATLAB {
		return d.Flight.recordSample()
	}
	return d.Flight.Record()
}

// day is a departure in the invented year of the demonstration.
func day(month time.Month, date, hour, minute int) time.Time {
	return time.Date(2031, month, date, hour, minute, 0, 0, time.UTC)
}
