package desk

import (
	"fmt"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"downlock/report/archive"
	"downlock/report/review"
	"downlock/schemas"
)

// actionForm is the form of the page of an occurrence, as a browser fills it in.
func actionForm(t *testing.T, s *served, id string) url.Values {
	t.Helper()
	code, page := s.get(t, "/occurrence/"+id)
	if code != http.StatusOK {
		t.Fatalf("%d %s", code, page)
	}
	_, page, _ = strings.Cut(page, `id="action-form"`)
	page, _, _ = strings.Cut(page, "</form>")
	form := url.Values{}
	for _, m := range regexp.MustCompile(`<input[^>]* name="([^"]*)"[^>]*>`).FindAllStringSubmatch(page, -1) {
		value := regexp.MustCompile(` value="([^"]*)"`).FindStringSubmatch(m[0])
		form.Set(m[1], "")
		if value != nil {
			form.Set(m[1], value[1])
		}
	}
	for _, m := range regexp.MustCompile(`<select name="([^"]*)">(.*?)</select>`).FindAllStringSubmatch(page, -1) {
		form.Set(m[1], "")
		if chosen := regexp.MustCompile(`<option selected>([^<]*)<`).FindStringSubmatch(m[2]); chosen != nil {
			form.Set(m[1], chosen[1])
		}
	}
	return form
}

// The actions of an occurrence are noted on all its events, shown, and taken back; the
// gatekeeper alone notes contact with a crew.
func TestActions(t *testing.T) {
	dir := newArchive(t)
	s := serve(t, Options{Archive: dir})
	rows := plainRows(t, dir)
	var id string
	var events []schemas.EventRow
	for _, row := range rows {
		if len(row.events) > 1 {
			id, events = row.events[0].EventID, row.events
		}
	}
	note := func(want int, says string, change ...string) {
		t.Helper()
		form := actionForm(t, s, id)
		for i := 0; i < len(change); i += 2 {
			if !form.Has(change[i]) {
				t.Fatalf("the form has no %s: %v", change[i], form)
			}
			form.Set(change[i], change[i+1])
		}
		if code, body := s.postTo(t, "/action", form); code != want || !strings.Contains(body, says) {
			t.Errorf("%v: %d %s", change, code, body)
		}
	}
	note(200, fmt.Sprint(2*len(events), " actions recorded"), "assigned-to", "fleet-safety", "due", "2031-07-15", "by", "Analyst A")
	note(422, "gatekeeper alone", "crew-contact", "yes", "by", "Analyst A")
	note(422, "neither a role nor initials", "assigned-to", "Analyst A", "by", "Analyst A")
	note(200, fmt.Sprint(len(events), " actions recorded"), "crew-contact", "yes", "by", "gatekeeper")
	note(200, "0 actions recorded", "by", "Analyst A")
	note(200, fmt.Sprint(len(events), " actions recorded"), "due", "", "by", "Analyst A")
	for _, e := range events {
		list, damaged, err := review.Actions(dir, e.EventID)
		last := review.Standing(list)
		if err != nil || len(damaged) > 0 || len(list) != 4 || last[review.AssignedTo].Value != "fleet-safety" || last[review.Due].Value != "none" || last[review.CrewContact].By != "gatekeeper" {
			t.Errorf("%s: %v %v %v", e.EventID, list, damaged, err)
		}
	}
	for _, page := range []string{"/?state=all&aircraft=" + url.QueryEscape(s.flightOf(t, id)), "/occurrence/" + id} {
		if _, body := s.get(t, page); !strings.Contains(body, "assigned to fleet-safety, crew contact: yes") {
			t.Errorf("%s does not show the actions", page)
		}
	}
	if code, _ := s.get(t, "/action"); code != http.StatusNotFound && code != http.StatusMethodNotAllowed {
		t.Errorf("GET /action: %d", code)
	}
}

func (s *served) flightOf(t *testing.T, id string) string {
	f, err := s.find(s.view(), id)
	if err != nil || f == nil {
		t.Fatal(err)
	}
	return f.flight.Registration
}

