package trend

import (
	"encoding/json"
	"path/filepath"

	"downlock/report"
)

// PageName is the page of the trends in its folder.
const PageName = "trend.html"

// Write writes the page, the flights behind it and the tables into dir. The error
// is a report.OutputError, or an error of a template.
func (t *Trend) Write(dir string, sync, share bool) error {
	html, err := t.Page()
	if err != nil {
		return err
	}
	data, err := t.json()
	if err != nil {
		return err
	}
	files := []report.File{{Name: PageName, Data: html}, {Name: "trend.json", Data: data}}
	for _, table := range []func() ([]report.File, error){
		func() ([]report.File, error) { return tableFiles("rates", t.RateRows()) },
		func() ([]report.File, error) { return tableFiles("comparisons", t.ComparisonRows()) },
		func() ([]report.File, error) { return tableFiles("measurements", t.MeasurementRows()) },
		func() ([]report.File, error) { return tableFiles("audits", t.AuditRows()) },
		func() ([]report.File, error) { return tableFiles("events", t.EventRows()) },
	} {
		more, err := table()
		if err != nil {
			return err
		}
		files = append(files, more...)
	}
	lists, err := t.flightFiles()
	if err != nil {
		return err
	}
	if err := report.WriteFiles(filepath.Join(dir, flightsFolder), sync, share, lists...); err != nil {
		return err
	}
	return report.WriteFiles(dir, sync, share, files...)
}

// document is trend.json, after schemas/trend.schema.json.
type document struct {
	Schema      string    `json:"schema"`
	Version     string    `json:"version"`
	Recent      string    `json:"recent"`
	Before      string    `json:"before"`
	Columns     []string  `json:"grouped_by"`
	CertainOnly bool      `json:"certain_only"`
	Level       float64   `json:"level"`
	Correction  string    `json:"correction"`
	Tests       int       `json:"comparisons"`
	Flights     int       `json:"flights"`
	Events      int       `json:"events"`
	Undated     int       `json:"flights_without_date"`
	Distant     []string  `json:"months_left_out"`
	Possible    int       `json:"possible_left_out"`
	False       int       `json:"false_left_out"`
	Findings    []Finding `json:"stands_out"`
	Better      []Finding `json:"better"`
	Seasonal    []Finding `json:"seasonal"`
	Doubtful    []Finding `json:"not_sure"`
}

func (t *Trend) json() ([]byte, error) {
	flights, events := t.totals()
	d := document{"downlock trend 1", t.Version, t.Name(t.Recent), t.Name(t.Before), t.Columns, t.CertainOnly, t.Level, t.Correction, t.Tests,
		flights, events.all(), t.Undated, listed(t.Distant), t.Possible, t.False,
		withFlights(t.Findings), withFlights(t.Improvements), withFlights(t.Seasonal), withFlights(t.Doubtful)}
	text, err := json.MarshalIndent(d, "", " ")
	return append(text, '\n'), err
}

// listed is never null in JSON.
func listed[T any](list []T) []T { return append([]T{}, list...) }

func withFlights(list []Finding) []Finding {
	out := listed(list)
	for i := range out {
		out[i].Flights = listed(out[i].Flights)
	}
	return out
}
