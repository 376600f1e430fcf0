package language

import (
	"errors"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"downlock/detect/readings"
)

// TestMistakes: the offset is counted by hand, in characters from 0.
func TestMistakes(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name, text string
		want       Kind
		offset     int
		says, hint string
	}{
		{"unknown name", "horn and spead > 200", Condition, 9, `unknown name "spead"`, "did you mean speed?"},
		{"unknown name, nothing near", "zzzzzzzzz > 200", Condition, 0, `unknown name "zzzzzzzzz"`, ""},
		{"a function as a name", "held", Condition, 0, "held is a function", "call it: held("},
		{"unknown function", "hold(horn, 3)", Condition, 0, `unknown function "hold"`, "held"},
		{"unknown function, a table near", "flor(speed) > height", Condition, 0, `unknown function "flor"`, "floor"},
		{"number for condition", "speed", Condition, 0, "this is a number where a condition is needed", "compare it"},
		{"state for condition", "lever", Condition, 0, "this is a state where a condition is needed", `lever == "UP"`},
		{"condition for moments", "horn", Moments, 0, "this is a condition where moments are needed", "begins("},
		{"condition for number", "horn", Number, 0, "this is a condition where a number is needed", ""},
		{"units differ", "speed > height", Condition, 6, "kt > ft: the units differ", "same unit"},
		{"units differ in a sum", "horn or speed + height > 3", Condition, 14, "kt + ft: the units differ", "same unit"},
		{"state against number", "lever > 2", Condition, 6, "cannot compare a state with a number", `"UP"`},
		{"unknown state", `lever == "HALF"`, Condition, 9, `lever has no state "HALF"`, `"UP"`},
		{"unknown state first", `"HALF" == lever`, Condition, 0, `lever has no state "HALF"`, `"UP"`},
		{"state with less than", `lever < "UP"`, Condition, 6, "cannot compare a state with a quoted word using <", "== or !="},
		{"condition compared", "horn == true", Condition, 5, "a condition", "write it alone"},
		{"not of a number", "not speed", Condition, 4, "not needs a condition; this is a number", "compare it"},
		{"minus of a condition", "-horn > 2", Condition, 1, "- needs a number; this is a condition", ""},
		{"sum of a condition", "speed + horn > 2", Condition, 8, "+ needs numbers; this is a condition", ""},
		{"and of a number on the left", "speed and horn", Condition, 0, "and needs a condition on its left", "compare it"},
		{"and of a number on the right", "horn and speed", Condition, 9, "and needs a condition on its right", "compare it"},
		{"product of two curves", "speed * height > 3", Condition, 6, "* needs a plain number on one side", "table"},
		{"product with a unit", "speed * limit > 3", Condition, 6, "* needs a plain number on one side", "table"},
		{"division by a curve", "3 / speed > 3", Condition, 2, "/ needs a plain number on one side", "table"},
		{"remainder", "speed % 3 > 1", Condition, 6, `the operator "%" is not used in rules`, ""},
		{"too few arguments", "held(horn)", Condition, 0, "held takes 2 arguments, not 1", "use held(condition, seconds)"},
		{"wrong argument", "held(speed, 3)", Condition, 5, "held needs a condition here; this is a number", "use held(condition, seconds)"},
		{"seconds that change", "held(horn, height)", Condition, 11, "does not change", "use held(condition, seconds)"},
		{"seconds with another unit", "held(horn, limit)", Condition, 11, "does not change", "use held(condition, seconds)"},
		{"level of another unit", "falls_through(height, limit)", Moments, 22, "the units differ, ft and kt", "same unit"},
		{"table of another unit", "floor(height) > 3", Condition, 6, "floor needs a number in kt", "use floor(number in kt)"},
		{"table of two", "floor(speed, 3) > height", Condition, 0, "floor takes one number, not 2", "use floor(number in kt)"},
		{"steps of what is not held", "changes(speed)", Moments, 8, "held from sample to sample", "flap_handle"},
		{"increases of a state", "increases(lever)", Moments, 10, "increases needs a number", "changes"},
		{"syntax in the middle", "horn and and switch", Condition, 9, `"and" is not expected here`, ""},
		{"nothing after an operator", "horn and", Condition, 7, "the expression ends before it is complete", "both sides"},
		{"bracket not closed", "(horn", Condition, 4, "the expression ends before it is complete", "bracket"},
		{"AND", "horn AND switch", Condition, 5, `unknown word "AND"`, "write and in small letters"},
		{"Or", "horn Or switch", Condition, 5, `unknown word "Or"`, "write or in small letters"},
		{"NOT", "NOT horn", Condition, 0, `unknown word "NOT"`, "write not in small letters"},
		{"AND NOT", "horn and NOT switch", Condition, 9, `unknown word "NOT"`, "write not in small letters"},
		{"a unit behind a number", "height < 1500 ft", Condition, 14, `write the number without a unit, not with "ft"`, "leave the unit out"},
		{"a unit on a number", "height < 1500ft and horn", Condition, 13, `write the number without a unit, not with "ft"`, "leave the unit out"},
		{"a unit within", "speed > 250 kt and horn", Condition, 12, `write the number without a unit, not with "kt"`, "leave the unit out"},
		{"a name behind a number", "speed > 250 horn", Condition, 12, `"horn" is not expected here`, ""},
		{"at the very beginning", "= 250", Condition, 0, `"=" is not expected here`, "write =="},
		{"one equals sign", `lever = "UP"`, Condition, 6, `"=" is not expected here`, "write =="},
		{"the words of another name", "throttles_idle and horn", Condition, 0, `unknown name "throttles_idle"`, ""},
		{"a list", "horn in [1, 2]", Condition, 8, "not used in rules", "downlock rules"},
		{"a choice", "horn ? switch : horn", Condition, 0, "not used in rules", "and, or and not"},
		{"a member", "speed.value > 3", Condition, 6, "not used in rules", "downlock rules"},
		{"after a character of two bytes", `lever == "Ü" or spead > 1`, Condition, 9, `has no state "Ü"`, `"UP"`},
		{"behind characters of two bytes", `"Ü" != lever and horn`, Condition, 0, `has no state "Ü"`, `"UP"`},
		{"empty", "", Condition, 0, "the expression ends before it is complete", ""},
		{"one too long", strings.Repeat("(", 1001) + strings.Repeat(")", 1000), Condition, 0, "more than 2000 characters", "split"},
	} {
		t.Run(c.name, func(t *testing.T) {
			x, err := Compile(c.text, testVocabulary, c.want)
			var mistake *Error
			if !errors.As(err, &mistake) || x != nil {
				t.Fatalf("got %v, %v", x, err)
			}
			if mistake.Offset != c.offset || !strings.Contains(mistake.Cause, c.says) || !strings.Contains(mistake.Hint, c.hint) {
				t.Errorf("at %d: %q (%q), want at %d: %q (%q)", mistake.Offset, mistake.Cause, mistake.Hint, c.offset, c.says, c.hint)
			}
		})
	}
}

