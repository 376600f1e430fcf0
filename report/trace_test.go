package report

import (
	"encoding/xml"
	"math"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"downlock/detect"
	"downlock/schemas"
)

// shape is a rect, text or path of a drawing.
type shape struct {
	XMLName xml.Name
	Class   string  `xml:"class,attr"`
	X       float64 `xml:"x,attr"`
	Width   float64 `xml:"width,attr"`
	D       string  `xml:"d,attr"`
	Text    string  `xml:",chardata"`
}

func shapes(t *testing.T, drawing []byte) []shape {
	t.Helper()
	var svg struct {
		Shapes []shape `xml:",any"`
	}
	if err := xml.Unmarshal(drawing, &svg); err != nil {
		t.Fatal(err)
	}
	return svg.Shapes
}

// starts returns the x at which every path of a class starts.
func starts(t *testing.T, all []shape, class string) (at []float64) {
	t.Helper()
	for _, s := range all {
		if s.XMLName.Local == "path" && s.Class == class {
			x, err := strconv.ParseFloat(strings.Fields(s.D[1:])[0], 64)
			if err != nil {
				t.Fatal(err)
			}
			at = append(at, x)
		}
	}
	return at
}

// TestEventWindow works out by hand where the window of the first event is
// drawn. It reaches from 59.5 to 68.25 s, the margin is 20 s on either side, so
// the trace shows 39.5 to 88.25 s: 48.75 s on the 772 units from 148 to 920.
func TestEventWindow(t *testing.T) {
	t.Parallel()
	r := fixtureResult(t)
	e := r.Events[0]
	span := traceSpan(e, r.Flight.Span)
	if span.Start != 39.5 || span.End != 88.25 {
		t.Fatalf("the trace shows %v", span)
	}
	position := func(at float64) float64 { return math.Round((148+(at-39.5)/48.75*772)*10) / 10 }
	all := shapes(t, trace(newTraceRows(r, flightHeight(r)), e, "x"))
	if diff := cmp.Diff([]float64{position(60), position(68.25)}, starts(t, all, "nominal")); diff != "" {
		t.Errorf("nominal times: %s", diff)
	}
	// The latest end is the nominal end, which is drawn already.
	if diff := cmp.Diff([]float64{position(59.5), position(60.5), position(67.25)}, starts(t, all, "bound")); diff != "" {
		t.Errorf("bounds: %s", diff)
	}
	boxes := map[string][][2]float64{}
	for _, s := range all {
		if s.XMLName.Local == "rect" {
			boxes[s.Class] = append(boxes[s.Class], [2]float64{s.X, s.X + s.Width})
		}
	}
	certain := [][2]float64{{position(60.5), position(67.25)}}
	possible := [][2]float64{{position(59.5), position(60.5)}, {position(67.25), position(68.25)}}
	near := cmp.Comparer(func(a, b float64) bool { return math.Abs(a-b) < 0.15 }) // two roundings
	for class, want := range map[string][][2]float64{"sure": certain, "sure-bar": certain, "maybe": possible, "maybe-bar": possible} {
		if diff := cmp.Diff(want, boxes[class], near); diff != "" {
			t.Errorf("%s: %s", class, diff)
		}
	}
}

// TestSamplesAreDots counts the dots: the airspeed has one a second, 40 to 88 s.
func TestSamplesAreDots(t *testing.T) {
	t.Parallel()
	r := fixtureResult(t)
	all := shapes(t, trace(newTraceRows(r, flightHeight(r)), r.Events[0], "x"))
	var counts []int
	for _, s := range all {
		if s.Class == "dots dots1" {
			counts = append(counts, strings.Count(s.D, "h0"))
		}
	}
	// height twice a second from 39.5 to 88 s: 98; airspeed 49; flap handle 49; throttle 1: 98
	if diff := cmp.Diff([]int{98, 49, 49, 98}, counts); diff != "" {
		t.Error(diff)
	}
}

// A trace shows the parameters the rule reads, and those it asks to be drawn.
func TestTraceShowsWhatTheRuleReads(t *testing.T) {
	t.Parallel()
	r := fixtureResult(t)
	rec := r.Flight.Recording
	rec.Series = append(rec.Series,
		sampled(t, "vertical_speed", 0, 1, 200, func(float64) float64 { return -700 }),
		sampled(t, "parking_brake", 0, 1, 200, func(float64) float64 { return 0 }),
		sampled(t, "left_strut_compressed", 0, 1, 200, from(150)))
	r.Tracks = detect.ReadTracks(r.Flight)
	has := func(rule detect.Rule, name string) bool {
		e := r.Events[0]
		e.Rule = &rule
		for _, s := range shapes(t, trace(newTraceRows(r, flightHeight(r)), e, "x")) {
			if s.Text == name {
				return true
			}
		}
		return false
	}
	for name, rule := range map[string]detect.Rule{
		"vertical speed": {When: "vertical_speed > 100"}, "parking brake": {Trace: []string{"parking_brake"}}, "left strut": {When: "main_strut_compressed"},
	} {
		if !has(rule, name) {
			t.Errorf("%s is not drawn for %v", name, rule)
		}
		if has(detect.Rule{}, name) {
			t.Errorf("%s is drawn though the rule does not read it", name)
		}
	}
	for _, name := range []string{"airspeed", "flap", "throttles", "gear lever", "nose leg", "left leg", "right leg", "gear horn", "gear horn cutout"} {
		if !has(detect.Rule{}, name) {
			t.Errorf("%s is not drawn", name)
		}
	}
}

func TestWithout(t *testing.T) {
	t.Parallel()
	span := func(a, b float64) detect.Span { return detect.Span{Start: a, End: b} }
	for _, c := range []struct{ spans, cut, want []detect.Span }{
		{[]detect.Span{span(0, 10)}, []detect.Span{span(2, 3), span(5, 6)}, []detect.Span{span(0, 2), span(3, 5), span(6, 10)}},
		{[]detect.Span{span(0, 10)}, []detect.Span{span(-5, 20)}, nil},
		{[]detect.Span{span(0, 1), span(2, 3)}, []detect.Span{span(0.5, 2.5)}, []detect.Span{span(0, 0.5), span(2.5, 3)}},
		{[]detect.Span{span(0, 1)}, nil, []detect.Span{span(0, 1)}},
		{[]detect.Span{span(0, 1)}, []detect.Span{span(1, 2)}, []detect.Span{span(0, 1)}},
	} {
		if diff := cmp.Diff(c.want, without(c.spans, c.cut)); diff != "" {
			t.Errorf("%v without %v: %s", c.spans, c.cut, diff)
		}
	}
}

// Every canonical parameter's name has room in front of a chart: letters are
// some 0.53 of their size wide on average (measured in Liberation Sans).
func TestNamesFit(t *testing.T) {
	t.Parallel()
	for _, p := range schemas.Parameters() {
		room := chartLeft - 8
		if p.Numeric() {
			room = chartLeft - 34
		}
		if width := float64(len(shortName(p.Name))) * 10.5 * 0.53; width > room {
			t.Errorf("%q takes about %.0f units of %.0f", shortName(p.Name), width, room)
		}
	}
}
