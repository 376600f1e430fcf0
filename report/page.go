package report

import (
	"bytes"
	"embed"
	"html/template"
	"slices"
	"strconv"
	"strings"
	"sync"

	"downlock/detect"
	"downlock/report/script"
)

//go:embed templates
var templateFiles embed.FS

// pages holds the parsed templates. They are compiled in and a test renders
// them, so an error here is a broken build.
var pages = sync.OnceValues(func() (*template.Template, error) {
	style, err := templateFiles.ReadFile("templates/style.css")
	if err != nil {
		return nil, err
	}
	return template.New("").Funcs(template.FuncMap{
		"style":   func() template.CSS { return template.CSS(style) },
		"policy":  policy,
		"script":  func(text string) template.JS { return template.JS(text) }, // of package script alone
		"count":   count,
		"words":   words,
		"join":    strings.Join,
		"short":   func(hash string) string { return hash[:min(12, len(hash))] },
		"clock":   shortClock,
		"day":     func(utc string) string { return utc[:min(10, len(utc))] },
		"unit":    shownUnit,
		"rounded": rounded,
		"place":   func(i int) int { return i + 1 }, // in the table of rules
		// The part of every chart that holds lines, to cut them off at its edges.
		"plotLeft":  func() float64 { return chartLeft },
		"plotWidth": func() float64 { return chartWidth - chartLeft - chartRight },
	}).ParseFS(templateFiles, "templates/*.html")
})

// policy is the content security policy of a page with a script, "" for none.
func policy(text string) string {
	if text == "" {
		return script.Policy()
	}
	return script.Policy(text)
}

// shortClock cuts the time of day out of a UTC time, to the tenth of a second.
func shortClock(utc string) string {
	if len(utc) < len("2006-01-02T15:04:05.0") {
		return ""
	}
	return utc[11:21]
}

// shownUnit leaves out the unit of pure numbers.
func shownUnit(unit string) string {
	if unit == "1" {
		return ""
	}
	return unit
}

// flightPage is the content of the template of report.html.
type flightPage struct {
	*document
	Ribbons    []figure
	Events     []eventView     // in place of the document's
	Listed     []eventView     // the same, what comes of one cause together
	Operations []operationPart // likewise: those of the page
	Rules      rulesView
	Values     measurementsView
	Quality    qualityView
	Left       int // events without a trace
	Viewer     viewer
	// AboveAerodrome says that heights are measured from the aerodromes.
	AboveAerodrome bool
}

// figure is a drawing with a title.
type figure struct {
	Title string
	SVG   template.HTML // made by package svg, which escapes
}

// eventView is an event with its number on the page and its trace.
type eventView struct {
	eventPart
	Number int
	Trace  template.HTML
	// Follows says that the event stands below a more severe one of the same cause.
	Follows bool
	// Limits are those of its rule, and Why says why it has its severity.
	Limits []limitView
	Why    string
	Before int // the number of the event before, 0 for none
	Next   int
}

// Anchor is a place on the page that stays the event's when others are found: its
// identifier, where that is a plain word.
func (e eventView) Anchor() string {
	for _, r := range e.ID {
		if !(r >= '0' && r <= '9' || r >= 'a' && r <= 'z' || r == 'E') {
			return ""
		}
	}
	return e.ID
}

// Seconds is the nominal length of the event.
func (e eventView) Seconds() number { return e.End.Nominal - e.Start.Nominal }

// traceBudget bounds the bytes of all traces on a page, so that it opens at
// once in any browser and can be sent by mail. A usual trace takes 15 to 40 kB.
const traceBudget = 800 << 10

// renderFlight makes report.html.
func renderFlight(doc *document, result *detect.Result, choice SampleChoice) ([]byte, error) {
	height := flightHeight(result)
	rows := newTraceRows(result, height)
	viewer, err := newViewer(doc, rows, choice)
	if err != nil {
		return nil, err
	}
	page := flightPage{
		document: doc, Ribbons: ribbons(result, height),
		Events: eventViews(doc, rows), Rules: newRulesView(doc.Evaluations), Values: newMeasurementsView(doc.Measurements), Quality: newQualityView(doc),
		Operations:     operationRows(doc.Operations),
		AboveAerodrome: height.aboveAerodrome, Viewer: viewer,
	}
	page.Listed = byOccurrence(page.Events)
	for _, e := range page.Events {
		if e.Trace == "" {
			page.Left++
		}
	}
	return render("flight", page)
}

