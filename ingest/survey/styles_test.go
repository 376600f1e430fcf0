package survey

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"downlock/ingest"
	"downlock/ingest/export"
	"downlock/schemas"
)

// style is a way to write the headers of an export: a demonstration flight under
// other names and in other units.
type style struct {
	name    string
	columns []styledColumn
}

type styledColumn struct {
	parameter, from string // "" as the parameter: must not be mapped
	header, row     string
	unit            string   // the values are converted to it; "" as the profile says
	words           []string // for 1 and 0
	factor          float64
}

// stylesOf reads a file of styles; its head says how it is written.
func stylesOf(t *testing.T, path string) (out []style) {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	for line := range strings.Lines(string(data)) {
		line = strings.TrimSpace(line)
		if name, ok := strings.CutPrefix(line, "style "); ok {
			out = append(out, style{name: name})
			continue
		}
		if line == "" || line[0] == '#' {
			continue
		}
		f := strings.Split(line, " | ")
		c := styledColumn{parameter: f[0], from: f[0], header: f[1], factor: 1}
		if c.parameter == "-" {
			c.parameter = ""
		}
		for _, option := range f[2:] {
			name, value, _ := strings.Cut(option, " ")
			switch name {
			case "in":
				c.unit = value
			case "row":
				c.row = value
			case "from":
				c.from = value
			case "words":
				c.words = strings.Fields(value)
			case "x":
				c.factor, _ = strconv.ParseFloat(value, 64)
			default:
				t.Fatalf("%s: %q", path, line)
			}
		}
		last := &out[len(out)-1]
		last.columns = append(last.columns, c)
	}
	return out
}

// cells keeps the cells of an export by column.
type cells map[int][]ingest.RawCell

func (c cells) Row(float64) {}
func (c cells) Cell(one *ingest.RawCell) {
	kept := *one
	kept.Text = bytes.Clone(one.Text)
	c[one.Column] = append(c[one.Column], kept)
}

