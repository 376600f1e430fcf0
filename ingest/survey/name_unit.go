package survey

import (
	"regexp"
	"slices"
	"strconv"
	"strings"

	"downlock/schemas"
)

// bareName removes the unit from the end of a name.
func bareName(name string) string {
	bare, _ := splitUnit(name)
	return bare
}

// splitUnit splits the unit from the end of a name: "altitude (ft)", "altitude [ft]",
// altitude_ft, altitude-ft, "ALTITUDE FT",
// "Altitude, ft". unit is "" where the name ends in none.
func splitUnit(name string) (bare, unit string) {
	name = strings.TrimSpace(name)
	for _, brackets := range []string{"()", "[]"} {
		open := strings.LastIndexByte(name, brackets[0])
		if open > 0 && strings.HasSuffix(name, brackets[1:]) {
			if unit, known := schemas.UnitName(name[open+1 : len(name)-1]); known && !isIndex(name[open+1:len(name)-1]) {
				return strings.TrimSpace(name[:open]), unit
			}
		}
	}
	if comma := strings.LastIndexByte(name, ','); comma > 0 {
		if unit, known := schemas.UnitName(name[comma+1:]); known {
			return name[:comma], unit
		}
	}
	d := words()
	cut := strings.LastIndexAny(name, marks)
	if cut <= 0 || cut == len(name)-1 {
		return name, ""
	}
	last := strings.ToLower(name[cut+1:])
	if before := strings.LastIndexAny(name[:cut], marks); before > 0 {
		if unit, ok := d.UnitPairs[strings.ToLower(name[before+1:cut])+" "+last]; ok {
			return name[:before], unit
		}
	}
	if slices.Contains(d.UnitEndings, last) || slices.Contains(d.LetterUnits, last) && name[cut] != ' ' {
		unit, _ = schemas.UnitName(unitWords.Replace(last))
		return strings.TrimSpace(name[:cut]), unit
	}
	return name, ""
}

// marks part the pieces of a name.
const marks = "_-. "

// unitWords spells out the endings that are no spelling of a unit elsewhere.
var unitWords = strings.NewReplacer("mps", "m/s")

func isIndex(text string) bool {
	_, err := strconv.Atoi(text)
	return err == nil
}

var index = regexp.MustCompile(`\[(\d)\]`)

// counted turns the indexes of a name, such as engine[0], into numbers from 1.
// fromZero says that the export counts from 0.
func counted(name string, fromZero bool) string {
	return index.ReplaceAllStringFunc(name, func(found string) string {
		n, _ := strconv.Atoi(found[1:2])
		if fromZero {
			n++
		}
		return " " + strconv.Itoa(n) + " "
	})
}

// statedUnit returns the unit in the export's row of units or in the column's name.
// stated is what the export says where that is a unit not known here.
func statedUnit(c *Column) (unit, stated string) {
	if text := strings.Trim(strings.TrimSpace(c.Unit), "[]()"); text != "" {
		if unit, known := schemas.UnitName(text); known {
			return unit, ""
		}
		return "", text
	}
	_, unit = splitUnit(c.Name)
	return unit, ""
}

// believe puts the unit that the export states before that of a guess. It returns
// false when the stated unit measures something else.
func (s *Suggestion) believe(c *Column) bool {
	p, _ := schemas.LookupParameter(s.Parameter)
	unit, stated := statedUnit(c)
	if unit == "" || unit == "1" || !p.Numeric() {
		return stated == "" || !p.Numeric()
	}
	if _, err := schemas.UnitFactor(unit, p.Unit); err != nil {
		return false
	}
	if unit != s.Unit || s.Scale != 0 {
		s.Unit, s.Scale = unit, 0
	}
	s.evidence("the export states the unit %s", unit)
	return true
}
