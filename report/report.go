// Package report writes the findings of a flight: report.json (the data, after
// the JSON Schema schemas/report.schema.json), report.html (one page that opens
// from disk, prints and says everything without network and script; with script it shows
// its samples more closely), events.csv and
// measurements.csv, in a folder per flight; and over all flights of a run
// index.html, index.json and the two tables.
//
// In go detect.Results; out come whole files or none. From the same results come the
// same bytes: nothing here knows the time of day. Times are seconds on the
// recording's axis, with UTC beside them where the recording is dated. Text from
// files is cleaned once, where it enters the document, and escaped wherever it
// is shown; none becomes a path.
//
// The package decides nothing about events: it counts, draws and words the findings of
// detect.
package report

import (
	"path/filepath"

	"downlock/detect"
	"downlock/report/identity"
	"downlock/report/output"
	"downlock/schemas"
)

// Names of the files of a flight's folder and of a run.
const (
	flightJSON       = "report.json"
	flightHTML       = FlightPage
	eventsFile       = "events.csv"
	measurementsFile = "measurements.csv"
	indexJSON        = "index.json"
	indexHTML        = "index.html"
)

// Run holds what the flights of one run have in common. Nobody changes it once
// the first flight is written.
type Run struct {
	Version string // of downlock
	Profile *schemas.Profile
	Packs   []Pack
	// Aerodromes is the SHA-256, in hex, of the list they are named by; "" without one.
	Aerodromes string
	// RepeatedNames holds the base names several inputs of the run share: the
	// folders of their flights are told apart by the recording's hash.
	RepeatedNames map[string]bool
	// Samples says which samples the pages of flights hold; "" is as EventSamples.
	Samples SampleChoice
	// Sync asks for every file to be on disk before it gets its name. It costs
	// some milliseconds a file; without it a power cut may lose a report, which a
	// rerun writes again.
	Sync bool
	// Share lets others read what is written, as the umask says; else it is its
	// writer's alone.
	Share bool
	// Identity withholds who flew what when; nil where nothing is withheld. Results
	// come without it already: the archive asks for the rest.
	Identity *identity.Key
	// Verdict returns the verdict of review on an event, nil for none; nil
	// itself where no review is kept.
	Verdict func(*detect.Flight, *detect.Event) *Verdict
	// Skipped counts the inputs that were left out because they were scanned
	// before; the index says so. It is set once all flights are written.
	Skipped int
}

// output says how the files of the run are written.
func (r *Run) output() output.Options { return output.Options{Sync: r.Sync, Share: r.Share} }

// Pack is a rule pack of the run.
type Pack struct {
	Name   string
	SHA256 string // hex
}

// FlightFiles are the reports of one flight, finished and not written yet. They
// hold nothing of the result they were made of.
type FlightFiles struct {
	Entry FlightEntry // for the index
	files []output.File
}

// NewFlightFiles makes the reports of one flight. The error is one of the page
// template.
func NewFlightFiles(run *Run, result *detect.Result) (FlightFiles, error) {
	doc := newDocument(run, result)
	page, err := renderFlight(doc, result, run.Samples)
	if err != nil {
		return FlightFiles{}, err
	}
	data, err := encodeJSON(doc)
	if err != nil {
		return FlightFiles{}, err
	}
	files := []output.File{{Name: flightJSON, Data: data}, {Name: flightHTML, Data: page}}
	for _, t := range csvTables {
		files = append(files, t.ofFlight(doc))
	}
	folder := flightFolder(run, result.Recording().Name, result.Recording().Content(), result.Flight.Number)
	return FlightFiles{newEntry(folder, doc), files}, nil
}

// Write writes the reports into a folder of their own below dir, replacing those
// of an earlier run. The error is an output.Error.
func (f FlightFiles) Write(dir string, run *Run) error {
	return output.Write(filepath.Join(dir, f.Entry.Folder), run.output(), f.files...)
}

// WriteIndex writes the pages and tables over all flights of a run into dir, where
// their reports are. Flights are listed in the order in which they were added,
// failures in the order given. The error is an output.Error, or an error of the
// page template.
func WriteIndex(dir string, run *Run, flights *Index, failures []Failure) error {
	idx := newIndex(run, flights, failures)
	page, err := renderIndex(idx)
	if err != nil {
		return err
	}
	data, err := encodeJSON(idx)
	if err != nil {
		return err
	}
	files := []output.File{{Name: indexJSON, Data: data}, {Name: indexHTML, Data: page}}
	for _, t := range csvTables {
		files = append(files, t.ofRun(dir, flights.flights))
	}
	return output.Write(dir, run.output(), files...)
}
