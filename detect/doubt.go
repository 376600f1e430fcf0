package detect

import (
	"cmp"
	"fmt"
	"slices"

	"downlock/detect/readings"
	"downlock/schemas"
)

// A doubt is a parameter of which the recording does not show that the profile reads
// it rightly, with the reason in words.
type doubt struct{ parameter, why string }

// doubtful takes the certainty from findings that rest on such a parameter, and says so
// in an observation. The findings stay: most profiles are right. What is merely
// unexplained, and what a rule can do without, is said and takes nothing.
func doubtful(result *Result, env *Tracks) {
	doubts := append(unconfirmed(result.Checks), mistakable(result.Audits, env)...)
	told := map[string]bool{}
	for i := range result.Events {
		e := &result.Events[i]
		if e.Certainty != Certain {
			continue
		}
		rest, optional := restOn(e.Rule, result.Audits, env.criteria), env.criteria.names(e.Rule.Optional)
		for _, d := range doubts {
			switch {
			case slices.Contains(rest, d.parameter):
				e.Certainty, e.Sure = Possible, nil
			case !slices.Contains(optional, d.parameter):
				continue
			}
			if !told[d.parameter] {
				told[d.parameter] = true
				result.Observations = append(result.Observations, Observation{Unconfirmed, d.parameter, readings.Spans{env.flight.Span}, d.why})
			}
		}
	}
	for _, d := range strays(result.Audits, env) {
		if !told[d.parameter] {
			result.Observations = append(result.Observations, Observation{Unexplained, d.parameter, d.where, d.why})
		}
	}
	slices.SortStableFunc(result.Observations, func(a, b Observation) int { return cmp.Compare(placeOf(a.Parameter), placeOf(b.Parameter)) })
}

// placeOf is the place of a parameter in the dictionary; others come after all of it.
func placeOf(parameter string) int {
	if at := slices.IndexFunc(schemas.Parameters(), func(p schemas.Parameter) bool { return p.Name == parameter }); at >= 0 {
		return at
	}
	return len(schemas.Parameters())
}

// unconfirmed are the parameters that no check could tell anything about.
func unconfirmed(checks []Check) (out []doubt) {
	told := map[string]bool{}
	for _, c := range checks {
		if c.Outcome == NotPossible {
			continue
		}
		for _, name := range c.Parameters {
			told[name] = told[name] || !slices.Contains(c.Unconfirmed, name)
		}
	}
	for _, c := range checks {
		for _, name := range c.Unconfirmed {
			if !told[name] {
				told[name] = true
				out = append(out, doubt{name, "the recording is too short to show whether it is read the right way round"})
			}
		}
	}
	return out
}

// restOn lists the names a rule's findings rest on: those of its expressions, of the
// audit it speaks of, and of the profile's criteria in either.
func restOn(rule *Rule, audits []Audit, c criteria) []string {
	if rule.Audit == nil {
		return c.names(rule.Requires)
	}
	i := slices.IndexFunc(audits, func(a Audit) bool { return a.Warning.Name == rule.Audit.Warning })
	return c.names(audits[i].switches())
}

// names are the names and those the criteria among them stand for.
func (c criteria) names(all []string) []string {
	out := slices.Clone(all)
	for _, name := range all {
		if x := c[name]; x != nil {
			out = append(out, c.names(x.Names)...)
		}
	}
	return unique(out)
}

// switches are the names that say whether the warning sounds and whether its
// switch is in effect.
func (a Audit) switches() []string {
	names := slices.Clone(a.Warning.sounded.Names)
	if a.Warning.silenced != nil {
		names = append(names, a.Warning.silenced.Names...)
	}
	return names
}

// followsWithin (s) is the time beside the usual delay in which a warning follows its
// criteria. A hand on a switch is seldom as quick: common practice.
const followsWithin = 2.0

// mistakable are warnings and switches that look as if each were recorded in the
// other's column: one is quiet where it is required while another comes on there without
// a reason of its own; or a switch comes on with the criteria, before its warning does.
func mistakable(audits []Audit, env *Tracks) (out []doubt) {
	for _, a := range audits {
		if a.Coverage == NotEvaluable {
			continue
		}
		delay, _ := a.Warning.delay.Fixed(env)
		if a.silencedFirst(delay + followsWithin) {
			names := env.criteria.names(a.switches())
			for _, name := range names {
				out = append(out, doubt{name, fmt.Sprintf("for %s, the switch comes on with the criteria, and the warning comes on after it or never, as if their columns were exchanged", joinWords(names))})
			}
		}
		for _, f := range a.Findings {
			if f.Finding != Missed && f.Finding != Late {
				continue
			}
			quiet := stretch(f.Start.Nominal, f.End.Nominal)
			for _, other := range env.criteria.names(strangers(audits, a, quiet)) {
				why := fmt.Sprintf("%s comes on where the criteria of %s are met and %[2]s is quiet", other, a.Warning.sounded.Names[0])
				out = append(out, doubt{other, why}, doubt{a.Warning.sounded.Names[0], why})
			}
		}
	}
	return out
}

// silencedFirst says whether the switch comes on with the criteria of the warning while
// the warning has not begun, and the warning never begins first.
func (a Audit) silencedFirst(within float64) bool {
	first := false
	for _, due := range a.due {
		window := stretch(due.Start-followsWithin, due.Start+within)
		horn, pressed := beginning(a.sounded, window), beginning(a.silenced, window)
		if horn.known && (!pressed.known || horn.at <= pressed.at) {
			return false
		}
		first = first || pressed.known
	}
	return first
}

// start is when something begins, if it does.
type start struct {
	at    float64
	known bool
}

// beginning is the first start of one of the spans within a window.
func beginning(spans readings.Spans, window Span) start {
	for _, s := range spans {
		if s.Start >= window.Start && s.Start <= window.End {
			return start{s.Start, true}
		}
	}
	return start{}
}

// strangers are the warnings and switches of others that come on within a time, most of
// it for nothing that is required of them.
func strangers(audits []Audit, a Audit, quiet Span) (out []string) {
	without := func(on, reason readings.Spans) bool {
		for _, s := range on {
			if s.Start >= quiet.Start-followsWithin && s.Start <= quiet.End && len(reason.Within(s)) == 0 {
				return true
			}
		}
		return false
	}
	for _, b := range audits {
		if b.Warning == a.Warning || b.Coverage == NotEvaluable {
			continue
		}
		if without(b.sounded, b.due) {
			out = append(out, b.Warning.sounded.Names[0])
		}
		if b.Warning.silenced != nil && without(b.silenced, b.due) {
			out = append(out, b.Warning.silenced.Names...)
		}
	}
	return out
}
