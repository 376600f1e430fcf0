package report

import (
	"encoding/json"
	"html/template"
	"math"
	"slices"
	"strings"

	"downlock/detect"
	"downlock/detect/readings"
	"downlock/report/script"
	"downlock/schemas"
)

// viewerPart is what the script of a flight's page draws, as the page holds it.
type viewerPart struct {
	Recording string        `json:"recording"`
	Flight    int           `json:"flight"`
	Caution   string        `json:"caution"`
	Epoch     string        `json:"epoch,omitempty"` // UTC at second 0
	Span      stretch       `json:"span"`
	Windows   []stretch     `json:"windows"` // whose samples are here
	Series    []sampledPart `json:"series"`
	Height    *derivedPart  `json:"height,omitempty"`
	Shown     []string      `json:"shown"` // of the whole flight, at first
	Alarms    []string      `json:"alarms"`
	Phases    []phasePart   `json:"phases"`
	Limits    []limitPart   `json:"limits"`
	Events    []viewedEvent `json:"events"`
}

// derivedPart is a number over time that is no parameter by itself, as pieces of
// [start, end, from, to].
type derivedPart struct {
	Name    string        `json:"name"`
	Label   string        `json:"label"`
	Unit    string        `json:"unit"`
	Pieces  [][4]number   `json:"pieces"`
	Changes []referenceAt `json:"changes"`
}

// referenceAt is a time at which a height begins to be measured from something else.
type referenceAt struct {
	At   number `json:"at"`
	Name string `json:"name"`
}

type limitPart struct {
	Of     string      `json:"of"`
	Label  string      `json:"label"`
	Unit   string      `json:"unit"`
	Source string      `json:"source"`
	Rules  []string    `json:"rules"`
	Pieces [][4]number `json:"pieces"`
}

type viewedEvent struct {
	Number   int       `json:"number"`
	Rule     string    `json:"rule"`
	Title    string    `json:"title"`
	Severity string    `json:"severity"`
	Moment   bool      `json:"moment"`
	Start    instant   `json:"start"`
	End      instant   `json:"end"`
	Certain  []stretch `json:"certain"`
	Possible []stretch `json:"possible"`
	Window   stretch   `json:"window"` // of its strips
	Shown    []string  `json:"shown"`
}

// viewer is the script of a flight's page with its data; zero where the page holds no
// samples.
type viewer struct {
	Script  string
	Data    template.JS   // JSON
	Samples template.HTML // base64
}

// newViewer gathers what the viewer draws.
func newViewer(doc *document, rows *traceRows, choice SampleChoice) (viewer, error) {
	result, height := rows.result, rows.height
	windows := affordable(result, choice)
	if len(windows) == 0 {
		return viewer{}, nil
	}
	f := result.Flight
	series, packed := packSamples(result, windows)
	part := viewerPart{
		Recording: doc.Provenance.Input.Name, Flight: f.Number, Caution: schemas.Caution, Epoch: doc.Flight.Epoch, Span: doc.Flight.Span,
		Windows: stretches(windows, f.Span), Series: series, Phases: doc.Flight.Phases,
		Alarms: []string{}, Limits: []limitPart{}, Events: make([]viewedEvent, len(result.Events)),
	}
	if height.aboveAerodrome {
		part.Height = heightPart(result, windows)
	}
	has := func(name string) bool {
		return name == "height" && part.Height != nil || slices.ContainsFunc(series, func(s sampledPart) bool { return s.Name == name })
	}
	for _, s := range series {
		if isAlarm(s.Name) {
			part.Alarms = append(part.Alarms, s.Name)
		}
	}
	part.Shown = wholeFlightNames(has, height)
	for _, e := range result.Evaluations {
		for _, l := range result.Tracks.Limits(e.Rule) {
			if has(l.Of) {
				l.Curve = l.Curve.Within(beforeOpportunities(result, e.Rule))
				part.addLimit(e.Rule, l, windows)
			}
		}
	}
	for i, e := range result.Events {
		d := doc.Events[i]
		part.Events[i] = viewedEvent{
			Number: i + 1, Rule: d.Rule, Title: d.Title, Severity: d.Severity, Moment: d.Moment, Start: d.Start, End: d.End,
			Certain: d.Certain, Possible: d.Possible, Window: stretches([]detect.Span{traceSpan(e, f.Span)}, f.Span)[0],
			Shown: eventNames(rows, e.Rule, has),
		}
	}
	data, err := json.Marshal(part)
	if err != nil {
		return viewer{}, err
	}
	// Marshal writes <, > and & as escapes, so nothing in it ends the element.
	return viewer{script.Viewer, template.JS(data), template.HTML(packed)}, nil
}

// isAlarm says whether a discrete is drawn as a warning.
func isAlarm(name string) bool {
	return strings.HasPrefix(name, "gpws_") || strings.HasSuffix(name, "_warning") || strings.HasPrefix(name, "gear_horn")
}

