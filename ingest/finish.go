package ingest

import (
	"fmt"
	"math"
	"strings"

	"downlock/schemas"
)

// recording finishes the reading: the first stretch, with the others in Later.
func (r *reading) recording() (*Recording, error) {
	if r.canonical != nil {
		return r.canonical, nil
	}
	r.endRows()
	r.wantUnits()
	selected := r.mapping.choose()
	var problems schemas.Problems
	for _, source := range selected.first {
		for _, c := range source.columns() {
			if c.problem != nil {
				problems = append(problems, c.problem)
			}
		}
	}
	if len(problems) > 0 {
		return nil, problems.InOrder()
	}
	if r.rows == 0 {
		return nil, r.problem("has a header but no rows of data", "the readout may have failed; export the recording again")
	}
	stretches, err := r.stretches()
	if err != nil {
		return nil, err
	}
	r.notes = append(r.notes, selected.notes...)
	r.notes = append(r.notes, selected.dropUnreadable()...)
	var all []*Recording
	days := make([][]string, len(stretches))
	for k := range stretches {
		days[k] = r.setDay(&stretches[k], k == 0)
	}
	for k, s := range stretches {
		out, err := r.piece(selected, k, s)
		if err != nil {
			return nil, err
		}
		all = append(all, out)
	}
	all[0].Later = all[1:]
	r.note(all, stretches, days)
	return all[0], nil
}

// stretches lists the stretches of the recording.
func (r *reading) stretches() ([]stretch, error) {
	if r.longState.listed {
		return r.listedStretches()
	}
	all := append(r.earlier, r.current)
	if len(all) > 1 && r.longState.on {
		for k := range all {
			r.bound(&all[k], k)
		}
	}
	return all, nil
}

// piece makes the recording of one stretch.
func (r *reading) piece(selected selection, k int, s stretch) (*Recording, error) {
	out := &Recording{Epoch: s.epoch, Month: s.month, Start: s.first, End: s.last, Absent: selected.absent, Stretch: k}
	timings := map[string]timing{}
	held := map[*channel]*channel{} // of those with one column
	var rows []*channel
	for _, c := range append(selected.first[:len(selected.first):len(selected.first)], selected.further...) {
		if c.samples == nil {
			held[c] = c.piece(k)
			rows = append(rows, held[c])
		}
	}
	within, notes := r.within(rows)
	out.Notes = append(append(out.Notes, findHolds(rows)...), notes...)
	scratch, width := &scratch{}, 0.0
	if r.sharing > 0 {
		width = 1
	}
	take := func(channels []*channel, called func(*channel) string) (all []*Series, err error) {
		for _, c := range channels {
			from, apart := held[c], timing{}
			if c.samples != nil {
				if from, apart = r.joined(c, k, s); apart.conflict {
					return nil, r.conflictProblem(apart)
				}
			}
			one, t := r.seriesOf(from, scratch)
			if t.conflict {
				return nil, r.conflictProblem(t)
			}
			if c.samples != nil {
				t = apart
			}
			all = append(all, one)
			if n := one.Len() + one.Dropped.Total(); one.Dropped.Range*10 > n {
				out.Notes = append(out.Notes, fmt.Sprintf("%d of %d samples of %s are outside its plausible range: check the unit and scale of column %q in the profile", one.Dropped.Range, n, c.parameter.Name, one.Column))
			}
			if one.undecided > 0 {
				out.Notes = append(out.Notes, fmt.Sprintf("%d samples of %s lie between its two levels with no known state before them, and were ignored", one.undecided, c.parameter.Name))
			}
			if (t.spread > 0 || c.samples != nil) && one.Len() > 0 { // the last of them may lie behind the last row
				times := one.TimeValues()
				out.End = max(out.End, times[len(times)-1]+max(one.delay, 0))
			}
			timings[called(c)] = t
			width = max(width, t.width)
		}
		return all, nil
	}
	var err error
	if out.Series, err = take(selected.first, func(c *channel) string { return c.parameter.Name }); err != nil {
		return nil, err
	}
	if out.Alternatives, err = take(selected.further, func(c *channel) string { return fmt.Sprintf("%s from %q", c.parameter.Name, c.source.Name()) }); err != nil {
		return nil, err
	}
	if width > 0 && (r.axis.form == formClock || r.axis.form == formInstant) {
		width = max(width, 1)
	}
	for _, all := range [][]*Series{out.Series, out.Alternatives} {
		for i, one := range all {
			one.TimeAccuracy = max(one.TimeAccuracy, width)
			if one.delay == 0 { // its place in the row is not stated
				one.TimeAccuracy = max(one.TimeAccuracy, within(one))
			}
			all[i] = one.Shifted(one.delay)
		}
	}
	out.Repairs = r.repeatNotes(timings)
	return out, nil
}

