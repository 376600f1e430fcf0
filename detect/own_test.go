package detect_test

import (
	"errors"
	"os"
	"strings"
	"testing"

	"downlock/detect"
	"downlock/ingest"
	"downlock/schemas"
)

const ownParameters = `parameters:
  - {name: park_brake_set, kind: discrete, meaning: the parking brake is set}
  - {name: trim_position, kind: continuous, unit: degrees, range: [-20, 20], max_rate: 5, meaning: position of the trim}
  - {name: lever_position, kind: state, states: [UP, "OFF", DOWN], meaning: position of the gear lever}
`

// ownRules are rules on a discrete, a number and a state, under the names given.
func ownRules(own, discrete, number, state string) string {
	rule := func(id, when string) string {
		return "  - {id: " + id + ", title: T, group: G, meaning: M, basis: common practice, when: '" + when + "', measure: [{name: duration, take: duration}]}\n"
	}
	return "schema: downlock rules 1\npack: own\n" + own + "rules:\n" + rule("one", discrete) + rule("two", number+" > 4 and "+number+" < 5") + rule("three", state+` == "DOWN"`)
}

// findings reads a demonstration flight with a profile and returns its result.
func findings(t *testing.T, profileText, pack string) *detect.Result {
	t.Helper()
	profile, err := schemas.ParseProfile("p.yaml", []byte(profileText))
	if err != nil {
		t.Fatal(err)
	}
	rules, err := detect.ParseRules("r.yaml", []byte(pack))
	if err != nil {
		t.Fatal(err)
	}
	d, err := detect.New(profile, rules)
	if err != nil {
		t.Fatal(err)
	}
	r, err := ingest.Read("../testdata/demo/tarnholm-08.csv.gz", profile)
	if err != nil {
		t.Fatal(err)
	}
	results := d.Detect(r)
	if len(results) == 0 {
		t.Fatal("no flight")
	}
	return results[0]
}

// A column under a name of the profile's own says the same as under a canonical one:
// the same rules find the same events.
func TestOwnParameters(t *testing.T) {
	t.Parallel()
	text, err := os.ReadFile("../schemas/profiles/th120.yaml")
	if err != nil {
		t.Fatal(err)
	}
	usual := string(text)
	own := strings.NewReplacer("\n  parking_brake: {", "\n  park_brake_set: {", "\n  stabiliser_trim: {", "\n  trim_position: {", "\n  gear_lever: {", "\n  lever_position: {",
		"or parking_brake\n", "or park_brake_set\n", "stabiliser_trim <", "trim_position <", "stabiliser_trim >", "trim_position >", "\ncolumns:\n", "\n"+ownParameters+"\ncolumns:\n").Replace(usual)
	want := findings(t, usual, ownRules("", "parking_brake", "stabiliser_trim", "gear_lever"))
	got := findings(t, own, ownRules(ownParameters, "park_brake_set", "trim_position", "lever_position"))
	if len(want.Events) < 3 || len(got.Events) != len(want.Events) {
		t.Fatalf("%d events, want %d", len(got.Events), len(want.Events))
	}
	for i, w := range want.Events {
		if g := got.Events[i]; g.Rule.ID != w.Rule.ID || g.Start != w.Start || g.End != w.End || g.Certainty != w.Certainty {
			t.Errorf("%s %v %s, want %s %v %s", g.Rule.ID, g.Start, g.Certainty, w.Rule.ID, w.Start, w.Certainty)
		}
	}
	for i, w := range want.Evaluations {
		if g := got.Evaluations[i]; g.Coverage != w.Coverage {
			t.Errorf("%s is %s, want %s", g.Rule.ID, g.Coverage, w.Coverage)
		}
	}
	// Declared in the pack, and in no profile.
	for _, e := range findings(t, usual, ownRules(ownParameters, "park_brake_set", "trim_position", "lever_position")).Evaluations {
		if e.Coverage != detect.NotEvaluable || !strings.Contains(strings.Join(e.Missing, " "), "not mapped in the profile") {
			t.Errorf("%s is %s, missing %q", e.Rule.ID, e.Coverage, e.Missing)
		}
	}
}

