package schemas

import (
	"errors"
	"strings"
	"testing"
)

// profileText is a profile with the columns given, from line 8 on, and a part after them.
func profileText(columns, after string) []byte {
	return []byte("schema: downlock profile 1\naircraft: T\ntitle: test\nlegs: [nose, left, right]\nengines: 2\ntime: {column: t}\ncolumns:\n" + columns + "\n" + after)
}

// Lines and columns were counted in the texts; the columns stand on line 8. A list is shown
// by its key.
func TestSourceCellProblems(t *testing.T) {
	t.Parallel()
	flaps := "flaps: {parameters: [flap_handle], detents: [{name: UP, angle: 0, classes: [up]}, {name: \"1\", angle: 5, classes: [takeoff]}]}"
	same := "flaps: {parameters: [flap_handle], detents: [{name: UP, angle: 0, classes: [up], states: [0, up]}, {name: \"1\", angle: 5, classes: [takeoff], states: [\"0.0\"]}]}"
	for _, want := range []struct {
		columns, after string
		line, column   int
		cause, hint    string
	}{
		{"  mach: {column: a, unit: detent}", flaps, 8, 27, "mach has no detents", "flap_handle and flap_angle"},
		{"  flap_handle: {column: a, unit: detent}", "", 8, 34, "the profile lists no detents", "add flaps"},
		{"  flap_handle: {column: a, unit: detent, scale: 2}", flaps, 8, 49, "the value of a detent is its angle", "remove scale"},
		{"  flap_handle: {column: a, unit: detent}", same, 9, 142, `"0.0" names both detent UP and detent 1`, "its own texts"},
		{"  mach: {column: a, unit: '1', points: [[0, 0], [0, 1]]}", "", 8, 49, "without two at one place: 0 follows 0", "sort them"},
		{"  mach: {column: a, unit: '1', points: [[0, 0]]}", "", 8, 32, "is a list of 1, but must have at least 2", ""},
		{"  mach: {column: a, unit: '1', scale: 2, points: [[0, 0], [1, 1]]}", "", 8, 42, "points replace scale and offset", "keep the points"},
		{"  gear_horn: {column: a, true_when: 1, points: [[0, 0], [1, 1]]}", "", 8, 40, "gear_horn is a discrete", "remove them"},
		{"  gear_horn: {column: a, true_above: 1}", "", 8, 38, "levels come in pairs", "both of one pair"},
		{"  gear_horn: {column: a, true_above: 1, false_above: 0}", "", 8, 38, "levels come in pairs", "both of one pair"},
		{"  gear_horn: {column: a, true_above: 1, false_below: 2}", "", 8, 54, "between 1 and 2 would be both", "at most"},
		{"  gear_horn: {column: a, true_below: 2, false_above: 1}", "", 8, 54, "between 1 and 2 would be both", "at least"},
		{"  gear_horn: {column: a, true_below: 1, false_above: 1, true_when: 1}", "", 8, 68, "both given", "keep one"},
		{"  mach: {column: a, unit: '1', true_above: 1, false_below: 1}", "", 8, 44, "mach is continuous, not a discrete", "remove the levels"},
		{"  mach: {column: a, unit: '1', bit: 1}", "", 8, 37, "mach is a number", "the number itself"},
		{"  gear_lever: {column: a, bit: 1, states: {0: UP}}", "", 8, 32, "one bit has only two values", "[lowest, highest]"},
		{"  gear_horn: {column: a, bits: [3, 2], true_when: 1}", "", 8, 26, "the lowest bit, 3, is above the highest, 2", "least significant"},
		{"  gear_horn: {column: a, bits: [2, 3], bit: 1}", "", 8, 26, "bit and bits are both given", "keep one"},
		{"  gear_horn: {column: a, true_when: 1, word: hex}", "", 8, 46, "no bit is given", "add bit"},
		{"  gear_horn: {column: a, bit: 64}", "", 8, 31, "63", ""},
		{"  mach: {column: a}", "long: {parameter: p, value: v}", 8, 3, "mach needs a unit", "add unit: 1"},
		{"  mach: {column: a, offset: 2}", "long: {parameter: p, value: v, unit: u}", 8, 29, "takes its unit from each row", "add unit, or remove offset"},
	} {
		_, err := ParseProfile("p.yaml", profileText(want.columns, want.after))
		var all Problems
		if !errors.As(err, &all) || len(all) != 1 {
			t.Errorf("%s: got %v, want one problem", want.columns, err)
			continue
		}
		p := all[0]
		if p.Line != want.line || p.Column != want.column || !strings.Contains(p.Cause, want.cause) || !strings.Contains(p.Hint, want.hint) {
			t.Errorf("%s: got %v (%s), want %d:%d, %q and %q", want.columns, err, p.Hint, want.line, want.column, want.cause, want.hint)
		}
	}
}

func TestSourceCells(t *testing.T) {
	t.Parallel()
	p, err := ParseProfile("p.yaml", profileText("  flap_handle: {column: ' a', unit: Detent}\n  gear_horn: {column: w, bit: 3}\n  gear_lever: {column: w, bits: [4, 5], states: {0: UP, 1: DOWN}}",
		"flaps: {parameters: [flap_handle], detents: [{name: UP, angle: 0, classes: [up]}, {name: \"1\", angle: 5, classes: [takeoff], states: [1, FIRST]}]}"))
	if err != nil {
		t.Fatal(err)
	}
	if d := p.Flaps.Detents; len(d[0].States) != 1 || d[0].States[0] != "UP" || len(d[1].States) != 2 {
		t.Errorf("detents %+v", d)
	}
	for name, want := range map[string]string{"flap_handle": "a", "gear_horn": "w bit 3", "gear_lever": "w bits 4 to 5"} {
		if got := p.Columns[name][0].Name(); got != want {
			t.Errorf("%s reads %q, want %q", name, got, want)
		}
	}
	if s := p.Columns["gear_horn"][0]; s.TrueWhen[0] != "1" || s.FalseWhen[0] != "0" {
		t.Errorf("a bit is true when %v and false when %v", s.TrueWhen, s.FalseWhen)
	}
}
