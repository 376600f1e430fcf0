package report

import (
	"bytes"
	"crypto/sha256"
	"encoding/base64"
	"fmt"
	"slices"
	"strings"
	"testing"

	"golang.org/x/net/html"

	"downlock/detect"
	"downlock/report/script"
)

func renderPage(t testing.TB, r *detect.Result) []byte {
	t.Helper()
	page, err := renderFlight(newDocument(fixtureRun(t), r), r, NoSamples)
	if err != nil {
		t.Fatal(err)
	}
	return page
}

// parsed is a page as a browser's parser sees it.
type parsed struct {
	elements map[string]int
	ids      []string
	links    []string
	scripts  []string // those that a browser runs
	policy   string
	text     string
}

func parsePage(t testing.TB, page []byte) parsed {
	t.Helper()
	root, err := html.Parse(bytes.NewReader(page))
	if err != nil {
		t.Fatal(err)
	}
	p := parsed{elements: map[string]int{}}
	var text strings.Builder
	for n := range root.Descendants() {
		switch n.Type {
		case html.TextNode:
			if n.Parent.Data == "script" {
				continue
			}
			text.WriteString(n.Data + " ")
		case html.ElementNode:
			p.elements[n.Data]++
			kind := ""
			for _, a := range n.Attr {
				switch {
				case n.Data == "script" && a.Key == "type":
					kind = a.Val
				case n.Data == "meta" && a.Key == "content" && strings.HasPrefix(a.Val, "default-src"):
					p.policy = a.Val
				}
			}
			if n.Data == "script" && kind != "application/json" && kind != "application/octet-stream" {
				p.scripts = append(p.scripts, n.FirstChild.Data)
			}
			for _, a := range n.Attr {
				switch {
				case strings.HasPrefix(a.Key, "on"):
					t.Errorf("<%s> has a handler %s", n.Data, a.Key)
				case a.Key == "src" || a.Key == "srcset" || a.Key == "action" || a.Key == "data":
					t.Errorf("<%s> loads %s", n.Data, a.Val)
				case a.Key == "id":
					p.ids = append(p.ids, a.Val)
				case a.Key == "href":
					p.links = append(p.links, a.Val)
				}
			}
		}
	}
	p.text = strings.Join(strings.Fields(text.String()), " ")
	return p
}

// checkSelfContained: nothing runs but one script of package script, which the page's
// policy allows by its hash, nothing loads, every link on the page has
// its place and no place is there twice.
func checkSelfContained(t *testing.T, p parsed) {
	t.Helper()
	for _, element := range []string{"iframe", "object", "embed", "link", "img", "form", "base", "foreignobject", "use", "image"} {
		if p.elements[element] > 0 {
			t.Errorf("the page has <%s>", element)
		}
	}
	for _, s := range p.scripts {
		if s != script.Viewer && s != script.Table {
			t.Errorf("the page runs %.80q", s)
		}
		sum := sha256.Sum256([]byte(s))
		if !strings.Contains(p.policy, "script-src 'sha256-"+base64.StdEncoding.EncodeToString(sum[:])+"'") {
			t.Errorf("the policy %q does not allow the page's script", p.policy)
		}
	}
	if !strings.HasPrefix(p.policy, "default-src 'none'; style-src 'unsafe-inline'") || len(p.scripts) == 0 && strings.Contains(p.policy, "script-src") {
		t.Errorf("the policy is %q", p.policy)
	}
	slices.Sort(p.ids)
	if distinct := slices.Compact(slices.Clone(p.ids)); len(distinct) != len(p.ids) {
		t.Errorf("an id is used twice: %v", p.ids)
	}
	for _, link := range p.links {
		if place, local := strings.CutPrefix(link, "#"); local && !slices.Contains(p.ids, place) {
			t.Errorf("nothing is at %s", link)
		} else if page, _, _ := strings.Cut(link, "#"); !local && !strings.HasSuffix(page, "/report.html") && link != "../index.html" {
			t.Errorf("a link leads to %s", link)
		}
	}
}

