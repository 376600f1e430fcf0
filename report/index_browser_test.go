package report

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/performance"
	"github.com/chromedp/chromedp"
)

// largeIndex is the page of a run of so many flights with five events of five occurrences
// each: the fixture with other names, days, aircraft and aerodromes.
func largeIndex(t testing.TB, flights int) []byte {
	t.Helper()
	run, total := fixtureRun(t), &Index{}
	doc := *newDocument(run, fixtureResult(t))
	events := doc.Events
	for i := range flights {
		doc.Provenance.Input.Name = fmt.Sprintf("north-%04d.csv.zst", i)
		doc.Provenance.Profile.Registration = fmt.Sprintf("TH-L%02d", i%20)
		doc.Flight.StartUTC = fmt.Sprintf("2031-%02d-%02dT10:00:00.000Z", 1+i%12, 1+i%28)
		doc.Flight.Departure, doc.Flight.Arrival = fmt.Sprintf("XA%02d", i%30), fmt.Sprintf("XB%02d", i%17)
		doc.Events = nil
		for k := range 5 {
			e := events[k%3]
			e.ID = fmt.Sprintf("E%012x", i*5+k)
			e.Occurrence = e.ID
			e.Severity = []string{"high", "medium", "low", "low", "low"}[(k+i)%5]
			if e.Severity == "low" && i%4 == 0 && k == 2 {
				e.Severity = "medium"
			}
			if (i+k)%3 == 0 {
				e.Verdict = &Verdict{Finding: "valid"}
			}
			doc.Events = append(doc.Events, e)
		}
		doc.Summary = newSummary(&doc)
		total.Add(newEntry(fmt.Sprintf("north-%04d.csv.zst-flight-1", i), &doc))
	}
	page, err := renderIndex(newIndex(run, total, nil))
	if err != nil {
		t.Fatal(err)
	}
	return page
}

// rows are the texts of a column of the rows that a table shows, in their order.
func (b *tab) rows(section string, column int) []string {
	b.t.Helper()
	return value[[]string](b, fmt.Sprintf("[...document.querySelectorAll('#%s tbody tr')].filter(r => r.checkVisibility()).map(r => r.cells[%d].innerText.trim())", section, column))
}

