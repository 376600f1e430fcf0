// Package tally adds up an archive: flights, evaluations, events, measurements
// and audits, per month and per group of flights.
//
// In goes the folder of an archive (package report/archive says how it is laid
// out); out comes a Tally, small next to the tables: a count for every month,
// rule and group, and the measured values themselves. Only the columns and months
// asked for are read; rules and coverages are counted by their place in the
// files' dictionaries, several months at the same time. The same archive gives
// the same Tally.
//
// It decides nothing: rates, intervals and comparisons are made from it.
package tally

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strings"
	"sync"

	"downlock/schemas"
)

// Options says what to add up.
type Options struct {
	Archive     string
	From, To    string   // months YYYY-MM, both included; "" for no bound
	CertainOnly bool     // leave out events that are only possible
	Occurrences bool     // count the events of one cause once: the most severe, of equal ones the first
	By          []string // columns of flights to group by, beside the registration
	// Airframe, over the recording's name, tells individual aircraft apart where no
	// registration is known: its first group takes its place. nil for none.
	Airframe *regexp.Regexp
	// Rejected tells events that review found false, by id; nil without a review.
	Rejected func(eventID string) bool
	// Recordings asks for the recording of every flight with an event.
	Recordings bool
}

// Group columns that have a meaning of their own: the type of the aircraft, and the
// individual aircraft.
const (
	TypeColumn         = "aircraft"
	RegistrationColumn = "registration"
)

// Tally is an archive added up.
type Tally struct {
	Months   []Month // in order; a month between without flights is there, empty
	Rules    []string
	Titles   map[string]string // of rules that have events
	Columns  []string          // that flights are grouped by
	Strata   [][]string        // each a value per column; every flight is in one
	Measured []Measured
	Warnings []string

	// Recordings has the recording of every flight with an event, where asked for.
	Recordings map[string]Recording

	Undated int      // flights without a date, in no month
	Distant []string // months left out because years without flights follow
	Orphans int      // rows whose flight is not there: the archive was written to meanwhile
	// Uncounted are the rows of flights able to show an event that were written
	// before opportunities were counted.
	Uncounted int
	// OneAFlight are values of flights scanned before measurements were made in each
	// opportunity, and Values all of them.
	OneAFlight, Values int
	Possible           int // events left out because only possible
	False              int // events left out because review found them false
	// Beside are events left out because another one of their occurrence counts.
	// Joined are the events that name an occurrence, where that was asked for, and
	// Alone those written before occurrences were noted: each counts.
	Beside, Joined, Alone int
}

// Recording is where a flight is from.
type Recording struct {
	Name, SHA256 string
	Number       int // of the flight
}

// Measured is one measurement.
type Measured struct{ Name, Unit string }

// Month is the content of one month.
type Month struct {
	Name    string     // YYYY-MM
	Flights []int      // by stratum
	Cells   [][]Cell   // by rule, stratum
	Events  []Event    // in the order of the table
	Values  [][]Sample // by measurement, stratum
	Audits  []Audit    // by warning
}

// Sample holds the values of one measurement, in the order of the table.
type Sample struct {
	Values []float64
	// Flights numbers the flight of each value, from 0 in the same order; nil where
	// every value is of a flight of its own.
	Flights []int32
}

// Add adds a value, of the flight of the value before or of another.
func (s *Sample) Add(value float64, sameFlight bool) {
	if sameFlight && s.Flights == nil {
		for i := range s.Values {
			s.Flights = append(s.Flights, int32(i))
		}
	}
	if s.Flights != nil {
		next := s.Flights[len(s.Flights)-1]
		if !sameFlight {
			next++
		}
		s.Flights = append(s.Flights, next)
	}
	s.Values = append(s.Values, value)
}

// Cell is the flights of one month, rule and stratum by coverage, and their
// opportunities.
type Cell struct {
	Evaluated, Partly, NotEvaluable, NoOpportunity int32
	Known                                          float64 // of the partly evaluated: the parts of the scope that are known, added up
	// Opportunities evaluated; of those partly evaluated the known parts.
	Opportunities float64
}

// Able is the number of flights that could have shown the event, a partly
// evaluated one weighted by the known part of its scope.
func (c Cell) Able() float64 { return float64(c.Evaluated) + c.Known }

