package trend

import (
	"encoding/json"
	"errors"
	"path/filepath"
	"slices"
	"sync"

	"downlock/report/output"
)

// PageName is the page of the trends in its folder.
const PageName = "trend.html"

// Write writes the page, the flights behind it and the tables into dir. The error
// is an output.Error, or an error of a template.
func (t *Trend) Write(dir string, sync, share bool) error {
	one := func(name string, make func() ([]byte, error)) func() ([]output.File, error) {
		return func() ([]output.File, error) {
			data, err := make()
			return []output.File{{Name: name, Data: data}}, err
		}
	}
	made, err := together(t.flightFiles, one(PageName, t.Page), one("trend.json", t.json),
		func() ([]output.File, error) { return tableFiles("rates", t.RateRows()) },
		func() ([]output.File, error) { return tableFiles("comparisons", t.ComparisonRows()) },
		func() ([]output.File, error) { return tableFiles("measurements", t.MeasurementRows()) },
		func() ([]output.File, error) { return tableFiles("audits", t.AuditRows()) },
		func() ([]output.File, error) { return tableFiles("events", t.EventRows()) })
	if err != nil {
		return err
	}
	flights, rest := made[0], made[1:]
	if err := output.Write(filepath.Join(dir, flightsFolder), output.Options{Sync: sync, Share: share}, flights...); err != nil {
		return err
	}
	return output.Write(dir, output.Options{Sync: sync, Share: share}, slices.Concat(rest...)...)
}

// together makes files side by side, from a trend that nobody changes meanwhile.
func together(makers ...func() ([]output.File, error)) ([][]output.File, error) {
	made, errs := make([][]output.File, len(makers)), make([]error, len(makers))
	var wait sync.WaitGroup
	for i, maker := range makers {
		wait.Go(func() { made[i], errs[i] = maker() })
	}
	wait.Wait()
	return made, errors.Join(errs...)
}

// document is trend.json, after schemas/trend.schema.json.
type document struct {
	Schema      string    `json:"schema"`
	Version     string    `json:"version"`
	Recent      string    `json:"recent"`
	Before      string    `json:"before"`
	Columns     []string  `json:"grouped_by"`
	CertainOnly bool      `json:"certain_only"`
	Counted     string    `json:"counted"`
	Per         string    `json:"rates_per"`
	Level       float64   `json:"level"`
	Correction  string    `json:"correction"`
	Tests       int       `json:"comparisons"`
	Flights     int       `json:"flights"`
	Events      int       `json:"events"`
	Undated     int       `json:"flights_without_date"`
	Distant     []string  `json:"months_left_out"`
	Possible    int       `json:"possible_left_out"`
	False       int       `json:"false_left_out"`
	Beside      int       `json:"same_cause_left_out"`
	Alone       int       `json:"events_ungrouped"`
	Findings    []Finding `json:"stands_out"`
	Better      []Finding `json:"better"`
	Seasonal    []Finding `json:"seasonal"`
	Doubtful    []Finding `json:"not_sure"`
	NotOver     string    `json:"month_not_over"` // shown, compared with nothing; "" for none
	Cautions    []string  `json:"cautions"`
}

func (t *Trend) json() ([]byte, error) {
	flights, events := t.totals()
	d := document{"downlock trend 1", t.Version, t.Name(t.Recent), t.Name(t.Before), t.Columns, t.CertainOnly, t.Nouns(), t.Per(), t.Level, t.Correction, t.Tests,
		flights, events.All(), t.Undated, listed(t.Distant), t.Possible, t.False, t.Beside, t.Alone,
		withFlights(t.Findings), withFlights(t.Improvements), withFlights(t.Seasonal), withFlights(t.Doubtful), t.NotOver(), cautions()}
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
