package schemas

import (
	"errors"
	"fmt"
	"strings"
	"testing"
)

// told is what a user is told of one problem.
type told struct{ cause, hint string }

// checkMistakes parses a text without its marks, ^, and wants the problems in their order, each
// at a mark, with the source line.
func checkMistakes(t *testing.T, text string, parse func(clean []byte) error, want ...told) {
	t.Helper()
	clean, all := strings.ReplaceAll(text, "^", ""), Problems(nil)
	if err := parse([]byte(clean)); err != nil && !errors.As(err, &all) {
		t.Errorf("%s\n%v is no problem of a file", text, err)
		return
	}
	var got, wanted []string
	for _, p := range all {
		got = append(got, fmt.Sprintf("%d:%d: %s (%s)\n%s", p.Line, p.Column, p.Cause, p.Hint, p.Source))
	}
	parts := strings.SplitAfter(text, "^")
	for i, w := range want {
		before := strings.ReplaceAll(strings.Join(parts[:i+1], ""), "^", "")
		line := strings.Count(before, "\n")
		column := len([]rune(before[strings.LastIndex(before, "\n")+1:])) + 1
		wanted = append(wanted, fmt.Sprintf("%d:%d: %s (%s)\n%s", line+1, column, w.cause, w.hint, strings.Split(clean, "\n")[line]))
	}
	if len(parts) != len(want)+1 {
		t.Fatalf("%d marks for %d problems in\n%s", len(parts)-1, len(want), text)
	}
	if g, w := strings.Join(got, "\n"), strings.Join(wanted, "\n"); g != w {
		t.Errorf("%s\ngot\n%s\nwant\n%s", text, g, w)
	}
}

func parseProfileText(text []byte) error {
	_, err := ParseProfile("p.yaml", text)
	return err
}

