package trend

import (
	"cmp"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"

	"downlock/testdata/browser"
)

// openFleet is a small fleet whose last month is not over.
var openFleet = sync.OnceValues(func() (*Trend, error) {
	counted, err := smallFleet.Tally()
	if err != nil {
		return nil, err
	}
	return New(counted, Options{Level: 0.05, Correction: Holm, RunMonth: "2031-12"})
})

// pagesOf writes the output of that fleet, with indicators.
func pagesOf(t *testing.T) (dir string) {
	t.Helper()
	dir = t.TempDir()
	tr, err := openFleet()
	if err != nil {
		t.Fatal(err)
	}
	in, err := tr.parseIndicators("spi.yaml", []byte("schema: downlock indicators 1\nindicators:\n  - {id: cycled, rule: lever-cycled}\n  - {id: slow, measurement: retraction-time-left}\n"))
	if err != nil {
		t.Fatal(err)
	}
	if err := tr.Write(dir, false, false); err != nil {
		t.Fatal(err)
	}
	if err := tr.WriteIndicators(dir, in, tr.Judge(in), false, false); err != nil {
		t.Fatal(err)
	}
	return dir
}

// rowsIn reads a table of the output as JSON.
func rowsIn(t *testing.T, dir, name string) []map[string]any {
	t.Helper()
	data, err := os.ReadFile(filepath.Join(dir, name))
	if err != nil {
		t.Fatal(err)
	}
	var table struct{ Rows []map[string]any }
	if err := json.Unmarshal(data, &table); err != nil {
		t.Fatal(err)
	}
	return table.Rows
}

// reading is the number behind a heading in the text above a chart; NaN for none.
func reading(text, heading string) float64 {
	for _, part := range strings.Split(text, " · ") {
		if rest, ok := strings.CutPrefix(part, heading+" "); ok {
			v, err := strconv.ParseFloat(strings.ReplaceAll(regexp.MustCompile(`^[0-9.,]+`).FindString(rest), ",", ""), 64)
			if err == nil {
				return v
			}
		}
	}
	return math.NaN()
}

// near says whether a number shown with three digits is the one of the JSON.
func near(shown float64, of any) bool {
	v, ok := of.(float64)
	return ok && math.Abs(shown-v) <= 0.006*math.Abs(v)+1e-6
}

