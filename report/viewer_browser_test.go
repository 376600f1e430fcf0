package report

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"downlock/detect"
	"downlock/ingest"
	"downlock/schemas"
)

// viewerPage is the page of the fixture with all samples.
func viewerPage(t testing.TB, r *detect.Result, choice SampleChoice) []byte {
	t.Helper()
	page, err := renderFlight(newDocument(fixtureRun(t), r), r, choice)
	if err != nil {
		t.Fatal(err)
	}
	return page
}

// look opens the viewer with one of the buttons of the page.
func (b *tab) look(button string) {
	b.t.Helper()
	b.Do(chromedp.Evaluate[chromedp.Void](fmt.Sprintf("document.querySelector(%q).click()", button)))
	b.Until("document.querySelector('#viewer svg') !== null")
}

const (
	ofFirstEvent  = "#event-1 .tools button"
	ofWholeFlight = "#configuration .tools button"
)

func (b *tab) shown() (from, to float64) {
	b.t.Helper()
	v := value[[]float64](b, "[+document.querySelector('.strips').dataset.start, +document.querySelector('.strips').dataset.end]")
	return v[0], v[1]
}

func (b *tab) cursor() float64 {
	b.t.Helper()
	return value[float64](b, "+document.querySelector('.strips').dataset.cursor")
}

// place is where a time is drawn in the window, in pixels, and how high up. The strips
// have 46 pixels for values before them and 8 behind.
func (b *tab) place(t float64) (x, y float64) {
	b.t.Helper()
	box := value[[]float64](b, "(() => { const r = document.querySelector('.strips').getBoundingClientRect(); return [r.left, r.top, r.width]; })()")
	from, to := b.shown()
	return box[0] + 46 + (t-from)/(to-from)*(box[2]-54), box[1] + 60
}

// cells are the value, the time of its sample and what may be after it, in the table.
func (b *tab) cells(parameter string) []string {
	b.t.Helper()
	return value[[]string](b, fmt.Sprintf(`["value", "at", "between"].map(is => document.querySelector('tr[data-parameter="%s"] [data-is=' + is + ']').textContent)`, parameter))
}

// TestCursorShowsTheSamples moves the cursor through the whole flight. For every parameter
// the page shows the last sample at or before the cursor, as the recording holds it: an
// independent look at the series, without what packs and unpacks them.
func TestCursorShowsTheSamples(t *testing.T) {
	t.Parallel()
	b := openTab(t, 1280)
	r := fixtureResult(t)
	b.Show(viewerPage(t, r, AllSamples), "")
	b.look(ofWholeFlight)
	b.Do(chromedp.Evaluate[chromedp.Void]("document.querySelector('#viewer').scrollIntoView()"))
	for _, want := range []float64{0.1, 33.3, 60.2, 60.8, 67.9, 79.6, 105, 110.4, 149.9, 199.7} {
		x, y := b.place(want)
		b.Do(chromedp.MouseEvent(input.DispatchMouseEventTypeMouseMoved, x, y))
		b.Until(fmt.Sprintf("Math.abs(document.querySelector('.strips').dataset.cursor - %g) < 0.3", want))
		at := b.cursor()
		for _, s := range r.Flight.Recording.Series {
			got := b.cells(s.Parameter.Name)
			shown, time, between := lastSample(s, at)
			if got[0] != shown || got[1] != time {
				t.Errorf("at %g s %s reads %q, sampled at %q; the recording has %q at %q", at, s.Parameter.Name, got[0], got[1], shown, time)
			}
			if between != "" && !strings.Contains(got[2], between) {
				t.Errorf("at %g s %s says %q, want %q in it", at, s.Parameter.Name, got[2], between)
			}
		}
	}
	b.Calm()
}

