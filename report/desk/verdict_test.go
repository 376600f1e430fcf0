package desk

import (
	"bufio"
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"downlock/report/archive"
	"downlock/report/review"
	"downlock/schemas"
)

func someEvents(s *served, n int) (ids []string) {
	v := s.view()
	for _, p := range s.pick(v, filterOf(url.Values{"state": {"all"}})).places[:n] {
		m, o := v.at(p)
		ids = append(ids, m.of(o)[0].id.String())
	}
	return ids
}

// Ten reviewers decide at once, on events of their own and on the same ones, at two desks:
// every verdict is a file, the last of each counts at both desks, and the table of verdicts
// has all of them.
func TestTenReviewersLoseNothing(t *testing.T) {
	t.Parallel()
	dir := newArchive(t)
	desks := []*served{serve(t, Options{Archive: dir}), serve(t, Options{Archive: dir})}
	ids := someEvents(desks[0], 30)
	var wait sync.WaitGroup
	for reviewer := range 10 {
		wait.Go(func() {
			desk := desks[reviewer%2]
			for i := range 6 {
				// Two of six are on events that all decide, four on one's own.
				id := ids[i]
				if i >= 2 {
					id = ids[2+(reviewer*4+i)%28]
				}
				form := url.Values{"event": {id}, "verdict": {string(review.Findings[(reviewer+i)%3])}, "cause": {"sensor"}, "comment": {fmt.Sprintf("%d of reviewer %d", i, reviewer)},
					"by": {fmt.Sprintf("Reviewer %d", reviewer)}, "seen": {"0"}, "anyway": {"yes"}}
				if code, body := desk.post(t, form); code != http.StatusOK {
					t.Errorf("%d: %s", code, body)
				}
			}
		})
	}
	wait.Wait()
	notes := map[string]bool{}
	latest := map[string]review.Verdict{}
	for _, id := range ids {
		history, damaged, err := review.History(dir, id)
		if err != nil || len(damaged) > 0 {
			t.Fatal(err, damaged)
		}
		for _, v := range history {
			notes[v.Comment] = true
			latest[id] = v
		}
	}
	if len(notes) != 60 {
		t.Errorf("%d of 60 verdicts are there", len(notes))
	}
	for _, s := range desks {
		s.keepTable()
	}
	for _, s := range desks {
		s.lookAround()
		for id, want := range latest {
			key, _ := keyOf(id)
			got, ok := s.book.of(key)
			if !ok || got.finding != string(want.Finding) || got.by != want.By {
				t.Errorf("%s: the desk has %s of %s, the last file says %s of %s", id, got.finding, got.by, want.Finding, want.By)
			}
		}
	}
	rows := 0
	if err := archive.VerdictColumns(dir, func(r []verdictCells) error { rows += len(r); return nil }); err != nil || rows != 60 {
		t.Errorf("the table has %d rows, %v", rows, err)
	}
}

// A verdict on an event that another has decided since the page was made, or that a scan
// has changed, is noted only when asked for again.
func TestConflict(t *testing.T) {
	t.Parallel()
	dir := newArchive(t)
	s := serve(t, Options{Archive: dir})
	ids := someEvents(s, 2)
	made := fmt.Sprint(s.millis())
	first := url.Values{"event": {ids[0]}, "verdict": {"valid"}, "by": {"First"}, "seen": {fmt.Sprint(s.millis() + 1)}}
	if code, body := s.post(t, first); code != 200 {
		t.Fatalf("%d %s", code, body)
	}
	second := url.Values{"event": {ids[0] + " " + ids[1]}, "verdict": {"false"}, "cause": {"sensor"}, "by": {"Second"}, "seen": {made}}
	key, _ := keyOf(ids[0])
	v, _ := s.book.of(key)
	second.Set("seen", fmt.Sprint(v.at.UnixMilli()-1))
	code, body := s.post(t, second)
	if code != http.StatusConflict || !strings.Contains(body, "First has given the verdict valid") {
		t.Errorf("%d %s", code, body)
	}
	if history, _, _ := review.History(dir, ids[1]); len(history) != 0 {
		t.Error("half of a refused decision was noted")
	}
	second.Set("anyway", "yes")
	if code, body := s.post(t, second); code != 200 {
		t.Errorf("%d %s", code, body)
	}
	if history, _, _ := review.History(dir, ids[0]); len(history) != 2 || history[1].Finding != review.False {
		t.Errorf("history: %v", history)
	}
	changed := url.Values{"event": {ids[1] + ":" + strings.Repeat("0", 64)}, "verdict": {"valid"}, "by": {"First"}, "seen": {"9999999999999"}}
	if code, body := s.post(t, changed); code != http.StatusConflict || !strings.Contains(body, "has changed") {
		t.Errorf("evidence of another event: %d %s", code, body)
	}
}

