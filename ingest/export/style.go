package export

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"

	"golang.org/x/text/encoding"
	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"

	"downlock/schemas"
)

// Style is the way a readout writes a recording: the headers of its columns, the forms of
// their values, and the shape of its files. Its columns are made of those of another
// recording, by the profile that reads that one.
type Style struct {
	Name        string
	Format      Format
	Encoding    string // of text: windows-1252 or utf-16; "": UTF-8
	TimeName    string
	Rows        bool // a row per second: SampledRows
	Separator   rune // of CSV; 0: a comma
	UnitsColumn bool // of long CSV
	Columns     []StyledColumn
}

// StyledColumn is a column and what is done to the values it is made of.
type StyledColumn struct {
	Parameter string // the canonical parameter it is; "": none a profile may map
	From      string // the parameter of the column it is made of: the profile's, or else a discrete of that name
	Header    string
	UnitCell  string // in the row or the column of units
	Unit      string // the numbers are converted to it; "" for the unit they have
	Factor    float64
	Words     [2]string         // of a discrete, for true and for false
	Cells     map[string]string // cell: the cell in its place
	Points    [][2]float64      // what is written, and the number it stands for; straight lines join them
	Bit       int               // of the word Header, in hexadecimal digits; -1: the column is no word
	Level     string            // of a position from 0 to 1, the end at which it is true: above or below
}

// Encodings a style can have, by name.
var encodings = map[string]encoding.Encoding{
	"windows-1252": charmap.Windows1252,
	"utf-16":       unicode.UTF16(unicode.LittleEndian, unicode.UseBOM),
}

// Write writes a recording that the profile reads, in the style. It also returns the
// profile that reads the style's columns alike. A column of the style that the recording
// has nothing for is left out of both.
func (s Style) Write(w io.Writer, table Table, p *schemas.Profile) (*schemas.Profile, error) {
	out := table
	out.TimeName, out.Separator, out.UnitsColumn, out.Columns = s.TimeName, s.Separator, s.UnitsColumn, nil
	hand := *p
	hand.Columns = map[string]schemas.Sources{}
	hand.Time.Column, hand.Long.Unit = s.TimeName, ""
	if s.UnitsColumn {
		hand.Long.Unit = UnitColumn
	}
	for _, c := range s.Columns {
		column, source, err := c.restyle(table, p)
		if errors.Is(err, errNotRecorded) {
			continue
		}
		if err != nil {
			return nil, fmt.Errorf("%s: %s: %w", s.Name, c.Header, err)
		}
		out.UnitsRow = out.UnitsRow || c.UnitCell != "" && !s.UnitsColumn
		if c.Bit < 0 {
			if out.column(column.Name) == nil { // both ends of a position are one column
				out.Columns = append(out.Columns, column)
			}
		} else if err := out.addBit(column, c.Bit); err != nil {
			return nil, fmt.Errorf("%s: %s: %w", s.Name, c.Header, err)
		}
		if c.Parameter != "" {
			hand.Columns[c.Parameter] = append(hand.Columns[c.Parameter], source)
		}
		if source.Unit == schemas.DetentUnit {
			hand.Flaps.Detents = c.detents(p.Flaps.Detents)
		}
	}
	for i := range out.Columns {
		out.Columns[i].wordsInHex()
	}
	if s.Rows {
		rows, places, err := SampledRows(out)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", s.Name, err)
		}
		out, hand = rows, *RowsProfile(&hand, places)
	}
	return &hand, s.encoded(w, out)
}

func (s Style) encoded(w io.Writer, table Table) error {
	if s.Encoding == "" {
		return Write(w, s.Format, table)
	}
	var plain bytes.Buffer
	if err := Write(&plain, s.Format, table); err != nil {
		return err
	}
	text, err := encodings[s.Encoding].NewEncoder().Bytes(plain.Bytes())
	if err != nil {
		return fmt.Errorf("%s: %w", s.Name, err)
	}
	_, err = w.Write(text)
	return err
}

// decimalsConverted is how many decimals a converted number has more than before.
const decimalsConverted = 4

// Plain is the source that reads the column it is made of.
func (c StyledColumn) Plain(p *schemas.Profile) schemas.Source {
	if len(p.Columns[c.From]) > 0 {
		return p.Columns[c.From][0]
	}
	s := schemas.Source{Column: c.From}
	high, nearlyHigh, low, nearlyLow := 0.99, 0.98, 0.01, 0.02
	switch c.Level {
	case "above":
		s.TrueAbove, s.FalseBelow = &high, &nearlyHigh
	case "below":
		s.TrueBelow, s.FalseAbove = &low, &nearlyLow
	default:
		s.TrueWhen, s.FalseWhen = schemas.Tokens{"1"}, schemas.Tokens{"0"}
	}
	return s
}

var errNotRecorded = errors.New("the recording has no such column")