// The places were counted by hand: the list stands on line 3 of the pack, on line 8 of the profile.
func TestWrongOwnParameters(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		entry       string
		column      int
		cause, hint string
	}{
		{"{name: gear_horn, kind: discrete, meaning: m}", 21, `"gear_horn" is a parameter of the vocabulary`, "another name"},
		{"{name: gear_altitude, kind: discrete, meaning: m}", 21, `"gear_altitude" is a value of the vocabulary`, "another name"},
		{"{name: takeoff_thrust, kind: discrete, meaning: m}", 21, `"takeoff_thrust" is a criterion of the vocabulary`, "another name"},
		{"{name: airborne, kind: discrete, meaning: m}", 21, `"airborne" is a name of the rule language`, "another name"},
		{"{name: held, kind: discrete, meaning: m}", 21, `"held" is a function of the rule language`, "another name"},
		{"{name: not, kind: discrete, meaning: m}", 21, `"not" is a word of the rule language`, "another name"},
		{"{name: in, kind: state, states: [A, B], meaning: m}", 21, `"in" is a word of the rule language`, "another name"},
		{"{name: own, kind: step, range: [0, 1], meaning: m}", 14, "own is a number and has no unit", "add unit"},
		{"{name: own, kind: step, unit: deg, meaning: m}", 14, "own is a number and has no range", "add range"},
		{"{name: own, kind: step, unit: deg, range: [1, 1], meaning: m}", 49, "the range is empty", "smallest"},
		{"{name: own, kind: step, unit: furlong, range: [0, 1], meaning: m}", 44, `unknown unit "furlong"`, ""},
		{"{name: own, kind: state, meaning: m}", 14, "lists no states", "add states"},
		{"{name: own, kind: discrete, states: [A, B], meaning: m}", 42, "is a discrete and has no states", "remove"},
		{"{name: own, kind: discrete, unit: deg, meaning: m}", 48, "has no unit", "remove"},
		{"{name: own, kind: colour, meaning: m}", 32, "kind", ""},
		{"{name: Own, kind: discrete, meaning: m}", 21, "name", ""},
	} {
		pack := "schema: downlock rules 1\npack: own\nparameters: [" + c.entry + "]\nrules: [{id: one, title: T, meaning: M, basis: common practice, when: gear_horn}]\n"
		_, err := detect.ParseRules("r.yaml", []byte(pack))
		checkOwnProblem(t, c.entry, err, 3, c.column, c.cause, c.hint)
		profile := "schema: downlock profile 1\naircraft: T\ntitle: test\nlegs: [nose, left, right]\nengines: 2\ntime: {column: t}\ncolumns: {mach: {column: m, unit: '1'}}\nparameters: [" + c.entry + "]\n"
		p, err := schemas.ParseProfile("p.yaml", []byte(profile))
		if err == nil {
			_, err = detect.New(p, &detect.RuleSet{})
		}
		checkOwnProblem(t, c.entry, err, 8, c.column, c.cause, c.hint)
	}
}

func checkOwnProblem(t *testing.T, entry string, err error, line, column int, cause, hint string) {
	t.Helper()
	var all schemas.Problems
	if !errors.As(err, &all) || len(all) != 1 {
		t.Errorf("%s: got %v, want one problem", entry, err)
		return
	}
	if p := all[0]; p.Line != line || p.Column != column || !strings.Contains(p.Cause, cause) || !strings.Contains(p.Hint, hint) {
		t.Errorf("%s: %v (%s), want %d:%d, %q and %q", entry, err, p.Hint, line, column, cause, hint)
	}
}

// What a profile and a pack declare under one name must be one thing.
func TestOwnParametersAgree(t *testing.T) {
	t.Parallel()
	profile, err := schemas.ParseProfile("p.yaml", []byte("schema: downlock profile 1\naircraft: T\ntitle: test\nlegs: [nose, left, right]\nengines: 2\ntime: {column: t}\n"+
		"columns: {trim_position: {column: m, unit: rad}}\nparameters: [{name: trim_position, kind: continuous, unit: deg, range: [-1, 1], meaning: m}]\n"))
	if err != nil {
		t.Fatal(err)
	}
	// One that is wrong by itself is not compared with that of an earlier pack: one problem.
	const head, rules = "schema: downlock rules 1\npack: own\nparameters: [{name: trim_position, ", "}]\nrules: [{id: one, title: T, meaning: M, basis: common practice, when: gear_horn}]\n"
	first, err := detect.ParseRules("r.yaml", []byte(head+"kind: discrete, meaning: m"+rules))
	if err != nil {
		t.Fatal(err)
	}
	_, err = first.With("r2.yaml", []byte(head+"kind: step, unit: deg, meaning: m"+rules))
	checkOwnProblem(t, "wrong, and another's name", err, 3, 14, "is a number and has no range", "add range")
	for unit, want := range map[string]string{"degrees": "", "rad": "a rule pack declares trim_position differently: continuous in rad"} {
		pack := "schema: downlock rules 1\npack: own\nparameters: [{name: trim_position, kind: continuous, unit: " + unit + ", range: [-2, 2], meaning: m}]\n" +
			"rules: [{id: one, title: T, meaning: M, basis: common practice, when: trim_position > 0}]\n"
		rules, err := detect.ParseRules("r.yaml", []byte(pack))
		if err != nil {
			t.Fatal(err)
		}
		_, err = detect.New(profile, rules)
		if want == "" && err != nil || want != "" && (err == nil || !strings.Contains(err.Error(), "p.yaml:8:14: "+want)) {
			t.Errorf("%s: got %v, want %q", unit, err, want)
		}
		if _, err := rules.With("r2.yaml", []byte(strings.Replace(pack, "unit: "+unit, "unit: kt", 1))); err == nil || !strings.Contains(err.Error(), "r2.yaml:3:14: an earlier pack declares trim_position differently") {
			t.Errorf("two packs: got %v", err)
		}
	}
}