// TestIndexSortsAndFilters works out by hand what passes: of 40 flights each has five
// occurrences, one of them high.
func TestIndexSortsAndFilters(t *testing.T) {
	t.Parallel()
	b := openTab(t, 1280)
	b.Show(largeIndex(t, 40), "")
	if got := b.rows("occurrences", 0); len(got) != 200 || !slices.IsSortedFunc(got, func(a, b string) int { return severityRank(b) - severityRank(a) }) || got[39] != "high" || got[40] != "medium" {
		t.Errorf("%d occurrences, which begin with %v: want 200, 40 of them high, by severity", len(got), got[:5])
	}
	// Chosen by hand of a reader: the severity, then the aircraft.
	choose := func(section, label, choice string) {
		t.Helper()
		b.Do(chromedp.Evaluate[chromedp.Void](fmt.Sprintf(`(() => {
			const select = [...document.querySelectorAll('#%s select')].find(s => s.getAttribute('aria-label') === %q);
			select.dispatchEvent(new Event('pointerdown'));
			select.value = %q;
			select.dispatchEvent(new Event('change'));
		})()`, section, label, choice)))
	}
	choose("occurrences", "severity", "medium")
	// One of each of the 40 flights, and a second one of flights 0, 12, 16, 20, 32 and 36.
	if got := b.rows("occurrences", 0); len(got) != 46 || slices.ContainsFunc(got, func(s string) bool { return s != "medium" }) {
		t.Errorf("medium: %d rows %v", len(got), got[:min(3, len(got))])
	}
	choose("occurrences", "aircraft", "TH-L07") // flights 7 and 27
	if got := b.rows("occurrences", 10); !slices.Equal(got, []string{"north-0007.csv.zst, 1", "north-0027.csv.zst, 1"}) {
		t.Errorf("medium of TH-L07: %v", got)
	}
	address := value[string](b, "location.hash")
	if address != "#occurrences?severity=medium&aircraft=TH-L07" {
		t.Errorf("the address is %s", address)
	}

	// The address alone shows the same in another tab; a flight on the third of the month: 2, 30.
	b.Do(chromedp.Navigate("about:blank"))
	b.Show(largeIndex(t, 40), strings.TrimPrefix(address, "#"))
	if got := b.rows("occurrences", 10); len(got) != 2 {
		t.Errorf("from the address: %v", got)
	}
	b.Do(chromedp.Evaluate[chromedp.Void]("location.hash = '#flights?from=2031-03-03&to=2031-03-27&sort=-flight'"))
	// March: i%12 is 2, so 2, 14, 26, 38, the last first; on the 3rd, 15th, 27th and 11th.
	b.Until("document.querySelector('#flights table').dataset.passing !== undefined")
	if got := b.rows("flights", 0); !slices.Equal(got, []string{"north-0038.csv.zst, flight 1", "north-0026.csv.zst, flight 1", "north-0014.csv.zst, flight 1", "north-0002.csv.zst, flight 1"}) {
		t.Errorf("March, backwards: %v", got)
	}
	if got := value[string](b, "document.querySelector('#flights output').textContent"); got != "4 of 40 rows" {
		t.Errorf("it says %q", got)
	}
	// A heading sorts, the largest first; again the smallest first.
	b.Do(chromedp.Evaluate[chromedp.Void]("document.querySelector('#flights button[title=\"no filter\"]').click(); document.querySelector('#flights th[data-key=low] button').click()"))
	counts := func() (n []int) {
		for _, text := range b.rows("flights", 7) {
			sum := 0 // of the certain and the possible: 1 (+2); a point is none
			for _, part := range strings.FieldsFunc(text, func(r rune) bool { return r < '0' || r > '9' }) {
				v, _ := strconv.Atoi(part)
				sum += v
			}
			n = append(n, sum)
		}
		return n
	}
	falling := func(a, b int) int { return b - a }
	if n := counts(); len(n) != 40 || !slices.IsSortedFunc(n, falling) || n[0] == n[39] {
		t.Errorf("low, falling: %v", n)
	}
	b.Do(chromedp.Evaluate[chromedp.Void]("document.querySelector('#flights th[data-key=low] button').click()"))
	if n := counts(); !slices.IsSorted(n) || value[string](b, "document.querySelector('#flights th[data-key=low]').ariaSort") != "ascending" {
		t.Errorf("low, rising: %v", n)
	}
	b.Calm()
}

// TestIndexOfOneFlight: one is no rows.
func TestIndexOfOneFlight(t *testing.T) {
	t.Parallel()
	b := openTab(t, 1280)
	b.Show(largeIndex(t, 1), "flights")
	if got := value[string](b, "document.querySelector('#flights output').textContent"); got != "1 row" {
		t.Errorf("it says %q", got)
	}
	b.Calm()
}

// TestIndexLeadsFromARule: a count of the table of rules leads to the flights it counts.
func TestIndexLeadsFromARule(t *testing.T) {
	t.Parallel()
	dir, run := t.TempDir(), fixtureRun(t)
	page, err := renderIndex(newIndex(run, fixtureEntries(t, dir, run), nil))
	if err != nil {
		t.Fatal(err)
	}
	b := openTab(t, 1280)
	b.Show(page, "")
	// Gear late is of the first flight alone; the speedbrake was not evaluable there alone.
	for _, link := range []string{"#flights?rule=1", "#flights?missing=3"} {
		b.Do(chromedp.Evaluate[chromedp.Void](fmt.Sprintf("document.querySelector('#rules a[href=%q]').click()", link)))
		b.Until(fmt.Sprintf("location.hash == %q", link))
		if got := b.rows("flights", 0); !slices.Equal(got, []string{"north-07.csv, flight 1"}) {
			t.Errorf("%s leads to %v", link, got)
		}
	}
	if got := value[string](b, "document.querySelector('#measurements td a').getAttribute('href')"); got != "north-07.csv-flight-1/report.html" {
		t.Errorf("the smallest height leads to %s", got)
	}
	b.Calm()
}

