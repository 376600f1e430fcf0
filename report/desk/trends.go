package desk

import (
	"cmp"
	"net/http"
	"slices"

	"downlock/report"
	"downlock/report/trend"
	"downlock/report/trend/tally"
)

// ruleTrend is a rule over the last twelve months.
type ruleTrend struct {
	Title, Link string
	Rate        rateOf
	Months      []monthCount
}

// trendFinding is a line of the trends, with the flights behind it.
type trendFinding struct{ Headline, Detail, Sureness, Rests, Link string }

// trends shows what changes, and leads from every number to its occurrences.
func (d *Desk) trends(w http.ResponseWriter, r *http.Request) {
	page := struct {
		frame
		Period, Problem          string
		Findings, Seasonal, Less []trendFinding
		Rules                    []ruleTrend
		Compared                 bool
	}{frame: d.frame(r, "Trends", "trends")}
	t, tr, err := d.added()
	if err != nil {
		page.Problem = err.Error()
		d.show(w, "trends", page)
		return
	}
	from, to := year(t)
	page.Period = t.Months[from].Name + " to " + t.Months[to-1].Name
	if page.Compared = tr != nil; page.Compared {
		page.Findings, page.Less, page.Seasonal = d.findings(t, tr.Findings, from, to), d.findings(t, tr.Improvements, from, to), d.findings(t, tr.Seasonal, from, to)
	}
	for n, rule := range t.Rules {
		f := filter{Rule: rule, State: stateAll, Order: newestFirst, Page: 1, From: t.Months[from].Name, To: t.Months[to-1].Name}
		one := ruleTrend{Title: d.ruleTitle(rule), Link: f.Address(), Rate: rate(t, n, from, to, "", func([]string) bool { return true })}
		if one.Rate.Events == 0 {
			continue
		}
		most := 0
		for _, m := range t.Months[from:to] {
			f.From, f.To = m.Name, m.Name
			count := monthCount{Month: m.Name, Link: f.Address()}
			for _, e := range m.Events {
				if e.Rule == n {
					count.Count++
				}
			}
			most = max(most, count.Count)
			one.Months = append(one.Months, count)
		}
		for i := range one.Months {
			one.Months[i].Height = 100 * one.Months[i].Count / most
		}
		page.Rules = append(page.Rules, one)
	}
	slices.SortStableFunc(page.Rules, func(a, b ruleTrend) int { return cmp.Compare(b.Rate.Low, a.Rate.Low) })
	d.show(w, "trends", page)
}

func (d *Desk) findings(t *tally.Tally, list []trend.Finding, from, to int) (out []trendFinding) {
	for _, f := range list {
		one := trendFinding{report.Clean(f.Headline), report.Clean(f.Detail), report.Clean(f.Sureness), report.Clean(f.Rests), ""}
		if slices.Contains(t.Rules, f.Subject) {
			on := filter{Rule: f.Subject, State: stateAll, Order: newestFirst, Page: 1, From: t.Months[from].Name, To: t.Months[to-1].Name}
			if f.Column == tally.RegistrationColumn || f.Column == tally.TypeColumn {
				on.Aircraft = f.Value
			}
			one.Link = on.Address()
		}
		out = append(out, one)
	}
	return out
}
