package ingest

import (
	"strings"

	"downlock/ingest/matlab"
	"downlock/schemas"
)

// formRate is the time of a MATLAB export: no column, a rate for each parameter.
const formRate = "rate of each parameter"

// openMAT lists the parameters of a MATLAB 5 file. Variables that are no
// parameter are left out with a note.
func (raw *Raw) openMAT(r *reading, content []byte) error {
	file, err := matlab.Open(content, matRoom(len(content), maxContentBytes))
	if err != nil {
		return r.matProblem(err)
	}
	fastest, best := -1, 0.0
	seen := map[string]bool{}
	for v, err := range file.Variables() {
		if err != nil {
			return r.matProblem(err)
		}
		if seen[v.Name] {
			continue
		}
		seen[v.Name] = true
		p, err := r.matParameter(v)
		if err != nil {
			r.notes = append(r.notes, "variable "+clip(v.Name)+" is not a parameter and was left out")
			continue
		}
		if p.rate > best && p.data.Len() > 0 {
			fastest, best = len(raw.Columns), p.rate
		}
		raw.Columns = append(raw.Columns, RawColumn{Name: v.Name, Unit: p.units})
	}
	if fastest < 0 {
		return r.problem("holds no parameter with samples", "a MATLAB export has a struct for each parameter, with its samples in data and the number of samples a second in Rate")
	}
	raw.Format = "MATLAB 5"
	raw.Time = RawTime{Form: formRate, Evidence: []string{"every parameter has its own number of samples a second"}}
	raw.Time.UTC = utcParameters(raw.Columns)
	raw.Notes = r.notes
	raw.walk = func(visit RawVisitor) error { return raw.walkMAT(content, fastest, visit) }
	return nil
}

// walkMAT visits the times of the parameter sampled most often as those of the
// rows, then the samples of each.
func (raw *Raw) walkMAT(content []byte, fastest int, visit RawVisitor) error {
	r, err := raw.reading()
	if err != nil {
		return err
	}
	file, err := matlab.Open(content, matRoom(len(content), maxContentBytes))
	if err != nil {
		return r.matProblem(err)
	}
	clock := newMATClock(raw.Time.UTC)
	place := map[string]int{}
	for i, c := range raw.Columns {
		place[c.Name] = i
	}
	var cell RawCell
	for v, err := range file.Variables() {
		if err != nil {
			return r.matProblem(err)
		}
		i, known := place[v.Name]
		if !known {
			continue
		}
		delete(place, v.Name) // the first of a name is read
		p, err := r.matParameter(v)
		if err != nil {
			return err
		}
		if clock.wants(v.Name) {
			clock.parameters[v.Name] = p
		}
		for k := range p.data.Len() {
			if i == fastest {
				visit.Row(p.at(k))
			}
			cell = RawCell{Column: i, Time: p.at(k), Number: p.data.Number(k), Numeric: true}
			cell.Invalid = r.tokens.isInvalidNumber(cell.Number)
			visit.Cell(&cell)
		}
	}
	notes := raw.Notes
	r.setMATClock(clock)
	raw.finish(r)
	if len(raw.Notes) == 0 {
		raw.Notes = notes
	}
	return nil
}

// utcParameters finds the parameters that hold the parts of the UTC clock by
// their names.
func utcParameters(columns []RawColumn) (out schemas.UTCParameters) {
	for _, c := range columns {
		lower := strings.ToLower(c.Name)
		if !strings.Contains(lower, "gmt") && !strings.Contains(lower, "utc") && !strings.Contains(lower, "date") {
			continue
		}
		for _, part := range []struct {
			word string
			name *string
		}{{"year", &out.Year}, {"month", &out.Month}, {"day", &out.Day}, {"hour", &out.Hour}, {"min", &out.Minute}, {"sec", &out.Second}} {
			if strings.Contains(lower, part.word) && *part.name == "" {
				*part.name = c.Name
			}
		}
	}
	if out.Hour == "" || out.Minute == "" || out.Second == "" {
		return schemas.UTCParameters{}
	}
	return out
}
