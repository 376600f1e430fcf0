package schemas

import (
	"fmt"
	"strconv"
	"strings"
)

// DetentUnit is the unit of a flap source whose cells name detents: the States of
// Flaps.Detents. The value is the detent's angle.
const DetentUnit = "detent"

// Levels read a discrete from a number as the export writes it: true above one level
// and false below another, or the mirror of it. In between the last known state holds.
type Levels struct {
	TrueAbove  *float64 `yaml:"true_above"`
	FalseBelow *float64 `yaml:"false_below"`
	TrueBelow  *float64 `yaml:"true_below"`
	FalseAbove *float64 `yaml:"false_above"`
}

// HasLevels reports whether any level is given.
func (l Levels) HasLevels() bool {
	return l.TrueAbove != nil || l.FalseBelow != nil || l.TrueBelow != nil || l.FalseAbove != nil
}

// WordBits take a field out of a packed word: one bit, or those from the lowest to the
// highest; 0 is the least significant. The cell is then the field's number. Word says
// how words without 0x are written: decimal or hex; "" is decimal, as far as that is
// beyond doubt.
type WordBits struct {
	Bit  *int
	Bits *[2]int
	Word string
}

// Field returns the lowest and the highest bit; ok is false where none are given.
func (w WordBits) Field() (low, high int, ok bool) {
	switch {
	case w.Bit != nil:
		return *w.Bit, *w.Bit, true
	case w.Bits != nil:
		return w.Bits[0], w.Bits[1], true
	}
	return 0, 0, false
}

// Pair reads a discrete from two columns: true where an odd number of the two is true in
// one row, or an even number.
type Pair struct {
	OddWith  string `yaml:"odd_with"`
	EvenWith string `yaml:"even_with"`
}

// Partner returns the second column, "" where there is none, and whether the discrete is
// true where both columns are the same.
func (p Pair) Partner() (column string, even bool) {
	if p.EvenWith != "" {
		return strings.TrimSpace(p.EvenWith), true
	}
	return strings.TrimSpace(p.OddWith), false
}

// checkCells checks the entries that say how a cell becomes a number or a code.
func (p *Profile) checkCells(path string, parameter Parameter, s *Source) (found Problems) {
	problem := func(field, cause, hint string) {
		found = append(found, p.document.Problem(path+field, cause, hint))
	}
	if s.Points != nil {
		switch {
		case !parameter.Numeric():
			problem("/points", fmt.Sprintf("%s is a %s, but points give numbers", parameter.Name, parameter.Kind), "remove them")
		case p.has(path+"/scale") || p.has(path+"/offset"):
			problem("/points", "points replace scale and offset", "keep the points, or scale and offset")
		default:
			found = append(found, p.checkPoints(path+"/points", s.Points)...)
		}
	}
	if s.HasLevels() {
		found = append(found, p.checkLevels(path, parameter, s)...)
	}
	if partner, _ := s.Partner(); partner != "" {
		at := p.first(path, "/odd_with", "/even_with")
		switch {
		case parameter.Kind != Discrete:
			problem(at, fmt.Sprintf("%s is %s, not a discrete", parameter.Name, parameter.Kind), "remove it")
		case s.OddWith != "" && s.EvenWith != "":
			problem("/even_with", "odd_with and even_with are both given", "keep one of the two")
		case s.Samples != nil || s.HasLevels():
			problem(at, "a pair has two columns with words for true and false", "remove samples and levels, or the pair")
		case partner == strings.TrimSpace(s.Column):
			problem(at, fmt.Sprintf("column %q is paired with itself", partner), "name the other column of the pair")
		}
	}
	low, high, packed := s.Field()
	switch {
	case s.Bit != nil && s.Bits != nil:
		problem("/bits", "bit and bits are both given", "keep one of the two")
	case packed && parameter.Numeric():
		problem(p.first(path, "/bit", "/bits"), fmt.Sprintf("%s is a number, but bits are read only for discretes and states", parameter.Name), "have the export write the number itself")
	case s.Bit != nil && parameter.Kind == State:
		problem("/bit", parameter.Name+" is a state, but one bit has only two values", "give bits: [lowest, highest]")
	case low > high:
		problem("/bits", fmt.Sprintf("the lowest bit, %d, is above the highest, %d", low, high), "give [lowest, highest]; bit 0 is the least significant")
	case !packed && s.Word != "":
		problem("/word", "word is for packed words, but no bit is given", "add bit, or remove word")
	}
	return found
}

