package ingest

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"slices"

	"downlock/schemas"
)

// canonicalReading puts a recording together from a file of canonical columns: the
// metadata lists its sources, and the rows follow in their order.
type canonicalReading struct {
	*reading
	stated   schemas.Canonical
	sources  []canonicalSource
	at       int // the source the next row belongs to
	total    int // samples of all sources so far
	packed   int // bytes
	position int // rows so far
}

// canonicalSource is a source the metadata lists, and its samples so far.
type canonicalSource struct {
	*channel
	stretch int
	stated  *schemas.CanonicalParameter
	whole   int // samples so far
	last    float64
	series  *Series // once it has all its samples
}

// canonicalFormat is the format of such a file for people, before its kind.
const canonicalFormat = "canonical columns, "

// canonicalColumns are the columns of a row that are read back.
var canonicalColumns = []string{"stretch", "parameter", "source_rank", "time_s", "value"}

const rewrittenHint = "write it again from the export with `downlock columns`; it is read only as it was written, or without its metadata as a long export, with a profile that maps its columns"

// readCanonical reads a file of canonical columns; metadata is what it says of itself.
// The profile's columns have no say.
func (r *reading) readCanonical(file columnar, kind, metadata string) error {
	r.format, r.place = canonicalFormat+kind, "row"
	c := &canonicalReading{reading: r}
	if err := json.Unmarshal([]byte(metadata), &c.stated); err != nil {
		return r.problem(fmt.Sprintf("says that it holds canonical columns, but its metadata is not their JSON: %s", clip(err.Error())), rewrittenHint)
	}
	if c.stated.Schema != schemas.CanonicalSchema {
		return r.problem(fmt.Sprintf("holds canonical columns of the form %q; this downlock reads %q", clip(c.stated.Schema), schemas.CanonicalSchema), "another version of downlock wrote it: read it with that version, or write it again")
	}
	err := c.listSources()
	for k := 0; err == nil && k < file.parts(); k++ {
		var columns []*column
		if columns, err = file.part(k, canonicalColumns); err == nil {
			err = c.add(columns)
		}
	}
	if err == nil {
		err = c.finishSources()
	}
	var problem *schemas.Problem
	if err != nil && !errors.As(err, &problem) {
		err = r.problem(err.Error(), rewrittenHint)
	}
	if err == nil {
		r.canonical = c.recording()
	}
	return err
}

// listSources checks what the metadata says, and makes a channel of every source.
func (c *canonicalReading) listSources() error {
	if len(c.stated.Stretches) == 0 {
		return errors.New("its metadata lists no stretch")
	}
	samples := 0
	for k := range c.stated.Stretches {
		s := &c.stated.Stretches[k]
		if beyondAxis(s.StartS)+beyondAxis(s.EndS) != "" || s.StartS > s.EndS {
			return fmt.Errorf("its metadata has stretch %d run from %g to %g s", k+1, s.StartS, s.EndS)
		}
		if len(s.Repairs) > len(s.Notes) {
			return fmt.Errorf("its metadata has more repairs than notes of stretch %d", k+1)
		}
		ranks := map[string]int{}
		for i := range s.Parameters {
			stated := &s.Parameters[i]
			if ranks[stated.Parameter]++; ranks[stated.Parameter] != stated.SourceRank {
				return fmt.Errorf("its metadata lists source %d of %q out of order", stated.SourceRank, clip(stated.Parameter))
			}
			channel, err := c.newSource(stated)
			if err != nil {
				return err
			}
			samples += stated.Samples
			c.sources = append(c.sources, canonicalSource{channel: channel, stretch: k, stated: stated, last: math.Inf(-1)})
		}
	}
	if len(c.sources) > maxColumns {
		return fmt.Errorf("its metadata lists %d sources of parameters; at most %d are read", len(c.sources), maxColumns)
	}
	c.packing = c.packAbove > 0 && samples > c.packAbove
	return nil
}

// newSource makes the channel of a source from the metadata.
func (c *canonicalReading) newSource(stated *schemas.CanonicalParameter) (*channel, error) {
	parameter, known := c.profile.Parameter(stated.Parameter)
	if !known {
		return nil, fmt.Errorf("its metadata lists the parameter %q, which neither this version of downlock nor the profile knows", clip(stated.Parameter))
	}
	if stated.Kind != parameter.Kind || stated.Unit != parameter.Unit || !slices.Equal(stated.States, parameter.States) {
		return nil, fmt.Errorf("its metadata has %s as %q in %q with %d states; here it is %q in %q with the states %q", parameter.Name,
			clip(string(stated.Kind)), clip(stated.Unit), len(stated.States), parameter.Kind, parameter.Unit, parameter.States)
	}
	for _, x := range []float64{stated.IntervalS, stated.LongestS, stated.GapS, stated.Accuracy, stated.TimeAccuracyS,
		float64(stated.Samples), float64(stated.OutOfRange), float64(stated.Spikes), float64(stated.Invalid)} {
		if x < 0 || x > maxSeconds {
			return nil, fmt.Errorf("its metadata has %g as an interval, an accuracy or a count of %s", x, parameter.Name)
		}
	}
	source := &schemas.Source{Column: stated.Column, Unit: parameter.Unit}
	return newChannel(parameter, source, nil), nil
}

