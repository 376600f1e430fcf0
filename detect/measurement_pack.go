package detect

import (
	"fmt"
	"slices"

	"downlock/detect/language"
	"downlock/schemas"
)

// Measurement finds the rule of a measurement by id, nil when there is none.
func (s *RuleSet) Measurement(id string) *MeasurementRule {
	i := slices.IndexFunc(s.Measurements, func(m *MeasurementRule) bool { return m.ID == id })
	if i < 0 {
		return nil
	}
	return s.Measurements[i]
}

// measurementText is a measurement as written in a pack.
type measurementText struct {
	ID, Title, Group, Definition                  string
	Of, At, From, To, Seconds, Count, While, Take string
	Opportunity, Including                        string
	Around                                        [2]float64
	Off                                           bool
}

// addMeasurement adds a measurement, or puts it in the place of one of that id:
// fields of two forms do not mix.
func (s *RuleSet) addMeasurement(reader *packReader, path string, t measurementText, earlier []measurementText) {
	if slices.ContainsFunc(earlier, func(e measurementText) bool { return e.ID == t.ID }) {
		reader.problem(path+"/id", fmt.Sprintf("measurement %q appears twice in this pack", t.ID), "give it another id, or remove one")
		return
	}
	at := slices.IndexFunc(s.Measurements, func(m *MeasurementRule) bool { return m.ID == t.ID })
	switch {
	case t.Off && at < 0:
		ids := make([]string, len(s.Measurements))
		for i, m := range s.Measurements {
			ids[i] = m.ID
		}
		reader.problem(path+"/id", fmt.Sprintf("there is no measurement %q to switch off", t.ID), schemas.Suggest(t.ID, ids))
	case t.Off:
		s.Measurements = slices.Delete(s.Measurements, at, at+1)
	case at >= 0:
		s.Measurements[at] = reader.measurement(path, t)
	default:
		s.Measurements = append(s.Measurements, reader.measurement(path, t))
	}
}

// measurement checks one measurement and compiles its expressions.
func (p *packReader) measurement(path string, t measurementText) *MeasurementRule {
	m := &MeasurementRule{
		ID: t.ID, Title: t.Title, Group: t.Group, Definition: t.Definition, Take: t.Take, Pack: p.pack,
		Of: t.Of, At: t.At, From: t.From, To: t.To, Seconds: t.Seconds, Count: t.Count, While: t.While, Around: t.Around,
		Opportunity: OpenFlight, Including: t.Including,
	}
	if t.Opportunity != "" {
		m.Opportunity = p.opportunity(path, t.Opportunity)
	}
	if m.Including != "" && m.Opportunity == OpenFlight {
		p.problem(path+"/including", fmt.Sprintf("measurement %q includes what comes %s the flight, but there is nothing", t.ID, t.Including), "add opportunity, or remove including")
	}
	for _, f := range []struct{ name, value string }{{"title", t.Title}, {"definition", t.Definition}} {
		if f.value == "" {
			p.problem(path, fmt.Sprintf("measurement %q has no %s", t.ID, f.name), "add it")
		}
	}
	if m.Group == "" {
		m.Group = "Other"
	}
	p.checkForm(path, t)
	for _, x := range []struct {
		key, text string
		kind      language.Kind
		to        **language.Expression
	}{
		{"of", t.Of, language.Number, &m.of}, {"at", t.At, language.Moments, &m.at},
		{"from", t.From, language.Moments, &m.from}, {"to", t.To, language.Moments, &m.to},
		{"seconds", t.Seconds, language.Condition, &m.seconds}, {"count", t.Count, language.Moments, &m.count},
		{"while", t.While, language.Condition, &m.while},
	} {
		if x.text != "" {
			*x.to = p.compile(path+"/"+x.key, x.text, x.kind)
		}
	}
	switch {
	case m.of != nil:
		m.Unit = m.of.Type.Unit
	case m.count == nil:
		m.Unit = "s"
	}
	if m.Unit == "" {
		m.Unit = "1"
	}
	return m
}

const formsHint = "give of and at, from and to, of alone, seconds, or count"

// checkForm checks that a measurement has one form, whole, and a take where
// there may be several values.
func (p *packReader) checkForm(path string, t measurementText) {
	given := map[string]bool{"of": t.Of != "", "at": t.At != "", "from": t.From != "", "to": t.To != "", "seconds": t.Seconds != "", "count": t.Count != ""}
	var keys []string
	for _, key := range []string{"of", "at", "from", "to", "seconds", "count"} {
		if given[key] {
			keys = append(keys, key)
		}
	}
	forms := [][]string{{"of", "at"}, {"from", "to"}, {"of"}, {"seconds"}, {"count"}}
	if !slices.ContainsFunc(forms, func(form []string) bool { return slices.Equal(form, keys) }) {
		have := "no of, at, from, to, seconds or count"
		if len(keys) > 0 {
			have = joinWords(keys)
		}
		p.problem(path, fmt.Sprintf("measurement %q has %s, which is not a form of measurement", t.ID, have), formsHint)
		return
	}
	if a := t.Around; a != [2]float64{} && (!slices.Equal(keys, []string{"of", "at"}) || a[0] >= a[1]) {
		p.problem(path+"/around", fmt.Sprintf("measurement %q has around [%g, %g]", t.ID, a[0], a[1]), "around goes with of and at, and rises: [-1, 2] is from 1 s before the moment to 2 s after it")
	}
	several := !given["seconds"] && !given["count"]
	switch {
	case several && t.Take == "":
		p.problem(path, fmt.Sprintf("measurement %q does not say which of several values it takes", t.ID), "add take: first, last, largest or smallest")
	case !several && t.Take != "":
		p.problem(path+"/take", fmt.Sprintf("measurement %q has only one value, so take does not apply", t.ID), "remove take")
	case len(keys) == 1 && given["of"] && (t.Take == "first" || t.Take == "last"):
		p.problem(path+"/take", "a number over time has no first or last value", "use largest or smallest, or add at")
	}
}
