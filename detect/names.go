package detect

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"sync"

	"downlock/detect/language"
	"downlock/detect/readings"
	"downlock/schemas"
)

// Name is one name of the rule language, for its documentation.
type Name struct {
	Name, Kind, Unit, Meaning string
	States                    []string
}

// derived is a name of the rule language that is worked out from parameters
// and the profile.
type derived struct {
	kind    language.Kind
	unit    string
	meaning string
	// needs lists the parameters and values missing on this flight, in plain words, and the
	// substitutes that are used.
	needs     func(*Tracks) (missing, fallbacks []string)
	condition func(*Tracks) readings.Condition
	number    func(*Tracks, readings.Spans) readings.Number
	moments   func(*Tracks) []readings.Moment
}

// The two tables refer to each other through the functions in them, so they are
// made when first asked for.
var (
	derivedOnce, vocabularyOnce sync.Once
	derivedTable                map[string]derived
	vocabularyTable             *language.Vocabulary
)

func derivedNames() map[string]derived {
	derivedOnce.Do(func() {
		derivedTable = map[string]derived{}
		addGearNames(derivedTable)
		addFlapNames(derivedTable)
		addThrottleNames(derivedTable)
		addEngineNames(derivedTable)
		addBrakeNames(derivedTable)
		addOperatingSpeed(derivedTable)
		addBounceName(derivedTable)
		addFlightNames(derivedTable)
	})
	return derivedTable
}

type combination func([]readings.Condition, readings.Spans) readings.Condition

func addGearNames(names map[string]derived) {
	add := func(name, suffix, combined, meaning string, legs func([]string) []string, how combination) {
		names[name] = derived{
			kind: language.Condition, meaning: meaning,
			needs: func(t *Tracks) (missing, fallbacks []string) {
				_, missing, fallbacks = t.legs(suffix, combined, legs)
				return missing, fallbacks
			},
			condition: func(t *Tracks) readings.Condition {
				parameters, missing, _ := t.legs(suffix, combined, legs)
				if len(missing) > 0 {
					return readings.Unknown(t.windows())
				}
				var cs []readings.Condition
				for _, p := range parameters {
					cs = append(cs, t.flight.signals.Discrete(p, t.windows()))
				}
				if len(t.unrecordedLegs(suffix, combined, legs)) == 0 {
					return how(cs, t.windows())
				}
				return open(how, cs, t.windows())
			},
		}
	}
	all := func(legs []string) []string { return legs }
	main := func(legs []string) []string {
		return slices.DeleteFunc(slices.Clone(legs), func(l string) bool { return l == "nose" })
	}
	add("gear_down_locked", "_gear_down_locked", "gear_down_locked", "every leg of the type is down and locked", all, readings.Every)
	add("any_gear_down_locked", "_gear_down_locked", "gear_down_locked", "at least one leg of the type is down and locked", all, readings.Some)
	add("gear_up_locked", "_gear_up_locked", "gear_up_locked", "every leg of the type is up and locked", all, readings.Every)
	add("any_gear_up_locked", "_gear_up_locked", "gear_up_locked", "at least one leg of the type is up and locked", all, readings.Some)
	add("gear_door_closed", "_gear_door_closed", "gear_door_closed", "every gear door of the type is closed", all, readings.Every)
	add("main_strut_compressed", "_strut_compressed", "weight_on_wheels", "at least one main strut is compressed", main, readings.Some)
	add("any_strut_compressed", "_strut_compressed", "weight_on_wheels", "at least one strut is compressed", all, readings.Some)
}

// open combines the legs that are recorded. The usual reading goes by them; anything the
// others could change is not certain.
func open(how combination, cs []readings.Condition, windows readings.Spans) readings.Condition {
	c := how(cs, windows)
	other := readings.Unknown(windows)
	either := how(append(slices.Clone(cs), other), windows)
	c.Certain, c.Possible = either.Certain, either.Possible
	return c
}

// unrecordedLegs lists the parameters of legs that are not recorded where others
// are, and no combined one stands for all.
func (t *Tracks) unrecordedLegs(suffix, combined string, which func([]string) []string) (missing []string) {
	if t.flight.signals.Has(combined) {
		return nil
	}
	for _, leg := range which(t.flight.Profile.Legs) {
		if name := leg + suffix; !t.flight.signals.Has(name) {
			missing = append(missing, t.absent(name))
		}
	}
	return missing
}

// legs finds the parameters of each leg, or the combined one in their place. Where
// only some legs are recorded these are used, and the others are a fallback's note:
// what rests on them is evaluated in part.
func (t *Tracks) legs(suffix, combined string, which func([]string) []string) (parameters, missing, fallbacks []string) {
	for _, leg := range which(t.flight.Profile.Legs) {
		name := leg + suffix
		if t.flight.signals.Has(name) {
			parameters = append(parameters, name)
		} else {
			missing = append(missing, t.absent(name))
		}
	}
	if len(missing) > 0 && t.flight.signals.Has(combined) {
		return []string{combined}, nil, []string{fmt.Sprintf("one combined signal used, %s; no per-leg signals", combined)}
	}
	if len(parameters) > 0 && len(missing) > 0 {
		return parameters, nil, []string{strings.Join(missing, "; ") + partlyNote}
	}
	return parameters, missing, nil
}