// TestUnits: a plain number goes with any unit; the result keeps its own.
func TestUnits(t *testing.T) {
	t.Parallel()
	for text, want := range map[string]Type{
		"speed":               {Kind: Number, Unit: "kt"},
		"speed - limit":       {Kind: Number, Unit: "kt"},
		"limit + 5":           {Kind: Number, Unit: "kt", Fixed: true},
		"1.3 * limit":         {Kind: Number, Unit: "kt", Fixed: true},
		"speed / 2":           {Kind: Number, Unit: "kt"},
		"floor(speed)":        {Kind: Number, Unit: "ft"},
		"abs(height) - 3":     {Kind: Number, Unit: "ft"},
		"-flap":               {Kind: Number, Unit: "deg"},
		"3 - 2":               {Kind: Number, Fixed: true},
		"floor(200) - height": {Kind: Number, Unit: "ft"},
	} {
		x, err := Compile(text, testVocabulary, Number)
		if err != nil {
			t.Errorf("%s: %v", text, err)
			continue
		}
		x.Type.Held = false // whether a step stays one is not this test's matter
		if diff := cmp.Diff(want, x.Type); diff != "" {
			t.Errorf("%s (-want +got):\n%s", text, diff)
		}
	}
}

// TestNames: those used, each once, in order of first use.
func TestNames(t *testing.T) {
	t.Parallel()
	x, err := Compile(`horn and floor(speed) > height and lever == "UP" and speed < limit or horn`, testVocabulary, Condition)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff([]string{"horn", "speed", "floor", "height", "lever", "limit"}, x.Names); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}

