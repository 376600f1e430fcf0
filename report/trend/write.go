package trend

import (
	"encoding/json"
	"fmt"
	"path/filepath"
	"strings"

	"downlock/report"
)

// PageName is the page of the trends in its folder.
const PageName = "trend.html"

const flightsFolder = "flights"

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

// json is the lists and the rates of all flights by month and period.
func (t *Trend) json() ([]byte, error) {
	var rates []RateRow
	for _, row := range t.RateRows() {
		if row.Column == "" && row.Severity == "" {
			rates = append(rates, row)
		}
	}
	list := func(f []Finding) []Finding { return append([]Finding{}, f...) }
	text, err := json.MarshalIndent(map[string]any{
		"schema": "downlock trend 1", "version": t.Version,
		"recent": t.Name(t.Recent), "before": t.Name(t.Before), "certain_only": t.CertainOnly, "level": t.Level, "correction": t.Correction,
		"comparisons": t.Tests, "flights_without_date": t.Undated, "possible_left_out": t.Possible, "false_left_out": t.False,
		"stands_out": list(t.Findings), "better": list(t.Improvements), "seasonal": list(t.Seasonal), "not_sure": list(t.Doubtful),
		"rates": rates, "audits": t.AuditRows(),
	}, "", " ")
	return append(text, '\n'), err
}

// flightPages names the page of flights of each rule with events, as seen from
// trend.html.
func (t *Trend) flightPages() map[string]string {
	names := map[string]string{}
	taken := map[string]bool{}
	for r, rule := range t.Rules {
		name := strings.Map(func(c rune) rune {
			if c >= 'a' && c <= 'z' || c >= '0' && c <= '9' || c == '-' || c == '_' {
				return c
			}
			return '-'
		}, rule)
		name = name[:min(len(name), 80)]
		if name == "" || taken[name] {
			name = fmt.Sprintf("%s~%d", name, r+1) // no name from a rule holds a tilde
		}
		taken[name] = true
		names[rule] = flightsFolder + "/" + name + ".html"
	}
	return names
}

// mostListed bounds the flights of a month on such a page.
const mostListed = 100

type flightsPage struct {
	Rule, Title, Version string
	Months               []flightsMonth
}

type flightsMonth struct {
	Name, Note string
	Flights    []Flight
	More       int
}

// flightFiles renders the flights behind the numbers of every rule.
func (t *Trend) flightFiles() ([]report.File, error) {
	templates, err := t.templates()
	if err != nil {
		return nil, err
	}
	pages := make([]flightsPage, len(t.Rules))
	for r, rule := range t.Rules {
		pages[r] = flightsPage{Rule: rule, Title: t.title(rule), Version: t.Version}
	}
	for m := len(t.Tally.Months) - 1; m >= 0; m-- {
		month := &t.Tally.Months[m]
		for r := range pages {
			pages[r].Months = append(pages[r].Months, flightsMonth{Name: month.Name, Note: rateInWords(t.monthly[r][m])})
		}
		for _, e := range month.Events {
			list := &pages[e.Rule].Months[len(pages[e.Rule].Months)-1]
			if len(list.Flights) == mostListed {
				list.More++
				continue
			}
			f := t.flight(e, month.Name)
			if f.Report != "" && !filepath.IsAbs(f.Report) {
				f.Report = "../" + f.Report
			}
			list.Flights = append(list.Flights, f)
		}
	}
	names := t.flightPages()
	var files []report.File
	for _, p := range pages {
		var b strings.Builder
		if err := templates.ExecuteTemplate(&b, "flights", p); err != nil {
			return nil, err
		}
		files = append(files, report.File{Name: filepath.Base(names[p.Rule]), Data: []byte(b.String())})
	}
	return files, nil
}
