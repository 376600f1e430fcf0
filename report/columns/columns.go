// Package columns writes what was understood of a recording as columns for other
// programs: Parquet or an Arrow IPC file, in long form, a row for each valid sample.
//
// A wide table would put all parameters on one time axis, which none of them has: each
// is sampled at its own times. In long form every sample keeps its own, and a reader
// pivots as it likes. Rows come by stretch, parameter, source and time; each source
// begins a row group or record batch of its own, so that a reader of one parameter
// skips the others. Numbers are those that rules compare, to the bit, and package
// ingest reads the file back as the same Recording.
//
// The columns are the fields of schemas.CanonicalRow; what they cannot say is in the
// metadata, a schemas.Canonical.
package columns

import (
	"encoding/json"
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"downlock/detect"
	"downlock/ingest"
	"downlock/schemas"
)

// Kind is a kind of file, by the ending of its name.
type Kind string

const (
	Parquet Kind = ".parquet"
	Arrow   Kind = ".arrow"
)

// KindOf returns the kind of a file by its name; ok is false for another ending.
func KindOf(path string) (k Kind, ok bool) {
	k = Kind(strings.ToLower(filepath.Ext(path)))
	return k, k == Parquet || k == Arrow
}

// Columns are a recording ready to be written.
type Columns struct {
	stated  schemas.Canonical
	sources []source // in the order of the rows
}

// New holds a recording against its profile and states what is understood of it.
// version is that of downlock; shown is the profile as results may show it, with hash
// "" where it is withheld. The error is that of detect.Detector.Understand.
func New(version string, r *ingest.Recording, shown *schemas.Profile, d *detect.Detector) (*Columns, error) {
	understood, err := d.Understand(r)
	if err != nil {
		return nil, err
	}
	c := &Columns{stated: schemas.Canonical{
		Schema: schemas.CanonicalSchema, Version: version,
		Input:    schemas.CanonicalInput{Name: text(r.Name), SHA256: r.SHA256, Format: r.Format},
		Profile:  schemas.CanonicalProfile{Title: shown.Title, Aircraft: shown.Aircraft, Registration: shown.Registration, SHA256: shown.SHA256},
		Cautions: cautions,
	}}
	for k, stretch := range r.Stretches() {
		u := &understood[k]
		stated := stateStretch(stretch, u)
		for _, s := range inOrder(stretch) {
			source := newSource(s, stretch, u)
			stated.Parameters = append(stated.Parameters, source.state())
			c.sources = append(c.sources, source)
		}
		c.stated.Stretches = append(c.stated.Stretches, stated)
	}
	return c, nil
}

var cautions = []string{
	"These columns support a flight data monitoring programme. They are no airworthiness decision, no maintenance release and no finding about a person.",
	"Names, units and polarities are as the profile has them; rows that say why they are distrusted are used by no rule.",
	"What the recorder did not sample is not known.",
}

// Stated returns what the metadata will say.
func (c *Columns) Stated() schemas.Canonical { return c.stated }

// stateStretch states a stretch but for its parameters.
func stateStretch(r *ingest.Recording, u *detect.Understood) schemas.CanonicalStretch {
	out := schemas.CanonicalStretch{Epoch: r.Epoch, Month: r.Month, StartS: r.Start, EndS: r.End, Repairs: r.Repairs, Notes: r.Notes,
		Flights: []schemas.CanonicalFlight{}, Failed: []schemas.CanonicalCheck{}, Absent: []schemas.CanonicalAbsent{}, Parameters: []schemas.CanonicalParameter{}}
	for _, f := range u.Flights {
		out.Flights = append(out.Flights, schemas.CanonicalFlight{Number: f.Number, StartS: f.Span.Start, EndS: f.Span.End})
	}
	for _, c := range u.Checks {
		if c.Outcome == detect.Failed {
			out.Failed = append(out.Failed, schemas.CanonicalCheck{Title: c.Title, Parameters: c.Parameters, Evidence: c.Evidence, Hint: c.Hint})
		}
	}
	for _, a := range r.Absent {
		out.Absent = append(out.Absent, schemas.CanonicalAbsent(a))
	}
	return out
}

// ranked is a source of a parameter and its place among those the export has, from 1.
type ranked struct {
	*ingest.Series
	rank int
}

// inOrder lists the sources of a recording: each parameter's first, then its further ones.
func inOrder(r *ingest.Recording) (all []ranked) {
	for _, first := range r.Series {
		all = append(all, ranked{first, 1})
		rank := 1
		for _, s := range r.Alternatives {
			if s.Parameter.Name == first.Parameter.Name {
				rank++
				all = append(all, ranked{s, rank})
			}
		}
	}
	return all
}

// text makes a text that may come from a file valid.
func text(s string) string { return strings.ToValidUTF8(s, "\uFFFD") }

// sink takes the rows, at most rowsAtOnce at a time, and ends a group of them after
// those of a source.
type sink interface {
	write(rows []schemas.CanonicalRow) error
	endSource() error
	close() error
}

// rowsAtOnce bounds the rows in memory.
const rowsAtOnce = 1 << 16

// Write writes the columns. It unpacks one source at a time.
func (c *Columns) Write(w io.Writer, k Kind) error {
	metadata, err := json.Marshal(c.stated)
	if err != nil {
		return fmt.Errorf("the metadata cannot be written as JSON: %w", err)
	}
	to, err := c.newSink(w, k, string(metadata))
	if err != nil {
		return err
	}
	for i := range c.sources {
		if err := c.sources[i].write(to); err != nil {
			return err
		}
		if err := to.endSource(); err != nil {
			return err
		}
	}
	return to.close()
}

func (c *Columns) newSink(w io.Writer, k Kind, metadata string) (sink, error) {
	if k == Arrow {
		return c.newArrow(w, metadata)
	}
	return newParquet(w, metadata), nil
}
