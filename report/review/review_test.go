package review

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"downlock/schemas"
)

const event = "E0123456789ab"

func fixtureEvent() schemas.EventRow {
	height := 1200.5
	return schemas.EventRow{EventID: event, Rule: "gear-late", Title: "Gear late", Severity: "high", Certainty: "certain", Moment: true,
		StartS: 60, StartEarliestS: 59.5, StartLatestS: 60.25, EndS: 60, EndEarliestS: 59.5, EndLatestS: 60.25,
		StartUTC: time.Date(2031, 5, 4, 10, 1, 0, 0, time.UTC),
		Measures: []schemas.MeasureValue{{Name: "height", Unit: "ft", Value: &height}, {Name: "speed", Unit: "kt"}}}
}

func fixtureVerdict(minute int, finding Finding) Verdict {
	v := Verdict{Event: event, Finding: finding, By: "Analyst A", At: time.Date(2031, 6, 1, 8, minute, 0, 0, time.UTC), Evidence: Evidence(fixtureEvent())}
	if finding == False {
		v.Cause = "polarity of a switch"
	}
	return v
}

// TestEvidence: what a verdict rests on changes it and nothing else. The text it
// is the SHA-256 of is written out by hand.
func TestEvidence(t *testing.T) {
	t.Parallel()
	was := Evidence(fixtureEvent())
	text := `"gear-late" "high" "certain" true 60.000 59.500 60.250 60.000 59.500 60.250 "height" "ft" 1200.500 "speed" "kt" none`
	if sum := sha256.Sum256([]byte(text)); was != hex.EncodeToString(sum[:]) {
		t.Errorf("%s is no SHA-256 of %s", was, text)
	}
	lower := 1200.4
	for what, c := range map[string]struct {
		change func(*schemas.EventRow)
		other  bool
	}{
		"severity":   {func(e *schemas.EventRow) { e.Severity = "low" }, true},
		"certainty":  {func(e *schemas.EventRow) { e.Certainty = "possible" }, true},
		"start":      {func(e *schemas.EventRow) { e.StartS += 0.001 }, true},
		"a bound":    {func(e *schemas.EventRow) { e.EndLatestS += 0.25 }, true},
		"a measure":  {func(e *schemas.EventRow) { e.Measures[0].Value = &lower }, true},
		"one fewer":  {func(e *schemas.EventRow) { e.Measures = e.Measures[:1] }, true},
		"wording":    {func(e *schemas.EventRow) { e.Title = "Gear down late" }, false},
		"the date":   {func(e *schemas.EventRow) { e.StartUTC = time.Time{} }, false},
		"identities": {func(e *schemas.EventRow) { e.EventID, e.FlightID, e.Recording = "E", "F", "ab" }, false},
	} {
		e := fixtureEvent()
		c.change(&e)
		if other := Evidence(e) != was; other != c.other {
			t.Errorf("%s: other evidence is %v", what, other)
		}
	}
}

func TestVerdictsInOrder(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	if latest, damaged, err := Latest(dir); len(latest) != 0 || damaged != nil || err != nil {
		t.Errorf("an archive without a review has %v, %v, %v", latest, damaged, err)
	}
	for _, v := range []Verdict{fixtureVerdict(30, False), fixtureVerdict(10, FollowUp), fixtureVerdict(20, Valid)} {
		if _, err := Write(dir, v, false); err != nil {
			t.Fatal(err)
		}
	}
	history, damaged, err := History(dir, event)
	if err != nil || damaged != nil {
		t.Fatal(damaged, err)
	}
	var got []Finding
	for _, v := range history {
		got = append(got, v.Finding)
	}
	if diff := cmp.Diff([]Finding{FollowUp, Valid, False}, got); diff != "" {
		t.Error(diff)
	}
	latest, _, _ := Latest(dir)
	want := fixtureVerdict(30, False)
	want.Schema = "downlock verdict 1"
	if diff := cmp.Diff(map[string]Verdict{event: want}, latest); diff != "" {
		t.Error(diff)
	}
	changed := fixtureEvent()
	changed.Severity = "low"
	if v := latest[event]; v.Outdated(fixtureEvent()) || v.Open(fixtureEvent()) || !v.Outdated(changed) || !v.Open(changed) {
		t.Error("a verdict is outdated, and its event open, just where the event has changed")
	}
	if v := history[0]; !v.Open(fixtureEvent()) {
		t.Error("an event that needs follow-up is not open")
	}
}

// TestTwoReviewers: many at the same time, in the same nanosecond, lose nothing.
func TestTwoReviewers(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	const reviewers = 32
	var done sync.WaitGroup
	for range reviewers {
		done.Go(func() {
			if _, err := Write(dir, fixtureVerdict(1, Valid), true); err != nil {
				t.Error(err)
			}
		})
	}
	done.Wait()
	if history, damaged, err := History(dir, event); len(history) != reviewers || damaged != nil || err != nil {
		t.Errorf("%d verdicts, %v, %v", len(history), damaged, err)
	}
	if left, _ := filepath.Glob(filepath.Join(dir, reviewsFolder, event, ".*")); len(left) > 0 {
		t.Errorf("%v is left", left)
	}
}

