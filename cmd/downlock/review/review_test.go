package review

import (
	"bytes"
	"fmt"
	"maps"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"

	"downlock/cmd/downlock/command"
	"downlock/report/archive"
	"downlock/report/review"
	"downlock/report/trend/fleet"
	"downlock/schemas"
)

// invented is an invented fleet of some hundred occurrences, written once.
var invented = sync.OnceValues(func() (string, error) {
	dir, err := os.MkdirTemp("", "review")
	if err != nil {
		return "", err
	}
	return dir, fleet.Fleet{Seed: 5, Flights: 400, Months: 24, First: "2031-01", Aircraft: 5, Rules: 45, Causes: 5}.Write(dir)
})

func TestMain(m *testing.M) {
	code := m.Run()
	if dir, err := invented(); err == nil {
		os.RemoveAll(dir)
	}
	os.Exit(code)
}

func newArchive(t testing.TB) string {
	t.Helper()
	from, err := invented()
	if err != nil {
		t.Fatal(err)
	}
	dir := filepath.Join(t.TempDir(), "fleet")
	if err := os.CopyFS(dir, os.DirFS(from)); err != nil {
		t.Fatal(err)
	}
	return dir
}

// plain is an event and its flight, as reading the whole tables finds them.
type plain struct {
	month  string
	event  schemas.EventRow
	flight schemas.FlightRow
}

func plainEvents(t testing.TB, dir string) (all []plain) {
	t.Helper()
	flights := map[string]schemas.FlightRow{}
	if err := archive.Flights(dir, "", func(_ string, f *schemas.FlightRow) error { flights[f.FlightID] = *f; return nil }); err != nil {
		t.Fatal(err)
	}
	if err := archive.Events(dir, "", func(month string, e *schemas.EventRow) error {
		all = append(all, plain{month, *e, flights[e.FlightID]})
		return nil
	}); err != nil {
		t.Fatal(err)
	}
	return all
}

// files counts the files of reviewers on each event.
func files(t testing.TB, dir string) map[string]int {
	t.Helper()
	found, err := filepath.Glob(filepath.Join(dir, "reviews", "*", "*"))
	if err != nil {
		t.Fatal(err)
	}
	count := map[string]int{}
	for _, f := range found {
		count[filepath.Base(filepath.Dir(f))]++
	}
	return count
}

