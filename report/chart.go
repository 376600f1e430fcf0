package report

import (
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
		from, to := x.Clamped(b.start), x.Clamped(b.end)
		if b.class == "off" {
			c.Line(from, top+bandHeight-0.5, to, top+bandHeight-0.5, "off")
			continue
		}
		c.Rect(from, top, to-from, bandHeight, b.class)
		if b.text != "" && fits(b.text, to-from) {
			c.Text(from+textInset, top+bandHeight-3, "at "+b.class, b.text)
		}
	}
}

// onOff makes boxes of a discrete: filled where true, a line where false.
func onOff(runs []run, class, text string) []box {
	boxes := make([]box, len(runs))
	for i, r := range runs {
		boxes[i] = box{r.start, r.end, "off", ""}
		if r.value != 0 {
			boxes[i].class, boxes[i].text = class, text
		}
	}
	return boxes
}

// legClasses are the looks of the positions of a leg, by number.
var legClasses = [...]string{"down", "up", "transit", "odd", "transit", "transit"}

func legBoxes(runs []run) []box {
	boxes := make([]box, len(runs))
	for i, r := range runs {
		boxes[i] = box{r.start, r.end, legClasses[r.value], legNames[r.value]}
	}
	return boxes
}

// lever positions by number, as the vocabulary lists them: UP, OFF, DOWN.
var leverClasses = [...]string{"up", "neutral", "down"}

func leverBoxes(runs []run, states []string) []box {
	var boxes []box
	for _, r := range runs {
		if r.value < len(states) && r.value < len(leverClasses) {
			boxes = append(boxes, box{r.start, r.end, leverClasses[r.value], states[r.value]})
		}
	}
	return boxes
}
