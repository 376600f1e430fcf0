package detect

import (
	"errors"
	"slices"
	"strings"
	"testing"

	"downlock/detect/language"
	"downlock/detect/readings"
	"downlock/schemas"
)

const packHead = "schema: downlock rules 1\npack: p\n"

// Every field of a rule as the pack states it, and what a second pack changes: the first rule
// as well as a later one.
func TestRuleOfAPack(t *testing.T) {
	t.Parallel()
	_, err := ParseRules("a.yaml", []byte(packHead+`rules:
  - {id: a, title: t, meaning: m, basis: common practice, when: gear_horn}
  - {id: b, title: t, meaning: m, basis: common practice, when: gear_horn, continues_while: airborne, at_least: 2, merge_gap: 5, also_possible: true, opportunity: approach,
     optional: [gear_horn], trace: [height_of_none], follows_from: [a], systems: [truck_tilt], caution: look}
`))
	var problems schemas.Problems
	if !errors.As(err, &problems) || !strings.Contains(problems[0].Cause, `unknown parameter "height_of_none"`) {
		t.Errorf("an unknown trace: %v", err)
	}
	set, err := ParseRules("a.yaml", []byte(packHead+`rules:
  - {id: a, title: t, meaning: m, basis: common practice, when: gear_horn}
  - {id: b, title: t, meaning: m, basis: common practice, when: gear_horn and airborne, continues_while: airborne, at_least: 2, merge_gap: 5, also_possible: true, opportunity: approach,
     optional: [gear_horn], trace: [computed_airspeed], follows_from: [a], systems: [truck_tilt], caution: look, measure: [{name: d, take: duration}], severity: {by: d, low: 0, medium: 3}}
`))
	if err != nil {
		t.Fatal(err)
	}
	a, b := set.Rule("a"), set.Rule("b")
	alike(t, "defaults", []any{a.AtLeast, a.MergeGap, a.AlsoPossible, a.Opportunity, a.Severity.Always, a.Requires, a.Pack, a.when != nil, a.at == nil}, []any{0.0, 3.0, false, OpenFlight, Low, []string{"gear_horn"}, "p", true, true})
	alike(t, "stated", []any{b.AtLeast, b.MergeGap, b.AlsoPossible, b.Opportunity, b.Optional, b.Trace, b.FollowsFrom, b.Systems, b.Caution, b.Requires, b.Severity.By, b.Severity.HasMedium, b.Severity.HasHigh},
		[]any{2.0, 5.0, true, OpenApproach, []string{"gear_horn"}, []string{"computed_airspeed"}, []string{"a"}, []string{"truck_tilt"}, "look", []string{"airborne"}, "d", true, false})
	second := strings.Replace(packHead, "pack: p", "pack: q", 1)
	changed, err := set.With("b.yaml", []byte(second+"rules:\n  - {id: a, merge_gap: 0}\n  - {id: b, at_least: 7}\n"))
	if err != nil {
		t.Fatal(err)
	}
	alike(t, "changed", []any{len(changed.Rules), changed.Rules[0].ID, changed.Rules[0].MergeGap, changed.Rules[1].AtLeast, changed.Rules[1].MergeGap, changed.Rules[0].Origin(), len(set.Packs), len(changed.Packs)},
		[]any{2, "a", 0.0, 7.0, 5.0, "p, changed by q", 1, 2})
	other, err := set.With("b.yaml", []byte(second+"rules:\n  - {id: a, when: gear_horn_cutout}\n"))
	if err != nil {
		t.Fatal(err)
	}
	alike(t, "needs what its new expression names", [][]string{other.Rules[0].Requires, set.Rules[0].Requires}, [][]string{{"gear_horn_cutout"}, {"gear_horn"}})
	alike(t, "the set itself", []any{set.Rules[0].MergeGap, set.Rules[1].AtLeast}, []any{3.0, 2.0})
	off, err := set.With("c.yaml", []byte(second+"rules:\n  - {id: a, off: true}\n"))
	if err != nil {
		t.Fatal(err)
	}
	alike(t, "switched off", off.IDs(), []string{"b"})
	for text, cause := range map[string]string{
		"rules:\n  - {id: a, title: t, meaning: m, basis: common practice, when: gear_horn}\n  - {id: a, title: t, meaning: m, basis: common practice, when: gear_horn}\n": `rule "a" appears twice in this pack`,
		"rules:\n  - {id: z, off: true}\n": `there is no rule "z" to switch off`,
		"rules:\n  - {id: a, title: t, meaning: m, basis: common practice, when: gear_horn, severity: {by: d, low: 0}}\n":                                                           `rule "a" has no measure "d"`,
		"rules:\n  - {id: a, title: t, meaning: m, basis: common practice, when: gear_horn, measure: [{name: d, take: duration}], severity: {by: d, low: 0, medium: 5, high: 3}}\n": "the thresholds do not all rise or all fall",
		"rules:\n  - {id: a, title: t, meaning: m, basis: common practice, when: gear_horn, optional: [gear_hornn]}\n":                                                              `unknown name "gear_hornn"`,
		"rules:\n  - {id: a, title: t, meaning: m, basis: common practice, at: touchdown, when: gear_horn, at_least: 3}\n":                                                          "which have no duration",
	} {
		_, err := ParseRules("d.yaml", []byte(packHead+text))
		if !errors.As(err, &problems) || !strings.Contains(problems[0].Cause, cause) {
			t.Errorf("%v, want %s", err, cause)
		}
	}
}