// lastSample is what stands in the series at a time, as the page writes it: a gap, which is
// longer than three intervals, has no value. A held parameter that differs at the next
// sample changed in between.
func lastSample(s *ingest.Series, at float64) (shown, time, between string) {
	times := s.TimeValues()
	i := -1
	for k, t := range times {
		if t <= at {
			i = k
		}
	}
	if i < 0 || i+1 < len(times) && times[i] != at && times[i+1]-times[i] > s.Gap+1e-9 || i+1 == len(times) && at-times[i] > s.Gap {
		return "–", "", "not recorded"
	}
	written := func(k int) string {
		if s.Parameter.Numeric() {
			text := strconv.FormatFloat(math.Round(s.Numbers()[k]*1e4)/1e4, 'f', -1, 64)
			if s.Parameter.Unit == "1" {
				return text
			}
			return text + " " + s.Parameter.Unit
		}
		code := s.Codes()[k]
		if states := s.Parameter.States; len(states) > 0 {
			return states[code]
		}
		return []string{"off", "on"}[code]
	}
	plain := func(t float64) string { return strconv.FormatFloat(math.Round(t*1000)/1000, 'f', -1, 64) }
	if i+1 < len(times) && times[i] != at && s.Parameter.Kind != "continuous" && written(i) != written(i+1) {
		between = "changed to " + written(i+1) + " between " + plain(times[i]) + " and " + plain(times[i+1]) + " s"
	}
	return written(i), plain(times[i]), between
}

// TestZoomPanAndStep checks the times that are shown against hand computation: the whole
// flight is 0 to 200 s.
func TestZoomPanAndStep(t *testing.T) {
	t.Parallel()
	b := openTab(t, 1280)
	b.Show(viewerPage(t, fixtureResult(t), AllSamples), "")
	b.look(ofWholeFlight)
	b.Do(chromedp.Evaluate[chromedp.Void]("document.querySelector('#viewer').scrollIntoView()"))
	near := func(what string, from, to float64) {
		t.Helper()
		b.Until(fmt.Sprintf("(() => { const d = document.querySelector('.strips').dataset; return Math.abs(d.start - %g) < 0.25 && Math.abs(d.end - %g) < 0.25; })()", from, to))
		if a, z := b.shown(); math.Abs(a-from) > 0.25 || math.Abs(z-to) > 0.25 {
			t.Errorf("%s shows %g to %g s, want %g to %g s", what, a, z, from, to)
		}
	}
	near("the beginning", 0, 200)
	// Dragged from 50 to 100 s.
	x1, y := b.place(50)
	x2, _ := b.place(100)
	b.Do(chromedp.MouseEvent(input.DispatchMouseEventTypeMouseMoved, x1, y), chromedp.MouseEvent(input.DispatchMouseEventTypeMousePressed, x1, y, chromedp.ButtonLeft),
		chromedp.MouseEvent(input.DispatchMouseEventTypeMouseMoved, x2, y, chromedp.ButtonLeft), chromedp.MouseEvent(input.DispatchMouseEventTypeMouseReleased, x2, y, chromedp.ButtonLeft))
	near("a drag", 50, 100)
	// A quarter of 50 s to the right, twice to the left.
	b.Do(chromedp.KeyEvent(kb.ArrowRight))
	near("arrow right", 62.5, 112.5)
	b.Do(chromedp.KeyEvent(kb.ArrowLeft), chromedp.KeyEvent(kb.ArrowLeft))
	near("arrow left", 37.5, 87.5)
	// The wheel at the middle, 62.5 s, towards the user: a quarter more on both sides, 62.5 s in all.
	x, _ := b.place(62.5)
	b.Do(chromedp.MouseEvent(input.DispatchMouseEventTypeMouseMoved, x, y))
	b.Until("Math.abs(document.querySelector('.strips').dataset.cursor - 62.5) < 0.2")
	b.Do(chromedp.MouseEvent(input.DispatchMouseEventTypeMouseWheel, x, y, func(p *input.DispatchMouseEventParams) { p.DeltaX, p.DeltaY = 0.01, 100 }))
	near("the wheel", 31.25, 93.75)
	// Plus halves around the cursor, which stands in the middle.
	b.Do(chromedp.KeyEvent("+"))
	near("plus", 46.875, 78.125)
	b.Do(chromedp.KeyEvent("-"))
	near("minus", 31.25, 93.75)
	b.Do(chromedp.KeyEvent(kb.Home))
	near("Home", 0, 200)

	// The gear lever is sampled at 0.5 s, 1.5 s, ...; the cursor stands between two samples.
	x, y = b.place(63)
	b.Do(chromedp.MouseEvent(input.DispatchMouseEventTypeMouseMoved, x, y))
	b.Until("Math.abs(document.querySelector('.strips').dataset.cursor - 63) < 0.3")
	b.Do(chromedp.Evaluate[chromedp.Void](`document.querySelector('tr[data-parameter="gear_lever"] .pick').click()`))
	for _, step := range []struct {
		key  string
		want float64
	}{{".", 63.5}, {".", 64.5}, {",", 63.5}, {",", 62.5}, {",", 61.5}} {
		b.Do(chromedp.KeyEvent(step.key))
		b.Until(fmt.Sprintf("document.querySelector('.strips').dataset.cursor == %g", step.want))
	}
	if got := b.cells("gear_lever"); got[2] != "sampled here" || got[1] != "61.5" || got[0] != "DOWN" {
		t.Errorf("at its sample the lever reads %q", got)
	}
	b.Do(chromedp.KeyEvent(kb.Escape))
	b.Until("document.querySelector('#viewer') === null")
	b.Calm()
}