// TestOldNames: an old name is read as the present one, unless it is a name of its own.
func TestOldNames(t *testing.T) {
	t.Parallel()
	number := Type{Kind: Number, Unit: "deg"}
	for want, names := range map[string]map[string]Type{
		"stabiliser_trim": {"stabiliser_trim": number},
		"stabilizer_trim": {"stabiliser_trim": number, "stabilizer_trim": number},
	} {
		x, err := Compile("stabilizer_trim > 1", &Vocabulary{Names: names}, Condition)
		if err != nil {
			t.Errorf("%s: %v", want, err)
		} else if diff := cmp.Diff([]string{want}, x.Names); diff != "" {
			t.Errorf("(-want +got):\n%s", diff)
		}
	}
}

// TestNearestFunction: of functions that are as near, the first by name, each time.
func TestNearestFunction(t *testing.T) {
	t.Parallel()
	tables := map[string]Table{}
	for _, name := range []string{"floorb", "floorc", "floord", "floore", "floorf", "floorg", "floorh", "floori"} {
		tables[name] = Table{From: "kt", To: "ft"}
	}
	for range 20 {
		_, err := Compile("floorz(200) > 3", &Vocabulary{Tables: tables}, Condition)
		var mistake *Error
		if !errors.As(err, &mistake) || mistake.Hint != "did you mean floorb?" {
			t.Fatalf("%v, %+v", err, mistake)
		}
	}
}

// flatFlight: 200 kt; 2000 ft falling by 100 ft a second; flap 5 until 10, then
// 30; lever UP until 12; horn from 4 to 7.
func flatFlight() testFlight {
	s := readings.Sampling{Interval: 1, Gap: 3}
	var speed, height, flap []float64
	var lever, horn, switched []uint8
	for i := 0; i <= flightEnd; i++ {
		s.Times = append(s.Times, float64(i))
		speed, height = append(speed, 200), append(height, 2000-100*float64(i))
		flap = append(flap, map[bool]float64{true: 5, false: 30}[i < 10])
		lever = append(lever, map[bool]uint8{true: 0, false: 2}[i < 12])
		horn = append(horn, map[bool]uint8{true: 1}[i >= 4 && i < 7])
		switched = append(switched, 0)
	}
	return testFlight{
		speed: &readings.Line{Sampling: s, Values: speed}, height: &readings.Line{Sampling: s, Values: height},
		flap: readings.NewHeld(s, flap), lever: readings.NewHeld(s, lever), horn: readings.NewHeld(s, horn), switched: readings.NewHeld(s, switched),
	}
}