// byOccurrence lists events in the order of their occurrences, the most severe one of
// each first.
func byOccurrence(events []eventView) (listed []eventView) {
	done := map[string]bool{}
	for _, first := range events {
		if done[first.Occurrence] && first.Occurrence != "" {
			continue
		}
		done[first.Occurrence] = true
		from := len(listed)
		for _, e := range events {
			if e.ID == first.ID || e.Occurrence == first.Occurrence && e.Occurrence != "" {
				listed = append(listed, e)
			}
		}
		slices.SortStableFunc(listed[from:], func(a, b eventView) int { return severityRank(b.Severity) - severityRank(a.Severity) })
		for i := range listed[from+1:] {
			listed[from+1+i].Follows = true
		}
	}
	return listed
}

func severityRank(severity string) int {
	return slices.Index([]string{string(detect.Low), string(detect.Medium), string(detect.High)}, severity)
}

func renderIndex(idx *index) ([]byte, error) {
	page := newIndexPage(idx)
	page.Script = script.Table
	return render("index", page)
}

func render(name string, data any) ([]byte, error) {
	templates, err := pages()
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	b.Grow(256 << 10)
	if err := templates.ExecuteTemplate(&b, name, data); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}

// eventViews draws the traces while the budget lasts, the severe events first.
func eventViews(doc *document, rows *traceRows) []eventView {
	result := rows.result
	views := make([]eventView, len(doc.Events))
	for i, part := range doc.Events {
		views[i] = eventView{eventPart: part, Number: i + 1, Before: i, Next: i + 2,
			Limits: limitViews(result, result.Events[i]), Why: whySeverity(result.Events[i])}
	}
	if n := len(views); n > 0 {
		views[n-1].Next = 0
	}
	left := traceBudget
	for _, severity := range []detect.Severity{detect.High, detect.Medium, detect.Low} {
		for i, e := range result.Events {
			if e.Severity != severity || left <= 0 {
				continue
			}
			drawn := trace(rows, e, "Recorded parameters around event "+strconv.Itoa(i+1)+": "+clean(e.Rule.Title))
			left -= len(drawn)
			views[i].Trace = template.HTML(drawn)
		}
	}
	return views
}

// Zooms are drawn of a flight this many times longer than what they show.
const (
	zoomFrom   = 4.0
	zoomMargin = 90.0 // s before and after
	mostZooms  = 6
)

// ribbons draws the whole flight, and of a long one the take-off and each
// approach again, because gear and flap move in a small part of it.
func ribbons(result *detect.Result, height heightTrack) []figure {
	f := result.Flight
	figures := []figure{}
	add := func(title string, span detect.Span) {
		svg := ribbon(result, height, span, "Aircraft configuration, "+title)
		figures = append(figures, figure{title, template.HTML(svg)})
	}
	add("whole flight", f.Span)
	zoom := func(title string, span detect.Span) {
		around := detect.Span{Start: max(span.Start-zoomMargin, f.Span.Start), End: min(span.End+zoomMargin, f.Span.End)}
		if around.Seconds() > 0 && f.Span.Seconds() > zoomFrom*around.Seconds() && len(figures) <= mostZooms {
			add(title, around)
		}
	}
	if f.LiftOff != nil {
		zoom("take-off", detect.Span{Start: f.LiftOff.Nominal, End: f.LiftOff.Nominal + zoomMargin})
	}
	for i, a := range f.Approaches {
		title := "approach"
		if len(f.Approaches) > 1 {
			title = "approach " + strconv.Itoa(i+1)
		}
		zoom(title+" ("+clean(string(a.Outcome))+")", a.Span)
	}
	return figures
}
