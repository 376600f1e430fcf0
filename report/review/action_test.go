package review

import (
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"downlock/schemas"
)

func fixtureAction(kind ActionKind, value string) Action {
	a := Action{Event: event, Kind: kind, Value: value, By: "Analyst A", At: time.Date(2031, 6, 1, 8, 0, 0, 5, time.UTC)}
	if kind == CrewContact {
		a.By = Gatekeeper
	}
	return a
}

// What can be noted, and what not: Go and the schema agree, but for days no month has.
func TestActionValues(t *testing.T) {
	for _, c := range []struct {
		kind       ActionKind
		value, by  string
		sound, bad bool // bad: the schema has no say
	}{
		{AssignedTo, "fleet-safety", "A", true, false}, {AssignedTo, "AL", "A", true, false}, {AssignedTo, "n-abcdefghij23", "A", true, false}, {AssignedTo, "none", "A", true, false},
		{AssignedTo, "Analyst A", "A", false, false}, {AssignedTo, "Analyst A", "A", false, false}, {AssignedTo, "", "A", false, false}, {AssignedTo, "a", "A", false, false},
		{AssignedTo, "ABCDE", "A", false, false}, {AssignedTo, "safety-", "A", false, false}, {AssignedTo, strings.Repeat("x", 32), "A", true, false}, {AssignedTo, strings.Repeat("x", 33), "A", false, false},
		{AssignedTo, "safety\n", "A", false, false}, {AssignedTo, "1-desk", "A", false, false},
		{Due, "2031-07-20", "A", true, false}, {Due, "none", "A", true, false}, {Due, "2031-7-20", "A", false, false}, {Due, "2031-02-30", "A", false, true}, {Due, "", "A", false, false},
		{Maintenance, "yes", "A", true, false}, {Maintenance, "no", "A", true, false}, {Maintenance, "none", "A", false, false},
		{CrewContact, "yes", Gatekeeper, true, false}, {CrewContact, "no", Gatekeeper, true, false}, {CrewContact, "yes", "Analyst A", false, false}, {CrewContact, "captain", Gatekeeper, false, false},
		{"tail", "yes", "A", false, false}, {AssignedTo, "AL", "", false, true},
	} {
		what := fmt.Sprintf("%s %q by %q", c.kind, c.value, c.by)
		a := fixtureAction(c.kind, c.value)
		a.By = c.by
		dir := t.TempDir()
		path, err := WriteAction(dir, a, false)
		if (err == nil) != c.sound {
			t.Errorf("%s: %v", what, err)
		}
		var problem *schemas.Problem
		if err != nil && !errors.As(err, &problem) {
			t.Errorf("%s: %v is no problem of the action", what, err)
		}
		if list, damaged, err := Actions(dir, event); err != nil || len(damaged) > 0 || (len(list) == 1) != c.sound || c.sound && filepath.Join(dir, "reviews", event, list[0].Name) != path {
			t.Errorf("%s: comes back as %v, %v, %v", what, list, damaged, err)
		}
		a.Schema = actionSchema
		text, err := json.Marshal(a)
		if err != nil {
			t.Fatal(err)
		}
		if err := validate(text, actionForm); (err == nil) != c.sound && !c.bad {
			t.Errorf("%s: the schema says %v", what, err)
		}
	}
}

// Of each kind the last one counts, also of what several note at once; verdicts stay apart.
func TestActionsInOrder(t *testing.T) {
	dir := t.TempDir()
	if _, err := Write(dir, fixtureVerdict(1, Valid), false); err != nil {
		t.Fatal(err)
	}
	var wait sync.WaitGroup
	for minute := range 10 {
		wait.Go(func() {
			for _, a := range []Action{fixtureAction(AssignedTo, fmt.Sprint("desk-", minute)), fixtureAction(Due, fmt.Sprintf("2031-07-%02d", 30-minute)), fixtureAction(Maintenance, "yes")} {
				a.At = a.At.Add(time.Duration(minute) * time.Minute)
				if _, err := WriteAction(dir, a, false); err != nil {
					t.Error(err)
				}
			}
		})
	}
	wait.Wait()
	list, damaged, err := Actions(dir, event)
	if err != nil || len(damaged) > 0 || len(list) != 30 {
		t.Fatal(len(list), damaged, err)
	}
	last := Standing(list)
	if last[AssignedTo].Value != "desk-9" || last[Due].Value != "2031-07-21" || last[Maintenance].Value != "yes" || len(last) != 3 {
		t.Errorf("what counts: %v", last)
	}
	if history, damaged, err := History(dir, event); err != nil || len(damaged) > 0 || len(history) != 1 {
		t.Errorf("the verdicts beside them: %v %v %v", history, damaged, err)
	}
}

// A damaged file is said and left out; a lost one is made again of what it held, and of
// nothing else.
func TestActionFiles(t *testing.T) {
	dir := t.TempDir()
	path, err := WriteAction(dir, fixtureAction(Due, "2031-07-20"), false)
	if err != nil {
		t.Fatal(err)
	}
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	again, err := ActionText(filepath.Base(path), fixtureAction(Due, "2031-07-20"))
	if err != nil || string(again) != string(text) {
		t.Errorf("made again: %s, %v", again, err)
	}
	if _, err := ActionText(filepath.Base(path), fixtureAction(Due, "2031-07-21")); err == nil {
		t.Error("another action is taken for it")
	}
	changed := strings.Replace(string(text), "2031-07-20", "2031-07-21", 1)
	if err := os.WriteFile(path, []byte(changed), 0o600); err != nil {
		t.Fatal(err)
	}
	list, damaged, err := Actions(dir, event)
	if err != nil || len(list) != 0 || len(damaged) != 1 || damaged[0].File != path || !strings.Contains(damaged[0].Cause, "is not a readable action") {
		t.Errorf("%v %v %v", list, damaged, err)
	}
}

// Whatever the bytes, the outcome is an action with all it must have, or an error.
func FuzzParseAction(f *testing.F) {
	for _, a := range []Action{fixtureAction(AssignedTo, "AL"), fixtureAction(Due, "2031-07-20"), fixtureAction(CrewContact, "yes")} {
		text, err := a.encode()
		if err != nil {
			f.Fatal(err)
		}
		f.Add(text)
	}
	f.Add([]byte(`{"schema": "downlock action 1", "action": "crew-contact", "by": "x"}`))
	f.Fuzz(func(t *testing.T, text []byte) {
		a, err := parseAction(text, event)
		if err != nil {
			return
		}
		if cause, _ := a.Mistake(); cause != "" || a.Event != event || a.By == "" || a.At.IsZero() || a.Kind == CrewContact && a.By != Gatekeeper {
			t.Errorf("%+v: %s", a, cause)
		}
	})
}