// Add adds another cell.
func (c *Cell) Add(d Cell) {
	c.Evaluated += d.Evaluated
	c.Partly += d.Partly
	c.NotEvaluable += d.NotEvaluable
	c.NoOpportunity += d.NoOpportunity
	c.Known += d.Known
	c.Opportunities += d.Opportunities
}

// Event is one event that counts, or the most severe one of an occurrence.
type Event struct {
	Flight, Phase string
	Rule, Stratum int
	Severity      Severity
	Certain       bool
	Further       int32 // events of the occurrence beside it; 0 where events are counted
}

// Severity is a severity as a number, to count by.
type Severity uint8

// The severities.
const (
	Low Severity = iota
	Medium
	High
	Severities int = 3
)

func (s Severity) String() string { return [...]string{"low", "medium", "high"}[s] }

// Audit is one warning over the audited flights of a month.
type Audit struct {
	Flights                                           int // audited, wholly or partly
	Due, Sounded                                      int // stretches
	DueSeconds, SoundedSeconds, AgreementSeconds      float64
	Missed, Late, Nuisance, Silenced, WronglySilenced int
}

// Agreement is the time a warning sounded when it was to, as a share of the time
// it sounded or was to; not a number when there was none.
func (a Audit) Agreement() float64 {
	return a.AgreementSeconds / (a.DueSeconds + a.SoundedSeconds - a.AgreementSeconds)
}

// Read adds up an archive. The error is a schemas.Problem of a damaged or missing
// file, a NotGroupable, or one of the file system.
func Read(o Options) (*Tally, error) {
	names, err := months(o)
	if err != nil {
		return nil, err
	}
	distant, names := splitDistant(names)
	if o.By, err = groupColumns(o, names); err != nil {
		return nil, err
	}
	read := make([]*monthTally, len(names))
	errs := make([]error, len(names))
	var wait sync.WaitGroup
	next := make(chan int)
	for range runtime.GOMAXPROCS(0) {
		wait.Go(func() {
			for i := range next {
				read[i], errs[i] = readMonth(o, names[i])
			}
		})
	}
	for i := range names {
		next <- i
	}
	close(next)
	wait.Wait()
	if err := errors.Join(errs...); err != nil {
		return nil, firstOf(errs)
	}
	t, err := merge(o, read)
	if err != nil {
		return nil, err
	}
	t.Distant = distant
	t.Undated, err = undated(o)
	return t, err
}

func firstOf(errs []error) error {
	return errs[slices.IndexFunc(errs, func(err error) bool { return err != nil })]
}

// partPath is where the part of a month is.
func partPath(archive, table, month string) string {
	return filepath.Join(archive, "tables", table, "month="+month, "part.parquet")
}

const unknownMonth = "unknown"

// months lists the months with flights that the options ask for, in order.
func months(o Options) ([]string, error) {
	folder := filepath.Join(o.Archive, "tables", schemas.FlightsTable)
	entries, err := os.ReadDir(folder)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, &schemas.Problem{File: o.Archive, Cause: "is not an archive: it has no table of flights",
			Hint: "`downlock scan --archive DIR` makes an archive"}
	}
	if err != nil {
		return nil, err
	}
	var names []string
	for _, e := range entries {
		name, ok := strings.CutPrefix(e.Name(), "month=")
		if ok && name != unknownMonth && (o.From == "" || name >= o.From) && (o.To == "" || name <= o.To) {
			names = append(names, name)
		}
	}
	if len(names) == 0 {
		return nil, &schemas.Problem{File: o.Archive, Cause: "holds no flight with a date in the months asked for",
			Hint: "flights whose recordings have no date are in no month and in no trend"}
	}
	return names, nil
}

// mostEmpty is the number of months without a flight that a series may hold.
// After more, the months before are another time, or a recorder's wrong clock.
const mostEmpty = 24

// splitDistant leaves out the months before the last long gap.
func splitDistant(names []string) (distant, kept []string) {
	first := 0
	for i := 1; i < len(names); i++ {
		next := names[i-1]
		for range mostEmpty + 1 {
			next = after(next)
		}
		if next < names[i] {
			first = i
		}
	}
	return names[:first], names[first:]
}

// undated counts the flights without a date.
func undated(o Options) (n int, err error) {
	err = eachGroup(partPath(o.Archive, schemas.FlightsTable, unknownMonth), func(g *group) error {
		n += int(g.rows.NumRows())
		return nil
	})
	return n, err
}
