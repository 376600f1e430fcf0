package survey

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"downlock/schemas"
)

// numbered is a name that ends in a number: NAME_1, NAME[0], NAME 12, N1_2, NAME1.
var numbered = schemas.Pattern(`^(.*[^\s_.\-\[(])[\s_.\-\[(]+(\d{1,2})[\])]?$|^(.*[^\d\s_.\-\[(])(\d{1,2})$`)

// word is a name whose columns hold the samples of one row, in the order of time.
type word struct {
	name    string
	columns []string
	doubt   string // for the user to check; "" where the values leave none
}

// family is the columns whose names differ in their number only: from 0 or 1 on, without
// a gap.
type family struct {
	name    string
	columns []*Column
}

func (f family) names() (names []string) {
	for _, c := range f.columns {
		names = append(names, c.Name)
	}
	return names
}

// families finds those of several columns with values.
func (s *Survey) families() (out []family) {
	type member struct{ base, unit string }
	found := map[member]map[int]*Column{}
	var order []member
	for i := range s.Columns {
		c := &s.Columns[i]
		parts := numbered().FindStringSubmatch(bareName(c.Name))
		if parts == nil || c.Samples == 0 {
			continue
		}
		n, _ := strconv.Atoi(parts[2] + parts[4])
		of := member{parts[1] + parts[3], c.Unit}
		if found[of] == nil {
			found[of] = map[int]*Column{}
			order = append(order, of)
		}
		found[of][n] = c
	}
	for _, of := range order {
		f := family{name: of.base}
		n := 1
		if found[of][0] != nil {
			n = 0
		}
		for ; found[of][n] != nil; n++ {
			f.columns = append(f.columns, found[of][n])
		}
		if len(f.columns) > 1 && len(f.columns) == len(found[of]) {
			out = append(out, f)
		}
	}
	return out
}

// sampled finds the columns that hold several samples of a row. Columns of several
// sources are named likewise, so the values decide: in samples of a row, the last is
// ahead of the first.
func (s *Survey) sampled() map[string]*word {
	out := map[string]*word{}
	for _, f := range s.families() {
		w := &word{name: f.name, columns: f.names()}
		switch first, last := f.columns[0], f.columns[len(f.columns)-1]; {
		case first.Numeric && last.Numeric && first.Distinct > 2 && ahead(first, last, len(f.columns)):
		case first.Distinct <= 2 && changeInOrder(f.columns):
			w.doubt = fmt.Sprintf("%s are taken as samples of one row, because each change begins with the last of them: check that they are not several switches", strings.Join(w.columns, ", "))
		default:
			continue
		}
		for _, name := range w.columns {
			out[name] = w
		}
	}
	return out
}

// leftOut asks about the columns beside a suggested one that nothing reads, where they
// change too seldom to say whether they are its other samples or other sources.
func (s *Survey) leftOut(suggestions []Suggestion) {
	read := map[string]bool{}
	for _, one := range suggestions {
		read[one.Column] = true
		for _, name := range one.Samples {
			read[name] = true
		}
	}
	for _, f := range s.families() {
		names := f.names()
		if f.columns[0].Distinct > 2 || slices.ContainsFunc(names[1:], func(name string) bool { return read[name] }) {
			continue
		}
		for i := range suggestions {
			if one := &suggestions[i]; one.Column == names[0] && one.Samples == nil {
				one.decide("%s beside it are not read: if they are samples of the same row, write samples: [%s]", strings.Join(names[1:], ", "), strings.Join(names, ", "))
			}
		}
	}
}

// ahead reports whether the last of n columns is ahead of the first by the time of n−1
// samples of a row: the slope of the difference over the expected one, by least
// squares, is 1 for samples of a row and 0 for two sources.
func ahead(first, last *Column, n int) bool {
	a, b := &first.sketch, &last.sketch
	if first.Interval <= 0 || a.every != b.every {
		return false
	}
	lead := first.Interval * float64(n-1) / float64(n)
	products, squares := 0.0, 0.0
	for i := 1; i+1 < min(len(a.times), len(b.times)); i++ {
		seconds := a.times[i+1] - a.times[i-1]
		if a.times[i] != b.times[i] || seconds <= 0 || seconds > 16*first.Interval {
			continue
		}
		expected := (a.values[i+1] - a.values[i-1]) / seconds * lead
		products += expected * (b.values[i] - a.values[i])
		squares += expected * expected
	}
	return squares > 0 && math.Abs(products/squares-1) < 0.4
}

// changeInOrder reports whether columns with two values change as samples of one row do:
// all of them alike, the last one first, and all within a row. Two columns of two switches
// do so by chance now and then, so that they need more changes to show it.
func changeInOrder(columns []*Column) bool {
	first := columns[0]
	parted := 0 // changes that fell between two samples of a row
	for k := range first.runs {
		for i, c := range columns {
			if len(c.runs) != len(first.runs) || c.States[c.runs[k].state].Text != first.States[first.runs[k].state].Text {
				return false
			}
			if k > 0 && i > 0 && c.runs[k].at > columns[i-1].runs[k].at {
				return false
			}
		}
		last := columns[len(columns)-1]
		switch lead := first.runs[k].at - last.runs[k].at; {
		case k > 0 && lead > 1.01*first.Interval:
			return false
		case k > 0 && lead > 0:
			parted++
		}
	}
	if len(columns) == 2 {
		return parted >= 3
	}
	return parted >= 1 && len(first.runs) > 2
}
