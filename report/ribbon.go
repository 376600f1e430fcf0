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
	{"gear_horn_cutout", "horn cut-out"},
	{"gpws_too_low_gear", "too low gear"},
	{"gpws_too_low_flaps", "too low flaps"},
	{"takeoff_configuration_warning", "take-off warning"},
}

// ribbonNumbers are the numbers over the whole flight beside the height.
var ribbonNumbers = []string{"computed_airspeed", "speedbrake_handle", "engine_n1_1"}

// ribbonStrip is the height of their strips.
const ribbonStrip = 34.0

// ribbon draws the configuration of the aircraft over a span: events, phases,
// height, flap, lever, legs, warnings and throttles.
func ribbon(result *detect.Result, height heightTrack, span detect.Span, label string) []byte {
	f, tracks := result.Flight, result.Tracks
	ch := &chart{class: "chart ribbon", label: label, span: span, epoch: f.Recording.Epoch}
	ch.add(markerRow(result.Events, span))
	ch.add(phaseRow(tracks.Phase()))
	above := height.strip(92)
	above.references = height.references
	ch.add(above.row(tracks, span))
	for _, name := range ribbonNumbers {
		if p, ok := recorded(tracks, name); ok {
			s := numberStrip(p)
			s.height, s.dots = ribbonStrip, false
			ch.add(s.row(tracks, span))
		}
	}
	if flap, ok := tracks.Flap(); ok {
		ch.add(bandRow("flap", flapBoxes(flap)))
	}
	if lever, ok := tracks.Parameter("gear_lever"); ok {
		ch.add(bandRow("gear lever", stateBoxes(lever)))
	}
	for _, leg := range recordedLegs(result) {
		ch.add(bandRow(leg.name, legBoxes(leg.track)))
	}
	for _, d := range recordedDoors(result) {
		ch.add(bandRow(d.name, doorBoxes(d.track)))
	}
	for _, w := range ribbonWarnings {
		if warning, ok := tracks.Parameter(w[0]); ok {
			ch.add(bandRow(w[1], onOff(warning, "alarm", detect.ValueOn)))
		}
	}
	for n := 1; n <= f.Profile.Engines; n++ {
		if throttle, ok := tracks.Throttle(n); ok {
			ch.add(bandRow("throttle "+strconv.Itoa(n), onOff(throttle, "idle", detect.ValueRetarded)))
		}
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

// phaseRow draws the phases, hatched where one passes into the next.
func phaseRow(phase detect.Held) row {
	boxes := heldBoxes(phase, func(_ int, name string) (string, string) { return "phase", name })
	undecided := phase.Undecided()
	return row{bandHeight, func(c *svg.Canvas, x svg.Scale, top float64) {
		c.Text(chartLeft-8, top+bandHeight-3, "name", "phase")
		for i, b := range boxes {
			if b.end <= x.Low || b.start >= x.High {
				continue
			}
			class := b.class
			if i%2 == 1 {
				class += " odd-phase"
			}
			from, to := x.Clamped(b.start), x.Clamped(b.end)
			c.Rect(from, top, to-from, bandHeight, class)
			text := b.text
			if !fits(text, to-from) {
				text = phaseCodes[detect.Phase(text)]
			}
			if fits(text, to-from) {
				c.Text(from+textInset, top+bandHeight-3, "at", text)
			}
		}
		for _, s := range visible(undecided, x) {
			from, to := x.Clamped(s.Start), x.Clamped(s.End)
			c.Rect(from, top, to-from, bandHeight, "undecided")
		}
	}}
}