// TestCursorReadsTheJSON points at months of the chart of a rule and steps with keys: the
// page says what rates.json says, and all charts show the same month.
func TestCursorReadsTheJSON(t *testing.T) {
	dir := pagesOf(t)
	months := map[string]map[string]any{}
	for _, row := range rowsIn(t, dir, "rates.json") {
		if row["rule"] == "lever-cycled" && row["severity"] == "" && row["column"] == "" && len(row["period"].(string)) == 7 {
			months[row["period"].(string)] = row
		}
	}
	if len(months) != 24 {
		t.Fatalf("rates.json has %d months", len(months))
	}
	b := browser.Open(t, 1280)
	b.Visit(filepath.Join(dir, PageName), "")
	chart := `[...document.querySelectorAll('figure')].find(f => f.querySelector('.soft').textContent.includes('lever-cycled'))`
	said := func() string { return browser.Value[string](b, chart+".querySelector('.reading').textContent") }
	agrees := func(month, text string) {
		t.Helper()
		row := months[month]
		if !strings.HasPrefix(text, month+" · ") || !near(reading(text, "events"), row["events"]) || !near(reading(text, "opportunities"), math.Round(row["opportunities"].(float64))) ||
			!near(reading(text, "per 1,000 opportunities"), row["per_1000_opportunities"]) || !near(reading(text, "95 % interval"), row["opportunities_low"]) || !near(reading(text, "per 1,000 flights"), row["rate_per_1000"]) {
			t.Errorf("the page says %q, the JSON of %s %v", text, month, row)
		}
		if _, high, ok := strings.Cut(text, "95 % interval "); ok {
			_, high, _ = strings.Cut(high, " to ")
			v, _ := strconv.ParseFloat(regexp.MustCompile(`^[0-9.]+`).FindString(high), 64)
			if !near(v, row["opportunities_high"]) {
				t.Errorf("upper end %v, the JSON %v", v, row["opportunities_high"])
			}
		}
	}
	for _, month := range []string{"2030-01", "2030-09", "2031-07"} {
		browser.Value[bool](b, fmt.Sprintf(`(() => {
			const f = %s, svg = f.querySelector('svg'), box = svg.getBoundingClientRect();
			const row = [...f.querySelectorAll('tbody tr')].find(r => r.cells[0].textContent === %q);
			svg.dispatchEvent(new PointerEvent('pointermove', { clientX: box.left + row.dataset.x / 560 * box.width + 3, clientY: box.top + 40 }));
			return true;
		})()`, chart, month))
		b.Until(fmt.Sprintf("%s.querySelector('.reading').textContent.startsWith(%q)", chart, month))
		agrees(month, said())
	}
	press := func(key string) {
		browser.Value[bool](b, fmt.Sprintf("(%s.querySelector('svg').focus(), document.activeElement.dispatchEvent(new KeyboardEvent('keydown', { key: %q })), true)", chart, key))
	}
	for _, step := range []struct{ key, month string }{{"ArrowRight", "2031-08"}, {".", "2031-09"}, {"ArrowLeft", "2031-08"}, {",", "2031-07"}, {"Home", "2030-01"}, {"ArrowLeft", "2030-01"}, {"End", "2031-12"}} {
		press(step.key)
		agrees(step.month, said())
	}
	if got := said(); !strings.Contains(got, "not over, compared with nothing") {
		t.Errorf("the month that is not over reads %q", got)
	}
	others := browser.Value[[]string](b, "[...document.querySelectorAll('.reading')].map(r => r.textContent).filter(t => /^20/.test(t)).map(t => t.slice(0, 7))")
	if len(others) < 20 || slices.ContainsFunc(others, func(m string) bool { return m != "2031-12" }) {
		t.Errorf("the charts show %v", others)
	}
	press("Escape")
	if n := browser.Value[int](b, "[...document.querySelectorAll('.reading')].filter(r => /^20/.test(r.textContent)).length"); n != 0 {
		t.Errorf("%d charts have a cursor after Escape", n)
	}

	// The medians of a measurement, and a point of an indicator.
	b.Visit(filepath.Join(dir, IndicatorsPage), "")
	for _, row := range rowsIn(t, dir, "indicators.json") {
		if row["period"] != "2031-03" {
			continue
		}
		text := browser.Value[string](b, fmt.Sprintf(`(() => {
			const f = document.getElementById(%q), svg = f.querySelector('svg');
			for (let i = 0; i < 40 && !f.querySelector('.reading').textContent.startsWith('2031-03'); i++) svg.dispatchEvent(new KeyboardEvent('keydown', { key: 'ArrowLeft' }));
			return f.querySelector('.reading').textContent;
		})()`, row["indicator"]))
		if !strings.HasPrefix(text, "2031-03") || !near(reading(text, "value"), row["value"]) {
			t.Errorf("%s reads %q, the JSON has %v", row["indicator"], text, row["value"])
		}
	}
	b.Calm()
}

