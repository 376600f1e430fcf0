package schemas

import (
	"fmt"
	"slices"
	"strings"
)

// Parameters lists the canonical parameters and after them the profile's own. The
// caller must not change the list.
func (p *Profile) Parameters() []Parameter {
	if len(p.Own) == 0 {
		return Parameters()
	}
	return slices.Concat(Parameters(), p.Own)
}

// Parameter looks up a canonical parameter or one of the profile's own.
func (p *Profile) Parameter(name string) (Parameter, bool) { return FindParameter(name, p.Own) }

// FindParameter looks up a canonical parameter or one of others.
func FindParameter(name string, own []Parameter) (Parameter, bool) {
	if p, ok := LookupParameter(name); ok {
		return p, true
	}
	if i := slices.IndexFunc(own, func(p Parameter) bool { return p.Name == name }); i >= 0 {
		return own[i], true
	}
	return Parameter{}, false
}

// CheckOwn checks the parameters that a profile or a rule pack declares under its entry
// parameters, and puts their units in their usual spelling. Names of the rule language are
// checked where that is known.
func CheckOwn(d *Document, own []Parameter) (found Problems) {
	for i, p := range own {
		path := fmt.Sprintf("/parameters/%d", i)
		problem := func(field, cause, hint string) {
			found = append(found, d.Problem(path+field, cause, hint))
		}
		if kind := kindOfName(p.Name); kind != "" {
			problem("/name", fmt.Sprintf("%q is a %s of the vocabulary", p.Name, kind), "give the parameter another name")
		}
		if slices.ContainsFunc(own[:i], func(o Parameter) bool { return o.Name == p.Name }) {
			problem("/name", fmt.Sprintf("parameter %q appears twice", p.Name), "remove one of the two")
		}
		switch {
		case p.Numeric() && p.Unit == "":
			problem("", p.Name+" is a number and has no unit", "add unit, such as unit: deg, or unit: 1 for a plain number")
		case p.Numeric():
			if name, known := UnitName(p.Unit); known {
				own[i].Unit = name
			} else {
				problem("/unit", fmt.Sprintf("unknown unit %q; known units: %s", p.Unit, strings.Join(UnitNames(), " ")), "give one of them")
			}
		case p.Unit != "":
			problem("/unit", fmt.Sprintf("%s is a %s and has no unit", p.Name, p.Kind), "remove it")
		}
		switch {
		case p.Numeric() && p.Range == [2]float64{}:
			problem("", p.Name+" is a number and has no range", "add range: [smallest, largest] that is plausible")
		case p.Numeric() && p.Range[0] >= p.Range[1]:
			problem("/range", "the range is empty", "give [smallest, largest]")
		case !p.Numeric() && p.Range != [2]float64{}:
			problem("/range", fmt.Sprintf("%s is a %s and has no range", p.Name, p.Kind), "remove it")
		}
		if (p.Kind == State) != (p.States != nil) {
			if p.Kind == State {
				problem("", p.Name+" is a state and lists no states", "add states: [ONE, OTHER]")
			} else {
				problem("/states", fmt.Sprintf("%s is a %s and has no states", p.Name, p.Kind), "remove them")
			}
		}
	}
	return found
}

// kindOfName says which kind of word of the vocabulary a name is, "" for none.
func kindOfName(name string) string {
	if _, taken := LookupParameter(name); taken {
		return "parameter"
	}
	for kind, names := range map[string][]string{
		"value":     namesOf(Values(), func(v Value) string { return v.Name }),
		"table":     namesOf(Tables(), func(t Table) string { return t.Name }),
		"criterion": namesOf(Criteria(), func(c Criterion) string { return c.Name }),
	} {
		if slices.Contains(names, name) {
			return kind
		}
	}
	return ""
}

// Agrees reports whether two declarations of a parameter mean the same to a rule.
func (p Parameter) Agrees(o Parameter) bool {
	if p.Numeric() {
		one, _ := UnitName(p.Unit)
		other, _ := UnitName(o.Unit)
		return p.Kind == o.Kind && one == other
	}
	return p.Kind == o.Kind && slices.Equal(p.States, o.States)
}