// note puts the notes on the whole file before those on each stretch, and first of
// all the repairs of time.
func (r *reading) note(all []*Recording, stretches []stretch, days [][]string) {
	split, tallies := r.splitNote(stretches), r.tallies()
	for k, out := range all {
		if split != "" {
			out.Repairs = append([]string{split}, out.Repairs...)
		}
		out.Repairs = append(out.Repairs, stretches[k].anchors.leapNotes(r.clockText)...)
		if r.strays.count > 0 {
			out.Repairs = append(out.Repairs, r.strayNote())
		}
		notes := append([]string{}, out.Repairs...)
		if len(all) > 1 {
			notes = append(notes, fmt.Sprintf("this is stretch %d of %d, from %s to %s", k+1, len(all), r.clockText(out.Start), r.clockText(out.End)))
		}
		notes = append(notes, r.sharedNotes()...)
		notes = append(notes, days[k]...)
		notes = append(notes, r.notes...)
		notes = append(notes, out.Notes...)
		out.Notes = append(notes, tallies...)
	}
}

func (r *reading) strayNote() string {
	return fmt.Sprintf("%s left out, with a time far from that of the rows before and after: the first in %s %d", rowCount(r.strays.count), r.place, r.strays.first)
}

func (r *reading) sharedNotes() []string {
	if r.sharing == 0 {
		return nil
	}
	return []string{fmt.Sprintf("%s share the second of the row before; they were spread over that second in their order, and every time may be wrong by up to 1 s", rowCount(r.sharing))}
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
			notes = append(notes, fmt.Sprintf(t.format, rowCount(t.count), r.place, t.first))
		}
	}
	if r.sheet != nil && r.sheet.Pending > 0 {
		notes = append(notes, fmt.Sprintf("%d formulas have no stored result, the first in cell %s; open the workbook in a spreadsheet program and save it", r.sheet.Pending, r.sheet.FirstPending))
	}
	return notes
}

func rowCount(n int) string {
	if n == 1 {
		return "1 row"
	}
	return fmt.Sprintf("%d rows", n)
}

// joinNames lists at most maxListed of the names.
func joinNames(names []string) string {
	if len(names) > maxListed {
		names = append(names[:maxListed:maxListed], fmt.Sprintf("… %d more", len(names)-maxListed))
	}
	return strings.Join(names, ", ")
}

// bound sets the ends of a stretch to those of its samples.
func (r *reading) bound(s *stretch, k int) {
	s.first, s.last = math.Inf(1), math.Inf(-1)
	for _, c := range r.mapping.channels {
		p := c.piece(k)
		if p.packed != nil {
			p = p.unpackedCopy()
		}
		for _, at := range p.times {
			s.first, s.last = min(s.first, at), max(s.last, at)
		}
	}
	if s.first > s.last {
		s.first, s.last = 0, 0
	}
}

// unpackedCopy is the channel with its samples unpacked.
func (c *channel) unpackedCopy() *channel {
	out := *c
	out.packed = nil
	tail := out
	out.times, out.numbers, out.codes = nil, nil, nil
	c.packed.unpack(&out, 0, c.packed.blocks())
	out.times = append(out.times, tail.times...)
	out.numbers = append(out.numbers, tail.numbers...)
	out.codes = append(out.codes, tail.codes...)
	return &out
}

// Stretches lists the recordings of the file: this one and those in Later, which
// are of the same name, bytes and format.
func (r *Recording) Stretches() []*Recording {
	all := []*Recording{r}
	for _, l := range r.Later {
		out := *l
		out.Name, out.SHA256, out.Unpacked, out.Bytes, out.Format = r.Name, r.SHA256, r.Unpacked, r.Bytes, r.Format
		all = append(all, &out)
	}
	return all
}