// write writes the flight in the style, as wide CSV.
func (s style) write(t *testing.T, raw *ingest.Raw, flight cells, p *schemas.Profile) []byte {
	t.Helper()
	table := export.Table{TimeName: "time"}
	for _, c := range s.columns {
		source := p.Columns[c.from][0]
		at := slices.IndexFunc(raw.Columns, func(r ingest.RawColumn) bool { return r.Name == source.Column })
		if at < 0 {
			t.Fatalf("%s: the flight has no %s", s.name, source.Column)
		}
		factor, decimals := c.factor, 4
		if c.unit != "" {
			f, err := schemas.UnitFactor(source.Unit, c.unit)
			if err != nil {
				t.Fatal(err)
			}
			factor *= f
		}
		out := export.Column{Name: c.header, Unit: c.row, Decimals: decimals}
		table.UnitsRow = table.UnitsRow || c.row != ""
		for _, cell := range flight[at] {
			out.Times = append(out.Times, cell.Time)
			switch {
			case c.words != nil && cell.Number != 0:
				out.Texts = append(out.Texts, c.words[0])
			case c.words != nil:
				out.Texts = append(out.Texts, c.words[1])
			case cell.Numeric:
				out.Numbers = append(out.Numbers, cell.Number*factor)
			default:
				out.Texts = append(out.Texts, string(cell.Text))
			}
		}
		if source.Unit == "" && out.Texts == nil {
			out.Decimals = 0
		}
		table.Columns = append(table.Columns, out)
	}
	var b bytes.Buffer
	if err := export.Write(&b, export.Format{Layout: export.WideCSV}, table); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// score counts the columns of a style. A right one is mapped as the flight's own
// profile maps it; an offered one is left as a question; a wrong one is mapped to
// another parameter, or read wrongly without a question.
type score struct {
	right, offered, wrong, missed int
	told                          []string
}

func (s *score) miss(kind *int, format string, args ...any) {
	*kind++
	s.told = append(s.told, fmt.Sprintf(format, args...))
}

func (s style) score(suggestions []Suggestion, p *schemas.Profile) (out score) {
	for _, c := range s.columns {
		i := slices.IndexFunc(suggestions, func(one Suggestion) bool { return one.Column == c.header })
		if i < 0 || suggestions[i].Confidence == Doubtful && suggestions[i].Parameter != c.parameter {
			if c.parameter != "" {
				out.miss(&out.missed, "missed %s (%s), read as %v", c.header, c.parameter, wordsOf(bareName(c.header)))
			}
			continue
		}
		one := suggestions[i]
		if one.Parameter != c.parameter {
			out.miss(&out.wrong, "WRONG %s is %s, want %q: %v %v", c.header, one.Parameter, c.parameter, one.Confidence, one.Evidence)
			continue
		}
		flaw := c.flaw(one, p.Columns[c.from][0])
		switch {
		case flaw != "" && len(one.Decide) == 0:
			out.miss(&out.wrong, "WRONG %s: %s", c.header, flaw)
		case flaw != "" || one.Confidence == Doubtful:
			out.miss(&out.offered, "offered %s for %s: %s %v", c.header, one.Parameter, flaw, one.Decide)
		default:
			out.right++
		}
	}
	return out
}

// flaw says how a suggestion reads the values otherwise than the flight's profile.
func (c styledColumn) flaw(one Suggestion, hand schemas.Source) string {
	if hand.Unit != "" {
		unit := hand.Unit
		if c.unit != "" {
			unit = c.unit
		}
		want, err1 := schemas.UnitFactor(unit, hand.Unit)
		have, err2 := schemas.UnitFactor(one.Unit, hand.Unit)
		if one.Scale != 0 {
			have *= one.Scale
		}
		if err1 != nil || err2 != nil || math.Abs(have/want-1) > 0.01 {
			return fmt.Sprintf("in %q with scale %g, want %q", one.Unit, one.Scale, unit)
		}
	}
	yes := []string(hand.TrueWhen)
	if c.words != nil {
		yes = c.words[:1]
	}
	if yes != nil && !slices.Equal(one.TrueWhen, yes) {
		return fmt.Sprintf("true when %v, want %v", one.TrueWhen, yes)
	}
	for text, state := range one.States {
		if hand.States[text] != state {
			return fmt.Sprintf("%s is %s", text, state)
		}
	}
	return ""
}

// The flight is of the demonstration; its own profile, by hand, says how each column
// is to be read. Names of the tuned styles were before those who wrote the words. At
// first the held-out ones had 54 % right, 4 columns wrong; the unseen ones, written
// when the words were done, 64 % and none wrong. Since then words are parted and
// computers left out, in general.
func TestStyles(t *testing.T) {
	shipped, err := schemas.ShippedProfile()
	if err != nil {
		t.Fatal(err)
	}
	raw, err := ingest.OpenRaw(demoDir + "tarnholm-07.csv.gz")
	if err != nil {
		t.Fatal(err)
	}
	flight := cells{}
	if err := raw.Walk(flight); err != nil {
		t.Fatal(err)
	}
	for _, set := range []struct {
		file   string
		styles int
		least  float64 // share right
		wrong  int
	}{{"tuned", 12, 0.95, 0}, {"heldout", 4, 0.85, 0}, {"unseen", 3, 0.85, 0}} {
		styles := stylesOf(t, "testdata/styles/"+set.file+".txt")
		if len(styles) < set.styles {
			t.Errorf("%s: %d styles", set.file, len(styles))
		}
		var all score
		columns := 0
		for _, s := range styles {
			found, err := ingest.OpenRawBytes("style.csv", s.write(t, raw, flight, shipped))
			if err != nil {
				t.Fatalf("%s: %v", s.name, err)
			}
			survey, err := Of(found)
			if err != nil {
				t.Fatalf("%s: %v", s.name, err)
			}
			one := s.score(survey.Suggest(), shipped)
			n := 0
			for _, c := range s.columns {
				if c.parameter != "" {
					n++
				}
			}
			columns += n
			t.Logf("| %s | %d | %d | %d | %d | %d |", s.name, n, one.right, one.offered, one.wrong, one.missed)
			for _, line := range one.told {
				if set.file != "tuned" && os.Getenv("HELDOUT") == "" {
					break
				}
				t.Logf("    %s", line)
			}
			all.right, all.offered, all.wrong, all.missed = all.right+one.right, all.offered+one.offered, all.wrong+one.wrong, all.missed+one.missed
		}
		share := float64(all.right) / float64(columns)
		t.Logf("%s: %d columns, %d right (%.1f %%), %d offered, %d wrong, %d missed", set.file, columns, all.right, 100*share, all.offered, all.wrong, all.missed)
		if share < set.least || all.wrong > set.wrong {
			t.Errorf("%s: %.1f %% right, %d wrong", set.file, 100*share, all.wrong)
		}
	}
}
