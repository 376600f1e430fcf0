package trend

import (
	"bytes"
	"fmt"
	"html/template"
	"path"
	"path/filepath"
	"strings"

	"downlock/report/output"
)

// The pages of the flights behind the numbers, one for every rule and every
// measurement.

const flightsFolder = "flights"

// mostListed bounds the flights of a month on such a page.
const mostListed = 100

// flightsPage is one of the pages.
type flightsPage struct {
	Subject, Title, Version string
	Note                    string // on what is listed
	Lists                   []flightList
}

type flightList struct {
	Anchor, Name, Note string
	Flights            []Flight
	More               int
}

// pageNames names the pages, as seen from trend.html.
type pageNames struct{ rules, measurements map[string]string }

func (t *Trend) pageNames() pageNames {
	taken := map[string]bool{}
	named := func(prefix string, ids []string) map[string]string {
		names := map[string]string{}
		for i, id := range ids {
			name := prefix + strings.Map(func(c rune) rune {
				if c >= 'a' && c <= 'z' || c >= '0' && c <= '9' || c == '-' || c == '_' {
					return c
				}
				return '-'
			}, id)
			name = name[:min(len(name), 80)]
			if name == "" || taken[name] {
				name = fmt.Sprintf("%s~%d", name, i+1) // no name from an id holds a tilde
			}
			taken[name] = true
			names[id] = flightsFolder + "/" + name + ".html"
		}
		return names
	}
	measurements := make([]string, len(t.Measured))
	for n, m := range t.Measured {
		measurements[n] = m.Name
	}
	return pageNames{named("", t.Rules), named("measurement-", measurements)}
}

// flightFiles renders the pages.
func (t *Trend) flightFiles() ([]output.File, error) {
	templates, err := t.templates()
	if err != nil {
		return nil, err
	}
	names := t.pageNames()
	var files []output.File
	render := func(name string, p flightsPage) error {
		var b bytes.Buffer
		if err := templates.ExecuteTemplate(&b, "flights", p); err != nil {
			return err
		}
		files = append(files, output.File{Name: path.Base(name), Data: b.Bytes()})
		return nil
	}
	for r, p := range t.rulePages() {
		if err := render(names.rules[t.Rules[r]], p); err != nil {
			return nil, err
		}
	}
	for n, ends := range t.measured {
		m := t.Measured[n]
		p := flightsPage{Subject: m.Name, Title: t.title(m.Name), Version: t.Version}
		for _, list := range []flightList{{Anchor: "highest", Name: "Highest", Flights: ends.Highest}, {Anchor: "lowest", Name: "Lowest", Flights: ends.Lowest}} {
			list.Name += " in " + t.Name(t.Recent)
			list.Flights = fromBelow(list.Flights)
			p.Lists = append(p.Lists, list)
		}
		if err := render(names.measurements[m.Name], p); err != nil {
			return nil, err
		}
	}
	return files, nil
}

// rulePages lists the flights with events, by rule, the newest month first.
func (t *Trend) rulePages() []flightsPage {
	pages := make([]flightsPage, len(t.Rules))
	for r, rule := range t.Rules {
		pages[r] = flightsPage{Subject: rule, Title: t.title(rule), Version: t.Version}
		if t.Occurrences {
			pages[r].Note = "Occurrences whose most severe event is of this rule. Occurrences with a more severe event count under the rule of that event."
		}
	}
	for m := len(t.Tally.Months) - 1; m >= 0; m-- {
		month := &t.Tally.Months[m]
		for r := range pages {
			pages[r].Lists = append(pages[r].Lists, flightList{Anchor: month.Name, Name: month.Name, Note: t.rateInWords(t.monthly[r][m])})
		}
		for _, e := range month.Events {
			list := &pages[e.Rule].Lists[len(pages[e.Rule].Lists)-1]
			if len(list.Flights) == mostListed {
				list.More++
				continue
			}
			f := flight(e, month.Name)
			f.Report = t.reports[f.ID]
			list.Flights = append(list.Flights, f)
		}
	}
	for _, p := range pages {
		for i := range p.Lists {
			p.Lists[i].Flights = fromBelow(p.Lists[i].Flights)
		}
	}
	return pages
}

// fromBelow makes the ways to reports those of a page in a folder below.
func fromBelow(flights []Flight) []Flight {
	out := make([]Flight, len(flights))
	for i, f := range flights {
		if f.Report != "" && !filepath.IsAbs(f.Report) {
			f.Report = "../" + f.Report
		}
		out[i] = f
	}
	return out
}

// flightNumber makes a number that leads to its flights; plain where the page has
// none.
func flightNumber(page string, n int) template.HTML {
	text := template.HTMLEscapeString(grouped(float64(n)))
	if page == "" || n == 0 {
		return template.HTML(text)
	}
	return template.HTML(`<a href="` + template.HTMLEscapeString(page) + `">` + text + `</a>`)
}