// TestDamagedVerdicts are listed, left out, and left where they are.
func TestDamagedVerdicts(t *testing.T) {
	t.Parallel()
	for what, c := range map[string]struct{ from, to, cause string }{
		"cut off":        {"\n}", "", "no JSON"},
		"no verdict":     {`"valid"`, `"maybe"`, "verdict"},
		"another event":  {event, "Effffffffffff", "of the event"},
		"an unknown key": {`"by"`, `"bye"`, "by"},
		"false, no why":  {`"valid"`, `"false"`, "cause"},
		"no such day":    {"2031-06-01", "2031-06-31", "parsing time"},
		"too long":       {"Analyst A", strings.Repeat("x", maxNoteBytes), "more than 65536 bytes"},
		"empty":          {"", "", "no JSON"},
	} {
		dir := t.TempDir()
		bad, err := Write(dir, fixtureVerdict(50, Valid), false)
		if err != nil {
			t.Fatal(err)
		}
		text, _ := os.ReadFile(bad)
		text = bytes.ReplaceAll(text, []byte(c.from), []byte(c.to))
		if what == "empty" {
			text = nil
		}
		os.WriteFile(bad, text, 0o600)
		if _, err := Write(dir, fixtureVerdict(10, FollowUp), false); err != nil {
			t.Fatal(err)
		}
		latest, damaged, err := Latest(dir)
		if err != nil || len(damaged) != 1 || damaged[0].File != bad || !strings.Contains(damaged[0].Cause, c.cause) || damaged[0].Hint == "" {
			t.Errorf("%s: %v, %v", what, damaged, err)
		}
		if latest[event].Finding != FollowUp {
			t.Errorf("%s: the verdict before it is lost: %v", what, latest)
		}
		if after, _ := os.ReadFile(bad); !bytes.Equal(text, after) {
			t.Errorf("%s: the file has changed", what)
		}
	}
}

// TestWriteRefuses what could not be read again, or names another place.
func TestWriteRefuses(t *testing.T) {
	t.Parallel()
	for what, change := range map[string]func(*Verdict){
		"a path for an event": func(v *Verdict) { v.Event = "../../../tmp/x" },
		"no name":             func(v *Verdict) { v.By = "" },
		"no cause":            func(v *Verdict) { v.Finding, v.Cause = False, "" },
		"a long comment":      func(v *Verdict) { v.Comment = strings.Repeat("é", 4001) },
		"a year of five":      func(v *Verdict) { v.At = time.Date(12031, 1, 1, 0, 0, 0, 0, time.UTC) },
	} {
		dir := t.TempDir()
		v := fixtureVerdict(1, Valid)
		change(&v)
		var problem *schemas.Problem
		if _, err := Write(dir, v, false); !errors.As(err, &problem) {
			t.Errorf("%s: the error is %v", what, err)
		}
		if entries, _ := os.ReadDir(dir); len(entries) > 0 {
			t.Errorf("%s: something is left", what)
		}
	}
	longest := fixtureVerdict(1, False)
	longest.Cause, longest.Comment, longest.By = strings.Repeat("é", 500), strings.Repeat("\u2028", 4000), strings.Repeat("é", 200)
	dir := t.TempDir()
	if _, err := Write(dir, longest, false); err != nil {
		t.Error(err)
	}
	if latest, damaged, _ := Latest(dir); latest[event].Comment != longest.Comment {
		t.Errorf("the longest verdict is not read again: %v", damaged)
	}
}

// TestVerdictsArePrivate unless they are shared, and then as any file is.
func TestVerdictsArePrivate(t *testing.T) {
	t.Parallel()
	usual := filepath.Join(t.TempDir(), "usual")
	if err := os.WriteFile(usual, nil, 0o666); err != nil {
		t.Fatal(err)
	}
	info, _ := os.Stat(usual)
	for share, want := range map[bool]os.FileMode{false: 0o600, true: info.Mode()} {
		dir := filepath.Join(t.TempDir(), "archive")
		path, err := Write(dir, fixtureVerdict(1, Valid), share)
		if err != nil {
			t.Fatal(err)
		}
		if info, _ := os.Stat(path); info.Mode() != want {
			t.Errorf("share %v: the file has mode %v", share, info.Mode())
		}
		for _, p := range []string{filepath.Dir(path), dir} {
			if info, _ := os.Stat(p); !share && info.Mode().Perm() != 0o700 {
				t.Errorf("%s has mode %v", p, info.Mode())
			}
		}
	}
}
