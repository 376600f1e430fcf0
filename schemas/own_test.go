package schemas

import (
	"slices"
	"strings"
	"testing"
)

func TestOwnParameterMistakes(t *testing.T) {
	t.Parallel()
	units := "% 1 FL deg degC ft ft/min ft/s g kg klb km km/h kt lb m m/s m/s2 min mph ms rad s t" // of units, by their bytes
	for entries, want := range map[string]told{
		"{name: ^mach, kind: discrete, meaning: m}":           {`"mach" is a parameter of the vocabulary`, "give the parameter another name"},
		"{name: ^gear_altitude, kind: discrete, meaning: m}":  {`"gear_altitude" is a value of the vocabulary`, "give the parameter another name"},
		"{name: ^slat_schedule, kind: discrete, meaning: m}":  {`"slat_schedule" is a table of the vocabulary`, "give the parameter another name"},
		"{name: ^takeoff_thrust, kind: discrete, meaning: m}": {`"takeoff_thrust" is a criterion of the vocabulary`, "give the parameter another name"},
		"{name: a, kind: discrete, meaning: m}, {name: b, kind: discrete, meaning: m}, {name: ^a, kind: discrete, meaning: m}": {
			`parameter "a" appears twice`, "remove one of the two"},
		"^{name: a, kind: step, range: [0, 1], meaning: m}":                            {"a is a number and has no unit", "add unit, such as unit: deg, or unit: 1 for a plain number"},
		"{name: a, kind: continuous, unit: ^furlong, range: [0, 1], meaning: m}":       {`unknown unit "furlong"; known units: ` + units, "give one of them"},
		"{name: a, kind: discrete, unit: ^deg, meaning: m}":                            {"a is a discrete and has no unit", "remove it"},
		"{name: a, kind: state, states: [A, B], unit: ^furlong, meaning: m}":           {"a is a state and has no unit", "remove it"},
		"^{name: a, kind: step, unit: deg, meaning: m}":                                {"a is a number and has no range", "add range: [smallest, largest] that is plausible"},
		"{name: a, kind: step, unit: deg, ^range: [1, 1], meaning: m}":                 {"the range is empty", "give [smallest, largest]"},
		"{name: a, kind: continuous, unit: deg, ^range: [1, 0.5], meaning: m}":         {"the range is empty", "give [smallest, largest]"},
		"{name: a, kind: discrete, ^range: [0, 1], meaning: m}":                        {"a is a discrete and has no range", "remove it"},
		"{name: a, kind: state, states: [A, B], ^range: [0, 1], meaning: m}":           {"a is a state and has no range", "remove it"},
		"^{name: a, kind: state, meaning: m}":                                          {"a is a state and lists no states", "add states: [ONE, OTHER]"},
		"{name: a, kind: discrete, ^states: [A, B], meaning: m}":                       {"a is a discrete and has no states", "remove them"},
		"{name: a, kind: step, unit: deg, range: [0, 1], ^states: [A, B], meaning: m}": {"a is a step and has no states", "remove them"},
	} {
		text := profileText("  mach: {column: m, unit: '1'}", "parameters: ["+entries+"]")
		checkMistakes(t, string(text), parseProfileText, want)
	}
}

func TestOwnParameters(t *testing.T) {
	t.Parallel()
	p, err := ParseProfile("p.yaml", profileText("  brake: {column: m, true_when: 1}", "parameters: [{name: brake, kind: discrete, meaning: m}, "+
		"{name: trim, kind: continuous, unit: Degrees, range: [-1, 0.5], meaning: m}, {name: lever, kind: state, states: [A, B], meaning: m}]"))
	if err != nil {
		t.Fatal(err)
	}
	all := p.Parameters()
	if n := len(Parameters()); len(all) != n+3 || all[0].Name != Parameters()[0].Name || all[n].Name != "brake" || all[n+2].Name != "lever" {
		t.Errorf("%d parameters, of them %d of the vocabulary", len(all), len(Parameters()))
	}
	if got := (&Profile{Own: p.Own[:1]}).Parameters(); len(got) != len(Parameters())+1 {
		t.Errorf("%d parameters with one own", len(got))
	}
	for name, kind := range map[string]Kind{"brake": Discrete, "trim": Continuous, "lever": State, "mach": Continuous, "none": ""} {
		if got, ok := p.Parameter(name); ok != (kind != "") || got.Kind != kind {
			t.Errorf("%s is %q, %v", name, got.Kind, ok)
		}
	}
	if trim, _ := p.Parameter("trim"); trim.Unit != "deg" {
		t.Errorf("the unit Degrees is kept as %s", trim.Unit)
	}
}

func TestParametersAgree(t *testing.T) {
	t.Parallel()
	ab, ba := strings.Split("A B", " "), strings.Split("B A", " ")
	for _, c := range []struct {
		one, other Parameter
		want       bool
	}{
		{Parameter{Kind: Step, Unit: "deg", Range: [2]float64{0, 1}}, Parameter{Kind: Step, Unit: "degrees", Range: [2]float64{0, 9}}, true},
		{Parameter{Kind: Step, Unit: "deg"}, Parameter{Kind: Step, Unit: "rad"}, false},
		{Parameter{Kind: Step, Unit: "deg"}, Parameter{Kind: Continuous, Unit: "deg"}, false},
		{Parameter{Kind: State, States: ab}, Parameter{Kind: State, States: slices.Clone(ab)}, true},
		{Parameter{Kind: State, States: ab}, Parameter{Kind: State, States: ba}, false},
		{Parameter{Kind: Discrete}, Parameter{Kind: Discrete}, true},
		{Parameter{Kind: Discrete}, Parameter{Kind: State}, false},
	} {
		if c.one.Agrees(c.other) != c.want || c.other.Agrees(c.one) != c.want {
			t.Errorf("%+v and %+v: want %v", c.one, c.other, c.want)
		}
	}
}
