package trend

import (
	"fmt"
	"html/template"
	"strings"

	"downlock/detect"
	"downlock/report/trend/tally"
)

// auditFigures draws the warnings; each number leads to its events where a rule
// makes some of it.
func (t *Trend) auditFigures() (figures []figure) {
	pages := t.pageNames()
	for w, warning := range t.Warnings {
		var all tally.Audit
		for _, m := range t.Tally.Months[t.Recent.First:t.over()] {
			all.Add(m.Audits[w])
		}
		number := func(n int, found detect.Finding) template.HTML {
			return flightNumber(pages.rules[t.audited[audited{warning, found}]], n) + template.HTML(" "+string(found))
		}
		figures = append(figures, figure{Title: t.title(warning), drawing: t.drawAudit(w),
			Note: template.HTML(fmt.Sprintf("%s: %s %% agreement on %s; ", t.Name(t.Recent), decimals(100*all.Agreement()), plural(all.Flights, "flights"))) +
				number(all.Missed, detect.Missed) + ", " + number(all.Late, detect.Late) + ", " + number(all.Nuisance, detect.Nuisance) + ", " +
				number(all.WronglySilenced, detect.WronglySilenced)})
	}
	return figures
}

// addMeasurements draws the measurements, those with a finding first; those of
// few flights are only named.
func (p *page) addMeasurements() {
	named := map[string]bool{}
	for _, f := range p.Trend.Findings {
		named[f.Subject] = true
	}
	pages := p.pageNames()
	var rest []figure
	for i := range p.shifts {
		s := &p.shifts[i]
		if s.Group != nil {
			continue
		}
		n := s.Measurement
		m := p.Measured[n]
		f := figure{Title: p.title(m.Name), Unit: strings.TrimPrefix(m.Unit, "1"), Anchor: anchor("measurement", n)}
		page := ""
		if p.measured != nil {
			page = pages.measurements[m.Name]
		}
		f.Note = flightNumber(page, s.First.Flights)
		if s.First.Flights+s.Second.Flights < Fewest {
			p.FewMeasured = append(p.FewMeasured, f)
			continue
		}
		f.Note += template.HTML(" " + inPlural(s.First.Flights, "flights") + " in " + p.Recent)
		if s.First.Several() {
			f.Note += template.HTML(", " + plural(s.First.N, "values"))
		}
		f.drawing, f.Groups = p.drawMeasurement(n), p.drawGroups(n)
		p.Airframes = p.Airframes || f.Groups.SVG != ""
		if named[m.Name] {
			p.Measurements = append(p.Measurements, f)
		} else {
			rest = append(rest, f)
		}
	}
	p.Measurements = append(p.Measurements, rest...)
}