// wholeFlightNames are the parameters the viewer begins with.
func wholeFlightNames(has func(string) bool, height heightTrack) []string {
	wanted := []string{height.parameter, "computed_airspeed", "flap_handle", "flap_angle", "speedbrake_handle", "engine_n1_1", "gear_lever",
		"nose_gear_down_locked", "left_gear_down_locked", "right_gear_down_locked", "gear_down_locked", "gear_door_closed", "gear_horn"}
	return slices.DeleteFunc(wanted, func(name string) bool { return !has(name) })
}

// eventNames are the parameters the viewer begins with at an event: those of its strips.
func eventNames(rows *traceRows, rule *detect.Rule, has func(string) bool) []string {
	names := []string{}
	add := func(name string) {
		if has(name) && !slices.Contains(names, name) {
			names = append(names, name)
		}
	}
	add(rows.height.parameter)
	for _, s := range rows.of(rule).strips {
		for _, l := range s.lines {
			add(l.parameter)
		}
	}
	for _, b := range rows.of(rule).bands {
		for _, name := range b.from {
			add(name)
		}
	}
	return names
}

// heightPart is the height above the aerodromes within the windows.
func heightPart(result *detect.Result, windows []detect.Span) *derivedPart {
	p := &derivedPart{Name: "height", Label: "height above aerodrome", Unit: "ft", Changes: []referenceAt{}}
	p.Pieces = pieces(result.Tracks.Nominal("height", readings.Spans(windows)))
	for _, t := range result.Tracks.HeightReferences() {
		p.Changes = append(p.Changes, referenceAt{number(t), arrivalReference})
	}
	return p
}

// arrivalReference names the change of the height's reference at the highest point.
const arrivalReference = "above the arrival aerodrome from here"

// limitAhead (s) is how long before an opportunity its limits are drawn.
const limitAhead = 60.0

// beforeOpportunities are the stretches in which the limits of a rule are drawn: its
// opportunities and some time before them. Nothing outside could be an event of it.
func beforeOpportunities(result *detect.Result, rule *detect.Rule) readings.Spans {
	var spans readings.Spans
	for _, o := range result.Opportunities {
		if o.Kind == rule.Opportunity {
			at := detect.Span{Start: o.Begins.Nominal - limitAhead, End: max(o.Ends.Nominal, o.Ends.Latest) + traceAfter}
			spans = readings.Union(spans, readings.Intersect(readings.Spans{at}, readings.Spans{result.Flight.Span}))
		}
	}
	return spans
}

// traceAfter (s) is how long after one.
const traceAfter = 20.0

// addLimit adds a limit of a rule within the windows; where another rule has the same one,
// the two are one.
func (p *viewerPart) addLimit(rule *detect.Rule, l detect.Limit, windows []detect.Span) {
	of, label := clean(l.Of), limitName(l)
	found := pieces(l.Curve.Within(readings.Spans(windows)))
	if len(found) == 0 {
		return
	}
	p.Limits = append(p.Limits, limitPart{of, label, clean(shownUnit(l.Unit)), clean(l.Source), []string{clean(rule.ID)}, found})
	last := &p.Limits[len(p.Limits)-1]
	for i := range p.Limits[:len(p.Limits)-1] {
		o := &p.Limits[i]
		level, isLevel := levelOf(append(slices.Clone(o.Pieces), last.Pieces...))
		if o.Of == of && o.Label == label && (isLevel || slices.Equal(o.Pieces, last.Pieces)) {
			o.Rules = append(o.Rules, last.Rules...)
			if isLevel {
				o.Pieces = pieces(readings.Constant(level, readings.Union(spansOf(o.Pieces), spansOf(last.Pieces))).Nominal)
			}
			p.Limits = p.Limits[:len(p.Limits)-1]
			return
		}
	}
}

// levelOf is the value that all pieces have, where there is one.
func levelOf(pieces [][4]number) (float64, bool) {
	for _, p := range pieces {
		if p[2] != pieces[0][2] || p[3] != pieces[0][2] {
			return 0, false
		}
	}
	return float64(pieces[0][2]), true
}

func spansOf(pieces [][4]number) (spans readings.Spans) {
	for _, p := range pieces {
		spans = append(spans, detect.Span{Start: float64(p[0]), End: float64(p[1])})
	}
	return spans
}

// pieces writes a curve down, with level pieces that meet as one.
func pieces(c readings.Curve) [][4]number {
	var out [][4]number
	for _, p := range c {
		if math.IsNaN(p.From) || math.IsInf(p.From, 0) || math.IsNaN(p.To) || math.IsInf(p.To, 0) {
			continue
		}
		n := len(out)
		if n > 0 && out[n-1][1] == number(p.Start) && out[n-1][2] == out[n-1][3] && p.From == p.To && number(p.From) == out[n-1][3] {
			out[n-1][1] = number(p.End)
			continue
		}
		out = append(out, [4]number{number(p.Start), number(p.End), number(p.From), number(p.To)})
	}
	return out
}