// restyle makes the column of that of the table, and the source that reads it.
func (c StyledColumn) restyle(table Table, p *schemas.Profile) (out Column, source schemas.Source, err error) {
	source = c.Plain(p)
	from := table.column(source.Column)
	if from == nil {
		return out, source, errNotRecorded
	}
	factor := c.Factor
	if c.Unit != "" {
		f, err := schemas.UnitFactor(source.Unit, c.Unit)
		if err != nil {
			return out, source, err
		}
		factor *= f
		source.Unit = c.Unit
	}
	out = Column{Name: c.Header, Unit: c.UnitCell, Times: from.Times, Numbers: from.Numbers, Texts: from.Texts, Decimals: from.Decimals}
	source.Column, source.Samples = c.Header, nil
	if _, known := schemas.UnitName(c.UnitCell); c.UnitCell != "" && !known {
		source.StatedUnit = c.UnitCell
	}
	if c.Words[0] != "" {
		c.Cells = map[string]string{"1": c.Words[0], "0": c.Words[1]}
		for i, cells := range []schemas.Tokens{source.TrueWhen, source.FalseWhen} {
			for _, cell := range cells {
				c.Cells[cell] = c.Words[i]
			}
		}
	}
	switch {
	case c.Cells != nil:
		source = c.recoded(source)
		out.Numbers, out.Texts, out.Decimals = nil, []string{}, 0
		for i := range from.Times {
			cell, known := c.Cells[from.text(i)]
			if !known {
				cell = from.text(i)
			}
			out.Texts = append(out.Texts, cell)
		}
	case c.Points != nil:
		source.Points = c.Points
		out.convert(from, decimalsConverted, c.unread)
	case c.Bit >= 0:
		bit := c.Bit
		source.Bit, source.Word, source.TrueWhen, source.FalseWhen = &bit, "hex", schemas.Tokens{"1"}, schemas.Tokens{"0"}
	case factor != 1:
		out.convert(from, from.Decimals+decimalsConverted, func(v float64) float64 { return v * factor })
	}
	return out, source, nil
}

// convert fills the column with the numbers of another, changed; a word for "no valid
// value" among them stays.
func (c *Column) convert(from *Column, decimals int, change func(float64) float64) {
	c.Numbers, c.Texts, c.Decimals = nil, nil, decimals
	if from.Texts == nil {
		for i := range from.Times {
			c.Numbers = append(c.Numbers, change(from.number(i)))
		}
		return
	}
	for _, text := range from.Texts {
		if v, err := strconv.ParseFloat(text, 64); err == nil {
			text = strconv.FormatFloat(change(v), 'f', decimals, 64)
		}
		c.Texts = append(c.Texts, text)
	}
}

// recoded reads the cells in place of those before: of a flap lever as detents.
func (c StyledColumn) recoded(s schemas.Source) schemas.Source {
	cells := func(tokens schemas.Tokens) (out schemas.Tokens) {
		for _, t := range tokens {
			if cell, known := c.Cells[t]; known {
				t = cell
			}
			out = append(out, t)
		}
		return out
	}
	switch {
	case s.Unit != "":
		s.Unit = schemas.DetentUnit
	case s.States != nil:
		states := map[string]string{}
		for cell, state := range s.States {
			states[cells(schemas.Tokens{cell})[0]] = state
		}
		s.States = states
	default:
		s.TrueWhen, s.FalseWhen = schemas.Tokens{c.Words[0]}, schemas.Tokens{c.Words[1]}
	}
	return s
}

// detents have the cells that stand for their angles.
func (c StyledColumn) detents(of []schemas.Detent) []schemas.Detent {
	out := slices.Clone(of)
	for i, d := range out {
		if cell, known := c.Cells[strconv.FormatFloat(d.Angle, 'f', -1, 64)]; known {
			out[i].States = schemas.Tokens{cell}
		}
	}
	return out
}

// unread returns the number written for a value, by the lines that join the points.
func (c StyledColumn) unread(value float64) float64 {
	i := 1
	for i < len(c.Points)-1 && value > c.Points[i][1] {
		i++
	}
	a, b := c.Points[i-1], c.Points[i]
	return a[0] + (value-a[1])*(b[0]-a[0])/(b[1]-a[1])
}

func (t *Table) column(name string) *Column {
	for i := range t.Columns {
		if t.Columns[i].Name == name {
			return &t.Columns[i]
		}
	}
	return nil
}

// addBit adds a column of 0 and 1 as a bit of the word of its name. A word has the times
// that all its bits have: those of the slowest, of which the others have each.
func (t *Table) addBit(c Column, bit int) error {
	word := t.column(c.Name)
	if word == nil {
		t.Columns = append(t.Columns, Column{Name: c.Name, Times: c.Times, Numbers: make([]float64, len(c.Times)), word: true})
		word = &t.Columns[len(t.Columns)-1]
	}
	if len(word.Times) > len(c.Times) {
		return fmt.Errorf("bit %d is sampled less often than the first one", bit)
	}
	for i, at := range word.Times {
		k, found := slices.BinarySearch(c.Times, at)
		if !found {
			return fmt.Errorf("bit %d has no sample at %g s, where the word has one", bit, at)
		}
		if c.Numbers[k] == 1 {
			word.Numbers[i] += math.Ldexp(1, bit)
		}
	}
	return nil
}

// wordsInHex writes a packed word as such readouts do.
func (c *Column) wordsInHex() {
	if !c.word {
		return
	}
	for _, v := range c.Numbers {
		c.Texts = append(c.Texts, fmt.Sprintf("%04X", int(v)))
	}
	c.Numbers = nil
}