func TestFlightPage(t *testing.T) {
	t.Parallel()
	p := parsePage(t, renderPage(t, fixtureResult(t)))
	checkSelfContained(t, p)
	last := 0
	for _, want := range []string{ // in the order of an analyst's questions
		"north-07.csv, flight 1", "TH-120", "2031-05-04", "not recorded: begins in the air", "10:02:30.0 UTC, 150 s", "(between 149.5 and 150 s)",
		"Events 3 events from 4 rules", "high 1 0", "medium 1 0", "low 0 1",
		"Warnings : 1 warning did not agree with the criteria , 0 exercised and agreed, 1 not exercised: 2 findings (1 late, 1 silenced); 1 not evaluable.",
		"Could not be evaluated 1 of 4 rules not evaluable, 1 partly", "speedbrake_handle is not recorded: 1 rule",
		"Data quality 12 parameters recorded, 1 not recorded", "7 samples dropped of 1 parameter", "Gaps in 1 parameter", "airborne from radio altitude", "last line cut off",
		// 10:00:10 the approach, 10:01:00.5 the lever, 10:02:30 the wheels
		"Operations operation when ended figure approach 10:00:10.0 UTC, 10 s landing gear extension 10:01:00.5 UTC, 60.5 s (between 59.5 and 60.5 s) touchdown 10:02:30.0 UTC, 150 s (between 149.5 and 150 s) landing",
		"Configuration of the aircraft", "whole flight",
		"Certain: true in every history the samples allow. From 10:01:00.0 UTC, 60 s (between 59.5 and 60.5 s) to 10:01:08.2 UTC, 68.25 s (between 67.25 and 68.25 s) , 8.25 s, approach",
		"lowest height 1635 ft", "pitch not recorded", "common practice", "May call for an inspection.",
		"Possible: true in at least one history the samples allow, but not in all.", "At 10:02:30.0 UTC, 150 s",
		"Gear warning horn not in agreement , partly evaluated 2 12.5 1 5 4.25 10", "Too-low-gear alert never required, never sounded", "Take-off warning not evaluable no such column",
		"late certain 10:00:57.0 UTC, 57 s (between 56 and 57 s) 10:01:01.0 UTC, 61 s (between 60 and 61 s) 4 4 (3 to 5) silenced possible",
		"horn cut-out in the air", "7 1200 already, or not afterwards", "2 not known 28 s later",
		"Measurements", "Height at gear down 1800 ft 1798 to 1823 10:01:00.5 What Height at gear down means.", // bounds rounded outwards
		"Lever movements 1 at least 1 (3 s unknown)", "Horn possible 5 s What Horn means.",
		"Happened, but the value was not recorded: Landing flap Did not happen: Go-around", "Not evaluable: 1 gross_weight is not recorded Weight",
		"Parameter quality", "left gear down locked left_gear_down_locked 190 1 4 – 1 11", "UP LOCK, UPLK",
		"Rules 1 evaluated, 1 partly evaluated, 1 not evaluable, 1 without an opportunity", "Gear late gear-late partly evaluated 1 approach, 1 partly 2", "6.7 %", // 10 s of 150 s
		"No opportunity: Late in a go-around",
		"Provenance", "123456 bytes", strings.Repeat("0c", 32), strings.Repeat("ab", 32), "downlock 0.1.0",
		"Cautions", "not an airworthiness decision", "invented examples", "Licensed staff", "confidentiality agreement",
	} {
		at := strings.Index(p.text[last:], want)
		if at < 0 {
			t.Errorf("after %q the page does not say %q", p.text[max(0, last-40):last], want)
			continue
		}
		last += at
	}
}

// TestHostilePage: hostile text is shown as text, and nothing of it runs.
func TestHostilePage(t *testing.T) {
	t.Parallel()
	page := renderPage(t, hostileResult(t))
	p := parsePage(t, page)
	checkSelfContained(t, p)
	if n := strings.Count(p.text, "<script>alert(\"x\")</script>'&\ufffd\ufffd\ufffd"); n < 40 {
		t.Errorf("hostile text is shown %d times, want it in some 40 places and more", n)
	}
	if i := bytes.IndexFunc(page, func(r rune) bool { return r < ' ' && r != '\n' || r == 0x7f || r == 0x202e }); i >= 0 {
		t.Errorf("the page holds a control character: %q", page[max(0, i-30):i+10])
	}
	if bytes.Contains(page, []byte("<script")) || bytes.Contains(page, []byte("\"x\"")) {
		t.Error("hostile text is not escaped")
	}
}

// Cases a report must survive: nothing recorded but the bare flight.
func TestBareFlight(t *testing.T) {
	t.Parallel()
	r := fixtureResult(t)
	r.Flight.Recording.Series, r.Flight.Recording.Absent = nil, nil
	r.Flight.Phases, r.Flight.Approaches, r.Flight.Touchdown = nil, nil, nil
	r.Tracks = detect.ReadTracks(r.Flight)
	p := parsePage(t, renderPage(t, r))
	checkSelfContained(t, p)
	r.Events, r.Evaluations = nil, nil
	r.Flight.Span = detect.Span{}
	p = parsePage(t, renderPage(t, r))
	if !strings.Contains(p.text, "No event was found by the rules that could be evaluated.") {
		t.Error("the page does not say that there are no events")
	}
}

