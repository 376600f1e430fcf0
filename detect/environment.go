package detect

import (
	"fmt"
	"slices"

	"downlock/detect/language"
	"downlock/detect/readings"
)

// environment gives the names of the rule language their values on one flight.
// Conditions are kept: rules share them.
type environment struct {
	flight     *Flight
	criteria   criteria
	conditions map[string]readings.Condition
	compared   map[comparison]readings.Condition
}

type comparison struct {
	name     string
	relation readings.Relation
	constant float64
}

// criteria are those the profile gives, compiled, by name.
type criteria map[string]*language.Expression

func newEnvironment(f *Flight, c criteria) *environment {
	return &environment{flight: f, criteria: c, conditions: map[string]readings.Condition{}, compared: map[comparison]readings.Condition{}}
}

func (e *environment) Window() readings.Span   { return e.flight.Span }
func (e *environment) windows() readings.Spans { return readings.Spans{e.flight.Span} }

func (e *environment) keep(key string, make func() readings.Condition) readings.Condition {
	c, ok := e.conditions[key]
	if !ok {
		c = make()
		e.conditions[key] = c
	}
	return c
}

func (e *environment) Condition(name string) readings.Condition {
	return e.keep(name, func() readings.Condition {
		if d, ok := derivedNames()[name]; ok && d.condition != nil {
			return d.condition(e)
		}
		return e.flight.signals.discrete(name, e.windows())
	})
}

func (e *environment) State(name, state string) readings.Condition {
	return e.keep(name+"="+state, func() readings.Condition {
		h := e.flight.signals.code(name)
		if h == nil {
			return readings.Unknown(e.windows())
		}
		code := slices.Index(e.flight.Recording.Lookup(name).Parameter.States, state)
		return h.Condition(func(v uint8) bool { return int(v) == code }, e.windows())
	})
}

func (e *environment) Moments(name string) []readings.Moment {
	if d, ok := derivedNames()[name]; ok && d.moments != nil {
		return d.moments(e)
	}
	return nil
}

func (e *environment) Steps(name string, d readings.Direction) ([]readings.Moment, readings.Spans) {
	if h := e.flight.signals.code(name); h != nil {
		return readings.Steps(h, d, e.windows())
	}
	if h := e.flight.signals.step(name); h != nil {
		return readings.Steps(h, d, e.windows())
	}
	return nil, e.windows()
}

func (e *environment) Number(name string, within readings.Spans) readings.Number {
	if d, ok := derivedNames()[name]; ok && d.number != nil {
		return d.number(e, within)
	}
	return e.flight.signals.number(name, within)
}

func (e *environment) Compare(name string, r readings.Relation, constant float64) readings.Condition {
	key := comparison{name, r, constant}
	c, ok := e.compared[key]
	if !ok {
		if name == "height" {
			c = e.flight.height.Compare(r, constant, e.windows())
		} else if _, isDerived := derivedNames()[name]; isDerived {
			c = readings.Compare(e.Number(name, e.windows()), r, readings.Constant(constant, e.windows()), e.windows())
		} else {
			c = e.flight.signals.compare(name, r, constant, e.windows())
		}
		e.compared[key] = c
	}
	return c
}

func (e *environment) Fixed(name string) (float64, bool) {
	v, ok := e.flight.Profile.Values[name]
	return v, ok
}

func (e *environment) Table(name string) [][2]float64 { return e.flight.Profile.Tables[name] }

// absent says in plain words why a parameter is not there.
func (e *environment) absent(parameter string) string {
	if reason, ok := e.flight.signals.distrusted[parameter]; ok {
		return parameter + ": " + reason
	}
	for _, a := range e.flight.Recording.Absent {
		if a.Parameter == parameter {
			return fmt.Sprintf("%s: the export has no column %s", parameter, joinWords(quotedAll(a.Columns)))
		}
	}
	if s := e.flight.Recording.Lookup(parameter); s != nil {
		return fmt.Sprintf("%s: column %q holds no valid sample", parameter, s.Column)
	}
	return parameter + ": the profile maps no column to it"
}

func quotedAll(words []string) []string {
	out := make([]string, len(words))
	for i, w := range words {
		out[i] = fmt.Sprintf("%q", w)
	}
	return out
}

// needs lists what the names cannot do without and do not have on this flight,
// and the substitutes used.
func (e *environment) needs(names []string) (missing, fallbacks []string) {
	for _, name := range names {
		m, f := e.needsOf(name)
		missing, fallbacks = append(missing, m...), append(fallbacks, f...)
	}
	return unique(missing), unique(fallbacks)
}

func (e *environment) needsOf(name string) (missing, fallbacks []string) {
	if d, ok := derivedNames()[name]; ok {
		return d.needs(e)
	}
	if _, isTable := vocabulary().Tables[name]; isTable {
		if len(e.flight.Profile.Tables[name]) == 0 {
			return []string{name + ": the profile gives no such table"}, nil
		}
		return nil, nil
	}
	if vocabulary().Names[name].Fixed {
		if _, ok := e.flight.Profile.Values[name]; !ok {
			return []string{name + ": the profile gives no such value"}, nil
		}
		return nil, nil
	}
	if !e.flight.signals.has(name) {
		return []string{e.absent(name)}, nil
	}
	return nil, nil
}

func unique(words []string) []string {
	var out []string
	for _, w := range words {
		if !slices.Contains(out, w) {
			out = append(out, w)
		}
	}
	return out
}