// The rows are the columns of a profile and what follows them.
func TestProfileMistakes(t *testing.T) {
	t.Parallel()
	const pairs = "levels come in pairs: true_above with false_below, or true_below with false_above"
	both := told{pairs, "give both of one pair; they may be the same number"}
	turns := told{"the values change direction: they must rise throughout or fall throughout", "check whether a figure is mistyped"}
	flaps := func(detents string) string { return "flaps: {parameters: [flap_handle], detents: [" + detents + "]}" }
	limit := func(points string) string {
		return "limits: {gear_extended_speed: {by: pressure_altitude, points: " + points + "}}"
	}
	for _, c := range []struct {
		columns, after string
		want           []told
	}{
		{"  ^machh: {column: a, unit: '1'}\n  ^gear_horm: {column: b, true_when: 1}", "", []told{ // in the order of the file, not of their names
			{`unknown parameter "machh"`, "did you mean mach?"}, {`unknown parameter "gear_horm"`, "did you mean gear_horn?"}}},
		{"  mach: {column: a, unit: '1', ^samples: [b, c]}", "", []told{{"mach has both column and samples", "keep column where a row has one sample, samples where it has several"}}},
		{"  mach: {samples: [a, b, ^a, ^b], unit: '1'}", "", []told{{`mach: column "a" appears twice`, "name each column of the row once, in the order of its samples"},
			{`mach: column "b" appears twice`, "name each column of the row once, in the order of its samples"}}},
		{"  ^mach: {unit: '1'}", "", []told{{"columns.mach has none of the entries column, samples", "add one of them"}}},
		{"  mach: {column: a, unit: '1', ^xyzzyxyzzy: 1}", "flaps: {^q: 1, parameters: [flap_handle], detents: [{name: A, angle: 0, classes: [up]}, {name: B, angle: 1, classes: [^landin]}]}", []told{
			{`columns.mach has no entry "xyzzyxyzzy"`, "it may have accuracy, allowed_gap, bit, bits, column, even_with, false_above, false_below, false_when, odd_with, offset, points, range, samples, scale, stated_unit, states, time_offset, true_above, true_below, true_when, unit, word"},
			{`flaps has no entry "q"`, "it may have detents, parameters, tolerance"},
			{`flaps.detent 2, class 1 must be one of "up", "takeoff", "intermediate", "landing"`, "did you mean landing?"}}},
		{"  mach: {column: a, offset: ^2}", "long: {parameter: p, value: v, unit: u}", []told{{"mach takes its unit from each row, and offset needs one that is the same for all", "add unit, or remove offset"}}},
		{"  gear_horn: {column: a, true_when: 1, ^states: {a: UP}}", "", []told{{"gear_horn is a discrete and has no states", "remove them"}}},
		{"  mach: {column: a, unit: '1', true_when: ^1, false_when: 0}", "", []told{{"mach is continuous, not a discrete", "remove true_when and false_when"}}},
		{"  mach: {column: a, unit: '1', ^range: [1, 1]}", "", []told{{"the range is empty", "give [smallest, largest]"}}},
		{"  gear_horn: {column: a, true_above: ^1}", "", []told{both}},
		{"  gear_horn: {column: a, false_below: ^1}", "", []told{both}},
		{"  gear_horn: {column: a, true_below: ^1}", "", []told{both}},
		{"  gear_horn: {column: a, false_above: ^1}", "", []told{both}},
		{"  gear_horn: {column: a, false_above: 1, false_below: ^0}", "", []told{both}},
		{"  gear_horn: {column: a, true_below: ^1, false_below: 0}", "", []told{both}},
		{"  gear_horn: {column: a, true_below: 1, true_above: ^2}", "", []told{both}},
		{"  gear_horn: {column: a, true_above: ^1, false_below: 1, false_above: 1}", "", []told{both}},
		{"  gear_horn: {column: a, false_below: 1, true_below: ^1, false_above: 1}", "", []told{both}},
		{"  gear_horn: {column: a, true_above: 2, false_below: 1, true_when: ^1, false_when: 0}", "", []told{{"true_when and levels are both given", "keep one of the two"}}},
		{"  gear_horn: {column: a, true_above: 2, false_below: ^2.5}", "", []told{{"numbers between 2 and 2.5 would be both true and false", "false_below is at most true_above"}}},
		{"  gear_horn: {samples: [a, b], odd_with: ^c, true_when: 1}", "", []told{{"a pair has two columns with words for true and false", "remove samples and levels, or the pair"}}},
		{"  mach: {column: m, unit: '1'}", flaps("{name: A, angle: 10, classes: [up]}, {name: B, angle: ^10, classes: [up]}, {name: C, angle: ^9.5, classes: [up]}"), []told{
			{"detents must come in order of angle", "sort them, smallest first"}, {"detents must come in order of angle", "sort them, smallest first"}}},
		{"  flap_handle: {column: f, unit: detent}", flaps("{name: \"5\", angle: 5, classes: [up]}, {name: ^\"5.0\", angle: 10, classes: [up]}"), []told{
			{`"5.0" names both detent 5 and detent 5.0`, "give each detent its own texts under states"}}},
		{"  mach: {column: m, unit: '1'}", flaps("{name: A, angle: 5, classes: [up], states: [one]}, {name: B, angle: 10, classes: [up], ^states: [ONE, two]}"), []told{
			{`"ONE" names both detent A and detent B`, "give each detent its own texts under states"}}},
		{"  mach: {column: m, unit: '1'}", flaps("{name: \"5\", angle: 5, classes: [up]}, {name: \"5.0\", angle: 10, classes: [up]}"), nil}, // no column names detents
		{"  mach: {column: m, unit: '1'}", "criteria: {^takeoff_thrustt: gear_horn}\ntables: {^slat_schedul: [[0, 0], [1, 1]]}", []told{
			{`unknown criterion "takeoff_thrustt"`, "did you mean takeoff_thrust?"}, {`unknown table "slat_schedul"`, "did you mean slat_schedule?"}}},
		{"  mach: {column: m, unit: '1'}", limit("[[0, 5], [1, 6], ^[2, 5]]"), []told{turns}},
		{"  mach: {column: m, unit: '1'}", limit("[[0, 5], ^[1, 4], [2, 6]]"), []told{turns}},
		{"  mach: {column: m, unit: '1'}", limit("[[0, 5], ^[1, 5.5], [2, 4]]"), []told{turns}},
		{"  mach: {column: m, unit: '1'}", limit("[[0, 5], [1, 6], ^[2, 5.5], [3, 7]]"), []told{turns}},
		{"  mach: {column: m, unit: '1'}", limit("[[0, 5], [1, 5.5], [2, 5.5], [3, 7]]"), nil},
		{"  mach: {column: m, unit: '1'}", limit("[[0, 7], [1, 6.5], [2, 6.5], [3, 5]]"), nil},
		{"  mach: {column: m, unit: '1'}", "tables: {slat_schedule: [[0, 0], ^[1, -0.5], [2, 1]]}", []told{{"the second numbers must not fall", "a floor that falls with airspeed is not supported"}}},
		{"  mach: {column: m, unit: '1'}", "tables: {slat_schedule: [[0, 0], [1, 0], [2, 1]]}", nil},
	} {
		checkMistakes(t, string(profileText(c.columns, c.after)), parseProfileText, c.want...)
	}
	checkMistakes(t, "schema: downlock profile 1\naircraft: T\ntitle: test\nlegs: [nose, left, right]\nengines: 2\n^time: {unit: s}\ncolumns: {mach: {column: m, unit: '1'}}\n", parseProfileText,
		told{"time has none of the entries column, date, clock, utc", "add one of them"})
}

