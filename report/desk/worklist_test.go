package desk

import (
	"cmp"
	"html"
	"math/rand/v2"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"

	"downlock/report"
	"downlock/report/archive"
	"downlock/report/review"
	"downlock/schemas"
)

func firstEvent(t testing.TB, s *served) string {
	t.Helper()
	v := s.view()
	list := s.pick(v, filterOf(url.Values{})).places
	if len(list) == 0 {
		t.Fatal("the worklist is empty")
	}
	m, o := v.at(list[0])
	return m.of(o)[0].id.String()
}

func folders(f *found) []string {
	return report.FlightFolders(f.flight.RecordingName, f.flight.Recording, int(f.flight.Number))
}

var rowEvent = regexp.MustCompile(`<tr data-event="(E[0-9a-f]{12})"`)

// plainRow is an occurrence, as read row by row from the whole tables: the other way to a
// worklist, which the index is held against.
type plainRow struct {
	month  string
	flight schemas.FlightRow
	events []schemas.EventRow
}

func plainRows(t testing.TB, dir string) (rows []plainRow) {
	t.Helper()
	flights := map[string]schemas.FlightRow{}
	if err := archive.Flights(dir, "", func(_ string, f *schemas.FlightRow) error {
		flights[f.FlightID] = *f
		return nil
	}); err != nil {
		t.Fatal(err)
	}
	at := map[string]int{}
	if err := archive.Events(dir, "", func(month string, e *schemas.EventRow) error {
		key := e.FlightID + cmp.Or(e.OccurrenceID, e.EventID)
		if _, ok := at[key]; !ok {
			at[key] = len(rows)
			rows = append(rows, plainRow{month: month, flight: flights[e.FlightID]})
		}
		rows[at[key]].events = append(rows[at[key]].events, *e)
		return nil
	}); err != nil {
		t.Fatal(err)
	}
	for i := range rows {
		slices.SortStableFunc(rows[i].events, func(a, b schemas.EventRow) int { return plainRank(b.Severity) - plainRank(a.Severity) })
	}
	return rows
}

func plainRank(severity string) int { return strings.Index("low   medium  high", severity) }

// The worklist has the occurrences that reading the tables row by row finds, in every
// filter, worst and oldest first.
func TestWorklistIsTheTables(t *testing.T) {
	t.Parallel()
	dir := newArchive(t)
	s := serve(t, Options{Archive: dir})
	rows := plainRows(t, dir)
	source := rand.New(rand.NewPCG(5, 6))
	decided := map[string]review.Finding{}
	for range 40 { // some are decided
		row := rows[source.IntN(len(rows))]
		finding := review.Findings[source.IntN(3)]
		for _, e := range row.events {
			decided[e.EventID] = finding
			if code, body := s.post(t, url.Values{"event": {e.EventID}, "verdict": {string(finding)}, "cause": {"sensor"}, "by": {"A"}, "seen": {"9999999999999"}}); code != 200 {
				t.Fatalf("%d %s", code, body)
			}
		}
	}
	any := func(list ...string) string { return list[source.IntN(len(list))] }
	found := 0
	for range 400 {
		some := rows[source.IntN(len(rows))]
		q := url.Values{"severity": {any("", "", "high", "low", "medium")}, "certainty": {any("", "", "certain", "possible")},
			"rule": {any("", some.events[0].Rule)}, "aircraft": {any("", "", some.flight.Registration, some.flight.Aircraft)}, "aerodrome": {any("", "", some.flight.ArrivalAerodrome)},
			"from": {any("", "", some.month)}, "to": {any("", "", some.month)}, "state": {any("open", "all", "valid", "false", "follow-up", "not looked at")}, "order": {any("worst first", "oldest first", "newest first")}}
		var want []string
		var kept []plainRow
		for _, row := range rows {
			lead := row.events[0]
			is := func(name, value string) bool { return q.Get(name) == "" || q.Get(name) == value }
			stands := func(e schemas.EventRow) bool {
				finding, seen := decided[e.EventID]
				switch q.Get("state") {
				case "open":
					return !seen || finding == review.FollowUp
				case "not looked at":
					return !seen
				case "all":
					return true
				}
				return seen && string(finding) == q.Get("state")
			}
			if is("severity", lead.Severity) && is("certainty", lead.Certainty) && (q.Get("rule") == "" || slices.ContainsFunc(row.events, func(e schemas.EventRow) bool { return e.Rule == q.Get("rule") })) &&
				(is("aircraft", row.flight.Registration) || is("aircraft", row.flight.Aircraft)) && (is("aerodrome", row.flight.DepartureAerodrome) || is("aerodrome", row.flight.ArrivalAerodrome)) &&
				(q.Get("from") == "" || row.month >= q.Get("from")) && (q.Get("to") == "" || row.month <= q.Get("to")) && slices.ContainsFunc(row.events, stands) {
				kept = append(kept, row)
			}
		}
		for _, row := range kept {
			want = append(want, row.events[0].EventID)
		}
		v := s.view()
		var got []string
		last := -1 << 62
		for _, p := range s.pick(v, filterOf(q)).places {
			m, o := v.at(p)
			lead := m.of(o)[0]
			got = append(got, lead.id.String())
			at := int(m.flights[o.flight].at)
			switch q.Get("order") {
			case "worst first":
				at -= int(lead.severity) << 50
			case "newest first":
				at = -at
			}
			if at < last {
				t.Fatalf("%s: out of order at %s", q.Encode(), lead.id)
			}
			last = at
		}
		slices.Sort(want)
		slices.Sort(got)
		if !slices.Equal(got, want) {
			t.Fatalf("%s: %d occurrences, the tables have %d", q.Encode(), len(got), len(want))
		}
		found += len(got)
	}
	if found < 1000 {
		t.Errorf("the filters found %d in all: too few to tell anything", found)
	}
}