// TestFunctionsByHand: the nominal spans of each function on flatFlight.
func TestFunctionsByHand(t *testing.T) {
	t.Parallel()
	for text, want := range map[string]readings.Spans{
		"held(horn, 2)":                                  {{Start: 6, End: 7}},
		"lasting(horn, 3)":                               {{Start: 4, End: 7}},
		"lasting(horn, 3.1)":                             nil,
		"after(begins(horn), 2)":                         {{Start: 4, End: 6}},
		"after(ends(horn), 2)":                           {{Start: 7, End: 9}},
		"before(begins(horn), 2)":                        {{Start: 2, End: 4}},
		"before(touch, 5)":                               {{Start: 10, End: 15}},
		"after(falls_through(height, 1250), 1)":          {{Start: 7.5, End: 8.5}},
		"after(rises_through(-height, -1250), 1)":        {{Start: 7.5, End: 8.5}},
		"after(changes(flap), 1)":                        {{Start: 10, End: 11}},
		"after(increases(flap), 1)":                      {{Start: 10, End: 11}},
		"after(decreases(flap), 1)":                      nil,
		"after(changes(lever), 1)":                       {{Start: 12, End: 13}},
		"after(changes(horn), 1)":                        {{Start: 4, End: 5}, {Start: 7, End: 8}},
		"after(either(begins(horn), changes(lever)), 1)": {{Start: 4, End: 5}, {Start: 12, End: 13}},
		"after(last_before(changes(horn), touch), 1)":    {{Start: 7, End: 8}},
		`latched(horn, lever == "DOWN")`:                 {{Start: 4, End: 12}},
		"often(changes(horn), 2, 5)":                     {{Start: 7, End: 9}},
		"often(changes(horn), 2, 3)":                     nil,
		"abs(height - 1000) < 150":                       {{Start: 8.5, End: 11.5}},
		"height < floor(speed)":                          {{Start: 2000/100.0 - (500+10*25/3.0)/100, End: flightEnd}},
		"height < empty(speed)":                          nil,
		"height < absent":                                nil,
		"flap == 30":                                     {{Start: 10, End: flightEnd}},
		"flap != 5":                                      {{Start: 10, End: flightEnd}},
		"speed / 0 > 3":                                  nil,
		"speed * 0 == 0":                                 {{Start: 0, End: flightEnd}},
		"3 > 2":                                          {{Start: 0, End: flightEnd}},
		"false":                                          nil,
	} {
		x, err := Compile(text, testVocabulary, Condition)
		if err != nil {
			t.Errorf("%s: %v", text, err)
			continue
		}
		got := x.Condition(flatFlight()).True
		if len(got) != len(want) {
			t.Errorf("%s: %v, want %v", text, got, want)
			continue
		}
		for i := range got {
			if max(got[i].Start-want[i].Start, want[i].Start-got[i].Start, got[i].End-want[i].End, want[i].End-got[i].End) > 1e-9 {
				t.Errorf("%s: %v, want %v", text, got, want)
			}
		}
	}
}

// TestFunctionList: the list holds every function, and each is used above.
func TestFunctionList(t *testing.T) {
	t.Parallel()
	var names []string
	for _, f := range Functions() {
		names = append(names, f.Name)
		if !strings.HasPrefix(f.Usage, f.Name+"(") || f.Meaning == "" {
			t.Errorf("%+v", f)
		}
	}
	want := []string{"abs", "after", "before", "begins", "changes", "decreases", "either", "ends", "falls_through", "held", "increases", "last_before", "lasting", "latched", "often", "rises_through"}
	if diff := cmp.Diff(want, names); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}

// FuzzCompile: no text makes compiling or evaluating panic.
func FuzzCompile(f *testing.F) {
	for _, text := range []string{
		"", "horn", "not horn and speed > limit", `lever == "UP"`, "held(horn, 3) or lasting(switch, limit)",
		"after(begins(horn), -1)", "often(changes(lever), 1e300, -1e300)", "speed * 1e308 * 1e308 > 0", "speed / 0 == speed * 0",
		"floor(-(speed)) >= height", "latched(horn, switch)", "last_before(touch, touch)", "x?.y[0]", "let a = 1; a", "speed == -9223372036854775808",
	} {
		f.Add(text)
	}
	flight := flatFlight()
	f.Fuzz(func(t *testing.T, text string) {
		for _, kind := range []Kind{Condition, Number, Moments} {
			x, err := Compile(text, testVocabulary, kind)
			var mistake *Error
			if err != nil {
				if !errors.As(err, &mistake) || mistake.Cause == "" || mistake.Offset < 0 || mistake.Offset > len(text) {
					t.Fatalf("%q: %v", text, err)
				}
				continue
			}
			switch kind {
			case Condition:
				x.Condition(flight)
			case Number:
				x.Number(flight, readings.Spans{flight.Window()})
			default:
				x.Moments(flight)
			}
		}
	})
}