// What the rows above just miss is read, as it is written.
func TestUsualSources(t *testing.T) {
	t.Parallel()
	p, err := ParseProfile("p.yaml", profileText(strings.Join([]string{
		"  gear_horn: {column: w, bit: 3, true_when: 0, false_when: 1}",
		"  mach: {samples: [' m1', m2, 'm3 '], unit: '1', scale: 2, range: [0.5, 1]}",
		"  gear_lever: {column: l, states: {a: UP}}",
		"  nose_gear_down_locked: {column: ' n', true_above: 2, false_below: 2}",
		"  left_gear_down_locked: {column: n, true_below: 2, false_above: 2}",
		"  right_gear_down_locked: {column: n, true_when: 1, odd_with: ' o '}",
		"  weight_on_wheels: {column: n, true_when: 1, even_with: ' e ', bit: 0}",
		"  flap_handle: {column: f, unit: ' Detent'}",
	}, "\n"), "long: {parameter: p, value: v, unit: u}\nflaps: {parameters: [flap_handle], detents: [{name: A, angle: 0, classes: [up]}, {name: B, angle: 0.5, classes: [up]}]}"))
	if err != nil {
		t.Fatal(err)
	}
	for name, want := range map[string]string{
		"gear_horn": "w bit 3", "mach": "m1 … m3", "nose_gear_down_locked": "n", "right_gear_down_locked": "n other than o", "weight_on_wheels": "n bit 0 same as e",
	} {
		if got := p.Columns[name][0].Name(); got != want {
			t.Errorf("%s reads %q, want %q", name, got, want)
		}
	}
	if s := p.Columns["gear_horn"][0]; s.TrueWhen[0] != "0" || s.FalseWhen[0] != "1" || s.Scale != 1 || p.Columns["mach"][0].Scale != 2 {
		t.Errorf("a bit is true when %v and false when %v, scale %v", s.TrueWhen, s.FalseWhen, s.Scale)
	}
	if s := p.Columns["flap_handle"][0]; s.Unit != DetentUnit {
		t.Errorf("the unit of detents is %q", s.Unit)
	}
	if low, high, ok := (WordBits{}).Field(); low != 0 || high != 0 || ok {
		t.Errorf("no bits are %d to %d, %v", low, high, ok)
	}
	for _, c := range []struct {
		pair   Pair
		column string
		even   bool
	}{{Pair{}, "", false}, {Pair{OddWith: " b "}, "b", false}, {Pair{EvenWith: " b "}, "b", true}} {
		if column, even := c.pair.Partner(); column != c.column || even != c.even {
			t.Errorf("%+v: %q, %v", c.pair, column, even)
		}
	}
}
