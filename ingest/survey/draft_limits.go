package survey

import (
	"fmt"
	"strings"

	"downlock/schemas"
)

// limits lists the names that no export holds and a rule may read, with unit and
// meaning, for the user to fill in. The words in capitals must be replaced; left as
// they are, they are mistakes.
func (d *draft) limits(suggestions []Suggestion) {
	d.line("")
	d.comment("", "What no export says. DECIDE: fill in, from your own approved manuals and procedures, what your type has, take the comment")
	d.comment("", "marks off, and leave out the rest: the rules that need it are then not evaluable, never without events.")
	d.comment("", "systems: [lever_lock, truck_tilt, body_gear_steering, alternate_extension, emergency_pressure]")
	if parameter := throttleOf(suggestions); parameter != "" {
		d.comment("", "throttle: {parameter: %s, retarded_below: NUMBER}", parameter)
	}
	d.comment("", "values:")
	for _, v := range schemas.Values() {
		number, seen := "NUMBER", ""
		if v.Name == "radio_altitude_ceiling" {
			number, seen = d.ceiling(suggestions)
		}
		d.comment("", "  %s: %s # %s, %s%s", v.Name, number, v.Unit, v.Meaning, seen)
	}
	d.comment("", "tables:")
	for _, t := range schemas.Tables() {
		d.comment("", "  %s: [[NUMBER, NUMBER], [NUMBER, NUMBER]] # %s, %s; %s", t.Name, t.From, t.To, t.Meaning)
	}
	d.comment("", "criteria: # in the rule language, see `downlock rules --language`")
	for _, c := range schemas.Criteria() {
		d.comment("", "  %s: EXPRESSION # %s", c.Name, c.Meaning)
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
			return fmt.Sprintf("%.0f", c.Largest*factor), fmt.Sprintf("; this recording's stays at it for %.0f %% of the samples", 100*c.AtTop)
		}
	}
	return "NUMBER", ""
}