// add takes the rows of a part of the file.
func (c *canonicalReading) add(columns []*column) error {
	stretches, parameters, ranks, times, values := columns[0], columns[1], columns[2], columns[3], columns[4]
	if times.rows() == 0 {
		return nil
	}
	for i, column := range columns {
		if column.text != (column == parameters) || column.nulls > 0 {
			return fmt.Errorf("its column %q has nulls or another type than downlock writes", canonicalColumns[i])
		}
	}
	for row := range times.numbers {
		for c.at < len(c.sources) && c.sources[c.at].whole == c.sources[c.at].stated.Samples {
			if err := c.complete(&c.sources[c.at]); err != nil {
				return err
			}
			c.at++
		}
		c.position++
		if c.at == len(c.sources) {
			return fmt.Errorf("it has more rows than its metadata says: row %d is one too many", c.position)
		}
		s := &c.sources[c.at]
		if parameters.texts[row] != s.parameter.Name || ranks.numbers[row] != float64(s.stated.SourceRank) || stretches.numbers[row] != float64(s.stretch+1) {
			return fmt.Errorf("row %d is of source %g of %q in stretch %g; by its metadata it is of source %d of %q in stretch %d: rows were taken out, added or sorted since",
				c.position, ranks.numbers[row], clip(parameters.texts[row]), stretches.numbers[row], s.stated.SourceRank, s.parameter.Name, s.stretch+1)
		}
		if err := c.addSample(s, times.numbers[row], values.numbers[row]); err != nil {
			return err
		}
	}
	return nil
}

func (c *canonicalReading) addSample(s *canonicalSource, at, value float64) error {
	stretch := &c.stated.Stretches[s.stretch]
	switch {
	case !(at > s.last): // NaN too
		return fmt.Errorf("row %d: the time %g of %s does not lie after that of the row before", c.position, at, s.parameter.Name)
	case at < stretch.StartS || at > stretch.EndS:
		return fmt.Errorf("row %d: the time %g of %s lies outside its stretch, %g to %g s", c.position, at, s.parameter.Name, stretch.StartS, stretch.EndS)
	case s.numeric && math.IsInf(value, 0) || math.IsNaN(value):
		return fmt.Errorf("row %d: %s is %g", c.position, s.parameter.Name, value)
	case s.numeric:
		s.numbers = append(s.numbers, value)
	default:
		states := max(len(s.parameter.States), 2)
		if code := int(value); value != math.Trunc(value) || code < 0 || code >= states {
			return fmt.Errorf("row %d: the value %g of %s is not one of its %d states", c.position, value, s.parameter.Name, states)
		}
		s.codes = append(s.codes, uint8(value))
	}
	s.times = append(s.times, at)
	s.last = at
	s.whole++
	c.total++
	if s.whole%rowsPerCheck == 0 {
		if c.packing {
			s.pack(&c.packer, false)
		}
		return c.checkRoom(s)
	}
	return nil
}

// checkRoom refuses more samples than are kept.
func (c *canonicalReading) checkRoom(s *canonicalSource) error {
	if cause := c.excess(c.total, s.whole, c.packed+s.packedBytes()); cause != "" {
		return c.problem(cause, excessHint)
	}
	return nil
}

// complete makes the series of a source that has all its samples.
func (c *canonicalReading) complete(s *canonicalSource) error {
	stated := s.stated
	out := &Series{Parameter: s.parameter, Column: stated.Column, Interval: stated.IntervalS, Longest: stated.LongestS, Gap: stated.GapS,
		TimeAccuracy: stated.TimeAccuracyS, Dropped: Dropped{stated.OutOfRange, stated.Spikes, stated.Invalid}}
	if stated.AccuracyIs == schemas.AccuracyStated {
		out.Accuracy = stated.Accuracy
	}
	if c.packing {
		s.pack(&c.packer, true)
	}
	if s.channel.packed != nil {
		out.packed, out.source = s.channel.packed, s.source
		c.shareTimes(out)
	} else {
		out.setSamples(s.channel)
	}
	c.packed += s.packedBytes()
	s.series = out
	return c.checkRoom(s)
}

// finishSources completes those after the last row.
func (c *canonicalReading) finishSources() error {
	for ; c.at < len(c.sources); c.at++ {
		s := &c.sources[c.at]
		if s.whole != s.stated.Samples {
			return fmt.Errorf("it ends after row %d: its metadata says that source %d of %s has %d samples, and it has %d", c.position, s.stated.SourceRank, s.parameter.Name, s.stated.Samples, s.whole)
		}
		if err := c.complete(s); err != nil {
			return err
		}
	}
	return nil
}

// recording is what the file holds, stretch by stretch.
func (c *canonicalReading) recording() *Recording {
	var all []*Recording
	for k := range c.stated.Stretches {
		s := &c.stated.Stretches[k]
		out := &Recording{Epoch: s.Epoch.UTC(), Month: s.Month, Start: s.StartS, End: s.EndS, Stretch: k, Notes: s.Notes, Repairs: s.Repairs}
		for _, a := range s.Absent {
			out.Absent = append(out.Absent, Absent(a))
		}
		if note := c.otherProfile(); note != "" {
			out.Notes, out.Repairs = append([]string{note}, out.Notes...), append([]string{note}, out.Repairs...)
		}
		all = append(all, out)
	}
	for _, s := range c.sources {
		out := all[s.stretch]
		if s.stated.SourceRank == 1 {
			out.Series = append(out.Series, s.series)
		} else {
			out.Alternatives = append(out.Alternatives, s.series)
		}
	}
	all[0].Later = all[1:]
	return all[0]
}

// otherProfile notes that the file was written with another profile, "" where it was
// not or that is not known.
func (c *canonicalReading) otherProfile() string {
	written := c.stated.Profile
	if written.SHA256 == "" || written.SHA256 == c.profile.SHA256 {
		return ""
	}
	return fmt.Sprintf("the columns were written with another profile or another version of it (%s, SHA-256 %s): columns, units, polarities and accuracies are from that profile, limits and criteria from this one",
		clip(written.Title), clip(written.SHA256[:min(len(written.SHA256), 12)]))
}