// TestParametersAreAdded: any mapped parameter can be drawn, also those no rule uses.
func TestParametersAreAdded(t *testing.T) {
	t.Parallel()
	b := openTab(t, 1280)
	r := fixtureResult(t)
	b.Show(viewerPage(t, r, AllSamples), "")
	b.look(ofFirstEvent)
	listed := value[[]string](b, "[...document.querySelectorAll('tr[data-parameter]')].map(r => r.dataset.parameter)")
	for _, s := range r.Flight.Recording.Series {
		if !slices.Contains(listed, s.Parameter.Name) {
			t.Errorf("%s is not in the list", s.Parameter.Name)
		}
	}
	drawn := "[...document.querySelectorAll('.look .in-strip')].filter(l => l.textContent.startsWith('%s')).length"
	for _, name := range []string{"left strut compressed", "throttle angle 2"} {
		parameter := strings.ReplaceAll(name, " ", "_")
		if !slices.Contains(listed, parameter) {
			continue
		}
		before := value[bool](b, fmt.Sprintf(`document.querySelector('tr[data-parameter="%s"] input').checked`, parameter))
		b.Do(chromedp.Evaluate[chromedp.Void](fmt.Sprintf(`document.querySelector('tr[data-parameter="%s"] input').click()`, parameter)))
		want := 1
		if before {
			want = 0
		}
		if got := value[int](b, fmt.Sprintf(drawn, name)); got != want {
			t.Errorf("%s is drawn %d times, want %d", name, got, want)
		}
	}
	b.Calm()
}

// TestEventLeavesThePage: samples around an event as CSV, its strip as SVG and PNG.
func TestEventLeavesThePage(t *testing.T) {
	t.Parallel()
	b := openTab(t, 1280)
	r := fixtureResult(t)
	b.Show(viewerPage(t, r, EventSamples), "")
	b.Do(chromedp.Evaluate[chromedp.Void]("window.saved = []; URL.createObjectURL = blob => { saved.push(blob); return '#'; }; HTMLAnchorElement.prototype.click = () => {}"))
	press := func(n int) {
		t.Helper()
		before := value[int](b, "saved.length")
		b.Do(chromedp.Evaluate[chromedp.Void](fmt.Sprintf("document.querySelectorAll('#event-1 .tools button')[%d].click()", n)))
		b.Until(fmt.Sprintf("saved.length > %d", before))
	}
	press(1)
	text := value[string](b, "saved.at(-1).text()")
	lines := strings.Split(strings.TrimSuffix(text, "\r\n"), "\r\n")
	if lines[0] != "time_s,time_utc,parameter,value,unit,recording,flight,general_caution" {
		t.Errorf("the CSV begins with %q", lines[0])
	}
	span, want := traceSpan(r.Events[0], r.Flight.Span), 0
	for _, s := range r.Flight.Recording.Series {
		for _, at := range s.TimeValues() {
			if at >= span.Start && at <= span.End {
				want++
			}
		}
	}
	if got := len(lines) - 1; got != want {
		t.Errorf("the CSV has %d samples, the recording %d from %g to %g s", got, want, span.Start, span.End)
	}
	// By hand: the airspeed is 180 kt less a quarter of the time, the flight begins at 10:00:00.
	if row := "60,2031-05-04T10:01:00.000Z,computed_airspeed,165,kt,north-07.csv,1,\"" + schemas.Caution + "\""; !slices.Contains(lines, row) {
		t.Errorf("the CSV has no row %s", row)
	}
	press(2)
	if svg := value[string](b, "saved.at(-1).text()"); !strings.HasPrefix(svg, "<svg") || !strings.Contains(svg, "--brick") || !strings.Contains(svg, "id=\"doubt\"") {
		t.Errorf("the SVG is %.200s", svg)
	}
	press(3)
	if size := value[[]int](b, "createImageBitmap(saved.at(-1)).then(i => [i.width, i.height])"); size[0] != 2*chartWidth || size[1] < 200 {
		t.Errorf("the PNG is %v", size)
	}
	b.Calm()
}