// Ten people at two desks note actions on one occurrence at once, each on a page that was
// made before: each changes one field, and nobody takes another's away.
func TestActionsOfMany(t *testing.T) {
	dir := newArchive(t)
	desks := []*served{serve(t, Options{Archive: dir}), serve(t, Options{Archive: dir})}
	id := firstEvent(t, desks[0])
	before := actionForm(t, desks[0], id)
	var wait sync.WaitGroup
	for n := range 10 {
		wait.Go(func() {
			form := url.Values{}
			for name, list := range before {
				form[name] = list
			}
			form.Set("by", fmt.Sprint("Reviewer ", n))
			switch n % 3 {
			case 0:
				form.Set("assigned-to", fmt.Sprint("desk-", n))
			case 1:
				form.Set("due", fmt.Sprintf("2031-07-%02d", n+1))
			case 2:
				form.Set("maintenance", "yes")
			}
			if code, body := desks[n%2].postTo(t, "/action", form); code != http.StatusOK {
				t.Errorf("%d %s", code, body)
			}
		})
	}
	wait.Wait()
	list, damaged, err := review.Actions(dir, id)
	last := review.Standing(list)
	if err != nil || len(damaged) > 0 || !strings.HasPrefix(last[review.AssignedTo].Value, "desk-") || !strings.HasPrefix(last[review.Due].Value, "2031-07-") || last[review.Maintenance].Value != "yes" {
		t.Errorf("%v %v %v", list, damaged, err)
	}
	for _, a := range list {
		if a.Value == review.NoValue {
			t.Errorf("%+v takes something back", a)
		}
	}
	for range 2 {
		for _, s := range desks {
			s.keepTable()
			s.lookAround()
		}
	}
	key, _ := keyOf(id)
	for _, s := range desks {
		for kind, a := range last {
			if got := s.book.standing(key)[kind]; got != a.Value {
				t.Errorf("a desk has %s %s, the last file says %s", kind, got, a.Value)
			}
		}
	}
	files, err := filepath.Glob(filepath.Join(dir, "reviews", "*", "*.action"))
	if err != nil {
		t.Fatal(err)
	}
	rows := 0
	if err := archive.ActionColumns(dir, func(r []actionCells) error { rows += len(r); return nil }); err != nil || rows != len(files) || rows < len(list) {
		t.Errorf("the table has %d rows of %d, %v", rows, len(files), err)
	}
}

// rewrite has a scan change the events of a month, as change says; false takes one away.
func rewrite(t *testing.T, dir, month string, change func(*schemas.EventRow) bool) {
	t.Helper()
	var rows []schemas.EventRow
	if err := archive.Events(dir, month, func(_ string, e *schemas.EventRow) error {
		row := *e
		if change(&row) {
			rows = append(rows, row)
		}
		return nil
	}); err != nil {
		t.Fatal(err)
	}
	writeMonth(t, filepath.Join(dir, "tables", schemas.EventsTable, "month="+month, "part.parquet"), rows)
}

// A scan that removes or changes an event after the page was made is noticed, also before
// the desk has looked around; what was written is shown again.
func TestScanMeanwhile(t *testing.T) {
	dir := newArchive(t)
	s := serve(t, Options{Archive: dir})
	rows := plainRows(t, dir)
	row := rows[len(rows)/2]
	id := row.events[0].EventID
	other := ""
	for _, r := range rows {
		if r.month == row.month && r.events[0].EventID != id {
			other = r.events[0].EventID
		}
	}
	turn := fmt.Sprint(s.view().turn)
	form := func(ids string) url.Values {
		return url.Values{"event": {ids}, "verdict": {"valid"}, "by": {"A"}, "comment": {"a long <note>"}, "seen": {"9999999999999"}, "turn": {turn}}
	}
	// Changed: the worklist's rows have no evidence, so the turn tells.
	rewrite(t, dir, row.month, func(e *schemas.EventRow) bool {
		if e.EventID == id {
			e.EndS += 2
		}
		return true
	})
	if code, body := s.post(t, form(id)); code != http.StatusConflict || !strings.Contains(body, "may have changed since the page was loaded") || !strings.Contains(body, `"again":true`) {
		t.Errorf("changed: %d %s", code, body)
	}
	if history, _, _ := review.History(dir, id); len(history) != 0 {
		t.Error("it was noted")
	}
	turn = fmt.Sprint(s.view().turn)
	if code, body := s.post(t, form(id)); code != http.StatusOK {
		t.Errorf("on a page made since: %d %s", code, body)
	}
	// Removed.
	rewrite(t, dir, row.month, func(e *schemas.EventRow) bool { return e.EventID != id })
	if code, body := s.post(t, form(id)); code != http.StatusConflict || !strings.Contains(body, id+" is no longer in the archive") || !strings.Contains(body, `"again":false`) {
		t.Errorf("removed: %d %s", code, body)
	}
	code, page := s.postPage(t, form(id+" "+other))
	if code != http.StatusConflict || !strings.Contains(page, "<dt>note</dt><dd>a long &lt;note&gt;</dd>") || !strings.Contains(page, "Record my verdict anyway") || !strings.Contains(page, `value="a long &lt;note&gt;"`) {
		t.Errorf("removed, without script: %d %s", code, page)
	}
	anyway := form(id + " " + other)
	anyway.Set("anyway", "yes")
	if code, body := s.post(t, anyway); code != http.StatusOK || !strings.Contains(body, "valid on 1 event recorded. The other one is no longer in the archive.") {
		t.Errorf("anyway: %d %s", code, body)
	}
	for event, want := range map[string]int{id: 1, other: 1} {
		if history, _, _ := review.History(dir, event); len(history) != want {
			t.Errorf("%s has %d verdicts, want %d", event, len(history), want)
		}
	}
	if code, body := s.postTo(t, "/action", url.Values{"event": {id}, "maintenance": {"yes"}, "by": {"A"}}); code != http.StatusConflict || !strings.Contains(body, "no longer in the archive") {
		t.Errorf("an action: %d %s", code, body)
	}
}

