package desk

import (
	"cmp"
	"encoding/json"
	"net/http"
	"slices"

	"downlock/report"
	"downlock/report/archive"
)

// mostNights bounds the runs the page lists, mostFailures the failed inputs of one.
const (
	mostNights   = 60
	mostFailures = 500
)

// night is a run, after schemas/batch.schema.json, as far as the page shows it.
type night struct {
	Began    string         `json:"began_utc"`
	Inputs   int            `json:"inputs"`
	Scanned  int            `json:"scanned"`
	Skipped  int            `json:"skipped"`
	Unbegun  int            `json:"not_begun"`
	Failed   int            `json:"failed"`
	Flights  int            `json:"flights"`
	Events   map[string]int `json:"events"`
	Error    string         `json:"error"`
	Failures []struct {
		Input string `json:"input"`
		Cause string `json:"cause"`
	} `json:"failures"`
	LeftOut *struct {
		Files int `json:"files"`
	} `json:"left_out"`
	More int `json:"-"` // failures that are not shown
}

// uncovered is a rule that could not be evaluated on some flights.
type uncovered struct {
	Title, Link                               string
	NotEvaluable, Partly, Evaluated, NoChance int
	Percent                                   string
}

// nights shows what could not be read, and what could not be evaluated.
func (d *Desk) nights(w http.ResponseWriter, r *http.Request) {
	page := struct {
		frame
		Nights  []night
		Odd     int
		Rules   []uncovered
		Period  string
		Problem string
	}{frame: d.frame(r, "Runs and failures", "nights")}
	err := archive.Figures(d.Archive, mostNights, func(figures []byte) error {
		var n night
		if err := json.Unmarshal(figures, &n); err != nil {
			page.Odd++
			return nil
		}
		n.Began, n.Error = report.Clean(n.Began), report.Clean(n.Error)
		if len(n.Failures) > mostFailures {
			n.More, n.Failures = len(n.Failures)-mostFailures, n.Failures[:mostFailures]
		}
		for i := range n.Failures {
			f := &n.Failures[i]
			f.Input, f.Cause = report.Clean(f.Input), report.Clean(f.Cause)
		}
		page.Nights = append(page.Nights, n)
		return nil
	})
	if err != nil {
		d.failed(w, err)
		return
	}
	t, _, err := d.added()
	if err != nil {
		page.Problem = err.Error()
		d.show(w, "nights", page)
		return
	}
	from, to := year(t)
	page.Period = t.Months[from].Name + " to " + t.Months[to-1].Name
	for n, rule := range t.Rules {
		u := uncovered{Title: d.ruleTitle(rule)}
		for _, m := range t.Months[from:to] {
			for s := range t.Strata {
				c := m.Cells[n][s]
				u.NotEvaluable += int(c.NotEvaluable)
				u.Partly += int(c.Partly)
				u.Evaluated += int(c.Evaluated)
				u.NoChance += int(c.NoOpportunity)
			}
		}
		if u.NotEvaluable+u.Partly > 0 {
			u.Percent = share(u.NotEvaluable, u.NotEvaluable+u.Partly+u.Evaluated)
			page.Rules = append(page.Rules, u)
		}
	}
	slices.SortStableFunc(page.Rules, func(a, b uncovered) int { return cmp.Compare(b.NotEvaluable, a.NotEvaluable) })
	d.show(w, "nights", page)
}

// ruleTitle is the title of a rule, its id where none is known.
func (d *Desk) ruleTitle(rule string) string {
	if n, known := d.words.find(rule); known && n != 0 {
		return d.words.title(n)
	}
	if d.Rules != nil {
		if r := d.Rules.Rule(rule); r != nil {
			return report.Clean(r.Title)
		}
	}
	return report.Clean(rule)
}