// A clock that was set back does not put a verdict before the one it follows.
func TestClockSetBack(t *testing.T) {
	t.Parallel()
	dir := newArchive(t)
	ahead := serve(t, Options{Archive: dir, Now: func() time.Time { return time.Now().Add(24 * time.Hour) }})
	behind := serve(t, Options{Archive: dir})
	id := someEvents(ahead, 1)[0]
	for i, s := range []*served{ahead, behind} {
		if code, body := s.post(t, url.Values{"event": {id}, "verdict": {[]string{"valid", "follow-up"}[i]}, "by": {"A"}, "seen": {"9999999999999"}}); code != 200 {
			t.Fatalf("%d %s", code, body)
		}
	}
	history, _, err := review.History(dir, id)
	if err != nil || len(history) != 2 || history[1].Finding != review.FollowUp {
		t.Errorf("%v %+v", err, history)
	}
}

func TestMistakesInVerdicts(t *testing.T) {
	t.Parallel()
	dir := newArchive(t)
	s := serve(t, Options{Archive: dir})
	id := someEvents(s, 1)[0]
	for name, form := range map[string]url.Values{
		"no event":       {"verdict": {"valid"}, "by": {"A"}},
		"no verdict":     {"event": {id}, "by": {"A"}},
		"another word":   {"event": {id}, "verdict": {"true"}, "by": {"A"}},
		"no cause":       {"event": {id}, "verdict": {"false"}, "by": {"A"}},
		"blank cause":    {"event": {id}, "verdict": {"false"}, "cause": {" "}, "by": {"A"}},
		"no name":        {"event": {id}, "verdict": {"valid"}, "by": {" "}},
		"long name":      {"event": {id}, "verdict": {"valid"}, "by": {strings.Repeat("x", 201)}},
		"long note":      {"event": {id}, "verdict": {"valid"}, "by": {"A"}, "comment": {strings.Repeat("x", 4001)}},
		"too many":       {"event": {strings.Repeat(id+" ", mostAtOnce+1)}, "verdict": {"valid"}, "by": {"A"}},
		"no such event":  {"event": {"E000000000000"}, "verdict": {"valid"}, "by": {"A"}},
		"a way":          {"event": {"../../x"}, "verdict": {"valid"}, "by": {"A"}},
		"more than fits": {"event": {id}, "verdict": {"valid"}, "by": {"A"}, "comment": {strings.Repeat("x", 300<<10)}},
	} {
		if code, body := s.post(t, form); code < 400 {
			t.Errorf("%s: %d %s", name, code, body)
		}
	}
	if _, err := os.Stat(filepath.Join(dir, "reviews")); err == nil {
		t.Error("something was noted")
	}
}

// listen hands out the events of the stream, as kind and data.
func listen(t *testing.T, s *served, since int64) <-chan [2]string {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	t.Cleanup(cancel)
	r, err := http.NewRequestWithContext(ctx, "GET", fmt.Sprintf("%s/changes?since=%d", s.url, since), nil)
	if err != nil {
		t.Fatal(err)
	}
	reply, err := (&http.Client{Jar: s.client.Jar}).Do(r)
	if err != nil {
		t.Fatal(err)
	}
	if reply.Header.Get("Content-Type") != "text/event-stream" {
		t.Fatalf("%d %s", reply.StatusCode, reply.Header.Get("Content-Type"))
	}
	events := make(chan [2]string, 10000)
	go func() {
		defer close(events)
		defer reply.Body.Close()
		lines, kind := bufio.NewScanner(reply.Body), ""
		for lines.Scan() {
			if k, ok := strings.CutPrefix(lines.Text(), "event: "); ok {
				kind = k
			}
			if data, ok := strings.CutPrefix(lines.Text(), "data: "); ok {
				events <- [2]string{kind, data}
			}
		}
	}()
	return events
}

