package report

import (
	"cmp"
	"slices"
	"time"

	"downlock/detect"
	"downlock/report/svg"
)

// Measures of a chart, in units of its view box. At the page's widest one unit
// is 1.15 px, on A4 three quarters of one, so text of 11 stays readable on both.
const (
	chartWidth  = 960.0
	chartLeft   = 148.0 // room for the names of rows
	chartRight  = 40.0  // room for the names of lines
	rowGap      = 6.0
	axisHeight  = 30.0
	bandHeight  = 13.0
	stripHeight = 58.0
	letterWidth = 5.8 // of the usual letter at size 10
	textInset   = 4.0 // text in a box starts here, clear of an event in the middle
)

// row is one strip or band of a chart.
type row struct {
	height float64
	draw   func(c *svg.Canvas, x svg.Scale, top float64)
}

// chart is rows over one axis of time.
type chart struct {
	class, label string
	span         detect.Span
	epoch        time.Time
	rows         []row
	backdrop     func(c *svg.Canvas, x svg.Scale, bottom float64) // behind the rows
	front        func(c *svg.Canvas, x svg.Scale, bottom float64) // before them
}

func (ch *chart) add(r row) { ch.rows = append(ch.rows, r) }

// render draws the chart.
func (ch *chart) render() []byte {
	height := axisHeight
	for _, r := range ch.rows {
		height += r.height + rowGap
	}
	c := svg.New(chartWidth, height, ch.class, ch.label)
	x := svg.Scale{Low: ch.span.Start, High: ch.span.End, From: chartLeft, To: chartWidth - chartRight}
	bottom := height - axisHeight
	ticks := svg.Ticks(ch.span.Start, ch.span.End, svg.TimeStep(ch.span.Seconds()/9))
	for _, t := range ticks {
		c.Line(x.At(t), 0, x.At(t), bottom+3, "grid")
	}
	if ch.backdrop != nil {
		ch.backdrop(c, x, bottom)
	}
	top := 0.0
	for _, r := range ch.rows {
		r.draw(c, x, top)
		top += r.height + rowGap
	}
	if ch.front != nil {
		ch.front(c, x, bottom)
	}
	ch.axis(c, x, bottom, ticks)
	return c.Bytes()
}

// axis writes seconds, and UTC where the recording is dated.
func (ch *chart) axis(c *svg.Canvas, x svg.Scale, y float64, ticks []float64) {
	c.Line(x.From, y, x.To, y, "axis")
	c.Text(chartLeft-34, y+13, "name", "time, s")
	if !ch.epoch.IsZero() {
		c.Text(chartLeft-34, y+25, "name", "UTC")
	}
	layout := "15:04:05"
	if len(ticks) > 1 && ticks[1]-ticks[0] < 1 {
		layout = "15:04:05.0"
	}
	for _, t := range ticks {
		c.Text(x.At(t), y+13, "tick", decimals(t, 1))
		if !ch.epoch.IsZero() {
			c.Text(x.At(t), y+25, "tick", utc(ch.epoch, t).Format(layout))
		}
	}
}

// fits says whether text of size 10 fits a width.
func fits(text string, width float64) bool { return float64(len(text))*letterWidth+textInset <= width }

// box is a filled part of a band, with text in it where there is room.
type box struct {
	start, end  float64
	class, text string
}

// bandRow is a band of boxes with its name in front. A line under it shows
// where its value is known.
func bandRow(name string, boxes []box) row {
	return row{bandHeight, func(c *svg.Canvas, x svg.Scale, top float64) {
		c.Text(chartLeft-8, top+bandHeight-3, "name", name)
		drawBoxes(c, x, top, boxes)
	}}
}

func drawBoxes(c *svg.Canvas, x svg.Scale, top float64, boxes []box) {
	for _, b := range boxes {
		if b.end <= x.Low || b.start >= x.High {
			continue
		}
		from, to := x.Clamped(b.start), x.Clamped(b.end)
		if b.class == offClass {
			c.Line(from, top+bandHeight-0.5, to, top+bandHeight-0.5, offClass)
			continue
		}
		c.Rect(from, top, to-from, bandHeight, b.class)
		if b.text != "" && fits(b.text, to-from) {
			c.Text(from+textInset, top+bandHeight-3, "at "+b.class, b.text)
		}
	}
}

// offClass is the look of a value that is false: a line, no box.
const offClass = "off"

// heldBoxes makes boxes of a held track where the nominal reading knows its value,
// in order of time. look returns the class and the text of a value, by its place and
// name. Where two values hold at once that of the later one comes on top.
func heldBoxes(track detect.Held, look func(i int, name string) (class, text string)) []box {
	var boxes []box
	for i, v := range track.Values {
		class, text := look(i, v.Name)
		for _, s := range v.Is.True {
			boxes = append(boxes, box{s.Start, s.End, class, clean(text)})
		}
	}
	slices.SortStableFunc(boxes, func(a, b box) int { return cmp.Compare(a.start, b.start) })
	return boxes
}

// onOff makes boxes of a track of two values: filled for the second, a line for
// the first.
func onOff(track detect.Held, class, text string) []box {
	return heldBoxes(track, func(i int, _ string) (string, string) {
		if i == 0 {
			return offClass, ""
		}
		return class, text
	})
}

// legClasses are the looks of the positions of a leg.
var legClasses = map[string]string{
	detect.LegDown: "down", detect.LegUp: "up", detect.LegBoth: "odd",
	detect.LegTransit: "transit", detect.LegNotDown: "transit", detect.LegNotUp: "transit",
}

func legBoxes(leg detect.Held) []box {
	return heldBoxes(leg, func(_ int, name string) (string, string) { return legClasses[name], name })
}

// leverClasses are the looks of the gear lever's positions.
var leverClasses = map[string]string{"UP": "up", "OFF": "neutral", "DOWN": "down"}

func stateBoxes(state detect.Held) []box {
	return heldBoxes(state, func(_ int, name string) (string, string) {
		class, known := leverClasses[name]
		if !known {
			class = "neutral"
		}
		return class, name
	})
}
