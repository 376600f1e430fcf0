package ingest

import (
	"fmt"
	"strings"
	"testing"

	"downlock/schemas"
)

// Four words that come at one place every half second or slower, 21 samples of each; one a little
// over a thousandth of a row away has a place of its own.
func TestWordsAtOnePlace(t *testing.T) {
	t.Parallel()
	word := func(first, step float64, n int) *channel {
		c := &channel{numeric: true}
		for i := range n {
			c.times, c.numbers = append(c.times, first+float64(i)*step), append(c.numbers, float64(i))
		}
		return c
	}
	one, fast := word(0, 1, 21), word(0.3, 0.25, 50)
	for i, c := range []struct {
		words []*channel
		want  float64
	}{
		{[]*channel{one, one, one, one}, 1}, {[]*channel{one, one, one}, 0}, {[]*channel{one, one, one, fast}, 0}, {[]*channel{one, fast, one, one, one}, 1},
		{[]*channel{one, one, one, word(0, 1, 20)}, 0}, {[]*channel{one, one, one, word(0, 0.5, 21)}, 0.5}, {[]*channel{one, one, one, word(5, 1, 21)}, 1}, {[]*channel{one, one, one, word(0, 4, 21)}, 1},
		{[]*channel{one, one, one, word(0.0009, 1, 21)}, 1}, {[]*channel{one, one, one, word(0.0011, 1, 21)}, 0}, {[]*channel{one, one, one, word(0.5, 1, 21)}, 0}, {nil, 0},
	} {
		if got := placeless(c.words); got != c.want {
			t.Errorf("number %d: %v, want %v", i, got, c.want)
		}
	}
}

// Nine columns in rows of so many seconds. Where all slow ones have their samples at one
// place, the time of those whose place nobody states is known to within the row only.
func TestPlacesInARow(t *testing.T) {
	t.Parallel()
	const columns = 9
	profile := func(time, first string) string {
		var b strings.Builder
		fmt.Fprintf(&b, "schema: downlock profile 1\naircraft: T\ntitle: test\nlegs: [nose, left, right]\nengines: 2\ntime: {column: t%s}\nlong: {parameter: p, value: v}\ncolumns:\n", time)
		for i, name := range []string{"computed_airspeed", "ground_speed", "pressure_altitude", "radio_altitude", "pitch_attitude", "roll_attitude", "flap_angle", "left_flap_angle", "right_flap_angle"} {
			unit := []string{"kt", "kt", "ft", "ft", "deg", "deg", "deg", "deg", "deg"}[i]
			fmt.Fprintf(&b, "  %s: {column: c%d, unit: %s", name, i, unit)
			if i == 0 {
				b.WriteString(first)
			}
			b.WriteString("}\n")
		}
		return b.String()
	}
	wide := func(step float64, staggered bool) string {
		var b strings.Builder
		b.WriteString("t")
		for i := range columns {
			fmt.Fprintf(&b, ",c%d", i)
		}
		b.WriteString("\n")
		for row := range 60 {
			if !staggered {
				fmt.Fprintf(&b, "%g%s\n", float64(row)*step, strings.Repeat(fmt.Sprintf(",%d", row%7), columns))
				continue
			}
			for half := range 2 { // the first four columns in one row, the others in the next
				cells := make([]string, columns)
				for i := range cells {
					if (i < 4) == (half == 0) {
						cells[i] = fmt.Sprint(row % 7)
					}
				}
				fmt.Fprintf(&b, "%g,%s\n", (float64(row)+float64(half)/2)*step, strings.Join(cells, ","))
			}
		}
		return b.String()
	}
	// The first column has four samples a second, the others one each, at the full second.
	faster := func() string {
		var b strings.Builder
		b.WriteString(strings.SplitAfter(wide(1, false), "\n")[0])
		for row := range 240 {
			if fmt.Fprintf(&b, "%g,%d", float64(row)/4, row%7); row%4 == 0 {
				b.WriteString(strings.Repeat(fmt.Sprintf(",%d", row%5), columns-1) + "\n")
			} else {
				b.WriteString(strings.Repeat(",", columns-1) + "\n")
			}
		}
		return b.String()
	}
	long := func() string {
		var b strings.Builder
		b.WriteString("t,p,v\n")
		for row := range 60 {
			for i := range columns {
				fmt.Fprintf(&b, "%d,c%d,%d\n", row, i, row%7)
			}
		}
		return b.String()
	}
	for _, c := range []struct {
		name, text, time, first string
		want                    float64
	}{
		{"rows of a second", wide(1, false), "", "", 1},
		{"rows of two seconds", wide(2, false), "", "", 2},
		{"long rows of a second", long(), "", "", 1},
		{"rows of a quarter of a second", wide(0.25, false), "", "", 0},
		{"in two rows", wide(1, true), "", "", 0},
		{"a place stated of another", wide(1, false), "", ", time_offset: 0.25", 1},
		{"all at the time of the row", wide(1, false), ", accuracy: 0", "", 0},
		{"a faster column beside", faster(), "", "", 1},
		{"half a second stated", wide(0.25, false), ", accuracy: 0.5", "", 0.5},
	} {
		p, err := schemas.ParseProfile("made.yaml", []byte(profile(c.time, c.first)))
		if err != nil {
			t.Fatal(err)
		}
		r, err := ReadBytes("made.csv", []byte(c.text), p)
		if err != nil {
			t.Fatal(err)
		}
		noted := strings.Contains(strings.Join(r.Notes, "\n"), "it is not known when each was sampled")
		if got := r.Series[3].TimeAccuracy; got != c.want || noted != (c.want > 0 && c.time == "") {
			t.Errorf("%s: known to within %g s, want %g; notes %q", c.name, got, c.want, r.Notes)
		}
	}
}