// TestIndexWithoutScript: all rows are there to read without script; at 400 px the page is
// no wider.
func TestIndexWithoutScript(t *testing.T) {
	t.Parallel()
	page := largeIndex(t, 60)
	b := openTab(t, 400)
	b.NoScript()
	b.Show(page, "")
	if got := b.rows("occurrences", 0); len(got) != 300 {
		t.Errorf("%d of 300 occurrences are shown", len(got))
	}
	if n := value[int](b, "document.querySelectorAll('button, select, input').length"); n != 0 {
		t.Errorf("%d fields that nothing answers", n)
	}
	if got := value[int](b, "document.documentElement.scrollWidth"); got > 400 {
		t.Errorf("the page is %d px wide", got)
	}
}

// TestIndexPrints: a print has all rows that pass the filter, not the first alone.
func TestIndexPrints(t *testing.T) {
	t.Parallel()
	b := openTab(t, 1280)
	b.Show(largeIndex(t, 100), "occurrences?certainty=certain")
	if got := len(b.rows("occurrences", 0)); got != 200 {
		t.Errorf("%d rows on the screen, want the first 200", got)
	}
	b.Do(chromedp.Evaluate[chromedp.Void]("dispatchEvent(new Event('beforeprint'))"))
	// The five events of a flight are the fixture's 1, 2, 3, 1, 2, of which the second is possible.
	if got := len(b.rows("occurrences", 0)); got != 300 {
		t.Errorf("%d rows in print, want the 300 that are certain", got)
	}
	b.Do(chromedp.Evaluate[chromedp.Void]("dispatchEvent(new Event('afterprint'))"))
	if got := len(b.rows("occurrences", 0)); got != 200 {
		t.Errorf("%d rows after it, want 200", got)
	}
	b.Calm()
}

// threadSeconds is the processor time that the page's main thread has taken so far.
func (b *tab) threadSeconds() float64 {
	b.t.Helper()
	m, err := chromedp.Call(b.Context(), performance.GetMetrics, cdp.Empty{})
	if err != nil {
		b.t.Fatal(err)
	}
	for _, x := range m.Metrics {
		if x.Name == "TaskDuration" {
			return x.Value
		}
	}
	b.t.Fatal("no TaskDuration")
	return 0
}

// BenchmarkIndexInChromium opens the page of 2,000 flights and 10,000 events. open_ms is
// from the begin of the navigation to the end of loading, drawn_ms to the first drawing;
// thread_ms is the processor time the page took, which other load of the machine leaves as
// it is. filter_ms is a filter and a sort.
func BenchmarkIndexInChromium(b *testing.B) {
	page := largeIndex(b, 2000)
	tab := openTab(b, 1280)
	if _, err := chromedp.Call(tab.Context(), performance.Enable, performance.EnableParams{TimeDomain: performance.EnableTimeDomainThreadTicks}); err != nil {
		b.Fatal(err)
	}
	var opened, drawn, filtered, thread float64
	for b.Loop() {
		tab.Do(chromedp.Navigate("about:blank"))
		before := tab.threadSeconds()
		tab.Show(page, "")
		tab.Until("performance.getEntriesByName('first-contentful-paint').length > 0")
		times := value[[]float64](tab, "[performance.getEntriesByType('navigation')[0].loadEventEnd, performance.getEntriesByName('first-contentful-paint')[0].startTime]")
		thread += 1000 * (tab.threadSeconds() - before)
		opened, drawn = opened+times[0], drawn+times[1]
		filtered += value[float64](tab, "(() => { const t = performance.now(); history.replaceState(null, '', '#occurrences?severity=medium&sort=-date'); dispatchEvent(new Event('hashchange')); document.body.offsetHeight; return performance.now() - t; })()")
	}
	b.ReportMetric(opened/float64(b.N), "open_ms")
	b.ReportMetric(drawn/float64(b.N), "drawn_ms")
	b.ReportMetric(thread/float64(b.N), "thread_ms")
	b.ReportMetric(filtered/float64(b.N), "filter_ms")
	b.ReportMetric(float64(len(page)), "page_bytes")
}