// TestManyEvents: a page stays near a megabyte, severe events keep their
// traces, and it says how many are left out.
func TestManyEvents(t *testing.T) {
	t.Parallel()
	r := fixtureResult(t)
	var many []detect.Event
	for i := range 300 {
		e := r.Events[i%2] // high and low in turn
		e.ID = fmt.Sprint("E", i)
		many = append(many, e)
	}
	r.Events = many
	page := renderPage(t, r)
	if len(page) > 1_300_000 {
		t.Errorf("the page has %d bytes", len(page))
	}
	p := parsePage(t, page)
	checkSelfContained(t, p)
	drawn := bytes.Count(page, []byte(`class="chart trace"`))
	if want := fmt.Sprintf("%d traces left out", 300-drawn); drawn == 300 || !strings.Contains(p.text, want) {
		t.Errorf("%d traces are drawn and the page does not say %q", drawn, want)
	}
	_, second, _ := bytes.Cut(page, []byte(`id="event-2"`))
	second, _, _ = bytes.Cut(second, []byte(`id="event-3"`))
	if drawn < 150 && bytes.Contains(second, []byte(`class="chart trace"`)) {
		t.Error("an event of low severity is drawn before all of high severity are")
	}
}

func TestLongFlightIsDrawnAgainInParts(t *testing.T) {
	t.Parallel()
	r := fixtureResult(t)
	r.Flight.Span.End = 7200
	r.Flight.LiftOff = &detect.Time{Nominal: 100, Earliest: 99, Latest: 100}
	r.Flight.Approaches = append(r.Flight.Approaches, detect.Approach{Span: detect.Span{Start: 6000, End: 6400}, Outcome: detect.EndsInGoAround})
	var titles []string
	for _, f := range ribbons(r, flightHeight(r)) {
		titles = append(titles, f.Title)
	}
	want := []string{"whole flight", "take-off", "approach 1 (landing)", "approach 2 (go-around)"}
	if !slices.Equal(titles, want) {
		t.Errorf("drawn are %v, want %v", titles, want)
	}
}

// TestOccurrencesStandTogether: the first and third event of the fixture come of one
// cause; the table has the third below the first.
func TestOccurrencesStandTogether(t *testing.T) {
	t.Parallel()
	p := parsePage(t, renderPage(t, fixtureResult(t)))
	if !strings.Contains(p.text, "3 events in 2 occurrences") {
		t.Error("the page does not count the occurrences")
	}
	_, table, _ := strings.Cut(p.text, "3 events in 2 occurrences")
	first, second, other := strings.Index(table, "1 Gear late"), strings.Index(table, "3 same cause: Gear late"), strings.Index(table, "2 Lever before strut")
	if first < 0 || !(first < second && second < other) {
		t.Errorf("the events stand at %d, %d and %d", first, second, other)
	}
}

// TestSoundingsOnThePage: a warning that sounds 22 times in a flight is listed 20 times,
// and the page says so; report.json has all.
func TestSoundingsOnThePage(t *testing.T) {
	t.Parallel()
	result := fixtureResult(t)
	exactly := func(s float64) detect.Time { return detect.Time{Nominal: s, Earliest: s, Latest: s} }
	for i := range 22 {
		result.Audits[0].Soundings = append(result.Audits[0].Soundings, detect.Sounding{Certainty: detect.Certain,
			Start: exactly(61 + float64(i)), End: exactly(61.5 + float64(i)), Cause: detect.CriteriaMet, Events: []string{"E1"}})
	}
	p := parsePage(t, renderPage(t, result))
	// Second 0 is 10:00:00.
	for _, want := range []string{"Gear warning horn: when it sounded, and why",
		"10:01:01.0 UTC, 61 s 10:01:01.5 UTC, 61.5 s 0.5 certain its criteria are met Gear late", "And 2 more; all are in report.json."} {
		if !strings.Contains(p.text, want) {
			t.Errorf("the page does not say %q", want)
		}
	}
	if n := strings.Count(p.text, "its criteria are met"); n != 20 {
		t.Errorf("the page lists %d soundings, want 20", n)
	}
	if parts := auditParts(result); len(parts[0].Soundings) != 22 {
		t.Errorf("report.json has %d soundings, want 22", len(parts[0].Soundings))
	}
}
