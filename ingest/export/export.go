// Package export writes recordings in the layouts package ingest reads: wide and long
// CSV, fixed-width text, wide and long Parquet, wide Arrow IPC, wide and long workbooks,
// and MATLAB files. It writes demo data and test data. The input is a Table, in which each
// column has its own samples. The output has the same bytes every time.
//
// Every layout carries equal data: each number is first rounded to its column's
// decimals. Text, Parquet and Arrow files all hold that rounded number. Times are
// rounded to a millisecond.
package export

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"time"

	"github.com/klauspost/compress/gzip"
	"github.com/klauspost/compress/zstd"
)

// Layout is the arrangement of a table in a file.
type Layout string

const (
	WideCSV     Layout = "wide CSV"     // a row per time, a column per parameter, blank without a sample
	LongCSV     Layout = "long CSV"     // a row per sample: time, parameter, value
	WideParquet Layout = "wide Parquet" // like wide CSV, null without a sample
	LongParquet Layout = "long Parquet" // like long CSV; every value as text
	WideArrow   Layout = "wide Arrow"   // like wide Parquet, as an Arrow IPC file
	WideXLSX    Layout = "wide XLSX"    // like wide CSV, as the one sheet of a workbook
	LongXLSX    Layout = "long XLSX"    // like long CSV
	MATLAB      Layout = "MATLAB 5"     // a struct per parameter, with samples at a steady rate from time 0 on: see matlab

	FixedWidth Layout = "wide fixed-width text" // like wide CSV, with columns aligned by blanks
)

// Layouts are those of any table; MATLAB needs columns of a steady rate.
var Layouts = []Layout{WideCSV, LongCSV, FixedWidth, WideParquet, LongParquet, WideArrow, WideXLSX, LongXLSX}

// Compression is the compression of the whole file.
type Compression string

const (
	Plain Compression = ""
	Gzip  Compression = "gzip"
	Zstd  Compression = "zstd"
)

// Format is a layout with its compression.
type Format struct {
	Layout      Layout
	Compression Compression
}

// Names of the columns a Table does not name itself.
const (
	DateColumn      = "date"
	ClockColumn     = "utc"
	ParameterColumn = "parameter"
	ValueColumn     = "value"
	UnitColumn      = "unit"
)

// Table is the recording to write.
type Table struct {
	Preamble []string  // lines before the header, CSV only
	TimeName string    // header of the time column, in seconds
	Columns  []Column  // in the order they are written
	UnitsRow bool      // a row of units after the header, wide CSV only
	Epoch    time.Time // UTC at time 0; if set, a date and a clock column are filled once a second

	Separator   rune // of CSV; 0: a comma
	UnitsColumn bool // a column with the unit of each row, long CSV only
}

// Column is one recorded series. Times rise (s); Numbers or Texts, whichever is
// not nil, has one entry for each.
type Column struct {
	Name     string
	Unit     string
	Times    []float64
	Numbers  []float64
	Texts    []string
	Decimals int // of Numbers

	word bool // Numbers are packed words
}

// Write writes the table in the format. It returns an error when a column's arrays
// differ in length or its times do not rise.
func Write(w io.Writer, format Format, table Table) error {
	if err := table.check(); err != nil {
		return err
	}
	switch format.Compression {
	case Plain:
		return table.write(w, format.Layout)
	case Gzip:
		z := gzip.NewWriter(w)
		if err := table.write(z, format.Layout); err != nil {
			return err
		}
		return z.Close()
	case Zstd:
		// One encoder goroutine makes the bytes independent of the machine.
		z, err := zstd.NewWriter(w, zstd.WithEncoderConcurrency(1))
		if err != nil {
			return err
		}
		if err := table.write(z, format.Layout); err != nil {
			return err
		}
		return z.Close()
	}
	return fmt.Errorf("unknown compression %q", format.Compression)
}