// partlyNote ends the note of a fallback that leaves part of the aircraft out.
const partlyNote = "; only the others are used"

func addThrottleNames(names map[string]derived) {
	add := func(name, meaning string, how combination) {
		names[name] = derived{
			kind: language.Condition, meaning: meaning,
			needs: func(t *Tracks) (missing, fallbacks []string) {
				if t.flight.Profile.Throttle.Parameter == "" {
					return []string{noThrottle}, nil
				}
				for i := 1; i <= t.flight.Profile.Engines; i++ {
					if name := t.throttleParameter(i); !t.flight.signals.Has(name) {
						missing = append(missing, t.absent(name))
					}
				}
				return missing, nil
			},
			condition: func(t *Tracks) readings.Condition {
				if t.flight.Profile.Throttle.Parameter == "" || t.flight.Profile.Engines == 0 {
					return readings.Unknown(t.windows())
				}
				var cs []readings.Condition
				for i := 1; i <= t.flight.Profile.Engines; i++ {
					cs = append(cs, t.retarded(i))
				}
				return how(cs, t.windows())
			},
		}
	}
	add("any_throttle_retarded", "at least one throttle is retarded, as the profile defines it", readings.Some)
	add("all_throttles_retarded", "every throttle is retarded, as the profile defines it", readings.Every)
}

// throttleParameter is the parameter by which the profile judges the throttle of an
// engine (from 1), "" for none.
func (t *Tracks) throttleParameter(engine int) string {
	if t.flight.Profile.Throttle.Parameter == "" {
		return ""
	}
	return fmt.Sprintf("%s_%d", t.flight.Profile.Throttle.Parameter, engine)
}

// retarded is where the throttle of an engine is retarded.
func (t *Tracks) retarded(engine int) readings.Condition {
	return t.flight.signals.Compare(t.throttleParameter(engine), readings.Below, t.flight.Profile.Throttle.RetardedBelow, t.windows())
}

// Language lists every name a rule may use, in order of name, with parameters that packs
// declare.
func Language(own []schemas.Parameter) (names []Name, functions []language.Function) {
	for name, d := range derivedNames() {
		names = append(names, Name{Name: name, Kind: string(d.kind), Unit: d.unit, Meaning: d.meaning})
	}
	for _, p := range slices.Concat(schemas.Parameters(), own) {
		if _, isDerived := derivedNames()[p.Name]; !isDerived {
			t := parameterType(p)
			kind := string(t.Kind)
			if t.Held {
				kind = "held " + kind
			}
			names = append(names, Name{Name: p.Name, Kind: kind, Unit: t.Unit, Meaning: p.Meaning, States: t.States})
		}
	}
	for _, v := range schemas.Values() {
		kind := "value of the profile"
		if v.Limit {
			kind = "value or limit of the profile"
		}
		names = append(names, Name{Name: v.Name, Kind: kind, Unit: v.Unit, Meaning: v.Meaning})
	}
	for _, t := range schemas.Tables() {
		functions = append(functions, language.Function{Name: t.Name, Usage: fmt.Sprintf("%s(number in %s)", t.Name, t.From), Meaning: t.Meaning})
	}
	slices.SortFunc(names, func(a, b Name) int { return strings.Compare(a.Name, b.Name) })
	return names, append(functions, language.Functions()...)
}

func parameterType(p schemas.Parameter) language.Type {
	switch p.Kind {
	case schemas.Discrete:
		return language.Type{Kind: language.Condition}
	case schemas.State:
		return language.Type{Kind: language.State, States: p.States}
	}
	return language.Type{Kind: language.Number, Unit: p.Unit, Held: p.Kind == schemas.Step}
}

// vocabulary is what expressions are checked against.
func vocabulary() *language.Vocabulary {
	vocabularyOnce.Do(func() {
		v := &language.Vocabulary{Names: map[string]language.Type{}, Tables: map[string]language.Table{}}
		for _, p := range schemas.Parameters() {
			v.Names[p.Name] = parameterType(p)
		}
		for _, x := range schemas.Values() {
			v.Names[x.Name] = language.Type{Kind: language.Number, Unit: x.Unit, Fixed: !x.Limit}
		}
		for _, t := range schemas.Tables() {
			v.Tables[t.Name] = language.Table{From: t.From, To: t.To}
		}
		for name, d := range derivedNames() {
			v.Names[name] = language.Type{Kind: d.kind, Unit: d.unit}
		}
		vocabularyTable = v
	})
	return vocabularyTable
}

// withoutCriteria is a copy of the vocabulary, with the profile's own parameters, without
// its criteria: none can refer to itself or to a later one.
func withoutCriteria(own []schemas.Parameter) *language.Vocabulary {
	v := &language.Vocabulary{Names: maps.Clone(withOwn(own).Names), Tables: vocabulary().Tables}
	for _, c := range schemas.Criteria() {
		delete(v.Names, c.Name)
	}
	return v
}
