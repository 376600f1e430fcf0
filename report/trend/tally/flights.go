package tally

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/parquet-go/parquet-go"

	"downlock/schemas"
)

// The groups of flights are bounded, in a month, and together with months and
// rules: past that a table of groups says nothing, and the counts, 32 bytes each,
// no longer fit in memory.
const (
	mostStrata = 20_000
	mostCells  = 4000 * 60 * 45
)

// tooMany says that there are more groups than that.
func tooMany(file string, strata int, o Options) error {
	return &schemas.Problem{File: file, Cause: fmt.Sprintf("%d groups of flights, or more, by %s together are too many", strata, strings.Join(o.By, ", ")),
		Hint: "read fewer months with --from and --to, or group by fewer columns, or by one with fewer values"}
}

// NotGroupable is the problem of a column to group by that there is not.
type NotGroupable struct{ problem *schemas.Problem }

func (e *NotGroupable) Error() string { return e.problem.Error() }
func (e *NotGroupable) Unwrap() error { return e.problem }

// groupColumns checks the columns to group by against the newest month, and adds
// the registration.
func groupColumns(o Options, months []string) ([]string, error) {
	path := partPath(o.Archive, schemas.FlightsTable, months[len(months)-1])
	p, err := openPart(path)
	if p == nil {
		return nil, err
	}
	defer p.close()
	var can []string
	for _, f := range p.Schema().Fields() {
		if f.Leaf() && !f.Repeated() && groupable(f) {
			can = append(can, f.Name())
		}
	}
	by := append(slices.Clone(o.By), RegistrationColumn)
	for _, name := range by {
		if !slices.Contains(can, name) && name != RegistrationColumn {
			return nil, &NotGroupable{&schemas.Problem{File: path, Cause: fmt.Sprintf("flights cannot be grouped by %q", name),
				Hint: "they can be by " + strings.Join(can, ", ")}}
		}
	}
	slices.Sort(by)
	return slices.Compact(by), nil
}

// groupable leaves out columns that differ in every flight: times and measures.
func groupable(f parquet.Field) bool {
	switch f.Type().Kind() {
	case parquet.ByteArray, parquet.Boolean, parquet.Int32:
		return true
	}
	return false
}

// readFlights reads which flights the month has and which group each is in.
func (m *monthTally) readFlights(o Options) error {
	seen := map[string]int{}
	return eachGroup(partPath(o.Archive, schemas.FlightsTable, m.name), func(g *group) error {
		var ids words
		if err := g.readWords("flight_id", &ids); err != nil {
			return err
		}
		columns := make([][]string, len(o.By))
		for i, name := range o.By {
			var err error
			if columns[i], err = g.texts(o, name, len(ids.index)); err != nil {
				return err
			}
		}
		var key []byte
		for row := range ids.index {
			key = key[:0]
			for i := range columns {
				key = append(append(key, columns[i][row]...), 0)
			}
			s, ok := seen[string(key)]
			if !ok {
				values := make([]string, len(columns))
				for i := range columns {
					values[i] = strings.Clone(columns[i][row])
				}
				if s = len(m.strata); s == mostStrata {
					return tooMany(g.path, s, o)
				}
				seen[string(key)] = s
				m.strata, m.flights = append(m.strata, values), append(m.flights, 0)
			}
			m.flights[s]++
			m.stratumOf[ids.at(row)] = s
		}
		return nil
	})
}

// texts reads a column to group by as text; "" where it is absent.
func (g *group) texts(o Options, name string, rows int) ([]string, error) {
	out := make([]string, rows)
	chunk := g.chunk(name)
	if chunk == nil { // a month written before the column was added
		return out, g.airframes(o, name, out)
	}
	var whole []int32
	var err error
	switch chunk.Type().Kind() {
	case parquet.Boolean:
		return out, g.booleans(chunk, out)
	case parquet.Int32:
		whole, err = g.readInts(name, whole)
		for i := range whole {
			out[i] = strconv.Itoa(int(whole[i]))
		}
		return out, err
	}
	var w words
	err = g.readWords(name, &w)
	for i := range w.index {
		out[i] = w.at(i)
	}
	if err != nil {
		return out, err
	}
	return out, g.airframes(o, name, out)
}

func (g *group) booleans(chunk parquet.ColumnChunk, out []string) error {
	row := 0
	return eachPage(chunk, func(page parquet.Page) error {
		values := make([]parquet.Value, page.NumValues())
		n, _ := page.Values().ReadValues(values)
		for _, v := range values[:n] {
			if !v.IsNull() {
				out[row] = strconv.FormatBool(v.Boolean())
			}
			row++
		}
		return nil
	})
}

// airframes finds the individual aircraft in the names of the recordings, where
// asked to and no registration is known.
func (g *group) airframes(o Options, column string, out []string) error {
	if column != RegistrationColumn || o.Airframe == nil || !slices.Contains(out, "") {
		return nil
	}
	var names words
	if err := g.readWords("recording_name", &names); err != nil {
		return err
	}
	for i := range names.index {
		if found := o.Airframe.FindStringSubmatch(names.at(i)); len(found) > 1 && out[i] == "" {
			out[i] = found[1]
		}
	}
	return nil
}

// readRecordings finds the recordings of the flights with events.
func (m *monthTally) readRecordings(o Options) error {
	if !o.Recordings {
		return nil
	}
	m.recordings = map[string]Recording{}
	for _, e := range m.events {
		m.recordings[e.Flight] = Recording{}
	}
	return m.fillRecordings(o)
}

// fillRecordings fills in the recordings of the flights that are there.
func (m *monthTally) fillRecordings(o Options) error {
	return eachGroup(partPath(o.Archive, schemas.FlightsTable, m.name), func(g *group) error {
		var ids, names, hashes words
		for name, w := range map[string]*words{"flight_id": &ids, "recording_name": &names, "recording": &hashes} {
			if err := g.readWords(name, w); err != nil {
				return err
			}
		}
		numbers, err := g.readInts("number", nil)
		if err != nil {
			return err
		}
		for row := range ids.index {
			if _, wanted := m.recordings[ids.at(row)]; wanted {
				m.recordings[ids.at(row)] = Recording{strings.Clone(names.at(row)), strings.Clone(hashes.at(row)), int(numbers[row])} // not with all of their column
			}
		}
		return nil
	})
}