// next waits for one event of a kind.
func next(t *testing.T, events <-chan [2]string, kind string) string {
	t.Helper()
	late := time.After(time.Minute)
	for {
		select {
		case e, more := <-events:
			if !more {
				t.Fatal("the stream has ended")
			}
			if e[0] == kind {
				return e[1]
			}
		case <-late:
			t.Fatalf("no %s came", kind)
		}
	}
}

// What one decides, by this desk, by another, or with the command, those who listen are
// told; and one who was away is told it afterwards.
func TestOthersAreTold(t *testing.T) {
	t.Parallel()
	dir := newArchive(t)
	s, other := serve(t, Options{Archive: dir}), serve(t, Options{Archive: dir})
	ids := someEvents(s, 2)
	before := s.millis() - 1
	events := listen(t, s, 0)
	for i, from := range []*served{s, other} {
		if code, body := from.post(t, url.Values{"event": {ids[i]}, "verdict": {"follow-up"}, "by": {"Analyst A"}, "seen": {"9999999999999"}}); code != 200 {
			t.Fatalf("%d %s", code, body)
		}
		if from == other {
			other.keepTable()
			s.lookAround()
		}
		var change rowChange
		if err := json.Unmarshal([]byte(next(t, events, "verdict")), &change); err != nil {
			t.Fatal(err)
		}
		if change.Lead != ids[i] || !change.Open || !strings.Contains(change.Words, "follow-up") || !strings.Contains(change.Words, "Analyst A") {
			t.Errorf("told: %+v", change)
		}
	}
	late := listen(t, s, before)
	told := []string{next(t, late, "verdict"), next(t, late, "verdict")}
	for _, id := range ids {
		if !strings.Contains(strings.Join(told, ""), id) {
			t.Errorf("who was away is told %v, and not %s", told, id)
		}
	}
}

// A desk that works while a scan commits shows the events of before or after, and says that
// there are new ones.
func TestWhileScanCommits(t *testing.T) {
	t.Parallel()
	dir, other := newArchive(t), filepath.Join(t.TempDir(), "other")
	more := small
	more.Seed, more.Flights = 9, 3000
	if err := more.Write(other); err != nil {
		t.Fatal(err)
	}
	s := serve(t, Options{Archive: dir})
	events := listen(t, s, s.millis())
	months, err := archive.Parts(dir, schemas.EventsTable)
	if err != nil {
		t.Fatal(err)
	}
	stop := make(chan struct{})
	var wait sync.WaitGroup
	wait.Go(func() { // somebody reads all the time
		for {
			select {
			case <-stop:
				return
			default:
			}
			if code, body := s.get(t, "/?state=all"); code != 200 || len(rowEvent.FindAllString(body, -1)) != pageRows {
				t.Errorf("while it commits: %d", code)
			}
		}
	})
	for _, m := range months {
		for _, table := range []string{schemas.EventsTable, schemas.FlightsTable} {
			part := filepath.Join("tables", table, "month="+m.Month, "part.parquet")
			if err := os.Rename(filepath.Join(other, part), filepath.Join(dir, part)); err != nil {
				t.Fatal(err)
			}
			s.lookAround()
		}
	}
	close(stop)
	wait.Wait()
	next(t, events, "tables")
	var want, got []string
	for _, row := range plainRows(t, dir) {
		want = append(want, row.events[0].EventID)
	}
	v := s.view()
	for _, p := range s.pick(v, filterOf(url.Values{"state": {"all"}})).places {
		m, o := v.at(p)
		got = append(got, m.of(o)[0].id.String())
	}
	slices.Sort(want)
	slices.Sort(got)
	if !slices.Equal(got, want) {
		t.Errorf("%d occurrences, the tables have %d", len(got), len(want))
	}
}