// A filter stands in the address and comes back from it, and pages of the worklist together
// are the whole.
func TestFilterIsInTheAddress(t *testing.T) {
	t.Parallel()
	s := serve(t, Options{Archive: newArchive(t)})
	f := filter{Severity: "low", Certainty: "certain", Rule: "gear-late", Aircraft: `TARN-01 & "<`, Aerodrome: "N46.1 W027.9", From: "2031-02", To: "2032-01", State: "false", Order: "newest first", Page: 3}
	query, err := url.ParseQuery(f.Query())
	if err != nil || filterOf(query) != f {
		t.Errorf("%s comes back as %+v", f.Query(), filterOf(query))
	}
	id := firstEvent(t, s)
	_, body := s.get(t, filter{Severity: "high", State: "all", Order: "oldest first", Page: 1}.On(id))
	for _, way := range []string{`href="/?order=oldest&#43;first&amp;severity=high&amp;state=all" id="to-worklist"`, `name="back" value="order=oldest&#43;first&amp;severity=high&amp;state=all"`, `order=oldest&#43;first&amp;severity=high&amp;state=all" rel="next"`} {
		if !strings.Contains(strings.ReplaceAll(body, "&#43;", "+"), strings.ReplaceAll(way, "&#43;", "+")) {
			t.Errorf("the occurrence does not lead back by %s", way)
		}
	}
	all := s.pick(s.view(), filterOf(url.Values{"state": {"all"}})).places
	seen := map[string]bool{}
	path := "/?state=all"
	for path != "" {
		_, body := s.get(t, path)
		for _, m := range rowEvent.FindAllStringSubmatch(body, -1) {
			if seen[m[1]] {
				t.Fatalf("%s is there twice", m[1])
			}
			seen[m[1]] = true
		}
		next := regexp.MustCompile(`<a href="([^"]*)" rel="next"`).FindStringSubmatch(body)
		if path = ""; next != nil {
			path = html.UnescapeString(next[1])
		}
	}
	if len(seen) != len(all) || len(all) <= pageRows {
		t.Errorf("%d occurrences on the pages, %d in all", len(seen), len(all))
	}
}
