package report

import (
	"slices"
	"strconv"
	"strings"

	"downlock/detect"
	"downlock/ingest"
	"downlock/report/svg"
)

// Seconds shown before and after an event: half its length, but enough to see
// what led to it and not so much that samples run together.
const (
	leastMargin = 20.0
	mostMargin  = 60.0
)

// traceSpan is the stretch of the flight a trace shows.
func traceSpan(e detect.Event, flight detect.Span) detect.Span {
	at := detect.Span{
		Start: min(float64(finite(e.Start.Earliest, e.Start.Nominal)), e.Start.Nominal),
		End:   max(float64(finite(e.End.Latest, e.End.Nominal)), e.End.Nominal),
	}
	margin := max(leastMargin, min(mostMargin, at.Seconds()/2))
	return detect.Span{Start: max(at.Start-margin, flight.Start), End: min(at.End+margin, flight.End)}
}

// trace draws what was recorded around an event: the event on top, then
// strips of the numbers, then bands of what is held.
func trace(f *detect.Flight, height heightProfile, e detect.Event, label string) []byte {
	span := traceSpan(e, f.Span)
	ch := &chart{class: "chart trace", label: label, span: span, epoch: f.Recording.Epoch}
	ch.backdrop = func(c *svg.Canvas, x svg.Scale, bottom float64) { drawWindow(c, x, e, bottom) }
	ch.front = func(c *svg.Canvas, x svg.Scale, bottom float64) { drawTimes(c, x, e, bottom) }
	ch.add(eventRow(e))
	ch.add(phaseRow(f.Phases))
	above := height.strip(stripHeight)
	above.dots = true
	ch.add(above.row(span))
	for _, s := range traceStrips(f, height, e.Rule) {
		ch.add(s.row(span))
	}
	for _, b := range traceBands(f, e.Rule, span) {
		ch.add(b.row())
	}
	return ch.render()
}

// drawWindow shades the event behind the strips: solid where certain, hatched
// where possible.
func drawWindow(c *svg.Canvas, x svg.Scale, e detect.Event, bottom float64) {
	shade := func(spans []detect.Span, class string) {
		for _, s := range visible(spans, x) {
			from, to := x.Clamped(s.Start), x.Clamped(s.End)
			c.Rect(from, 0, to-from, bottom, class)
		}
	}
	shade(without(e.Maybe, e.Sure), "maybe")
	shade(e.Sure, "sure")
}

// drawTimes draws lines over the strips at the event's nominal times, and
// dashed ones at their bounds.
func drawTimes(c *svg.Canvas, x svg.Scale, e detect.Event, bottom float64) {
	var drawn []float64
	mark := func(class string, times ...float64) {
		for _, t := range times {
			if t >= x.Low && t <= x.High && !slices.Contains(drawn, t) {
				drawn = append(drawn, t)
				c.Line(x.At(t), 0, x.At(t), bottom, class)
			}
		}
	}
	mark("nominal", e.Start.Nominal, e.End.Nominal)
	mark("bound", e.Start.Earliest, e.Start.Latest, e.End.Earliest, e.End.Latest)
}

// visible keeps the spans that reach into the scale.
func visible(spans []detect.Span, x svg.Scale) []detect.Span {
	var kept []detect.Span
	for _, s := range spans {
		if s.End >= x.Low && s.Start <= x.High {
			kept = append(kept, s)
		}
	}
	return kept
}

// eventRow is the event by itself: a solid bar where certain, a hatched one
// where possible, on a line from its earliest start to its latest end.
func eventRow(e detect.Event) row {
	return row{bandHeight + 2, func(c *svg.Canvas, x svg.Scale, top float64) {
		c.Text(chartLeft-8, top+bandHeight-3, "name strong", "event")
		middle := top + bandHeight/2
		c.Line(x.Clamped(e.Start.Earliest), middle, x.Clamped(e.End.Latest), middle, "reach")
		draw := func(spans []detect.Span, class, text string) {
			for _, s := range visible(spans, x) {
				from, to := x.Clamped(s.Start), x.Clamped(s.End)
				c.Rect(from, top+1, max(to-from, 1), bandHeight-2, class)
				if fits(text, to-from) {
					c.Text((from+to)/2, top+bandHeight-3, "in "+class, text)
				}
			}
		}
		draw(without(e.Maybe, e.Sure), "maybe-bar", "possible")
		draw(e.Sure, "sure-bar", "certain")
		for _, t := range []float64{e.Start.Earliest, e.End.Latest} {
			c.Line(x.Clamped(t), top+2, x.Clamped(t), top+bandHeight-2, "reach")
		}
	}}
}

// without cuts the spans of cut, in order, out of those of spans.
func without(spans, cut []detect.Span) []detect.Span {
	var left []detect.Span
	for _, s := range spans {
		for _, k := range cut {
			if k.End <= s.Start || k.Start >= s.End {
				continue
			}
			if k.Start > s.Start {
				left = append(left, detect.Span{Start: s.Start, End: k.Start})
			}
			s.Start = k.End
		}
		if s.Start < s.End {
			left = append(left, s)
		}
	}
	return left
}

// traceStrips are the strips of numbers of a trace: airspeed, flap, throttles,
// and whatever else the rule reads.
func traceStrips(f *detect.Flight, height heightProfile, rule *detect.Rule) []strip {
	var strips []strip
	shown := map[*ingest.Series]bool{}
	add := func(s strip, series ...*ingest.Series) {
		for _, one := range series {
			shown[one] = true
		}
		strips = append(strips, s)
	}
	if s := f.Recording.Lookup("computed_airspeed"); s != nil {
		add(numberStrip(s), s)
	}
	if s, series := flapStrip(f); len(series) > 0 {
		add(s, series...)
	}
	if s, series := throttleStrip(f); len(series) > 0 {
		add(s, series...)
	}
	for _, s := range usedParameters(rule, f.Recording) {
		if s.Parameter.Numeric() && !shown[s] && words(s.Parameter.Name) != height.name {
			add(numberStrip(s), s)
		}
	}
	return strips
}

// flapStrip has the flap handle held and the flap angle, between the detents.
func flapStrip(f *detect.Flight) (strip, []*ingest.Series) {
	s := strip{name: "flap", unit: "deg", height: stripHeight, least: leastExtents["deg"], dots: true}
	var series []*ingest.Series
	for _, name := range []string{"flap_handle", "flap_angle"} {
		if one := f.Recording.Lookup(name); one != nil {
			s.lines = append(s.lines, numberLine(one, strings.TrimPrefix(name, "flap_")))
			series = append(series, one)
		}
	}
	for _, d := range f.Profile.Flaps.Detents {
		s.levels = append(s.levels, level{d.Angle, clean(d.Name)})
	}
	return s, series
}

// throttleStrip has the throttles of all engines and the level below which one
// counts as retarded.
func throttleStrip(f *detect.Flight) (strip, []*ingest.Series) {
	series := throttles(f)
	if len(series) == 0 {
		return strip{}, nil
	}
	unit := series[0].Parameter.Unit
	s := strip{name: "throttles", unit: unit, height: stripHeight, least: 3 * leastExtents[unit], dots: true}
	for i, one := range series {
		s.lines = append(s.lines, numberLine(one, "eng "+strconv.Itoa(i+1)))
	}
	s.marks = []level{{f.Profile.Throttle.RetardedBelow, "retarded below"}}
	return s, series
}
