package survey

import (
	"math"
	"slices"
	"strconv"

	"downlock/ingest"
)

// Column is the content of one column, or of one name of a long export.
type Column struct {
	Name     string  `json:"name"`
	Unit     string  `json:"unit,omitempty"` // as the export states it
	Samples  int     `json:"samples"`        // cells with a value
	Invalid  int     `json:"invalid"`        // cells that say "no valid value"
	Blank    float64 `json:"blank"`          // share of rows without a cell; 0 where each row is one sample
	Lost     float64 `json:"lost"`           // share of samples missing at the column's own rate
	Interval float64 `json:"interval"`       // usual time between samples, s
	Offset   float64 `json:"offset"`         // usual time of a sample within its interval, s
	Start    float64 `json:"start"`          // first sample, s
	End      float64 `json:"end"`            // last sample, s

	Gaps      int   `json:"gaps"`
	Longest   []Gap `json:"longest_gaps"`
	StepsBack int   `json:"steps_back"`
	Repeats   int   `json:"repeats"`

	Numeric  bool    `json:"numeric"` // every value is a number
	Smallest float64 `json:"smallest"`
	Largest  float64 `json:"largest"`
	AtTop    float64 `json:"at_largest"` // share of samples at the largest value
	Distinct int     `json:"distinct"`   // different values; statesKept+1 means more
	States   []State `json:"states"`     // listed when few
	Changes  int     `json:"changes"`    // from one value to another

	Resolution float64 `json:"resolution"` // step in which its numbers are written; 0: none
	Motion     float64 `json:"motion"`     // distance of its samples from the line between their neighbours, without the largest hundredth

	sketch sketch
	runs   []change
}

// State is one of a column's few values.
type State struct {
	Text    string `json:"text"`
	Samples int    `json:"samples"`
}

// statesKept bounds the different values kept: a column with more is no lever, handle
// or switch.
const statesKept = 24

// changesKept bounds the changes of state kept: a switch changes a few dozen times in
// a flight.
const changesKept = 512

// change is a state that begins at a time.
type change struct {
	at    float64
	state int // index into States, in order of appearance
}

// columnTally counts the cells of a column as they pass.
type columnTally struct {
	timeTally
	invalid  int
	texts    int // cells that are not numbers
	low, top float64
	atTop    int
	states   []State
	index    map[string]int
	tooMany  bool
	changes  int
	last     float64
	lastKnow bool
	runs     []change
	sketch   sketch
	motion   motion
}

func (c *columnTally) add(cell *ingest.RawCell) {
	if cell.Invalid || cell.Numeric && (math.IsNaN(cell.Number) || math.IsInf(cell.Number, 0)) {
		c.invalid++
		return
	}
	c.timeTally.add(cell.Time)
	if cell.Numeric {
		c.number(cell.Time, cell.Number)
	} else {
		c.texts++
	}
	if c.tooMany {
		return
	}
	c.state(cell)
}

func (c *columnTally) number(at, v float64) {
	switch numbers := c.count - c.texts; { // including this one
	case numbers == 1:
		c.low, c.top, c.atTop = v, v, 1
	case v > c.top:
		c.top, c.atTop = v, 1
	case v == c.top:
		c.atTop++
	}
	c.low = min(c.low, v)
	c.sketch.add(at, v)
	c.motion.add(at, v)
}

// state counts the cell's value among the few values, until there are too many.
func (c *columnTally) state(cell *ingest.RawCell) {
	if cell.Numeric && c.lastKnow && cell.Number == c.last && len(c.runs) > 0 {
		c.states[c.runs[len(c.runs)-1].state].Samples++
		return
	}
	text := string(cell.Text)
	if cell.Numeric {
		text = strconv.FormatFloat(cell.Number, 'f', -1, 64) // 1, 1.0 and 1.00 are one value
	}
	c.last, c.lastKnow = cell.Number, cell.Numeric
	if c.index == nil {
		c.index = map[string]int{}
	}
	i, known := c.index[text]
	if !known {
		if len(c.states) == statesKept {
			c.tooMany, c.states, c.runs = true, nil, nil
			return
		}
		i = len(c.states)
		c.index[text] = i
		c.states = append(c.states, State{Text: text})
	}
	c.states[i].Samples++
	if n := len(c.runs); n == 0 || c.runs[n-1].state != i {
		if n > 0 {
			c.changes++
		}
		if n == changesKept {
			c.runs[n-1] = change{cell.Time, i} // from here on it keeps only the latest
		} else {
			c.runs = append(c.runs, change{cell.Time, i})
		}
	}
}

// column returns the finished column.
func (c *columnTally) column(named ingest.RawColumn, base TimeBase) Column {
	usual := c.usual()
	out := Column{
		Name: named.Name, Unit: named.Unit, Samples: c.count, Invalid: c.invalid, Interval: usual,
		Longest: []Gap{}, States: []State{}, StepsBack: c.back, Repeats: c.repeats, Changes: c.changes, sketch: c.sketch,
	}
	if base.Rows > 0 && !base.Long() && base.Column != "" {
		out.Blank = rounded(1 - float64(c.count+c.invalid)/float64(base.Rows))
	}
	if c.count == 0 {
		return out
	}
	out.Start, out.End = rounded(c.timeTally.low), rounded(c.high)
	out.Offset = c.offset(usual)
	out.Gaps, out.Longest = c.longer(gapIntervals*usual+0.0005), c.gaps(usual)
	if usual > 0 {
		expected := math.Floor(base.Seconds()/usual+1e-6) + 1
		out.Lost = rounded(max(0, 1-(float64(c.count)+1)/expected)) // the ends may add or drop one sample
	}
	out.Numeric = c.texts == 0
	if out.Numeric {
		out.Smallest, out.Largest = c.low, c.top
		out.AtTop = rounded(float64(c.atTop) / float64(c.count))
		e := c.estimate()
		out.Resolution, out.Motion = e.Resolution, e.Motion
	}
	out.Distinct = statesKept + 1
	if !c.tooMany {
		out.Distinct, out.runs = len(c.states), c.runs
		out.States = slices.Clone(c.states)
	}
	return out
}

// short writes a number with up to six digits.
func short(x float64) string { return strconv.FormatFloat(x, 'g', 6, 64) }
