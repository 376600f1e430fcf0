package survey

import (
	"math"
	"regexp"
	"strconv"
)

// numbered is a name that ends in a number: NAME_1, NAME[0], NAME 12.
var numbered = regexp.MustCompile(`^(.*[^\d\s_.\-\[(])[\s_.\-]?[\[(]?(\d{1,2})[\])]?$`)

// word is a name whose columns hold the samples of one row, in the order of time.
type word struct {
	name    string
	columns []string
}

// sampled finds the columns that hold several samples of a row. The names are numbered
// from 0 or 1 without a gap. Columns of several sources are named likewise, so the
// values decide: in samples of a row, the last is ahead of the first.
func (s *Survey) sampled() map[string]*word {
	type member struct{ base, unit string }
	families := map[member]map[int]*Column{}
	for i := range s.Columns {
		c := &s.Columns[i]
		found := numbered.FindStringSubmatch(bareName(c.Name))
		if found == nil || !c.Numeric || c.Samples == 0 {
			continue
		}
		n, _ := strconv.Atoi(found[2])
		of := member{found[1], c.Unit}
		if families[of] == nil {
			families[of] = map[int]*Column{}
		}
		families[of][n] = c
	}
	out := map[string]*word{}
	for of, columns := range families {
		first := 1
		if columns[0] != nil {
			first = 0
		}
		last := first + len(columns) - 1
		if len(columns) < 2 || columns[first] == nil || columns[last] == nil || !ahead(columns[first], columns[last], len(columns)) {
			continue
		}
		w := &word{name: of.base}
		for n := first; n <= last; n++ {
			if columns[n] == nil {
				w = nil
				break
			}
			w.columns = append(w.columns, columns[n].Name)
		}
		if w != nil {
			for _, name := range w.columns {
				out[name] = w
			}
		}
	}
	return out
}

// ahead reports whether the last of n columns is ahead of the first by the time of n−1
// samples of a row: the slope of the difference over the expected one, by least
// squares, is 1 for samples of a row and 0 for two sources.
func ahead(first, last *Column, n int) bool {
	a, b := &first.sketch, &last.sketch
	if len(a.times) != len(b.times) || first.Interval <= 0 {
		return false
	}
	lead := first.Interval * float64(n-1) / float64(n)
	products, squares := 0.0, 0.0
	for i := 1; i+1 < len(a.times); i++ {
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
