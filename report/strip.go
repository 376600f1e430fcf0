package report

import (
	"math"
	"slices"
	"strconv"

	"downlock/detect"
	"downlock/ingest"
	"downlock/report/svg"
)

// line is one curve of a strip.
type line struct {
	name    string // at its right end; may be empty
	samples svg.Samples
	held    bool
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
}

// level is a value marked across a strip.
type level struct {
	value float64
	name  string
}

// dotSpacing is the least usual distance in units between dots that can still
// be told apart; strips sampled more densely are drawn without.
const dotSpacing = 3.0

func (s strip) row(span detect.Span) row {
	for i := range s.lines {
		s.lines[i].samples = s.lines[i].samples.Within(span.Start, span.End)
	}
	low, high, step := s.extent(span)
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

// inside keeps the baseline of a value's name within its strip, so that it does
// not run into that of the next.
func inside(y svg.Scale, baseline float64) float64 {
	return min(max(baseline, y.To+7), y.From)
}

func (s strip) drawLine(c *svg.Canvas, x, y svg.Scale, i int, l line) {
	class := strconv.Itoa(i%4 + 1)
	if l.held {
		c.Path(l.samples.Steps(x, y), "line line"+class)
	} else {
		c.Path(l.samples.Linear(x, y), "line line"+class)
	}
	n := len(l.samples.Times)
	if n == 0 {
		return
	}
	if s.dots && float64(n)*dotSpacing <= x.To-x.From {
		c.Path(l.samples.Dots(x, y), "dots dots"+class)
	}
	if l.name != "" {
		// Names of lines that end together would overlap, so each has its place.
		c.Text(x.To+5, y.To+9+float64(i)*11, "end end"+class, l.name)
	}
}

// extent gives the scale of values of a strip, ends on round values, and the
// step between ticks.
func (s strip) extent(span detect.Span) (low, high, step float64) {
	low, high = math.Inf(1), math.Inf(-1)
	for _, l := range s.lines {
		if len(l.samples.Values) > 0 {
			low, high = min(low, slices.Min(l.samples.Values)), max(high, slices.Max(l.samples.Values))
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
var leastExtents = map[string]float64{"kt": 20, "ft": 60, "deg": 10, "%": 20, "ft/min": 500, "g": 0.5}

// numberLine is the curve of a numeric series.
func numberLine(s *ingest.Series, name string) line {
	held := s.Parameter.Kind == "step"
	return line{name, svg.Samples{Times: s.TimeValues(), Values: s.Numbers(), Gap: s.Gap, Hold: s.Interval}, held}
}

// numberStrip is the strip of a numeric series by itself.
func numberStrip(s *ingest.Series) strip {
	unit := s.Parameter.Unit
	if unit == "1" {
		unit = ""
	}
	return strip{name: shortName(s.Parameter.Name), unit: unit, height: stripHeight, least: leastExtents[s.Parameter.Unit],
		lines: []line{numberLine(s, "")}, dots: true}
}

// strip is the strip of the height; an empty one where none is recorded.
func (h heightProfile) strip(height float64) strip {
	if h.times == nil {
		return strip{name: "no height", height: height}
	}
	return strip{name: h.name, unit: h.unit, height: height, least: leastExtents["ft"],
		lines: []line{{"", svg.Samples{Times: h.times, Values: h.values, Gap: h.gap}, false}}}
}