// Every name that an expression may use is listed, once, with what it is: one of each kind by hand.
func TestLanguageListsEveryName(t *testing.T) {
	t.Parallel()
	own := []schemas.Parameter{{Name: "own_state", Kind: schemas.State, States: []string{"A", "B"}, Meaning: "mine"}}
	names, functions := Language(own)
	listed := map[string]Name{}
	for i, n := range names {
		if _, twice := listed[n.Name]; twice || i > 0 && names[i-1].Name >= n.Name || n.Meaning == "" {
			t.Errorf("%+v is listed twice, out of order or without a meaning", n)
		}
		listed[n.Name] = n
	}
	for name := range vocabulary().Names {
		if listed[name].Name == "" {
			t.Errorf("%s is not listed", name)
		}
	}
	alike(t, "how many", len(listed), len(vocabulary().Names)+1)
	for name, want := range map[string]Name{
		"computed_airspeed":           {Kind: "number", Unit: "kt"},
		"flap_handle":                 {Kind: "held number", Unit: "deg"},
		"gear_horn":                   {Kind: "condition"},
		"gear_lever":                  {Kind: "state", States: []string{"UP", "OFF", "DOWN"}},
		"own_state":                   {Kind: "state", States: []string{"A", "B"}},
		"touchdown":                   {Kind: "moments"},
		"height":                      {Kind: "number", Unit: "ft"},
		"visual_stabilisation_height": {Kind: "value of the profile", Unit: "ft"},
		"gear_extended_speed":         {Kind: "value or limit of the profile", Unit: "kt"},
	} {
		n := listed[name]
		alike(t, name, []any{n.Kind, n.Unit, n.States}, []any{want.Kind, want.Unit, want.States})
	}
	i := slices.IndexFunc(functions, func(f language.Function) bool { return f.Name == "too_low_gear_floor" })
	if i < 0 || functions[i].Usage != "too_low_gear_floor(number in kt)" || len(functions) != len(schemas.Tables())+len(language.Functions()) {
		t.Errorf("functions: %+v", functions)
	}
}

// A warning of a later pack takes the place of the one of its name, the first as well.
func TestWarningsOfAPack(t *testing.T) {
	t.Parallel()
	set := &RuleSet{}
	for _, w := range []*Warning{{Name: "a"}, {Name: "b"}, {Name: "a", Title: "new"}} {
		set.addWarning(w)
	}
	alike(t, "warnings", []any{len(set.Warnings), set.Warnings[0].Title, set.Warnings[1].Name, set.Warning("a").Title, set.Warning("c") == nil}, []any{2, "new", "b", "new", true})
	for text, cause := range map[string]string{
		"may_be_silenced: airborne":                      `warning "w" needs both may_be_silenced and silenced, or neither`,
		"silenced: gear_horn_cutout":                     `warning "w" needs both may_be_silenced and silenced, or neither`,
		"delay: computed_airspeed":                       "the delay must be a number of seconds that does not change",
		"delay: radio_altitude_ceiling":                  "the delay must be a number of seconds that does not change",
		"may_be_silenced: airborne, silenced: gear_horn": "",
	} {
		delay := "delay: 2, "
		if strings.HasPrefix(text, "delay") {
			delay = ""
		}
		set, err := ParseRules("a.yaml", []byte(packHead+"warnings:\n  - {warning: w, title: t, due: airborne, sounded: gear_horn, "+delay+text+"}\nrules:\n  - {id: a, title: t, meaning: m, basis: common practice, when: gear_horn}\n"))
		var problems schemas.Problems
		switch {
		case cause == "" && err != nil:
			t.Errorf("%s: %v", text, err)
		case cause == "":
			alike(t, "names", set.Warning("w").names(), []string{"airborne", "gear_horn"})
		case !errors.As(err, &problems) || !strings.Contains(problems[0].Cause, cause):
			t.Errorf("%s: %v, want %s", text, err, cause)
		}
	}
}

