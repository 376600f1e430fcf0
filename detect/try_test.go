package detect

import (
	"math"
	"slices"
	"testing"

	"downlock/detect/language"
	"downlock/detect/readings"
	"downlock/ingest"
	"downlock/schemas"
)

// builtinDetector is the built-in rules on the shipped profile.
func builtinDetector(t *testing.T) (*Detector, *schemas.Profile, *RuleSet) {
	t.Helper()
	profile, err := schemas.ShippedProfile()
	if err != nil {
		t.Fatal(err)
	}
	rules, err := LoadRules()
	if err != nil {
		t.Fatal(err)
	}
	d, err := New(profile, rules)
	if err != nil {
		t.Fatal(err)
	}
	return d, profile, rules
}

// TestTryAgrees holds what Try shows of every built-in rule on a demonstration
// flight against what Detect does with it: the events are the same, and the
// whole expression, evaluated by itself, is the first part shown.
func TestTryAgrees(t *testing.T) {
	t.Parallel()
	d, profile, rules := builtinDetector(t)
	events := 0
	for _, file := range []string{"tarnholm-05.arrow.zst", "tarnholm-08.csv.gz", "tarnholm-13.csv.gz"} {
		r, err := ingest.Read("../testdata/demo/"+file, profile)
		if err != nil {
			t.Fatal(err)
		}
		results := d.Detect(r)
		for _, rule := range rules.Rules {
			trials := d.Try(r, rule, always())
			if len(trials) != len(results) {
				t.Fatalf("%s %s: %d flights, want %d", file, rule.ID, len(trials), len(results))
			}
			for i, trial := range trials {
				var want, got []string
				for _, e := range results[i].Events {
					if e.Rule == rule {
						want = append(want, e.ID)
					}
				}
				for _, e := range trial.Events {
					got = append(got, e.ID)
				}
				if events += len(got); !slices.Equal(got, want) {
					t.Errorf("%s %s: events %v, want %v", file, rule.ID, got, want)
				}
				checkClauses(t, d, rule, trial)
			}
		}
	}
	if events < 10 {
		t.Errorf("only %d events were compared", events)
	}
}

func always() Span { return stretch(math.Inf(-1), math.Inf(1)) }

func checkClauses(t *testing.T, d *Detector, rule *Rule, trial Trial) {
	t.Helper()
	env := newTracks(trial.Flight, d.criteria)
	for _, c := range trial.Clauses {
		if c.Role == "when" {
			whole, shown := rule.when.Condition(env), c.Parts[0].Condition
			if !slices.Equal(whole.True, shown.True) || !slices.Equal(whole.Certain, shown.Certain) || !slices.Equal(whole.Possible, shown.Possible) {
				t.Errorf("%s: when shown as %v, want %v", rule.ID, shown, whole)
			}
		}
		for _, p := range c.Parts {
			if p.Depth < 0 || p.Text == "" {
				t.Errorf("%s: a part without text: %+v", rule.ID, p)
			}
			if p.Kind == language.Condition && len(readings.Intersect(p.Condition.True, p.Condition.False)) > 0 {
				t.Errorf("%s: %s is true and false at once", rule.ID, p.Text)
			}
		}
	}
	if rule.Audit == nil {
		return
	}
	// The audit's own sums, in the nominal reading, against the parts of it shown.
	a := audit(env, d.rules.Warning(rule.Audit.Warning))
	together := trial.Clauses[len(trial.Clauses)-1]
	if len(a.Missing) == 0 && math.Abs(together.Parts[0].Condition.True.Seconds()-a.DueSeconds) > 1e-9 {
		t.Errorf("%s: due for %g s, want %g", rule.ID, together.Parts[0].Condition.True.Seconds(), a.DueSeconds)
	}
}

// TestTryBetween: only flights that reach into the stretch, and every figure shown
// stays inside it.
func TestTryBetween(t *testing.T) {
	t.Parallel()
	d, profile, rules := builtinDetector(t)
	r, err := ingest.Read("../testdata/demo/tarnholm-13.csv.gz", profile)
	if err != nil {
		t.Fatal(err)
	}
	rule := rules.Rule("landing-flap-gear-not-locked")
	all := d.Try(r, rule, always())
	if len(all) != 2 {
		t.Fatalf("%d flights, want 2", len(all))
	}
	second := all[1].Flight.Span
	between := stretch(second.Start+100, second.Start+200)
	part := d.Try(r, rule, between)
	if len(part) != 1 || part[0].Flight.Number != 2 || part[0].Window != between {
		t.Fatalf("got %d flights, want the second alone in %v", len(part), between)
	}
	for _, p := range part[0].Clauses[0].Parts {
		for _, s := range slices.Concat(p.Condition.True, p.Condition.Possible, p.Condition.Certain, p.Unknown) {
			if s.Start < between.Start || s.End > between.End {
				t.Errorf("%s: %v is outside %v", p.Text, s, between)
			}
		}
	}
	if one := d.Try(r, rule, stretch(second.Start, second.End)); len(one) != 1 || one[0].Flight.Number != 2 {
		t.Errorf("%d flights from the end of the first on", len(one))
	}
	if none := d.Try(r, rule, stretch(r.End+1, r.End+2)); len(none) != 0 {
		t.Errorf("%d flights after the end of the recording", len(none))
	}
}

// TestTryAMoment: the first event of a rule of moments is shown by a stretch about it, with its moment and the whole
// expressions at depth 0, and neither before nor after it.
func TestTryAMoment(t *testing.T) {
	t.Parallel()
	d, profile, rules := builtinDetector(t)
	r, err := ingest.Read("../testdata/demo/tarnholm-08.csv.gz", profile)
	if err != nil {
		t.Fatal(err)
	}
	var event *Event
	for i, e := range d.Detect(r)[0].Events {
		if e.Rule.at != nil && e.Start == e.End && event == nil {
			event = &d.Detect(r)[0].Events[i]
		}
	}
	if event == nil {
		t.Fatal("no event of a moment")
	}
	rule := rules.Rule(event.Rule.ID)
	for _, c := range []struct {
		from, to float64 // from the event, s
		want     int     // events, and moments at which they may be
	}{{-30, -20, 0}, {-5, 5, 1}, {20, 30, 0}} {
		trials := d.Try(r, rule, stretch(event.Start.Nominal+c.from, event.Start.Nominal+c.to))
		if len(trials) != 1 {
			t.Fatalf("%d flights", len(trials))
		}
		if n := len(trials[0].Events); n != c.want {
			t.Errorf("%d events from %g to %g s, want %d", n, c.from, c.to, c.want)
		}
		for _, clause := range trials[0].Clauses {
			whole := clause.Parts[0]
			if whole.Depth != 0 {
				t.Errorf("%s begins at depth %d", clause.Role, whole.Depth)
			}
			if clause.Role == "at" && len(whole.Moments) != c.want {
				t.Errorf("%d moments from %g to %g s, want %d", len(whole.Moments), c.from, c.to, c.want)
			}
		}
	}
}
