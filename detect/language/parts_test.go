package language

import (
	"fmt"
	"slices"
	"testing"
)

// Trees written out by hand: depth, text, kind, name.
func TestParts(t *testing.T) {
	t.Parallel()
	v := &Vocabulary{
		Names: map[string]Type{
			"a": {Kind: Condition}, "b": {Kind: Condition}, "c": {Kind: Condition}, "moment": {Kind: Moments},
			"speed": {Kind: Number, Unit: "kt"}, "limit": {Kind: Number, Unit: "kt", Fixed: true}, "height": {Kind: Number, Unit: "ft"},
			"lever": {Kind: State, States: []string{"UP", "DOWN"}}, "flap": {Kind: Number, Unit: "deg", Held: true},
		},
		Tables: map[string]Table{"floor": {From: "kt", To: "ft"}},
	}
	for _, c := range []struct {
		text string
		want []string
	}{
		{"a", []string{"0 a condition a [a]"}},
		{"a and (b and c)", []string{"0 a and (b and c) condition  [a b c]", "1 a condition a [a]", "1 b condition b [b]", "1 c condition c [c]"}},
		{"a and b or c", []string{"0 (a and b) or c condition  [a b c]", "1 a and b condition  [a b]", "2 a condition a [a]", "2 b condition b [b]", "1 c condition c [c]"}},
		{"not a and not (b or c)", []string{"0 not a and not (b or c) condition  [a b c]", "1 not a condition a [a]",
			"1 not (b or c) condition  [b c]", "2 b or c condition  [b c]", "3 b condition b [b]", "3 c condition c [c]"}},
		{`lever  ==  "UP"`, []string{`0 lever == "UP" condition  [lever]`}},
		{"speed > limit - 5", []string{"0 speed > limit - 5 condition  [speed limit]", "1 speed number speed [speed]",
			"1 limit - 5 number  [limit]", "2 limit number limit [limit]"}},
		{"height < floor(speed)", []string{"0 height < floor(speed) condition  [height floor speed]", "1 height number height [height]",
			"1 floor(speed) number floor [floor speed]", "2 speed number speed [speed]"}},
		{`after(begins(lever == "UP"), 30)`, []string{`0 after(begins(lever == "UP"), 30) condition  [lever]`,
			`1 begins(lever == "UP") moments  [lever]`, `2 lever == "UP" condition  [lever]`}},
		{"often(changes(flap), 3, 10)", []string{"0 often(changes(flap), 3, 10) condition  [flap]", "1 changes(flap) moments  [flap]", "2 flap number flap [flap]"}},
		{"abs(speed) > 3 and speed < 9", []string{"0 abs(speed) > 3 and speed < 9 condition  [speed]", "1 abs(speed) > 3 condition  [speed]",
			"2 abs(speed) number  [speed]", "3 speed number speed [speed]", "1 speed < 9 condition  [speed]", "2 speed number speed [speed]"}},
	} {
		x, err := Compile(c.text, v, Condition)
		if err != nil {
			t.Errorf("%s: %v", c.text, err)
			continue
		}
		var got []string
		for _, p := range x.Parts() {
			got = append(got, fmt.Sprintf("%d %s %s %s %v", p.Depth, p.Text, p.Type.Kind, p.Name, p.Names))
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%s:\ngot  %q\nwant %q", c.text, got, c.want)
		}
	}
}

// The order of strength is that of the documentation: each pair means the same.
func TestPrecedence(t *testing.T) {
	t.Parallel()
	v := &Vocabulary{Names: map[string]Type{"a": {Kind: Condition}, "b": {Kind: Condition}, "c": {Kind: Condition}, "x": {Kind: Number}, "y": {Kind: Number}}}
	for plain, grouped := range map[string]string{
		"a or b and c":       "a or (b and c)",
		"not a and b":        "(not a) and b",
		"x + 2 > y and b":    "((x + 2) > y) and b",
		"x + 2 * 3 > y":      "(x + (2 * 3)) > y",
		"-x * 2 > y":         "((-x) * 2) > y",
		"x - 1 - 2 > y":      "((x - 1) - 2) > y",
		"a and b or c and a": "(a and b) or (c and a)",
	} {
		a, errA := Compile(plain, v, Condition)
		b, errB := Compile(grouped, v, Condition)
		if errA != nil || errB != nil {
			t.Errorf("%s: %v %v", plain, errA, errB)
		} else if fmt.Sprintf("%#v", a.root) != fmt.Sprintf("%#v", b.root) {
			t.Errorf("%s is not %s", plain, grouped)
		}
	}
	if _, err := Compile("not x > 2", v, Condition); err == nil {
		t.Error("not takes x > 2 without parentheses, against what the documentation says")
	}
}