// A filter touches exactly the events that a brute force over the tables and the verdicts
// finds, and the list with the same filter names the same.
func TestFilterTouches(t *testing.T) {
	dir := newArchive(t)
	all := plainEvents(t, dir)
	source := rand.New(rand.NewPCG(7, 8))
	latest := map[string]review.Finding{}
	any := func(list ...string) string { return list[source.IntN(len(list))] }
	touched, rounds := 0, 16
	if testing.Short() {
		rounds = 6
	}
	for round := range rounds {
		some := all[source.IntN(len(all))]
		want := map[string]string{"severity": any("", "", some.event.Severity), "certainty": any("", "", some.event.Certainty), "rule": any("", "", "", some.event.Rule),
			"aircraft": any("", "", some.flight.Registration, some.flight.Aircraft), "aerodrome": any("", "", "", "", some.flight.ArrivalAerodrome, some.flight.DepartureAerodrome),
			"month": any("", "", "", some.month), "from": any("", "", some.month), "to": any("", "", some.month), "state": any("open", "not looked at", "follow-up", "valid", "false", "all")}
		expected := map[string]bool{}
		occurrences := map[string]bool{}
		for _, p := range all {
			is := func(name string, values ...string) bool {
				return want[name] == "" || slices.Contains(values, want[name])
			}
			finding, seen := latest[p.event.EventID]
			state := map[string]bool{"all": true, "open": !seen || finding == review.FollowUp, "not looked at": !seen}[want["state"]] || seen && string(finding) == want["state"]
			if state && is("severity", p.event.Severity) && is("certainty", p.event.Certainty) && is("rule", p.event.Rule) && is("aircraft", p.flight.Registration, p.flight.Aircraft) &&
				is("aerodrome", p.flight.DepartureAerodrome, p.flight.ArrivalAerodrome) && is("month", p.month) && (want["from"] == "" || p.month >= want["from"]) && (want["to"] == "" || p.month <= want["to"]) {
				expected[p.event.EventID] = true
				occurrences[p.event.FlightID+p.event.OccurrenceID] = true
				if p.event.OccurrenceID == "" {
					t.Fatal("the fleet has no occurrences")
				}
			}
		}
		whole := source.IntN(4) == 0
		if whole {
			for _, p := range all {
				if occurrences[p.event.FlightID+p.event.OccurrenceID] {
					expected[p.event.EventID] = true
				}
			}
		}
		args := []string{"--archive", dir}
		for name, value := range want {
			if value != "" {
				args = append(args, "--"+name, value)
			}
		}
		var listed, notes bytes.Buffer
		if code := Command(args, nil, &listed, &notes); code != command.ExitDone {
			t.Fatalf("%v: %d %s", args, code, &notes)
		}
		lines := strings.Split(strings.TrimSpace(listed.String()), "\n")[1:]
		for _, line := range lines {
			if id, _, _ := strings.Cut(line, "\t"); !expected[id] {
				t.Errorf("%v: the list has %s", args, id)
			}
		}
		if !whole && len(lines) != len(expected) {
			t.Errorf("%v: the list has %d events, want %d", args, len(lines), len(expected))
		}
		before := files(t, dir)
		finding := review.Findings[source.IntN(3)]
		set := append([]string{"set", "--verdict", string(finding), "--cause", "sensor", "--by", "Analyst A"}, args...)
		if whole {
			set = append(set, "--occurrence")
		}
		var made, said bytes.Buffer
		if code := Command(set, nil, &made, &said); code != command.ExitDone {
			t.Fatalf("%v: %d %s", set, code, &said)
		}
		for id, n := range files(t, dir) {
			switch added := n - before[id]; {
			case added == 1 && expected[id]:
				latest[id] = finding
				touched++
				delete(expected, id)
			case added != 0:
				t.Errorf("round %d, %v: %d files on %s", round, set, added, id)
			}
		}
		if len(expected) > 0 {
			t.Errorf("round %d, %v: %d events are not touched", round, set, len(expected))
		}
		if count := fmt.Sprintf("set on %s of %s", command.Count(strings.Count(made.String(), "\n"), "event"), command.Count(len(occurrences), "occurrence")); len(occurrences) > 0 && !strings.Contains(said.String(), count) {
			t.Errorf("%v: says %q, want %q", set, &said, count)
		}
	}
	if touched < 5*rounds {
		t.Errorf("%d touched in all: too few to tell anything", touched)
	}
}

