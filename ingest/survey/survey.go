// Package survey describes an export for which no profile exists yet: the sampling
// and content of each column, the time base, the likely number of flights, and the
// canonical parameter each column may be, with the evidence.
//
// The input is an ingest.Raw. The output is a Survey and, on request, Suggestions and
// the text of a draft profile. The cells of a column are counted as they pass, and a
// sketch of at most some thousand samples is kept, so memory does not grow with the
// duration of the recording. Nothing here changes a recording or decides for the
// user: a suggestion says how sure it is and why.
//
// The seam for formats is ingest.Raw: any source of its columns and a walk over its
// cells can be surveyed.
package survey

import (
	"math"

	"downlock/ingest"
)

// Survey is the description of an export. Times are seconds on its own axis.
type Survey struct {
	Name    string   `json:"name"`
	SHA256  string   `json:"sha256"`
	Bytes   int64    `json:"bytes"`
	Format  string   `json:"format"`
	Sheet   string   `json:"sheet,omitempty"` // of a workbook, where one was named
	Epoch   string   `json:"epoch,omitempty"` // UTC at second 0
	Time    TimeBase `json:"time"`
	Columns []Column `json:"columns"`
	Flights Flights  `json:"flights"`
	Notes   []string `json:"notes"`
}

// Flights is the likely number of flights in the recording. Column is the column that
// counts them, "" when none looks like an airspeed or a height.
type Flights struct {
	Likely int    `json:"likely"`
	Column string `json:"column,omitempty"`
	Why    string `json:"why"`
}

// Of surveys an export in one pass over its cells.
func Of(raw *ingest.Raw) (*Survey, error) {
	c := &counting{}
	if err := raw.Walk(c); err != nil {
		return nil, err
	}
	s := &Survey{Name: raw.Name, SHA256: raw.SHA256, Bytes: raw.Bytes, Format: raw.Format, Sheet: raw.Sheet, Notes: append([]string{}, raw.Notes...)}
	if !raw.Epoch.IsZero() {
		s.Epoch = raw.Epoch.UTC().Format("2006-01-02T15:04:05.000Z")
	}
	s.Time = newTimeBase(raw.Time, &c.rows)
	if s.Time.Column == "" { // no rows: the recording lasts as long as its longest parameter
		for i := range c.columns {
			s.Time.End = max(s.Time.End, rounded(c.columns[i].high))
		}
	}
	for i, named := range raw.Columns {
		var tally columnTally
		if i < len(c.columns) {
			tally = c.columns[i]
		}
		s.Columns = append(s.Columns, tally.column(named, s.Time))
	}
	if s.Columns == nil {
		s.Columns = []Column{}
	}
	s.Flights = s.countFlights()
	return s, nil
}

// counting is the visitor: it holds a tally for the rows and one for every column.
type counting struct {
	rows    timeTally
	columns []columnTally
}

func (c *counting) Row(at float64) { c.rows.add(at) }

func (c *counting) Cell(cell *ingest.RawCell) {
	for cell.Column >= len(c.columns) {
		c.columns = append(c.columns, columnTally{})
	}
	c.columns[cell.Column].add(cell)
}

// Column finds a column by name; nil when there is none.
func (s *Survey) Column(name string) *Column {
	for i := range s.Columns {
		if s.Columns[i].Name == name {
			return &s.Columns[i]
		}
	}
	return nil
}

// rounded keeps six decimals, more than any recorder resolves. The same file then
// reads the same on every machine.
func rounded(x float64) float64 {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return 0
	}
	if math.Abs(x) > 1e9 {
		return x
	}
	return math.Round(x*1e6) / 1e6
}