// TestMonthsSortAndFilter: the table of rules by month in the order of a month, as the JSON
// has it, and what passes a filter, both from the address alone.
func TestMonthsSortAndFilter(t *testing.T) {
	dir := pagesOf(t)
	type line struct {
		title  string
		events int
	}
	var want []line
	for _, row := range rowsIn(t, dir, "rates.json") {
		if row["period"] == "2031-11" && row["severity"] == "" && row["column"] == "" {
			want = append(want, line{row["title"].(string), int(row["events"].(float64))})
		}
	}
	slices.SortStableFunc(want, func(a, b line) int { return cmp.Compare(b.events, a.events) })
	b := browser.Open(t, 1280)
	shown := "[...document.querySelectorAll('#months tbody tr')].filter(r => r.checkVisibility()).map(r => r.cells[0].textContent)"
	b.Visit(filepath.Join(dir, PageName), "months?sort=-2031-11")
	var titles []string
	for _, l := range want {
		titles = append(titles, l.title)
	}
	if got := browser.Value[[]string](b, shown); len(got) != 45 || !slices.Equal(got, titles) {
		t.Errorf("sorted by 2031-11:\n%q, want\n%q", got, titles)
	}
	browser.Value[bool](b, "(document.querySelector('#months input[type=search]').value = 'lever', document.querySelector('#months input[type=search]').dispatchEvent(new Event('input')), true)")
	with := func(list []string) (out []string) {
		for _, s := range list {
			if strings.Contains(strings.ToLower(s), "lever") {
				out = append(out, s)
			}
		}
		return out
	}
	if got := browser.Value[[]string](b, shown); len(got) == 0 || !slices.Equal(got, with(titles)) {
		t.Errorf("with lever: %q, want %q", got, with(titles))
	}
	if got := browser.Value[string](b, "location.hash"); got != "#months?text=lever&sort=-2031-11" {
		t.Errorf("the address is %s", got)
	}
	b.Visit(filepath.Join(dir, IndicatorsPage), "indicators?text=retraction")
	if got := browser.Value[[]string](b, "[...document.querySelectorAll('#indicators tbody tr')].filter(r => r.checkVisibility()).map(r => r.cells[0].textContent)"); !slices.Equal(got, []string{"Retraction time, left leg"}) {
		t.Errorf("the indicators show %q", got)
	}
	b.Calm()
}

// TestPagesWithoutScript: all is there to read, and no page is wider than a telephone.
func TestPagesWithoutScript(t *testing.T) {
	dir := pagesOf(t)
	for _, script := range []bool{false, true} {
		b := browser.Open(t, 400)
		if !script {
			b.NoScript()
		}
		for _, page := range []string{PageName, IndicatorsPage, "flights/lever-cycled.html"} {
			b.Visit(filepath.Join(dir, page), "")
			if wide := browser.Value[int](b, "Math.max(document.documentElement.scrollWidth, document.querySelector('main').scrollWidth)"); wide > 400 {
				t.Errorf("%s, script %v: %d px wide", page, script, wide)
			}
			if n := browser.Value[int](b, "document.querySelectorAll('#cautions li').length"); n < 5 {
				t.Errorf("%s has %d cautions", page, n)
			}
			if script {
				continue
			}
			if n := browser.Value[int](b, "document.querySelectorAll('button, select, input, .reading').length"); n != 0 {
				t.Errorf("%s: %d fields that nothing answers", page, n)
			}
			if page == PageName {
				if n := browser.Value[int](b, "[...document.querySelectorAll('#months tbody tr')].filter(r => r.checkVisibility()).length"); n != 45 {
					t.Errorf("%d rules by month", n)
				}
				if n := browser.Value[int](b, "[...document.querySelectorAll('#rates figure')].filter(f => f.querySelectorAll('details.values tbody tr').length !== 24).length"); n != 0 {
					t.Errorf("%d charts without their values", n)
				}
			}
		}
		b.Calm()
	}
}

// TestPagesPrint: the print has the SQL that the screen folds away, without fields.
func TestPagesPrint(t *testing.T) {
	dir := pagesOf(t)
	b := browser.Open(t, 1280)
	b.Visit(filepath.Join(dir, PageName), "")
	folded := "[...document.querySelectorAll('#sql pre')].filter(p => p.getBoundingClientRect().height > 10 && p.checkVisibility()).length"
	all := browser.Value[int](b, "document.querySelectorAll('#sql pre').length")
	if n := browser.Value[int](b, folded); n != 0 || all < 4 {
		t.Errorf("%d of %d queries are open on the screen", n, all)
	}
	b.InPrint()
	if n := browser.Value[int](b, folded); n != all {
		t.Errorf("%d of %d queries are in print", n, all)
	}
	if n := browser.Value[int](b, "[...document.querySelectorAll('.tools, .reading, details.values')].filter(e => e.checkVisibility()).length"); n != 0 {
		t.Errorf("%d fields in print", n)
	}
	b.Calm()
}
