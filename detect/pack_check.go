package detect

import (
	"fmt"
	"slices"

	"downlock/detect/language"
	"downlock/schemas"
)

func (p *packReader) measures(path string, texts []measureText) []MeasureRule {
	var out []MeasureRule
	for i, t := range texts {
		m := MeasureRule{Name: t.Name, Of: t.Of, Take: t.Take, Unit: "s"}
		at := fmt.Sprintf("%s/measure/%d", path, i)
		switch {
		case t.Take == "duration" && t.Of != "":
			p.problem(at+"/of", "a duration takes no of", "remove of")
		case t.Take != "duration" && t.Of == "":
			p.problem(at, fmt.Sprintf("measure %q needs a number to take the %s of", t.Name, t.Take), "add of: with an expression such as computed_airspeed")
		case t.Of != "":
			m.of = p.compile(at+"/of", t.Of, language.Number)
			if m.of != nil {
				m.Unit = m.of.Type.Unit
			}
		}
		if slices.ContainsFunc(out, func(o MeasureRule) bool { return o.Name == m.Name }) {
			p.problem(at+"/name", fmt.Sprintf("measure %q appears twice", m.Name), "give it another name")
		}
		out = append(out, m)
	}
	return out
}

func severity(t severityText) SeverityRule {
	s := SeverityRule{Always: Severity(t.Always), By: t.By, LoweredWhile: t.LoweredWhile}
	if t.Low != nil {
		s.Low = *t.Low
	}
	if t.Medium != nil {
		s.Medium, s.HasMedium = *t.Medium, true
	}
	if t.High != nil {
		s.High, s.HasHigh = *t.High, true
	}
	return s
}

// checkWhole checks what only shows when the rule is complete.
func (p *packReader) checkWhole(path string, r *Rule) {
	for _, f := range []struct{ name, value string }{{"title", r.Title}, {"meaning", r.Meaning}, {"when", r.When}, {"basis", r.Basis}} {
		if f.value == "" && !(f.name == "when" && r.Audit != nil) {
			p.problem(path, fmt.Sprintf("rule %q has no %s", r.ID, f.name), "add it; a basis may be \"common practice\"")
		}
	}
	if r.Group == "" {
		r.Group = "Other"
	}
	if r.At != "" && (r.AtLeast > 0 || r.ContinuesWhile != "") {
		p.problem(path, fmt.Sprintf("rule %q finds moments, which have no duration", r.ID), "remove at_least and continues_while, or at")
	}
	p.checkSeverity(path, r)
	if r.Audit != nil {
		p.checkAudit(path, r)
	}
	known := p.words
	for i, name := range r.Optional {
		name = schemas.NameNow(name)
		r.Optional[i] = name
		if _, ok := known.Names[name]; !ok {
			p.problem(fmt.Sprintf("%s/optional/%d", path, i), fmt.Sprintf("unknown name %q", name), schemas.Suggest(name, nameList(known)))
		}
	}
	for i, name := range r.Trace {
		r.Trace[i] = schemas.NameNow(name)
		if _, ok := schemas.FindParameter(name, p.set.Own); !ok {
			p.problem(fmt.Sprintf("%s/trace/%d", path, i), fmt.Sprintf("unknown parameter %q", name), schemas.Suggest(name, nameList(known)))
		}
	}
	r.Requires = nil
	expressions := []*language.Expression{r.at, r.when, r.continuesWhile}
	if r.Audit != nil {
		if w := p.set.Warning(r.Audit.Warning); w != nil {
			expressions, r.Optional = w.expressions(), w.Optional
		}
	}
	for _, x := range expressions {
		if x == nil {
			continue
		}
		for _, name := range x.Names {
			if !slices.Contains(r.Optional, name) && !slices.Contains(r.Requires, name) {
				r.Requires = append(r.Requires, name)
			}
		}
	}
}

func (p *packReader) checkSeverity(path string, r *Rule) {
	s := r.Severity
	if s.By == "" {
		return
	}
	i := slices.IndexFunc(r.Measures, func(m MeasureRule) bool { return m.Name == s.By })
	if i < 0 {
		names := make([]string, len(r.Measures))
		for i, m := range r.Measures {
			names[i] = m.Name
		}
		p.problem(path+"/severity/by", fmt.Sprintf("rule %q has no measure %q", r.ID, s.By), schemas.Suggest(s.By, names))
	}
	levels := []float64{s.Low}
	if s.HasMedium {
		levels = append(levels, s.Medium)
	}
	if s.HasHigh {
		levels = append(levels, s.High)
	}
	falling := slices.Clone(levels)
	slices.Reverse(falling)
	if !slices.IsSorted(levels) && !slices.IsSorted(falling) {
		p.problem(path+"/severity", "the thresholds do not all rise or all fall", "make them rise from low to high, or fall if smaller is worse")
	}
}

func nameList(v *language.Vocabulary) []string {
	var names []string
	for name := range v.Names {
		names = append(names, name)
	}
	slices.Sort(names)
	return names
}
