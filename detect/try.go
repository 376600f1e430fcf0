package detect

import (
	"fmt"

	"downlock/detect/language"
	"downlock/detect/readings"
	"downlock/ingest"
)

// Trial is one rule on one flight taken apart, so that an analyst sees why an
// event was found or not.
type Trial struct {
	Flight     *Flight
	Window     Span // the part of the flight the clauses are shown for
	Evaluation Evaluation
	Events     []Event // those that reach into Window
	Clauses    []Clause
}

// Clause is one expression of a rule, or the finding of an audit on several.
type Clause struct {
	Role  string // "when", "at", "required" ...
	Parts []PartReading
}

// PartReading is one part of an expression on one flight. Of Condition, Moments
// and Number the one of its Kind is filled.
type PartReading struct {
	Depth     int
	Text      string
	Kind      language.Kind
	Unit      string   // of a number
	Notes     []string // what is missing or stands in for it, where it comes from
	Condition readings.Condition
	Unknown   readings.Spans // where samples are missing: of a condition or of moments
	Moments   []readings.Moment
	Number    readings.Number
	Fixed     bool // the number does not change over time; Value is it where Known
	Known     bool
	Value     float64
}

// Try applies one rule to every flight of the recording that has time between
// the two ends (seconds on the recording's axis) and shows all parts of it there.
func (d *Detector) Try(r *ingest.Recording, rule *Rule, between Span) []Trial {
	var trials []Trial
	for f := range d.flights(r) {
		window := stretch(max(f.Span.Start, between.Start), min(f.Span.End, between.End))
		if window.Start < window.End {
			trials = append(trials, d.try(f, rule, window))
		}
	}
	return trials
}

func (d *Detector) try(f *Flight, rule *Rule, window Span) Trial {
	env := newTracks(f, d.criteria)
	t := Trial{Flight: f, Window: window}
	audits := map[string]*Audit{}
	tried := trier{env: env, window: readings.Spans{window}, shown: map[string]bool{}}
	if rule.Audit != nil {
		w := d.rules.Warning(rule.Audit.Warning)
		audits[w.Name] = audit(env, w)
		t.Clauses = tried.warning(w)
	} else {
		t.Clauses = tried.clauses([]role{{"at", rule.at}, {"when", rule.when}, {"continues while", rule.continuesWhile}})
	}
	events, evaluation := evaluate(env, rule, audits, ofKind(opportunities(env), rule.Opportunity))
	t.Evaluation = evaluation
	for _, e := range events {
		if e.Start.Earliest < window.End && e.End.Latest >= window.Start {
			t.Events = append(t.Events, e)
		}
	}
	return t
}

// role is an expression and its purpose in a rule or warning.
type role struct {
	name string
	of   *language.Expression
}

// trier evaluates expressions part by part.
type trier struct {
	env    *Tracks
	window readings.Spans
	shown  map[string]bool // criteria already taken apart
}

func (t *trier) clauses(roles []role) []Clause {
	var out []Clause
	for _, r := range roles {
		if r.of != nil {
			out = append(out, Clause{r.name, t.parts(r.of, 0)})
		}
	}
	return out
}

// warning shows the expressions of a warning and the findings of its audit.
func (t *trier) warning(w *Warning) []Clause {
	out := t.clauses([]role{{"required", w.required}, {"may be silenced", w.mayBeSilenced}, {"silenced", w.silenced}, {"sounded", w.sounded}, {"tolerated", w.tolerated}, {"delay", w.delay}})
	all := t.env.windows()
	expected, sounded := w.required.Condition(t.env), w.sounded.Condition(t.env)
	if w.silenced != nil {
		quiet := readings.And(w.mayBeSilenced.Condition(t.env), w.silenced.Condition(t.env))
		expected = readings.And(expected, readings.Not(quiet, all))
	}
	combined := func(text string, c readings.Condition) PartReading {
		return t.condition(PartReading{Text: text, Kind: language.Condition}, c)
	}
	return append(out, Clause{"together", []PartReading{
		combined("required, and not silenced where permitted", expected),
		combined("required, not silenced where permitted, and quiet", readings.And(expected, readings.Not(sounded, all))),
		combined("sounded, and not required", readings.And(sounded, readings.Not(expected, all))),
	}})
}

// parts evaluates an expression and everything in it. A criterion of the profile
// is taken apart below its name, the first time it comes.
func (t *trier) parts(x *language.Expression, depth int) []PartReading {
	var out []PartReading
	for _, p := range x.Parts() {
		r := PartReading{Depth: depth + p.Depth, Text: p.Text, Kind: p.Type.Kind, Unit: p.Type.Unit}
		if p.Name != "" {
			missing, fallbacks := t.env.needsOf(p.Name)
			r.Notes = append(missing, fallbacks...)
		}
		criterion := t.env.criteria[p.Name]
		again := criterion != nil && t.shown[p.Name]
		if again {
			r.Notes = append(r.Notes, "a criterion of the profile, shown in parts above")
		} else if criterion != nil {
			r.Notes = append(r.Notes, fmt.Sprintf("a criterion of the profile (%s)", t.env.flight.Profile.Aircraft))
		}
		out = append(out, t.evaluate(r, p))
		if criterion != nil && !again {
			t.shown[p.Name] = true
			out = append(out, t.parts(criterion, r.Depth+1)...)
		}
	}
	return out
}

func (t *trier) evaluate(r PartReading, p language.Part) PartReading {
	switch {
	case r.Kind == language.Condition:
		return t.condition(r, p.Condition(t.env))
	case r.Kind == language.Moments:
		moments, unknown := p.Moments(t.env)
		r.Unknown = readings.Intersect(unknown, t.window)
		for _, m := range moments {
			if m.Earliest < t.window[0].End && m.Latest >= t.window[0].Start {
				r.Moments = append(r.Moments, m)
			}
		}
	default:
		r.Value, r.Known = p.Fixed(t.env)
		r.Fixed = r.Known || p.Type.Fixed
		if !r.Fixed {
			r.Number = p.Number(t.env, t.window).Within(t.window)
		}
	}
	return r
}

func (t *trier) condition(r PartReading, c readings.Condition) PartReading {
	r.Condition = c.Clip(t.window)
	r.Unknown = r.Condition.Missing(t.window)
	return r
}
