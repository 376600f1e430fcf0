package simulator

import (
	"math"
	"slices"
	"strconv"

	"downlock/ingest/export"
)

// lostToken is the export's text for a lost sample.
const lostToken = "----"

// Channel is one recorded parameter of a flight, for callers that sample it
// themselves.
type Channel struct {
	Column, Parameter string
	Sampling          Sampling
	// Value returns the value the column shows at a time, rounded as in the export: a
	// number, 0 or 1, or the place of a word.
	Value func(t float64) float64
	// Lost reports whether the sample at a time is lost.
	Lost func(t float64) bool
}

// Channels lists the recorded parameters. Only one goroutine at a time may ask for
// their values.
func (f *Flight) Channels() []Channel {
	var out []Channel
	for _, c := range f.channels() {
		if !f.recorded(c.column) {
			continue
		}
		out = append(out, Channel{c.column, c.parameter, Sampling{c.perSecond, c.offset}, func(t float64) float64 { return c.written(f, t) },
			func(t float64) bool { return f.lost(c.column, t) }})
	}
	return out
}

// lost reports whether a fault removes the sample of a column at a time.
func (f *Flight) lost(column string, t float64) bool {
	return slices.ContainsFunc(f.Scenario.Faults.Lost, func(l Loss) bool { return l.Column == column && t >= l.Start && t < l.End })
}

// written returns the value as the export writes it.
func (c channel) written(f *Flight, t float64) float64 {
	v, is := f.forced(c.column, t)
	if !is {
		v = c.value(f, t)
	}
	tenths := math.Pow10(c.decimals)
	return math.Round(v*tenths) / tenths
}

// Record samples the flight as the recorder does.
func (f *Flight) Record() export.Table {
	table := export.Table{TimeName: "time", Epoch: f.Scenario.Epoch}
	for _, c := range f.channels() {
		if !f.recorded(c.column) {
			continue
		}
		column := export.Column{Name: c.column, Unit: c.unit, Decimals: max(c.decimals, 0)}
		for _, t := range c.times(f.Scenario.Start, f.Scenario.End) {
			column.Times = append(column.Times, t)
			v := c.written(f, t)
			if c.words != nil {
				column.Texts = append(column.Texts, c.words[int(v)])
				continue
			}
			column.Numbers = append(column.Numbers, v)
		}
		if f.Scenario.Faults.LostSamples {
			damage(&column, f.Scenario)
		}
		table.Columns = append(table.Columns, column)
	}
	return table
}

// times returns the times of the channel's samples within a stretch.
func (c channel) times(start, end float64) []float64 {
	var times []float64
	for k := math.Ceil((start - c.offset) * c.perSecond); ; k++ {
		t := c.offset + k/c.perSecond
		if t > end {
			return times
		}
		if t >= start {
			times = append(times, t)
		}
	}
}

// damage does the damage of a bad download to a column, in the middle of the
// recording, where no event is. The flap angle loses samples, the airspeed has one
// spike, and one altitude is out of range.
func damage(c *export.Column, s Scenario) {
	middle := math.Floor((s.Start + s.End) / 2)
	switch c.Name {
	case "airspeed":
		c.Numbers[indexAt(c, middle)] += 170
	case "pressure altitude":
		c.Numbers[indexAt(c, middle+20)] = 99999
	case "flap angle":
		c.Texts = make([]string, len(c.Times))
		for i, v := range c.Numbers {
			c.Texts[i] = strconv.FormatFloat(v, 'f', c.Decimals, 64)
			if t := c.Times[i]; t >= middle && t < middle+25 {
				c.Texts[i] = lostToken
			}
		}
		c.Numbers = nil
	}
	for _, outage := range s.Faults.RadioOutages {
		if c.Name == "radio height" {
			lose(c, outage)
		}
	}
}

// lose removes the samples of a stretch.
func lose(c *export.Column, stretch [2]float64) {
	kept := 0
	for i, t := range c.Times {
		if t < stretch[0] || t >= stretch[1] {
			c.Times[kept], c.Numbers[kept] = t, c.Numbers[i]
			kept++
		}
	}
	c.Times, c.Numbers = c.Times[:kept], c.Numbers[:kept]
}

// indexAt returns the index of the first sample at or after a time.
func indexAt(c *export.Column, t float64) int {
	for i, at := range c.Times {
		if at >= t {
			return i
		}
	}
	return len(c.Times) - 1
}

// OtherCircuits returns what other aircraft record of the gear: one circuit in place of one
// for each leg, by the names of their canonical parameters, and the position of each leg,
// nose_gear_position and so on, 1 down and locked, 0 up and locked and 0.5 in between.
func (f *Flight) OtherCircuits() (columns []export.Column) {
	type circuit struct {
		name  string
		value func(t float64) float64
	}
	circuits := []circuit{
		{"weight_on_wheels", func(t float64) float64 { return truth(f.Compressed(1, t) || f.Compressed(2, t)) }},
		{"gear_down_locked", func(t float64) float64 { return truth(f.AllDown(t)) }},
		{"gear_up_locked", func(t float64) float64 { return truth(f.Up(0, t) && f.Up(1, t) && f.Up(2, t)) }},
	}
	for leg, name := range f.Profile.Legs {
		circuits = append(circuits, circuit{name + "_gear_position", func(t float64) float64 {
			return (1 + truth(f.Down(leg, t)) - truth(f.Up(leg, t))) / 2
		}})
	}
	for i, circuit := range circuits {
		c := export.Column{Name: circuit.name, Decimals: 1}
		for _, t := range (channel{perSecond: 2, offset: float64(i%4) / 8}).times(f.Scenario.Start, f.Scenario.End) {
			c.Times, c.Numbers = append(c.Times, t), append(c.Numbers, circuit.value(t))
		}
		if i < 3 {
			c.Decimals = 0
		}
		columns = append(columns, c)
	}
	return columns
}
