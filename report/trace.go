package report

import (
	"slices"
	"strconv"
	"strings"

	"downlock/detect"
	"downlock/report/svg"
	"downlock/schemas"
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

// trace draws the recording around an event: the event on top, then
// strips of the numbers, then bands of the held parameters.
func trace(rows *traceRows, e detect.Event, label string) []byte {
	result, height := rows.result, rows.height
	f, tracks := result.Flight, result.Tracks
	span := traceSpan(e, f.Span)
	ch := &chart{class: "chart trace", label: label, span: span, epoch: f.Recording.Epoch}
	ch.backdrop = func(c *svg.Canvas, x svg.Scale, bottom float64) { drawWindow(c, x, e, bottom) }
	ch.front = func(c *svg.Canvas, x svg.Scale, bottom float64) { drawTimes(c, x, e, bottom) }
	ch.add(eventRow(e))
	ch.add(phaseRow(tracks.Phase()))
	limits := tracks.Limits(e.Rule)
	above := height.strip(stripHeight)
	above.dots, above.limits, above.references = true, limitsOf(limits, height.parameter, span), height.references
	ch.add(above.row(tracks, span))
	for _, s := range rows.of(e.Rule).strips {
		for _, l := range s.lines {
			s.limits = append(s.limits, limitsOf(limits, l.parameter, span)...)
		}
		ch.add(s.row(tracks, span))
	}
	for _, b := range rows.of(e.Rule).bands {
		ch.add(b.row(tracks))
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

// traceRows are the strips and bands that the events of a flight are drawn with, made once
// for each rule.
type traceRows struct {
	result *detect.Result
	height heightTrack
	made   map[*detect.Rule]ruleRows
}

type ruleRows struct {
	strips []strip
	bands  []band
}

func newTraceRows(result *detect.Result, height heightTrack) *traceRows {
	return &traceRows{result, height, map[*detect.Rule]ruleRows{}}
}

func (t *traceRows) of(rule *detect.Rule) ruleRows {
	rows, ok := t.made[rule]
	if !ok {
		rows = ruleRows{traceStrips(t.result, t.height, rule), traceBands(t.result, rule)}
		t.made[rule] = rows
	}
	return rows
}

// traceStrips are the strips of numbers of a trace: airspeed, flap, throttles,
// and whatever else the rule reads.
func traceStrips(result *detect.Result, height heightTrack, rule *detect.Rule) []strip {
	var strips []strip
	shown := map[string]bool{height.parameter: true}
	add := func(s strip) {
		if len(s.lines) == 0 {
			return
		}
		for _, l := range s.lines {
			shown[l.parameter] = true
		}
		strips = append(strips, s)
	}
	if p, ok := recorded(result.Tracks, "computed_airspeed"); ok {
		add(numberStrip(p))
	}
	add(flapStrip(result))
	add(throttleStrip(result))
	for _, p := range usedParameters(rule, result.Tracks) {
		if p.Numeric() && !shown[p.Name] {
			add(numberStrip(p))
		}
	}
	return strips
}

// recorded looks a parameter up that was recorded.
func recorded(tracks *detect.Tracks, name string) (schemas.Parameter, bool) {
	p, ok := schemas.LookupParameter(name)
	return p, ok && tracks.Has(name)
}

// flapStrip has the flap handle held and the flap angle, between the detents.
func flapStrip(result *detect.Result) strip {
	s := strip{name: "flap", unit: "deg", height: stripHeight, least: leastExtents["deg"], dots: true}
	for _, name := range []string{"flap_handle", "flap_angle"} {
		if p, ok := recorded(result.Tracks, name); ok {
			s.lines = append(s.lines, numberLine(p, strings.TrimPrefix(name, "flap_")))
		}
	}
	for _, d := range result.Flight.Profile.Flaps.Detents {
		s.levels = append(s.levels, level{d.Angle, clean(d.Name)})
	}
	return s
}

// throttleStrip has the throttles of all engines and the level below which one
// counts as retarded.
func throttleStrip(result *detect.Result) strip {
	s := strip{name: "throttles", height: stripHeight, dots: true}
	throttle := result.Flight.Profile.Throttle
	for n := 1; n <= result.Flight.Profile.Engines; n++ {
		if p, ok := recorded(result.Tracks, throttle.Parameter+"_"+strconv.Itoa(n)); ok {
			s.unit, s.least = p.Unit, 3*leastExtents[p.Unit]
			s.lines = append(s.lines, numberLine(p, "eng "+strconv.Itoa(n)))
		}
	}
	s.marks = []level{{throttle.RetardedBelow, "retarded below"}}
	return s
}
