package ingest

import (
	"errors"
	"fmt"
	"io"
	"math"
	"slices"

	"downlock/ingest/matlab"
	"downlock/schemas"
)

// Fields of the struct a MATLAB export has for each parameter: its samples, how
// many there are a second, and the unit. Those named Description and Alpha are
// for people.
const (
	matData  = "data"
	matRate  = "Rate"
	matUnits = "Units"
)

// maxMATRate bounds a rate, in samples a second: vibration is recorded at less.
const maxMATRate = 10_000

// matParameter is one parameter of a MATLAB export.
type matParameter struct {
	name   string
	data   *matlab.Array
	rate   float64 // samples a second
	units  string
	offset int64 // of the variable in the file
}

// at is the time of a sample, in seconds from the beginning of the file.
func (p *matParameter) at(i int) float64 { return float64(i) / p.rate }

// readMAT reads a MATLAB 5 file in which every parameter is a struct: sample i
// lies i/Rate seconds after the file's beginning.
func (r *reading) readMAT(content []byte) error {
	file, err := matlab.Open(content, matRoom(len(content), r.limit))
	if err != nil {
		return r.matProblem(err)
	}
	r.format, r.place = "MATLAB 5", "sample"
	clock := newMATClock(r.profile.Time.UTC)
	var names []string
	seen := map[string]bool{}
	for v, err := range file.Variables() {
		if err != nil {
			return r.matProblem(err)
		}
		names = append(names, v.Name)
		head, timed := r.mapping.byName[v.Name], clock.wants(v.Name)
		if head == nil && !timed {
			continue
		}
		if seen[v.Name] {
			r.notes = append(r.notes, fmt.Sprintf("variable %q %sfile; the first is read", v.Name, standsTwice))
			continue
		}
		seen[v.Name] = true
		p, err := r.matParameter(v)
		if err != nil {
			return err
		}
		if timed {
			clock.parameters[v.Name] = p
		}
		if err := r.addMAT(head, p); err != nil {
			return err
		}
	}
	if len(r.mapping.choose().first) == 0 {
		return r.noneMapped(names)
	}
	r.setMATClock(clock)
	return nil
}

// matParameter takes a variable apart; it must be a struct with data and rate.
func (r *reading) matParameter(v *matlab.Variable) (*matParameter, error) {
	a, err := v.Array()
	if err != nil {
		return nil, r.matProblem(err)
	}
	p := &matParameter{name: v.Name, offset: v.Offset()}
	data, rate := a.Fields[matData], a.Fields[matRate]
	if data == nil || rate == nil {
		return nil, r.matParameterProblem(p, fmt.Sprintf("is not a struct with fields %s and %s", matData, matRate))
	}
	if !data.Numeric() || !data.Vector() {
		return nil, r.matParameterProblem(p, fmt.Sprintf("field %s is not a row or column of numbers", matData))
	}
	if !rate.Numeric() || rate.Len() != 1 || !(rate.Number(0) > 0 && rate.Number(0) <= maxMATRate) {
		return nil, r.matParameterProblem(p, fmt.Sprintf("field %s is not a number of samples a second between 0 and %d", matRate, maxMATRate))
	}
	p.data, p.rate = data, rate.Number(0)
	if units := a.Fields[matUnits]; units != nil {
		p.units = bareUnit([]byte(units.Text()))
	}
	return p, nil
}

// matRoom is how many bytes the variables of a MATLAB file may unpack to: those of the limit.
// One is held at a time, and with the file itself it takes no more than half a gigabyte
// beyond.
func matRoom(size int, limit int64) int64 {
	return min(limit, limit+512<<20-int64(size))
}

// addMAT adds the samples to every channel of a chain.
func (r *reading) addMAT(head *channel, p *matParameter) error {
	n := p.data.Len()
	if head != nil {
		if cause := r.excess(n, n, 0); cause != "" {
			return r.problem(fmt.Sprintf("at byte %d: %s", p.offset, cause), excessHint)
		}
	}
	for c := head; c != nil; c = c.also {
		c.seen = true
		if cause, hint := r.otherUnit(c, p.units); cause != "" {
			return r.problem(fmt.Sprintf("at byte %d: %s", p.offset, cause), hint)
		}
		c.grow(r.atOnce(n))
		for i := range n {
			if err := r.checkNow(i); err != nil {
				return err
			}
			v := p.data.Number(i)
			if c.addNumber(p.at(i), v) || c.problem != nil {
				continue
			}
			cause, hint := c.unreadable(fmt.Sprint(v), r.profile.File)
			c.problem = r.problem(fmt.Sprintf("at byte %d, sample %d: %s", p.offset, i+1, cause), hint)
		}
	}
	if head != nil && n > 0 {
		r.rows = max(r.rows, n)
		r.current.last = max(r.current.last, p.at(n-1))
	}
	return r.checkSamples()
}

// matProblem makes an error of the MATLAB reader a problem of the file.
func (r *reading) matProblem(err error) error {
	var where *matlab.Error
	if errors.As(err, &where) || errors.Is(err, io.ErrUnexpectedEOF) {
		return r.problem(fmt.Sprintf("is not a readable MATLAB file: %v", err), damagedHint)
	}
	return err
}

func (r *reading) matParameterProblem(p *matParameter, cause string) error {
	return r.problem(fmt.Sprintf("at byte %d: variable %q %s", p.offset, clip(p.name), cause),
		fmt.Sprintf("a MATLAB export has a struct for each parameter, with its samples in %s and the number of samples a second in %s; see columns in %s", matData, matRate, r.profileName()))
}

// matClock collects the parameters that hold the parts of the UTC clock.
type matClock struct {
	names      schemas.UTCParameters
	parameters map[string]*matParameter
}

func newMATClock(names schemas.UTCParameters) *matClock {
	return &matClock{names: names, parameters: map[string]*matParameter{}}
}

func (c *matClock) wants(name string) bool {
	n := &c.names
	return name != "" && slices.Contains([]string{n.Year, n.Month, n.Day, n.Hour, n.Minute, n.Second}, name)
}

// whole returns the value of a parameter at a time, -1 where it has no whole
// number from 0 to most.
func (c *matClock) whole(name string, at, most float64) int {
	p := c.parameters[name]
	if p == nil {
		return -1
	}
	i := int(at*p.rate + 1e-6)
	if i >= p.data.Len() {
		return -1
	}
	if v := p.data.Number(i); v >= 0 && v <= most && v == math.Trunc(v) {
		return int(v)
	}
	return -1
}
