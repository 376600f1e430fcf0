package survey

import (
	"fmt"
	"slices"
	"strings"

	"downlock/schemas"
)

// limits lists the names that no export holds and a rule may read, with unit and
// meaning, for the user to fill in. The words in capitals must be replaced; left as
// they are, they are mistakes.
func (d *draft) limits(suggestions []Suggestion) {
	d.line("")
	d.comment("", "What no export contains. DECIDE: fill in what your type has, from your own approved manuals and procedures, and remove the comment")
	d.comment("", "marks. Leave out the rest: the rules that need it are then not evaluable, which is not the same as no events.")
	d.worth()
	d.comment("", "systems: [lever_lock, truck_tilt, body_gear_steering, alternate_extension, emergency_pressure]")
	if parameter := throttleOf(suggestions); parameter != "" {
		d.comment("", "throttle: {parameter: %s, retarded_below: NUMBER}", parameter)
	}
	d.comment("", "values:")
	values, tables, criteria := schemas.Values(), schemas.Tables(), schemas.Criteria()
	slices.SortStableFunc(values, func(a, b schemas.Value) int { return d.rank(a.Name) - d.rank(b.Name) })
	for _, v := range values {
		number, seen := "NUMBER", ""
		if v.Default != 0 {
			number, seen = fmt.Sprintf("%g", v.Default), "; this is the default"
		}
		if v.Name == "radio_altitude_ceiling" {
			number, seen = d.ceiling(suggestions)
		}
		d.comment("", "  %s: %s # %s, %s%s", v.Name, number, v.Unit, v.Meaning, seen+d.group(v.Name))
	}
	d.comment("", "tables:")
	for _, t := range tables {
		d.comment("", "  %s: [[NUMBER, NUMBER], [NUMBER, NUMBER]] # %s, %s; %s%s", t.Name, t.From, t.To, t.Meaning, d.group(t.Name))
	}
	d.comment("", "criteria: # in the rule language, see `downlock rules --language`; these are those of the invented type: DECIDE whether yours are the same")
	for _, c := range criteria {
		d.comment("", "  %s: %s # %s%s", c.Name, quoted(usualCriterion(c)), c.Meaning, d.group(c.Name))
	}
}

// throttleOf returns the family of parameters that shows where throttles are, or ""
// where none was recognised.
func throttleOf(suggestions []Suggestion) string {
	for _, family := range []string{"throttle_angle", "engine_n1", "engine_torque"} {
		for _, s := range suggestions {
			if s.Confidence != Doubtful && strings.HasPrefix(s.Parameter, family+"_") {
				return family
			}
		}
	}
	return ""
}

// ceiling returns the end of the radio altitude's range in the recording, in ft.
func (d *draft) ceiling(suggestions []Suggestion) (number, seen string) {
	for _, s := range suggestions {
		c := d.survey.Column(s.Column)
		if s.Parameter != "radio_altitude" || c == nil || !c.looksLikeRadioAltitude() {
			continue
		}
		if factor, err := schemas.UnitFactor(s.Unit, "ft"); err == nil {
			return fmt.Sprintf("%.0f", c.Largest*factor), fmt.Sprintf("; in this recording it stays at this value for %.0f %% of the samples", 100*c.AtTop)
		}
	}
	return "NUMBER", ""
}

// worth lists the groups of entries to fill in with the rules they open.
func (d *draft) worth() {
	if len(d.openings) > 0 {
		d.comment("", "# What to fill in first, in this order. No rule for which the columns are there needs an entry without a group.")
	}
	for n, o := range d.openings {
		d.comment("", "#   group %d, %s: %s (for %s)", n+1, o.Said, strings.Join(o.Fill, ", "), strings.Join(o.Rules, ", "))
	}
}

// group names the group of an entry, "" for none.
func (d *draft) group(name string) string {
	if n := d.rank(name); n < len(d.openings) {
		return fmt.Sprintf("; group %d", n+1)
	}
	return ""
}

// rank returns the place of an entry's group.
func (d *draft) rank(name string) int {
	for n, o := range d.openings {
		if slices.Contains(o.Fill, name) {
			return n
		}
	}
	return len(d.openings)
}

// usualCriterion returns the text a criterion is written with: that of the invented
// type, or else the usual one.
func usualCriterion(c schemas.Criterion) string {
	if shipped, err := schemas.ShippedProfile(); err == nil && shipped.Criteria[c.Name] != "" {
		return strings.TrimSpace(shipped.Criteria[c.Name])
	}
	if c.Default != "" {
		return strings.TrimSpace(c.Default)
	}
	return "EXPRESSION"
}
