package detect

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"downlock/detect/language"
	"downlock/detect/readings"
	"downlock/schemas"
)

// Limit is a number that a rule holds a recorded number against, as it did in this flight.
type Limit struct {
	Of     string // the parameter or height it is a limit of
	Name   string // as the rule names it; the number itself where one is written
	Within string // the criterion it stands in; "" for the rule itself
	Unit   string
	Source string // where it is from, in plain words
	// Upper says that the rule finds Of above it; else it finds Of below.
	Upper bool
	// Gate says that the rule looks at the moment at which Of passes it.
	Gate bool
	// Curve is its nominal value where the rest of the rule lets it decide.
	Curve readings.Curve
}

// Limits lists the limits a rule was evaluated against, those in the criteria it uses
// included, each once.
func (t *Tracks) Limits(rule *Rule) []Limit {
	env := t.assuming(rule.Optional)
	var found []Limit
	var seen []string
	var look func(e *language.Expression, within string)
	look = func(e *language.Expression, within string) {
		if e == nil {
			return
		}
		for _, c := range e.Comparisons() {
			l, ok := env.limit(c, within)
			if ok && !slices.ContainsFunc(found, func(o Limit) bool { return o.Of == l.Of && o.Name == l.Name }) {
				found = append(found, l)
			}
		}
		for _, name := range e.Names {
			if x := t.criteria[name]; x != nil && !slices.Contains(seen, name) {
				seen = append(seen, name)
				look(x, name)
			}
		}
	}
	for _, e := range []*language.Expression{rule.when, rule.at, rule.continuesWhile} {
		look(e, "")
	}
	return found
}

// limit reads a comparison as a limit: a recorded number, or a height, on one side, and on
// the other side what does not come from a recorded number alone.
func (t *Tracks) limit(c language.Comparison, within string) (Limit, bool) {
	of, with := c.Of, c.With
	upper := c.Relation == readings.Above || c.Relation == readings.AtLeast
	lower := c.Relation == readings.Below || c.Relation == readings.AtMost
	if !upper && !lower {
		return Limit{}, false
	}
	if t.isRecordedNumber(with) {
		of, with, upper = with, of, lower
	}
	if !t.isRecordedNumber(of) || t.isRecordedNumber(with) {
		return Limit{}, false
	}
	source := t.sourceOf(with, within)
	if source == "" {
		return Limit{}, false
	}
	where := c.Applies(t).True
	l := Limit{Of: of.Text, Name: with.Text, Within: within, Unit: of.Type.Unit, Source: source, Upper: upper, Gate: c.Crossing}
	for _, p := range with.Number(t, where).Nominal {
		switch n := len(l.Curve); {
		case math.IsInf(p.From, 0) || math.IsNaN(p.From): // and so is its end: none begins finite and ends otherwise
		case n > 0 && l.Curve[n-1].End == p.Start && l.Curve[n-1].From == l.Curve[n-1].To && p.From == p.To && l.Curve[n-1].To == p.From:
			l.Curve[n-1].End = p.End
		default:
			l.Curve = append(l.Curve, p)
		}
	}
	return l, len(l.Curve) > 0
}

// isRecordedNumber reports whether an expression is the name of a recorded number, or of
// the height.
func (t *Tracks) isRecordedNumber(e language.Expression) bool {
	return e.Text == heightName || t.Has(e.Text) // only numbers are more or less than others
}

// sourceOf says in plain words where a limit comes from; "" for a number that is no limit
// but another measurement.
func (t *Tracks) sourceOf(e language.Expression, within string) string {
	profile := t.flight.Profile
	if len(e.Names) == 0 && within != "" {
		if profile.Criteria[within] == "" {
			return "the usual criterion: the profile gives none"
		}
		return "criteria of the profile"
	}
	if len(e.Names) == 0 {
		return "the rule itself"
	}
	var sources []string
	for _, name := range e.Names {
		source := ""
		_, _, isUsual := schemas.DefaultOf(name)
		_, isValue := profile.Values[name]
		limit, changes := profile.Limits[name]
		switch {
		case changes:
			source = "limits of the profile, by " + strings.ReplaceAll(limit.By, "_", " ")
		case isValue:
			source = "values of the profile"
		case isUsual:
			source = "the usual figure: the profile gives none"
		case len(profile.Tables[name]) > 0:
			source = fmt.Sprintf("table %s of the profile", name)
		case name == "flap_placard_speed":
			source = "flap detents of the profile, by the flap set"
		case name == "gear_operating_speed":
			source = "values of the profile, by the gear lever"
		}
		if source != "" && !slices.Contains(sources, source) {
			sources = append(sources, source)
		}
	}
	return strings.Join(sources, "; ")
}
