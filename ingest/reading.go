package ingest

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"downlock/ingest/workbook"
	"downlock/schemas"
)

// maxSeconds bounds the time axis, either way: 30,000 years.
const maxSeconds = 1e12

// reading is a recording in the making, which the reader of each format fills.
type reading struct {
	file     string
	format   string
	profile  *schemas.Profile
	mapping  *mapping
	axis     axis
	limit    int64   // bytes of the content
	sums     *sums   // nil where nobody asks for the hash of the content
	raw      *stream // the file, for how far it has been read; nil in tests of parts
	unpacked *stream // its content, where that is unpacked ahead
	part     string  // of the file, which is being read: "column "CAS""; "" for none yet

	sheet     *workbook.Rows // of a workbook
	place     string         // what notes count: line, or row of a columnar file
	rows      int            // rows with a time
	follow    follow
	current   stretch   // the one at hand
	earlier   []stretch // those before it
	previous  float64   // time of the row before, as the export has it
	doubt     doubt
	left      []rowSpan // rows that were left out after all
	order     int       // of the row within its second; 0: the first
	sharing   int       // rows that share the second of the one before
	nextCheck int       // rows
	strays    tally     // rows whose time lies apart from those around
	longState longState // of a long export
	notes     []string
	untimed   tally // rows without a time
	backwards tally // rows whose time steps back
	short     tally // lines with fewer cells than the header
	unnamed   tally // rows of a long export without a parameter name

	unmapped bool // the export has no column the profile maps

	canonical *Recording // the recording of a file of canonical columns

	packAbove int  // samples; 0: it is not packed
	packing   bool // it is
	packer    packer
	times     []*packedTimes // of the series so far

	date   time.Time // of the first row, where the export has none; zero: not given
	tokens meaning   // knows cells that say "no valid value"
}

// tally counts something that is noted, and remembers where it was first seen.
type tally struct {
	count int
	first int // line or row
}

func (t *tally) add(at int) {
	if t.count == 0 {
		t.first = at
	}
	t.count++
}

func newReading(file string, profile *schemas.Profile) (*reading, error) {
	m, err := newMapping(profile)
	if err != nil {
		return nil, err
	}
	r := &reading{file: file, profile: profile, mapping: m, place: "line"}
	r.tokens = newMeaning(schemas.Parameter{}, &schemas.Source{}, profile.InvalidTokens)
	unit := profile.Time.Unit
	if unit == "" {
		unit = "s"
	}
	factor, err := schemas.UnitFactor(unit, "s")
	if err != nil {
		return nil, &schemas.Problem{File: profile.File, Cause: "time: " + err.Error(), Hint: "give the unit of the time column: s, ms or min"}
	}
	r.previous = math.Inf(-1)
	r.axis = axis{unit: factor, point: '.', midnight: midnightStepWide}
	if profile.Time.DateFormat != "" {
		if r.axis.format, err = schemas.ParseDateFormat(profile.Time.DateFormat); err != nil {
			return nil, &schemas.Problem{File: profile.File, Cause: "time: " + err.Error(), Hint: "write it as DD/MM/YYYY"}
		}
	}
	return r, nil
}

// timeColumn is the column that holds the time of a row.
func (r *reading) timeColumn() string {
	if r.profile.Time.Column != "" {
		return strings.TrimSpace(r.profile.Time.Column)
	}
	return strings.TrimSpace(r.profile.Time.Clock)
}

// layout says where in an export the columns lie that are no parameters; -1
// for one it does not have.
type layout struct{ time, date, clock, parameter, value, unit int }

func (r *reading) layoutOf(columns []string) layout {
	find := func(name string) int {
		if name == "" {
			return -1
		}
		return slices.Index(columns, strings.TrimSpace(name))
	}
	l := layout{time: find(r.timeColumn()), date: find(r.profile.Time.Date), clock: -1, parameter: find(r.profile.Long.Parameter), value: find(r.profile.Long.Value), unit: find(r.profile.Long.Unit)}
	if r.profile.Time.Column != "" {
		l.clock = find(r.profile.Time.Clock)
	}
	return l
}

func (l layout) long() bool { return l.time >= 0 && l.parameter >= 0 && l.value >= 0 }

// beyondAxis is the cause for a time no recording has, "" for others.
func beyondAxis(at float64) string {
	if math.Abs(at) <= maxSeconds {
		return ""
	}
	return fmt.Sprintf("time %g s is out of bounds", at)
}

// problem makes a problem of the whole file.
func (r *reading) problem(cause, hint string) *schemas.Problem {
	return &schemas.Problem{File: r.file, Cause: cause, Hint: hint}
}

// noTime is the problem of a file without the time column.
func (r *reading) noTime(columns []string) *schemas.Problem {
	name := r.timeColumn()
	if name == "" {
		return r.problem("has no time column: "+r.profileName()+" names none, which works only for MATLAB files", "name the export's time column under time in "+r.profileName())
	}
	hint := joinHints(suggest(name, columns), "name the export's time column under time in "+r.profileName()+"; "+mapAnew)
	return r.problem(fmt.Sprintf("has no time column %q; it has: %s", name, listed(columns)), hint)
}

// noneMapped is the problem of a file without any column the profile maps.
func (r *reading) noneMapped(columns []string) *schemas.Problem {
	r.unmapped = true
	hint := "is this the profile for this export? " + mapAnew
	others := slices.DeleteFunc(slices.Clone(columns), func(name string) bool { return name == r.timeColumn() })
	for _, c := range r.mapping.channels {
		if s := suggest(c.column, others); s != "" {
			hint = fmt.Sprintf("for %s, mapped to %q: %s; %s", c.parameter.Name, c.column, s, hint)
			break
		}
	}
	return r.problem(fmt.Sprintf("has none of the columns %s maps; it has: %s", r.profileName(), listed(columns)), hint)
}

// mapAnew is the way out where a profile does not fit an export.
const mapAnew = "for another kind of export, `downlock inspect --suggest --like PROFILE FILE` drafts a profile with the same figures"

func (r *reading) profileName() string {
	if r.profile.File == "" {
		return "the profile"
	}
	return r.profile.File
}

// listed lists names for a message: the first maxListed, each clipped.
func listed(names []string) string {
	var shown []string
	for _, name := range names[:min(len(names), maxListed)] {
		shown = append(shown, fmt.Sprintf("%q", clip(name)))
	}
	if len(names) > maxListed {
		shown = append(shown, fmt.Sprintf("… %d more", len(names)-maxListed))
	}
	return strings.Join(shown, ", ")
}

// suggest is schemas.Suggest, whatever the case, among names of sensible length.
func suggest(written string, known []string) string {
	var candidates []string
	for _, name := range known {
		if strings.EqualFold(strings.Join(strings.Fields(name), " "), strings.Join(strings.Fields(written), " ")) {
			return fmt.Sprintf("did you mean %q?", name)
		}
		if len(name) <= maxNameBytes && strconv.Quote(name) == `"`+name+`"` { // a hint repeats it as it stands
			candidates = append(candidates, name)
		}
	}
	return schemas.Suggest(written, candidates[:min(len(candidates), maxNames)])
}

func joinHints(hints ...string) string {
	return strings.Join(slices.DeleteFunc(hints, func(h string) bool { return h == "" }), " ")
}
