package ingest

import (
	"slices"
	"strings"

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
	for _, parameter := range schemas.Parameters() {
		sources := profile.Columns[parameter.Name]
		for i := range sources {
			if parameter.Numeric() {
				if _, err := schemas.UnitFactor(sources[i].Unit, parameter.Unit); err != nil {
					return nil, &schemas.Problem{File: profile.File, Cause: parameter.Name + ": " + err.Error(), Hint: "give the unit the export writes"}
				}
			}
			c := newChannel(parameter, &sources[i], profile.InvalidTokens)
			m.channels = append(m.channels, c)
			column := strings.TrimSpace(sources[i].Column)
			c.also = m.byName[column]
			m.byName[column] = c
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

// choose gives each parameter's first source the export has, and the parameters
// it has none of.
func (m *mapping) choose() (chosen []*channel, absent []Absent) {
	for start := 0; start < len(m.channels); {
		name := m.channels[start].parameter.Name
		end := start
		var columns []string
		for end < len(m.channels) && m.channels[end].parameter.Name == name {
			columns = append(columns, m.channels[end].source.Column)
			end++
		}
		if i := slices.IndexFunc(m.channels[start:end], func(c *channel) bool { return c.seen }); i >= 0 {
			chosen = append(chosen, m.channels[start+i])
		} else {
			absent = append(absent, Absent{Parameter: name, Columns: columns})
		}
		start = end
	}
	return chosen, absent
}

// wide marks the columns a wide export has and gives, column by column, the
// chain of channels that read it, nil for a column nobody reads.
func (m *mapping) wide(columns []string) []*channel {
	for _, name := range columns {
		for c := m.byName[name]; c != nil; c = c.also {
			c.seen = true
		}
	}
	chosen, _ := m.choose()
	byColumn := make([]*channel, len(columns))
	for _, c := range chosen {
		i := slices.Index(columns, strings.TrimSpace(c.source.Column))
		c.also = byColumn[i]
		byColumn[i] = c
	}
	return byColumn
}
