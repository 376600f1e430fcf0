package report

import (
	"strconv"

	"downlock/detect"
	"downlock/report/svg"
)

// ribbonWarnings are the warnings shown in a ribbon when recorded, with the
// names in front of their bands.
var ribbonWarnings = [][2]string{
	{"gear_horn", "gear horn"},
	{"gear_horn_cutout", "horn cutout"},
	{"gpws_too_low_gear", "too low gear"},
	{"gpws_too_low_flaps", "too low flaps"},
	{"takeoff_configuration_warning", "take-off warning"},
}

// ribbon draws the configuration of the aircraft over a span: events, phases,
// height, flap, lever, legs, warnings and throttles.
func ribbon(result *detect.Result, height heightProfile, span detect.Span, label string) []byte {
	f := result.Flight
	ch := &chart{class: "chart ribbon", label: label, span: span, epoch: f.Recording.Epoch}
	ch.add(markerRow(result.Events, span))
	ch.add(phaseRow(f.Phases))
	ch.add(height.strip(92).row(span))
	if s := flapSeries(f); s != nil {
		ch.add(bandRow("flap", flapBoxes(detentRuns(s, f.Profile.Flaps, span), f.Profile.Flaps)))
	}
	if s := f.Recording.Lookup("gear_lever"); s != nil {
		ch.add(bandRow("gear lever", leverBoxes(codeRuns(s, span), s.Parameter.States)))
	}
	for _, leg := range recordedLegs(f) {
		ch.add(bandRow(leg.name, legBoxes(leg.runs(span))))
	}
	for _, w := range ribbonWarnings {
		if s := f.Recording.Lookup(w[0]); s != nil {
			ch.add(bandRow(w[1], onOff(codeRuns(s, span), "alarm", "on")))
		}
	}
	for i, s := range throttles(f) {
		runs := belowRuns(s, f.Profile.Throttle.RetardedBelow, span)
		ch.add(bandRow("throttle "+strconv.Itoa(i+1), onOff(runs, "idle", "retarded")))
	}
	return ch.render()
}

// markerLanes is how many rows of event numbers fit above a ribbon.
const markerLanes = 4

const (
	markerWidth = 19.0
	laneHeight  = 15.0
)

// markerRow numbers the events where they start. Numbers that would overlap
// move to the next lane; past the last lane only the mark is drawn.
func markerRow(events []detect.Event, span detect.Span) row {
	type marker struct {
		number, lane int
		at           float64
	}
	var markers []marker
	var free [markerLanes]float64 // where each lane is free, in units
	x := svg.Scale{Low: span.Start, High: span.End, From: chartLeft, To: chartWidth - chartRight}
	lanes := 1
	for i, e := range events {
		if e.Start.Nominal > span.End || e.End.Nominal < span.Start {
			continue
		}
		m := marker{i, markerLanes, x.Clamped(e.Start.Nominal)}
		for lane := range free {
			if free[lane] <= m.at {
				free[lane] = m.at + markerWidth
				m.lane = lane
				lanes = max(lanes, lane+1)
				break
			}
		}
		markers = append(markers, m)
	}
	height := float64(lanes) * laneHeight
	return row{height, func(c *svg.Canvas, x svg.Scale, top float64) {
		c.Text(chartLeft-8, top+11, "name", "events")
		for _, m := range markers {
			if m.lane == markerLanes {
				c.Line(m.at, top+height-3, m.at, top+height, "flag")
				continue
			}
			drawMarker(c, m.at, top+float64(m.lane)*laneHeight, top+height, m.number, events[m.number])
		}
	}}
}

// drawMarker draws an event's number, linked to the event, on a pole. The
// shape tells the severity without colour: high filled, medium framed, low
// plain.
func drawMarker(c *svg.Canvas, x, top, bottom float64, index int, e detect.Event) {
	number := strconv.Itoa(index + 1)
	c.Link("event-"+number, number+" "+clean(e.Rule.Title), func() {
		c.Line(x, top, x, bottom, "flag")
		c.Rect(x, top, markerWidth-3, laneHeight-3, "mark "+string(e.Severity))
		c.Text(x+(markerWidth-3)/2, top+9.5, "in "+string(e.Severity), number)
	})
}

// phaseCodes are the short forms of the phases in the CAST/ICAO common
// taxonomy.
var phaseCodes = map[detect.Phase]string{
	detect.Standing: "STD", detect.Taxi: "TXI", detect.TakeOff: "TOF", detect.InitialClimb: "ICL",
	detect.EnRoute: "ENR", detect.ApproachPhase: "APR", detect.Landing: "LDG", detect.UnknownPhase: "UNK",
}

func phaseRow(phases []detect.PhaseSpan) row {
	return row{bandHeight, func(c *svg.Canvas, x svg.Scale, top float64) {
		c.Text(chartLeft-8, top+bandHeight-3, "name", "phase")
		for i, p := range phases {
			if p.Span.End <= x.Low || p.Span.Start >= x.High {
				continue
			}
			class := "phase"
			if i%2 == 1 {
				class = "phase odd-phase"
			}
			from, to := x.Clamped(p.Span.Start), x.Clamped(p.Span.End)
			c.Rect(from, top, to-from, bandHeight, class)
			text := string(p.Phase)
			if !fits(text, to-from) {
				text = phaseCodes[p.Phase]
			}
			if fits(text, to-from) {
				c.Text(from+textInset, top+bandHeight-3, "at", text)
			}
		}
	}}
}