// Ids come as arguments, from standard input and from a file, which may be a list of
// review. One that is not there, or is no id, and nothing is noted.
func TestSetIsAllOrNothing(t *testing.T) {
	dir := newArchive(t)
	var list, said bytes.Buffer
	if code := Command([]string{"--archive", dir, "--severity", "high"}, nil, &list, &said); code != command.ExitDone {
		t.Fatal(&said)
	}
	lines := strings.SplitAfter(list.String(), "\n")[:8] // with the headings
	var ids []string
	for _, line := range lines[1:] {
		ids = append(ids, line[:13])
	}
	file := filepath.Join(t.TempDir(), "list")
	if err := os.WriteFile(file, []byte(strings.Join(lines, "")), 0o600); err != nil {
		t.Fatal(err)
	}
	set := func(stdin string, args ...string) (code int, says string) {
		var out, said bytes.Buffer
		code = Command(append([]string{"set", "--archive", dir, "--verdict", "valid", "--by", "A"}, args...), strings.NewReader(stdin), &out, &said)
		return code, said.String()
	}
	for name, c := range map[string]struct {
		stdin string
		args  []string
		says  string
	}{
		"one of several is not there": {"", []string{ids[0], "E000000000000", ids[1]}, "E000000000000\": no such event"},
		"no id in the list":           {ids[0] + "\nE12 " + ids[1], []string{"-"}, "standard input:2"},
		"an empty list":               {"event\tmonth\n", []string{"-"}, "has no id"},
		"no file":                     {"", []string{"--ids", file + "x"}, "no such file"},
		"ids and a filter":            {"", []string{ids[0], "--severity", "high"}, "ids or a filter"},
		"neither":                     {"", nil, "needs events"},
		"a name for a role":           {"", []string{ids[0], "--assigned-to", "Analyst A"}, "neither a role nor initials"},
		"not the gatekeeper":          {"", []string{ids[0], "--crew-contact", "yes"}, "gatekeeper alone"},
		"a long cause":                {"", []string{ids[0], "--cause", strings.Repeat("x", 501)}, "nothing was set"},
	} {
		if code, says := set(c.stdin, c.args...); code != command.ExitUsage || !strings.Contains(says, c.says) {
			t.Errorf("%s: %d %s", name, code, says)
		}
	}
	if n := files(t, dir); len(n) != 0 {
		t.Fatalf("noted: %v", n)
	}
	if code, says := set(strings.Join(ids[2:4], " "), ids[0], ids[0], "-", "--ids", file); code != command.ExitDone || !strings.Contains(says, "set on 7 events of ") {
		t.Errorf("%d %s", code, says)
	}
	count := files(t, dir)
	if slices.Sort(ids); !slices.Equal(slices.Sorted(maps.Keys(count)), ids) {
		t.Errorf("noted on %v, want %v", count, ids)
	}
	for id, n := range count {
		if n != 1 {
			t.Errorf("%d files on %s", n, id)
		}
	}
}

// Ten reviewers set verdicts and actions at once, on the same events and on their own:
// every file is there, and the tables have all of them.
func TestTenReviewersLoseNothing(t *testing.T) {
	dir := newArchive(t)
	all := plainEvents(t, dir)
	var wait sync.WaitGroup
	for n := range 10 {
		wait.Go(func() {
			args := []string{"set", "--archive", dir, all[0].event.EventID, all[1].event.EventID, all[2+n].event.EventID, "--verdict", string(review.Findings[n%3]), "--cause", "sensor",
				"--assigned-to", fmt.Sprint("desk-", n), "--due", fmt.Sprintf("2031-07-%02d", n+1), "--by", fmt.Sprint("Reviewer ", n)}
			var out, said bytes.Buffer
			if code := Command(args, nil, &out, &said); code != command.ExitDone || strings.Count(out.String(), "\n") != 9 {
				t.Errorf("%d %s %s", code, &out, &said)
			}
		})
	}
	wait.Wait()
	verdicts, damaged, err := archive.Verdicts(dir)
	if err != nil || len(damaged) > 0 || len(verdicts) != 30 {
		t.Errorf("%d verdicts, %v, %v", len(verdicts), damaged, err)
	}
	actions, latest := 0, map[string]int{}
	who := map[string]bool{}
	if err := archive.ActionColumns(dir, func(rows []schemas.ActionRow) error {
		for _, r := range rows {
			actions++
			who[r.EventID+r.Action+r.Value+r.By] = true
			if r.Latest {
				latest[r.EventID+" "+r.Action]++
			}
			if r.Gone || r.Month == "" || r.OccurrenceID == "" {
				t.Errorf("the row %+v lacks its event", r)
			}
		}
		return nil
	}); err != nil {
		t.Fatal(err)
	}
	if actions != 60 || len(who) != 60 || len(latest) != 24 {
		t.Errorf("%d actions in the table, %d different ones, %d that count; want 60, 60 and 24", actions, len(who), len(latest))
	}
	for what, n := range latest {
		if n != 1 {
			t.Errorf("%s counts %d times", what, n)
		}
	}
	if c, err := archive.Verify(dir); err != nil {
		t.Error(err)
	} else {
		for _, f := range c.Faults {
			if strings.HasPrefix(f.File, "reviews/") || strings.HasPrefix(f.File, "tables/verdicts") || strings.HasPrefix(f.File, "tables/actions") {
				t.Errorf("%+v", f)
			}
		}
	}
}
