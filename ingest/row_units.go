package ingest

import (
	"fmt"
	"strings"

	"downlock/schemas"
)

// rowUnit is the unit a channel takes from the rows of a long export.
type rowUnit struct {
	text   string  // of the row before
	factor float64 // from it to the unit of the channel's source
	taken  bool    // the source had none
	other  string  // another than that taken, in a later row
	mark   int     // numbers before the row
}

// believe takes the unit of a row and returns the factor from it to the unit of the
// channel's source. The first row gives the unit where the profile states none. Where it
// states another than the row, cause says so: one of the two is wrong, and nobody here can
// tell which.
func (c *channel) believe(text []byte) (factor float64, cause, hint string) {
	if !c.plain {
		return 1, "", ""
	}
	if c.unit.factor != 0 && string(text) == c.unit.text {
		return c.unit.factor, "", ""
	}
	spelling := bareUnit(text)
	if spelling == "" || isFiller([]byte(spelling)) {
		if c.source.Unit == "" || c.unit.taken {
			return 1, fmt.Sprintf("column %q has no unit in this row, and the profile gives none", c.source.Column), "add unit to " + c.parameter.Name + " in the profile, or have the export write it in every row"
		}
		return 1, "", ""
	}
	if c.source.Unit == "" {
		if cause := c.takeUnit(spelling); cause != "" {
			return 1, cause, "give the export a known unit, or remove unit under long and give it in the profile"
		}
	}
	factor, err := schemas.UnitFactor(spelling, c.source.Unit)
	switch {
	case err != nil:
		return 1, fmt.Sprintf("column %q: %v", c.source.Column, err), "check whether the unit is mistyped"
	case !c.unit.taken && factor != 1:
		return 1, fmt.Sprintf("column %q is in %s here, but the profile says %s", c.source.Column, spelling, c.source.Unit),
			"remove unit from " + c.parameter.Name + " in the profile: then the unit of each row is used"
	}
	if factor != 1 && c.unit.other == "" {
		c.unit.other = spelling
	}
	c.unit.text, c.unit.factor = string(text), factor
	return factor, "", ""
}

// takeUnit makes a unit that the export states that of the channel's source.
func (c *channel) takeUnit(spelling string) (cause string) {
	if _, err := schemas.UnitFactor(spelling, c.parameter.Unit); err != nil {
		return fmt.Sprintf("column %q: %v", c.source.Column, err)
	}
	source := *c.source
	source.Unit, _ = schemas.UnitName(spelling)
	c.source, c.unit.taken = &source, true
	return ""
}

// scaleLast converts the samples a row has added, from the row's unit.
func (c *channel) scaleLast(before int, factor float64) {
	if factor != 1 {
		for i := before; i < len(c.numbers); i++ {
			c.numbers[i] = tidy(c.numbers[i] * factor)
		}
	}
}

// wantUnits finds the channels whose unit neither the profile nor the export states, and
// notes those with several.
func (r *reading) wantUnits() {
	for _, c := range r.mapping.channels {
		if c.unit.other != "" {
			r.notes = append(r.notes, fmt.Sprintf("column %q is in %s and in %s: the unit of each row was used", c.source.Column, c.source.Unit, c.unit.other))
		}
		if c.problem == nil && c.plain && c.source.Unit == "" && c.whole() > 0 {
			c.problem = r.problem(fmt.Sprintf("column %q has no unit: the profile leaves it to column %q of long exports, and this export has none", c.source.Column, strings.TrimSpace(r.profile.Long.Unit)),
				fmt.Sprintf("in %s add unit to %s", r.profileName(), c.parameter.Name))
		}
	}
}
