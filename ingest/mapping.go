package ingest

import (
	"fmt"
	"slices"

	"downlock/schemas"
)

// mapping is the profile's column map at work: a channel for every source of
// every parameter, in vocabulary order, then order of preference.
type mapping struct {
	channels []*channel
	byName   map[string]*channel // by column; the head of a chain by channel.also
}

func newMapping(profile *schemas.Profile) (*mapping, error) {
	m := &mapping{byName: map[string]*channel{}}
	for _, parameter := range profile.Parameters() {
		sources := profile.Columns[parameter.Name]
		for i := range sources {
			detents := sources[i].Unit == schemas.DetentUnit
			if parameter.Numeric() && sources[i].Unit != "" && !detents {
				if _, err := schemas.UnitFactor(sources[i].Unit, parameter.Unit); err != nil {
					return nil, &schemas.Problem{File: profile.File, Cause: parameter.Name + ": " + err.Error(), Hint: "give the unit the export writes"}
				}
			}
			for _, c := range newChannels(parameter, &sources[i], profile.InvalidTokens) {
				if detents {
					c.readDetents(profile.Flaps.Detents)
				}
				m.channels = append(m.channels, c)
				c.also = m.byName[c.column]
				m.byName[c.column] = c
			}
		}
	}
	return m, nil
}

// decimalMark sets the decimal mark of every channel.
func (m *mapping) decimalMark(point byte) {
	for _, c := range m.channels {
		c.meaning.point = point
	}
}

// selection is what of the mapping an export has.
type selection struct {
	first   []*channel // each parameter's first source the export has
	further []*channel // the sources after it that the export has too
	absent  []Absent   // the parameters it has no source of
	notes   []string   // on sources it has in part
}

// choose sorts the sources by the columns the export has.
func (m *mapping) choose() (s selection) {
	for start := 0; start < len(m.channels); {
		name := m.channels[start].parameter.Name
		end := start
		var columns []string
		var have []*channel
		for end < len(m.channels) && m.channels[end].parameter.Name == name {
			c := m.channels[end]
			end++
			if c.behind {
				continue
			}
			columns = append(columns, c.source.Name())
			whole, note := c.present()
			if note != "" {
				s.notes = append(s.notes, note)
			}
			if whole && !slices.ContainsFunc(have, c.sameColumn) {
				have = append(have, c)
			}
		}
		if len(have) > 0 {
			s.first, s.further = append(s.first, have[0]), append(s.further, have[1:]...)
		} else {
			s.absent = append(s.absent, Absent{Parameter: name, Columns: columns})
		}
		start = end
	}
	return s
}

// dropUnreadable takes out the further sources with a cell that has no meaning
// and says so: they are there to be compared, and cost no file.
func (s *selection) dropUnreadable() (notes []string) {
	s.further = slices.DeleteFunc(s.further, func(c *channel) bool {
		for _, c := range c.columns() {
			if c.problem == nil {
				continue
			}
			where := ""
			if c.problem.Line > 0 {
				where = fmt.Sprintf("line %d: ", c.problem.Line)
			}
			notes = append(notes, fmt.Sprintf("column %q is a further source of %s and is not compared: %s%s", c.column, c.parameter.Name, where, c.problem.Cause))
			return true
		}
		return false
	})
	return notes
}

// wide marks the columns a wide export has and returns, column by column, the
// chain of channels that read it, nil for a column nobody reads.
func (m *mapping) wide(columns []string) []*channel {
	for _, name := range columns {
		for c := m.byName[name]; c != nil; c = c.also {
			c.seen = true
		}
	}
	s := m.choose()
	byColumn := make([]*channel, len(columns))
	for _, source := range slices.Concat(s.first, s.further) {
		for _, c := range source.columns() {
			i := slices.Index(columns, c.column)
			c.also = byColumn[i]
			byColumn[i] = c
		}
	}
	return byColumn
}