// The stretches in which a warning sounds, but for those of a test on the stand.
func TestStraysByHand(t *testing.T) {
	t.Parallel()
	a := Audit{Soundings: []Sounding{{Cause: TestOnStand, Start: exactly(1), End: exactly(2)}, {Cause: WithoutCause, Start: exactly(5), End: exactly(7)}, {Cause: CriteriaMet, Start: exactly(9), End: exactly(10)}}}
	alike(t, "without reason", a.withoutReason(), during(5, 7, 9, 10))
	// A warning is due from 10 to 20 s: it is explained where it begins then or up to two seconds before.
	for _, c := range []struct {
		from float64
		want int
	}{{7.9, 1}, {8, 0}, {15, 0}, {20, 0}, {20.1, 1}} {
		heard := during(c.from, 30)
		audit := Audit{Coverage: Evaluated, Warning: &Warning{sounded: expressionOf(t, "gear_horn", language.Condition)}, due: during(10, 20), sounded: heard,
			Soundings: []Sounding{{Cause: WithoutCause, Start: exactly(c.from), End: exactly(30)}}}
		env := newTracks(flightOf(60), nil)
		found := strays([]Audit{audit}, env)
		alike(t, "strays", len(found), c.want)
		if len(found) > 0 {
			alike(t, "stray", []any{found[0].parameter, found[0].where, found[0].why}, []any{"gear_horn", heard, "it comes on, but never with its criteria: check whether its column holds another parameter"})
		}
		audit.Coverage = NotEvaluable
		alike(t, "not evaluable", len(strays([]Audit{audit}, env)), 0)
	}
	braked := flightOf(60, seconds("parking_brake", repeated(20, 0, 5, 1, 36, 0)...), along("ground_speed", 60, straight(0, 20)))
	for n, want := range map[float64]int{5: 0, 4: 1} { // set for so many seconds at rest
		still := flightOf(60, seconds("parking_brake", repeated(20, 0, n, 1, 41-n, 0)...), along("ground_speed", 60, straight(0, 0)))
		still.airborne = readings.Condition{False: during(0, 60)}
		alike(t, "braked at rest", len(strays(nil, newTracks(still, nil))), want)
	}
	found := strays(nil, newTracks(braked, nil))
	if len(found) != 1 || found[0].why != "it is set, but never for 5 s while the aircraft is standing: check whether its column holds another parameter" {
		t.Errorf("a brake set while moving: %+v", found)
	}
	// The lever is at DOWN from 10 s on, and no leg locks: 15 s later they are left behind.
	f := flightOf(60, seconds("gear_lever", append(repeated(10, 0), repeated(51, 2)...)...), seconds("gear_down_locked", append(repeated(50, 0), repeated(11, 1)...)...))
	f.Profile.Legs = []string{"nose", "left", "right"}
	env := newTracks(f, nil)
	alike(t, "left behind", env.leftBehind(during(24.9, 30, 25, 30, 40, 45, 50, 55)), during(25, 30, 40, 45))
	// No longer once the lever has left DOWN, at 40 s.
	lifted := flightOf(60, seconds("gear_lever", repeated(10, 0, 30, 2, 21, 0)...), seconds("gear_down_locked", repeated(61, 0)...))
	lifted.Profile.Legs = f.Profile.Legs
	alike(t, "left behind until the lever is moved", newTracks(lifted, nil).leftBehind(during(39.9, 50, 40.5, 50)), during(39.9, 50))
	// Alternate means selected at 30 s: a leg locks at 50 s, within 30 s, and the lever was moved long before.
	alike(t, "legs follow", env.legsFollow(during(30, 60)), true)
	alike(t, "legs do not follow as late", env.legsFollow(during(19.9, 60)), false)
	alike(t, "legs follow the lever", env.legsFollow(during(20, 60)), false) // within 15 s of its being moved
	alike(t, "the lever was moved before that", env.legsFollow(during(25.1, 60)), true)
	none := flightOf(60)
	none.Profile.Legs = f.Profile.Legs
	alike(t, "no lock recorded", newTracks(none, nil).legsFollow(during(30, 60)), true)
	none.Profile.Legs = []string{"nose"}
	alike(t, "no lock of one leg recorded", newTracks(none, nil).legsFollow(during(30, 60)), true)
	alike(t, "where true", []readings.Spans{env.whereTrue("gear_down_locked"), env.whereTrue("gear_horn")}, []readings.Spans{during(50, 60), nil})
	alike(t, "selected down", []readings.Spans{env.selectedDown(), newTracks(flightOf(60), nil).selectedDown()}, []readings.Spans{during(10, 60), nil})
	own := []schemas.Parameter{{Name: "mine", Kind: schemas.Discrete}}
	env.own = own
	other := env.assuming([]string{"gear_horn_cutout", "computed_airspeed", "gear_lever", "mine"})
	alike(t, "assumed off", []bool{other.off["gear_horn_cutout"], other.off["mine"], other.off["gear_lever"], other.off["computed_airspeed"], other == env}, []bool{true, true, false, false, false})
	alike(t, "its own parameters", len(other.own), 1)
	alike(t, "nothing to assume", env.assuming([]string{"gear_lever"}) == env, true)
	alike(t, "never true", other.Condition("gear_horn_cutout"), readings.Never(during(0, 60)))
}
