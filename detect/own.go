package detect

import (
	"fmt"
	"maps"
	"slices"

	"downlock/detect/language"
	"downlock/schemas"
)

// withOwn is the vocabulary with parameters that a profile or packs declare.
func withOwn(own []schemas.Parameter) *language.Vocabulary {
	if len(own) == 0 {
		return vocabulary()
	}
	v := &language.Vocabulary{Names: maps.Clone(vocabulary().Names), Tables: vocabulary().Tables}
	for _, p := range own {
		v.Names[p.Name] = parameterType(p)
	}
	return v
}

// checkOwnNames wants names that the rule language does not use for something else.
func checkOwnNames(d *schemas.Document, own []schemas.Parameter) (found schemas.Problems) {
	for i, p := range own {
		used := ""
		if _, taken := vocabulary().Names[p.Name]; taken {
			used = "name"
		} else if slices.ContainsFunc(language.Functions(), func(f language.Function) bool { return f.Name == p.Name }) {
			used = "function"
		} else if !isName(p) {
			used = "word"
		}
		if used != "" {
			found = append(found, d.Problem(fmt.Sprintf("/parameters/%d/name", i), fmt.Sprintf("%q is a %s of the rule language", p.Name, used), "give the parameter another name"))
		}
	}
	return found
}

// isName reports whether an expression can name a parameter: no rule could use one that is
// called "not".
func isName(p schemas.Parameter) bool {
	t := parameterType(p)
	text, want := p.Name, t.Kind
	if t.Kind == language.State {
		text, want = fmt.Sprintf("%s == %q", p.Name, p.States[0]), language.Condition
	}
	x, err := language.Compile(text, withOwn([]schemas.Parameter{p}), want)
	return err == nil && slices.Equal(x.Names, []string{p.Name})
}

// addOwn adds the parameters a pack declares to those of the packs before it.
func (p *packReader) addOwn(own []schemas.Parameter) {
	wrong := schemas.CheckOwn(p.doc, own)
	if len(wrong) == 0 {
		wrong = checkOwnNames(p.doc, own)
	}
	if p.found = append(p.found, wrong...); len(wrong) > 0 {
		return
	}
	for i, one := range own {
		at := slices.IndexFunc(p.set.Own, func(o schemas.Parameter) bool { return o.Name == one.Name })
		switch {
		case at < 0:
			p.set.Own = append(p.set.Own, one)
		case !one.Agrees(p.set.Own[at]):
			p.problem(fmt.Sprintf("/parameters/%d", i), fmt.Sprintf("an earlier pack declares %s differently: %s", one.Name, described(p.set.Own[at])), "declare it the same way in both, or under two names")
		}
	}
}

// described says what a declaration means to a rule.
func described(p schemas.Parameter) string {
	switch {
	case p.Numeric():
		return fmt.Sprintf("%s in %s", p.Kind, p.Unit)
	case p.Kind == schemas.State:
		return fmt.Sprintf("%s of %s", p.Kind, joinWords(p.States))
	}
	return string(p.Kind)
}

// checkProfileOwn holds the profile's own parameters against the rule language and the packs.
func checkProfileOwn(profile *schemas.Profile, rules *RuleSet) schemas.Problems {
	if len(profile.Own) == 0 {
		return nil
	}
	found := checkOwnNames(profile.Document(), profile.Own)
	for i, one := range profile.Own {
		for _, o := range rules.Own {
			if o.Name == one.Name && !one.Agrees(o) {
				found = append(found, profile.Document().Problem(fmt.Sprintf("/parameters/%d", i), fmt.Sprintf("a rule pack declares %s differently: %s", one.Name, described(o)), "declare it the same way in both, or under two names"))
			}
		}
	}
	return found
}