func (t *Table) write(w io.Writer, layout Layout) error {
	switch layout {
	case WideCSV:
		return t.wideCSV(w)
	case LongCSV:
		return t.longCSV(w)
	case FixedWidth:
		return t.fixedWidth(w)
	case WideParquet:
		return t.wideParquet(w)
	case LongParquet:
		return t.longParquet(w)
	case WideArrow:
		return t.wideArrow(w)
	case WideXLSX:
		return t.wideXLSX(w)
	case LongXLSX:
		return t.longXLSX(w)
	case MATLAB:
		return t.matlab(w)
	}
	return fmt.Errorf("unknown layout %q", layout)
}

func (t *Table) check() error {
	for _, c := range t.Columns {
		if n := max(len(c.Numbers), len(c.Texts)); n != len(c.Times) || (c.Numbers != nil && c.Texts != nil) {
			return fmt.Errorf("column %q has %d times, %d numbers and %d texts", c.Name, len(c.Times), len(c.Numbers), len(c.Texts))
		}
		for i, at := range c.Times {
			if math.IsNaN(at) || math.IsInf(at, 0) {
				return fmt.Errorf("column %q: time %v is not a number of seconds", c.Name, at)
			}
			if i > 0 && milliseconds(at) <= milliseconds(c.Times[i-1]) {
				return fmt.Errorf("column %q: time %v s does not come after %v s", c.Name, at, c.Times[i-1])
			}
		}
	}
	return nil
}

// grid returns the time of every row in milliseconds: each time at which a column has
// a sample, once.
func (t *Table) grid() []int64 {
	var all []int64
	for _, c := range t.Columns {
		for _, at := range c.Times {
			all = append(all, milliseconds(at))
		}
	}
	slices.Sort(all)
	return slices.Compact(all)
}

// cursor walks a column's samples alongside the grid.
type cursor struct {
	column *Column
	next   int
}

func (t *Table) cursors() []cursor {
	out := make([]cursor, len(t.Columns))
	for i := range t.Columns {
		out[i].column = &t.Columns[i]
	}
	return out
}

// take returns the index of the sample at a time of the grid, -1 for none.
func (c *cursor) take(at int64) int {
	if c.next < len(c.column.Times) && milliseconds(c.column.Times[c.next]) == at {
		c.next++
		return c.next - 1
	}
	return -1
}

// calendar makes the date and clock cells of a row: filled in the first row of each
// second, blank in the others.
type calendar struct {
	epoch  time.Time
	second int64
}

func (t *Table) calendar() *calendar {
	if t.Epoch.IsZero() {
		return nil
	}
	return &calendar{epoch: t.Epoch.UTC(), second: math.MinInt64}
}

func (c *calendar) cells(at int64) (date, clock string) {
	second := int64(math.Floor(float64(at) / 1000))
	if second == c.second {
		return "", ""
	}
	c.second = second
	now := c.epoch.Add(time.Duration(at) * time.Millisecond)
	return now.Format(time.DateOnly), now.Format("15:04:05.999")
}

func milliseconds(seconds float64) int64 { return int64(math.Round(seconds * 1000)) }

func timeText(at int64) string { return strconv.FormatFloat(float64(at)/1000, 'f', 3, 64) }

// text returns the sample in CSV form.
func (c *Column) text(i int) string {
	if c.Texts != nil {
		return c.Texts[i]
	}
	s := strconv.FormatFloat(c.Numbers[i], 'f', c.Decimals, 64)
	if v, err := strconv.ParseFloat(s, 64); err == nil && v == 0 {
		return strconv.FormatFloat(0, 'f', c.Decimals, 64) // no "-0.0"
	}
	return s
}

// number returns the sample rounded to the column's decimals, equal to its text.
func (c *Column) number(i int) float64 {
	v, err := strconv.ParseFloat(c.text(i), 64)
	if err != nil {
		return c.Numbers[i]
	}
	return v
}