// TestPageWithoutScript: with script off everything is said and nothing dead is shown.
func TestPageWithoutScript(t *testing.T) {
	t.Parallel()
	page := viewerPage(t, fixtureResult(t), AllSamples)
	b := openTab(t, 1280)
	b.NoScript()
	b.Show(page, "")
	got := value[string](b, "document.body.innerText")
	for _, want := range []string{"Gear late", "lowest height", "1635", "Cautions"} {
		if !strings.Contains(got, want) {
			t.Errorf("without script the page does not say %q", want)
		}
	}
	if n := value[int](b, "document.querySelectorAll('button').length"); n != 0 {
		t.Errorf("%d buttons that nothing answers", n)
	}
	if n := value[int](b, "document.querySelectorAll('#events svg.chart').length"); n != 3 {
		t.Errorf("%d events are drawn, want 3", n)
	}
}

// TestNarrowAndPrinted: at 400 px nothing makes the page wider, with the viewer open; a
// print has the drawn strips and no viewer.
func TestNarrowAndPrinted(t *testing.T) {
	t.Parallel()
	b := openTab(t, 400)
	b.Show(viewerPage(t, fixtureResult(t), AllSamples), "")
	b.look(ofFirstEvent)
	if got := value[int](b, "document.documentElement.scrollWidth"); got > 400 {
		t.Errorf("the page is %d px wide", got)
	}
	if got := value[float64](b, "document.querySelector('#viewer').getBoundingClientRect().right"); got > 400 {
		t.Errorf("the viewer reaches to %g px", got)
	}
	ctx := b.Context()
	pdf, err := chromedp.Run(ctx, chromedp.PrintToPDF())
	if err != nil || !strings.HasPrefix(string(pdf), "%PDF-") {
		t.Fatalf("printing: %v, %.20q", err, pdf)
	}
	b.InPrint()
	if seen := value[[]bool](b, "['#viewer', '#event-1 svg.chart'].map(s => document.querySelector(s).checkVisibility())"); seen[0] || !seen[1] {
		t.Errorf("in print viewer and drawn strips are shown: %v, want no and yes", seen)
	}
	b.Calm()
}

// TestHostileViewer: text from outside stays text in what the script draws.
func TestHostileViewer(t *testing.T) {
	t.Parallel()
	r := hostileResult(t)
	for i := range r.Flight.Recording.Series {
		s := r.Flight.Recording.Series[i]
		if len(s.Parameter.States) > 0 {
			for k := range s.Parameter.States {
				s.Parameter.States = slices.Clone(s.Parameter.States)
				s.Parameter.States[k] = hostile
			}
		}
		s.Parameter.Unit = hostile
	}
	page := viewerPage(t, r, AllSamples)
	b := openTab(t, 1280)
	b.Do(chromedp.Evaluate[chromedp.Void]("1"))
	b.Show(page, "")
	b.Do(chromedp.Evaluate[chromedp.Void]("window.ran = 0; window.alert = () => ran++"))
	b.look(ofFirstEvent)
	b.Do(chromedp.KeyEvent("."), chromedp.KeyEvent("-"))
	if n := value[int](b, "document.querySelectorAll('script').length"); n != 3 {
		t.Errorf("the page has %d scripts, want its data, its samples and the viewer", n)
	}
	if n := value[int](b, "ran"); n != 0 {
		t.Errorf("hostile text ran %d times", n)
	}
	if text := value[string](b, "document.querySelector('#viewer').textContent"); !strings.Contains(text, "<script>alert") {
		t.Error("the viewer does not show the hostile text: the test sees nothing")
	}
	b.Calm()
}
