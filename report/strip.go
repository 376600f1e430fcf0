package report

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"downlock/detect"
	"downlock/detect/readings"
	"downlock/report/svg"
	"downlock/schemas"
)

// line is one number of a strip.
type line struct {
	name      string // at its right end; may be empty
	parameter string // of the tracks
	held      bool

	curve         readings.Curve // its nominal reading in the strip
	times, values []float64      // its samples there
}

// strip is a chart row of curves over one scale of values.
type strip struct {
	name, unit string
	height     float64
	least      float64 // least extent of values: less would magnify noise
	lines      []line
	levels     []level // lines across, named in place of ticks
	marks      []level // lines across, named on the line
	dots       bool
	limits     []limitLine
	references []float64 // times at which the height's reference changes
}

// level is a value marked across a strip.
type level struct {
	value float64
	name  string
}

// dotSpacing is the least usual distance in units between dots that can still
// be told apart; strips sampled more densely are drawn without.
const dotSpacing = 3.0

func (s strip) row(tracks *detect.Tracks, span detect.Span) row {
	s.lines = slices.Clone(s.lines) // a rule's other events have them, too
	for i := range s.lines {
		l := &s.lines[i]
		l.curve = tracks.Nominal(l.parameter, readings.Spans{span})
		if s.dots {
			l.times, l.values = tracks.Samples(l.parameter, span)
		}
	}
	low, high, step := s.extent()
	return row{s.height, func(c *svg.Canvas, x svg.Scale, top float64) {
		y := svg.Scale{Low: low, High: high, From: top + s.height, To: top}
		c.Text(chartLeft-34, top+11, "name", s.name)
		c.Text(chartLeft-34, top+23, "unit", s.unit)
		c.Line(x.From, y.From, x.To, y.From, "rule")
		if len(s.levels) == 0 {
			for _, v := range svg.Ticks(low, high, step) {
				c.Line(x.From-3, y.At(v), x.From, y.At(v), "rule")
				c.Text(x.From-5, inside(y, y.At(v)+3.5), "value", decimals(v, 2))
			}
		}
		s.drawLevels(c, x, y)
		s.drawLimits(c, x, y)
		for _, m := range s.marks {
			if m.value >= low && m.value <= high {
				c.Line(x.From, y.At(m.value), x.To, y.At(m.value), "limit")
				c.Text(x.From+4, y.At(m.value)-2.5, "in-left", m.name+" "+decimals(m.value, 2)+" "+s.unit)
			}
		}
		for i, l := range s.lines {
			s.drawLine(c, x, y, i, l)
		}
	}}
}

// drawLevels marks the levels in the scale, leaving out names that would
// overlap.
func (s strip) drawLevels(c *svg.Canvas, x, y svg.Scale) {
	free := math.Inf(1)
	for _, l := range s.levels {
		if l.value < y.Low || l.value > y.High {
			continue
		}
		at := y.At(l.value)
		c.Line(x.From, at, x.To, at, "level")
		if label := inside(y, at+3.5); label <= free {
			c.Text(x.From-5, label, "value", l.name)
			free = label - 9
		}
	}
}

// drawLimits draws the limits where they apply, with their names and first values, and
// where the height begins to be measured from another aerodrome.
func (s strip) drawLimits(c *svg.Canvas, x, y svg.Scale) {
	free := math.Inf(1) // of the names, which would overlap
	for _, l := range s.limits {
		c.Path(svg.Curve(l.curve, false, x, y), "limit-line")
		at, label := x.Clamped(l.curve[0].Start), inside(y, y.At(l.curve[0].From)-2.5)
		if v := l.curve[0].From; v >= y.Low && v <= y.High && math.Abs(label-free) > 8 {
			c.Text(min(at+4, x.To-160), label, "in-left limit-name", l.name+" "+decimals(v, 1)+" "+s.unitOfLimits())
			free = label
		}
	}
	for _, t := range s.references {
		if t <= x.Low || t >= x.High {
			continue
		}
		c.Line(x.At(t), y.To, x.At(t), y.From, "reference")
		at := min(x.At(t)+4, x.To-170)
		c.Text(at, y.From-4, "in-left", arrivalReference)
	}
}

// unitOfLimits is the unit of the strip alone: that of a height has its reference before it.
func (s strip) unitOfLimits() string { return s.unit[strings.LastIndexByte(s.unit, ' ')+1:] }

// inside keeps the baseline of a value's name within its strip, so that it does
// not run into that of the next.
func inside(y svg.Scale, baseline float64) float64 {
	return min(max(baseline, y.To+7), y.From)
}

func (s strip) drawLine(c *svg.Canvas, x, y svg.Scale, i int, l line) {
	class := strconv.Itoa(i%4 + 1)
	c.Path(svg.Curve(l.curve, l.held, x, y), "line line"+class)
	if len(l.curve) == 0 {
		return
	}
	if float64(len(l.times))*dotSpacing <= x.To-x.From {
		c.Path(svg.Dots(l.times, l.values, x, y), "dots dots"+class)
	}
	if l.name != "" {
		// Names of lines that end together would overlap, so each has its place.
		c.Text(x.To+5, y.To+9+float64(i)*11, "end end"+class, l.name)
	}
}

// extent returns the scale of values of a strip, ends on round values, and the
// step between ticks.
func (s strip) extent() (low, high, step float64) {
	low, high = math.Inf(1), math.Inf(-1)
	for _, l := range s.lines {
		smallest, largest, _ := l.curve.Extremes()
		low, high = min(low, smallest), max(high, largest)
	}
	// A limit belongs into the picture unless it is so far away that the lines would be flat.
	reach := max(high-low, math.Abs(high)/5)
	from, to := low-reach, high+reach
	for _, l := range s.limits {
		if smallest, largest, known := l.curve.Extremes(); known && smallest >= from && largest <= to {
			low, high = min(low, smallest), max(high, largest)
		}
	}
	if !(low <= high) {
		low, high = 0, 1
	}
	if missing := s.least - (high - low); missing > 0 {
		low, high = low-missing/2, high+missing/2
	}
	step = svg.RoundStep((high - low) / (s.height / 18))
	// A value a hair beyond a round one does not ask for another step.
	return math.Floor(low/step+0.02) * step, math.Ceil(high/step-0.02) * step, step
}

// leastExtents by unit, so that noise is not drawn as an event.
var leastExtents = map[string]float64{"kt": 20, "ft": 60, "deg": 10, "%": 20, "ft/min": 500, "g": 0.5, "degC": 100}

// numberLine is the line of a numeric parameter.
func numberLine(p schemas.Parameter, name string) line {
	return line{name: name, parameter: p.Name, held: p.Kind == schemas.Step}
}

// numberStrip is the strip of a numeric parameter by itself.
func numberStrip(p schemas.Parameter) strip {
	unit := p.Unit
	if unit == "1" {
		unit = ""
	}
	return strip{name: shortName(p.Name), unit: unit, height: stripHeight, least: leastExtents[p.Unit],
		lines: []line{numberLine(p, "")}, dots: true}
}

// strip is the strip of the height; an empty one where none is recorded.
func (h heightTrack) strip(height float64) strip {
	if h.parameter == "" {
		return strip{name: "no height", height: height}
	}
	return strip{name: h.name, unit: h.unit, height: height, least: leastExtents["ft"],
		lines: []line{{parameter: h.parameter}}}
}