// A report shows no link to a page beside it, which leads nowhere at the desk.
func TestReportLeadsNowhereElse(t *testing.T) {
	dir, reports := newArchive(t), t.TempDir()
	s := serve(t, Options{Archive: dir, Reports: reports})
	id := firstEvent(t, s)
	f, err := s.find(s.view(), id)
	if err != nil {
		t.Fatal(err)
	}
	folder := filepath.Join(reports, folders(f)[0])
	if err := os.MkdirAll(folder, 0o700); err != nil {
		t.Fatal(err)
	}
	for name, text := range map[string]string{"report.json": `{"flight": {"id": "` + f.flight.FlightID + `"}}`,
		"report.html": `<nav><a href="../index.html">All flights of the run</a><a href="#events">Events</a></nav>`} {
		if err := os.WriteFile(filepath.Join(folder, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	if code, body := s.get(t, "/report/"+id); code != http.StatusOK || body != `<nav><a href="#events">Events</a></nav>` {
		t.Errorf("%d %s", code, body)
	}
}

// The worklist can be asked what is open and with whom. Three occurrences have actions, written
// below; what each filter shows of them follows by hand. One has its actions on its last event
// alone, and one had a due date and a role taken back.
func TestActionFilters(t *testing.T) {
	dir := newArchive(t)
	s := serve(t, Options{Archive: dir, Now: func() time.Time { return time.Date(2031, 7, 16, 0, 0, 0, 0, time.UTC) }})
	var occurrences [3][]string // the ids of their events
	rows := plainRows(t, dir)
	slices.SortStableFunc(rows, func(a, b plainRow) int { return len(b.events) - len(a.events) })
	for i := range occurrences {
		for _, e := range rows[i].events {
			occurrences[i] = append(occurrences[i], e.EventID)
		}
	}
	if len(occurrences[0]) < 2 {
		t.Fatal("no occurrence has two events")
	}
	act := func(event, kind, value, by string) {
		t.Helper()
		if code, body := s.postTo(t, "/action", url.Values{"event": {event}, kind: {value}, "by": {by}}); code != http.StatusOK {
			t.Fatalf("%d %s", code, body)
		}
	}
	last := occurrences[0][len(occurrences[0])-1]
	act(last, "assigned-to", "fleet-safety", "A")
	act(last, "due", "2031-07-15", "A")
	act(occurrences[1][0], "assigned-to", "MX", "A")
	act(occurrences[1][0], "due", "2031-07-16", "A")
	act(occurrences[1][0], "maintenance", "yes", "A")
	act(occurrences[2][0], "assigned-to", "MX", "A")
	act(occurrences[2][0], "assigned-to", "none", "A")
	act(occurrences[2][0], "due", "2031-07-01", "A")
	act(occurrences[2][0], "due", "none", "A")
	act(occurrences[2][0], "maintenance", "no", "A")
	act(occurrences[2][0], "crew-contact", "yes", "gatekeeper")
	for asked, want := range map[string][3]bool{
		"":                         {true, true, true},
		"assigned to fleet-safety": {true, false, false},
		"assigned to MX":           {false, true, false},
		"assigned to nobody":       {false, false, false},
		"not assigned":             {false, false, true},
		"with a due date":          {true, true, false},
		"overdue":                  {true, false, false}, // one that is due today is not
		"referred to maintenance":  {false, true, false},
		"with crew contact":        {false, false, true},
		"no such filter":           {true, true, true},
	} {
		_, page := s.get(t, "/?state=all&action="+url.QueryEscape(asked))
		for i, ids := range occurrences {
			if slices.ContainsFunc(ids, func(id string) bool { return strings.Contains(page, `data-event="`+id+`"`) }) != want[i] {
				t.Errorf("%q: occurrence %d is shown: %v", asked, i+1, !want[i])
			}
		}
		if strings.HasPrefix(asked, "assigned") && !strings.Contains(page, "<option selected>"+asked+"</option>") {
			t.Errorf("%q is not in the list of filters, chosen", asked)
		}
		if count := strings.Count(page, "<option>assigned to "); asked == "" && count != 2 {
			t.Errorf("%d roles and initials to choose from, want fleet-safety and MX", count)
		}
	}
}