func (p *Profile) checkLevels(path string, parameter Parameter, s *Source) (found Problems) {
	problem := func(field, cause, hint string) Problems {
		return Problems{p.document.Problem(path+field, cause, hint)}
	}
	at := p.first(path, "/true_above", "/true_below", "/false_below", "/false_above")
	up, down := s.TrueAbove != nil && s.FalseBelow != nil, s.TrueBelow != nil && s.FalseAbove != nil
	mixed := (s.TrueAbove != nil || s.FalseBelow != nil) && (s.TrueBelow != nil || s.FalseAbove != nil)
	switch {
	case parameter.Kind != Discrete:
		return problem(at, fmt.Sprintf("%s is %s, not a discrete", parameter.Name, parameter.Kind), "remove the levels")
	case mixed || !up && !down:
		return problem(at, "levels come in pairs: true_above with false_below, or true_below with false_above", "give both of one pair; they may be the same number")
	case len(s.TrueWhen)+len(s.FalseWhen) > 0:
		return problem(p.first(path, "/true_when", "/false_when"), "true_when and levels are both given", "keep one of the two")
	case up && *s.FalseBelow > *s.TrueAbove:
		return problem("/false_below", fmt.Sprintf("numbers between %g and %g would be both true and false", *s.TrueAbove, *s.FalseBelow), "false_below is at most true_above")
	case down && *s.FalseAbove < *s.TrueBelow:
		return problem("/false_above", fmt.Sprintf("numbers between %g and %g would be both true and false", *s.FalseAbove, *s.TrueBelow), "false_above is at least true_below")
	}
	return nil
}

// has reports whether the profile's text has an entry.
func (p *Profile) has(path string) bool {
	_, given := p.document.nodes[path]
	return given
}

// first returns the first of the fields that are given.
func (p *Profile) first(path string, fields ...string) string {
	for _, f := range fields {
		if p.has(path + f) {
			return f
		}
	}
	return ""
}

// readsDetents reports whether the cells of a source name flap detents.
func (s *Source) readsDetents() bool { return strings.EqualFold(strings.TrimSpace(s.Unit), DetentUnit) }

// checkDetentSource checks a source whose unit is DetentUnit.
func (p *Profile) checkDetentSource(path string, parameter Parameter, s *Source) Problems {
	problem := func(field, cause, hint string) Problems {
		return Problems{p.document.Problem(path+field, cause, hint)}
	}
	switch {
	case parameter.Name != "flap_handle" && parameter.Name != "flap_angle":
		return problem("/unit", parameter.Name+" has no detents", "the unit detent is for flap_handle and flap_angle")
	case len(p.Flaps.Detents) == 0:
		return problem("/unit", "the profile lists no detents", "add flaps: {detents: ...}")
	}
	if f := p.first(path, "/points", "/scale", "/offset"); f != "" {
		return problem(f, "the value of a detent is its angle", "remove "+f[1:])
	}
	s.Unit = DetentUnit
	return nil
}

// checkDetentStates wants every text to name one detent.
func (p *Profile) checkDetentStates() (found Problems) {
	owner := map[string]string{}
	for i := range p.Flaps.Detents {
		d := &p.Flaps.Detents[i]
		path := fmt.Sprintf("/flaps/detents/%d/", i)
		field := "states"
		if d.States == nil {
			field, d.States = "name", Tokens{d.Name}
		}
		for _, text := range d.States {
			keys := []string{strings.ToLower(strings.TrimSpace(text))}
			if v, err := strconv.ParseFloat(keys[0], 64); err == nil {
				keys = append(keys, fmt.Sprint(v))
			}
			for _, key := range keys {
				if other, taken := owner[key]; taken && other != d.Name {
					found = append(found, p.document.Problem(path+field, fmt.Sprintf("%q names both detent %s and detent %s", text, other, d.Name), "give each detent its own texts under states"))
					break
				}
				owner[key] = d.Name
			}
		}
	}
	return found
}

func (p *Profile) usesDetents() bool {
	for _, sources := range p.Columns {
		for i := range sources {
			if sources[i].readsDetents() {
				return true
			}
		}
	}
	return false
}

func (p *Profile) statesGiven() bool {
	for _, d := range p.Flaps.Detents {
		if d.States != nil {
			return true
		}
	}
	return false
}

// FieldName names the bits a source reads, "" where it reads whole cells.
func (s *Source) FieldName() string {
	low, high, ok := s.Field()
	switch {
	case !ok:
		return ""
	case low == high:
		return fmt.Sprintf("bit %d", low)
	}
	return fmt.Sprintf("bits %d to %d", low, high)
}

// Name names what the source reads: its column, or the first and the last of several, with
// the bits of a packed word.
func (s *Source) Name() string {
	column := strings.TrimSpace(s.Column)
	if s.Samples != nil {
		column = strings.TrimSpace(s.Samples[0]) + " … " + strings.TrimSpace(s.Samples[len(s.Samples)-1])
	}
	if field := s.FieldName(); field != "" {
		column += " " + field
	}
	switch partner, even := s.Partner(); {
	case partner == "":
		return column
	case even:
		return column + " same as " + partner
	default:
		return column + " other than " + partner
	}
}
