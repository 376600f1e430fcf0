package ingest

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"downlock/ingest/compact"
	"downlock/schemas"
)

// maxSeconds bounds the time axis, either way: 30,000 years.
const maxSeconds = 1e12

// reading is a recording in the making: what every format's reader fills.
type reading struct {
	file    string
	format  string
	profile *schemas.Profile
	mapping *mapping
	axis    axis
	limit   int64   // bytes of the content
	raw     *stream // the file, for how far it has been read; nil in tests of parts

	place       string // what notes count: line, or row of a columnar file
	rows        int    // rows with a time
	first, last float64
	previous    float64
	notes       []string
	untimed     tally // rows without a time
	backwards   tally // rows whose time steps back
	short       tally // lines with fewer cells than the header
	unnamed     tally // rows of a long export without a parameter name

	unmapped bool // the export has no column the profile maps

	packAbove int  // samples; 0: it is not packed
	packing   bool // it is
	packer    compact.Packer
	times     []*packedTimes // of the series so far

	tokens meaning // knows cells that say "no valid value"
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
	r.axis = axis{unit: factor, point: '.', midnight: midnightStepWide}
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
type layout struct{ time, date, clock, parameter, value int }

func (r *reading) layoutOf(columns []string) layout {
	find := func(name string) int {
		if name == "" {
			return -1
		}
		return slices.Index(columns, strings.TrimSpace(name))
	}
	l := layout{time: find(r.timeColumn()), date: find(r.profile.Time.Date), clock: -1, parameter: find(r.profile.Long.Parameter), value: find(r.profile.Long.Value)}
	if r.profile.Time.Column != "" {
		l.clock = find(r.profile.Time.Clock)
	}
	return l
}

func (l layout) long() bool { return l.time >= 0 && l.parameter >= 0 && l.value >= 0 }

// noteRow keeps count of a row's time; where is its line or row.
func (r *reading) noteRow(at float64, where int) {
	if r.rows == 0 {
		r.first, r.last = at, at
	} else if at < r.previous {
		r.backwards.add(where)
	}
	r.rows++
	r.previous = at
	r.first, r.last = min(r.first, at), max(r.last, at)
}

// beyondAxis is the cause for a time no recording has, "" for others.
func beyondAxis(at float64) string {
	if math.Abs(at) <= maxSeconds {
		return ""
	}
	return fmt.Sprintf("time %g s is out of all bounds", at)
}

// problem makes a problem of the whole file.
func (r *reading) problem(cause, hint string) *schemas.Problem {
	return &schemas.Problem{File: r.file, Cause: cause, Hint: hint}
}

// noTime is the problem of a file without the time column.
func (r *reading) noTime(columns []string) *schemas.Problem {
	name := r.timeColumn()
	if name == "" {
		return r.problem("has no time column: "+r.profileName()+" names none, which suits MATLAB files alone", "name the export's time column under time in "+r.profileName())
	}
	hint := joinHints(suggest(name, columns), "name the export's time column under time in "+r.profileName())
	return r.problem(fmt.Sprintf("has no time column %q; it has: %s", name, listed(columns)), hint)
}

// noneMapped is the problem of a file without any column the profile maps.
func (r *reading) noneMapped(columns []string) *schemas.Problem {
	r.unmapped = true
	hint := "is this the profile for this export?"
	others := slices.DeleteFunc(slices.Clone(columns), func(name string) bool { return name == r.timeColumn() })
	for _, c := range r.mapping.channels {
		if s := suggest(c.source.Column, others); s != "" {
			hint = fmt.Sprintf("for %s, mapped to %q: %s; %s", c.parameter.Name, c.source.Column, s, hint)
			break
		}
	}
	return r.problem(fmt.Sprintf("has none of the columns %s maps; it has: %s", r.profileName(), listed(columns)), hint)
}

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

// recording finishes the reading.
func (r *reading) recording() (*Recording, error) {
	selected := r.mapping.choose()
	var problems schemas.Problems
	for _, c := range selected.first {
		if c.problem != nil {
			problems = append(problems, c.problem)
		}
	}
	if len(problems) > 0 {
		return nil, problems.InOrder()
	}
	if r.rows == 0 {
		return nil, r.problem("has a header but no rows of data", "the readout may have failed; export the recording again")
	}
	out := &Recording{Epoch: r.axis.epoch, Start: r.first, End: r.last, Absent: selected.absent, Notes: r.notes}
	var repeats []string
	scratch := &channel{}
	take := func(channels []*channel, called func(*Series) string) (all []*Series) {
		for _, c := range channels {
			s, repeated := r.seriesOf(c, scratch)
			all = append(all, s)
			if n := s.Len() + s.Dropped.Total(); s.Dropped.Range*10 > n {
				out.Notes = append(out.Notes, fmt.Sprintf("%d of %d samples of %s are out of its plausible range: check the unit and scale of column %q in the profile", s.Dropped.Range, n, c.parameter.Name, s.Column))
			}
			if repeated > 0 {
				repeats = append(repeats, fmt.Sprintf("%s %d", called(s), repeated))
			}
		}
		return all
	}
	out.Series = take(selected.first, func(s *Series) string { return s.Parameter.Name })
	out.Notes = append(out.Notes, selected.dropUnreadable()...)
	out.Alternatives = take(selected.further, func(s *Series) string { return fmt.Sprintf("%s from %q", s.Parameter.Name, s.Column) })
	out.Notes = append(out.Notes, r.tallies()...)
	if len(repeats) > 0 {
		out.Notes = append(out.Notes, "samples that repeat a time of their parameter, the last of each time kept: "+strings.Join(repeats, ", "))
	}
	return out, nil
}

func (r *reading) tallies() (notes []string) {
	for _, t := range []struct {
		tally
		format string
	}{
		{r.untimed, "%s without a valid time left out, the first in %s %d"},
		{r.backwards, "time steps back in %s, the first in %s %d; samples were sorted by time"},
		{r.unnamed, "%s without a parameter name left out, the first in %s %d"},
		{r.short, "%s with fewer cells than the header read with the rest blank, the first in %s %d"},
	} {
		if t.count > 0 {
			rows := fmt.Sprintf("%d rows", t.count)
			if t.count == 1 {
				rows = "1 row"
			}
			notes = append(notes, fmt.Sprintf(t.format, rows, r.place, t.first))
		}
	}
	return notes
}
