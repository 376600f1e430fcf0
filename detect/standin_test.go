package detect_test

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"slices"
	"strings"
	"testing"

	"downlock/detect"
	"downlock/schemas"
)

// without is a part taken out of a profile.
type without struct {
	name    string
	take    func(*schemas.Profile)
	heights bool // heights are known, and with them go-arounds told from touch-and-goes
}

var withouts = []without{
	{"as given", func(*schemas.Profile) {}, true},
	{"no accuracies", dropAccuracies, true},
	{"no struts", dropStruts, true},
	{"no struts, no radio altitude", func(p *schemas.Profile) {
		dropStruts(p)
		delete(p.Columns, "radio_altitude")
	}, false},
	{"neither", func(p *schemas.Profile) { dropAccuracies(p); dropStruts(p) }, true},
}

func dropAccuracies(p *schemas.Profile) {
	for _, sources := range p.Columns {
		for i := range sources {
			sources[i].Accuracy = 0
		}
	}
}

func dropStruts(p *schemas.Profile) {
	for name := range p.Columns {
		if strings.HasSuffix(name, "_strut_compressed") || name == "weight_on_wheels" {
			delete(p.Columns, name)
		}
	}
}

func (w without) profile(t testing.TB, path string) *schemas.Profile {
	t.Helper()
	p, err := schemas.ReadProfile(path)
	if err != nil {
		t.Fatal(err)
	}
	w.take(p)
	return p
}

// found counts what became of true events: right are those reported within their
// bounds, wrong are events that are certain and no true ones, outside are bounds the
// truth is not in.
type found struct{ events, right, missed, wrong, outside int }

func (f *found) add(o found) {
	f.events, f.right, f.missed, f.wrong, f.outside = f.events+o.events, f.right+o.right, f.missed+o.missed, f.wrong+o.wrong, f.outside+o.outside
}

func inside(t float64, in detect.Time) bool { return in.Earliest <= t && t <= in.Latest }

// nearBy is how far from a true event one of its rule is taken for it, s: an airspeed
// tells a touchdown up to half a minute late.
const nearBy = 31.0

// hold counts how a result of one flight stands to its truth.
func (truth x100Truth) hold(t *testing.T, result *detect.Result) (n found) {
	f := result.Flight
	times := func(what string, true float64, got *detect.Time) {
		n.events++
		switch {
		case got == nil:
			n.missed++
			t.Logf("%s at %.3f s not found", what, true)
		case !inside(true, *got):
			n.outside++
			t.Logf("%s at %.3f s lies outside %.3f to %.3f", what, true, got.Earliest, got.Latest)
		default:
			n.right++
		}
	}
	times("lift-off", truth.LiftOff, f.LiftOff)
	times("touchdown", truth.Touchdown, f.Touchdown)
	var rules []string
	for _, rule := range ruleOfKind {
		rules = append(rules, rule)
	}
	left := ofRules(result.Events, rules)
	for _, want := range truth.Events {
		i := slices.IndexFunc(left, func(e detect.Event) bool {
			return e.Rule.ID == ruleOfKind[want.Kind] && inside(want.Start, e.Start)
		})
		if i < 0 {
			i = slices.IndexFunc(left, func(e detect.Event) bool {
				return e.Rule.ID == ruleOfKind[want.Kind] && math.Abs(e.Start.Nominal-want.Start) < nearBy
			})
		}
		if i < 0 {
			n.events++
			n.missed++
			t.Logf("%s at %.3f s not found", want.Kind, want.Start)
			continue
		}
		times(want.Kind, want.Start, &left[i].Start)
		if want.End != nil && !left[i].Moment {
			times("end of "+want.Kind, *want.End, &left[i].End)
		}
		left = slices.Delete(left, i, i+1)
	}
	for _, e := range left {
		if e.Certainty == detect.Certain {
			n.wrong++
			t.Logf("%s is certain at %.3f s (%.3f to %.3f) and no true event", e.Rule.ID, e.Start.Nominal, e.Start.Earliest, e.Start.Latest)
		}
	}
	return n
}

// The flights of testdata/x100 with parts of their profile left out: less may be
// found, nothing may be certain and wrong, and no bounds may exclude the truth.
func TestX100Without(t *testing.T) {
	t.Parallel()
	const dir = "../testdata/x100/"
	for _, w := range withouts {
		t.Run(w.name, func(t *testing.T) {
			var sum found
			for number := 1; number <= 8; number++ {
				truth := readTruth(t, fmt.Sprintf("%struth/flight-%d.json", dir, number))
				profile := dir + "profile.yaml"
				if truth.Inverted {
					profile = dir + "profile-inverted.yaml"
				}
				p := w.profile(t, profile)
				results := detectorOf(t, p).Detect(readFile(t, fmt.Sprintf("%sflight-%d.csv.gz", dir, number), p))
				if len(results) != 1 {
					t.Fatalf("flight-%d: %d flights, want 1", number, len(results))
				}
				t.Logf("flight-%d", number)
				sum.add(truth.hold(t, results[0]))
			}
			sum.check(t)
		})
	}
}

func (f found) check(t *testing.T) {
	t.Helper()
	t.Logf("%d events and times: %d right, %d missed; %d certain and wrong, %d bounds that exclude the truth", f.events, f.right, f.missed, f.wrong, f.outside)
	if f.wrong > 0 || f.outside > 0 {
		t.Errorf("%d events are certain and wrong, %d bounds exclude the truth", f.wrong, f.outside)
	}
}

// rowDelay is how much later than its row a parameter of these recordings may have
// been sampled, s; see the README there.
const rowDelay = 0.125

type groundTruth struct {
	Must []struct {
		What  string
		Start float64 `json:"start_s"`
		End   float64 `json:"end_s"`
		Rule  *string `json:"rule_today"`
	} `json:"must_be_reported"`
	Facts struct {
		LiftOffs   facts `json:"lift_offs"`
		Touchdowns facts
		GoArounds  facts `json:"go_arounds"`
	}
}

type facts []struct {
	S      float64
	Lowest float64 `json:"lowest_s"` // of a go-around
}

func (f facts) times() (out []float64) {
	for _, x := range f {
		out = append(out, x.S+x.Lowest)
	}
	return out
}

func widened(t detect.Time, by float64) detect.Time {
	return detect.Time{Nominal: t.Nominal, Earliest: t.Earliest - by, Latest: t.Latest + by}
}

func (truth groundTruth) hold(t *testing.T, results []*detect.Result, reference []detect.Event, lowestPoints bool) (n found) {
	var liftOffs, touchdowns, lowest []detect.Time
	var events []detect.Event
	for _, r := range results {
		if !r.Flight.StaysOnGround {
			liftOffs = append(liftOffs, r.Flight.LiftOffs()...)
		}
		for _, d := range r.Flight.Touchdowns {
			touchdowns = append(touchdowns, d.Time)
		}
		lowest = append(lowest, r.Flight.LowestPoints()...)
		events = append(events, r.Events...)
	}
	times := func(what string, all []float64, got []detect.Time) {
		n.events += len(all)
		for _, true := range all {
			near := func(x detect.Time) bool { return math.Abs(x.Nominal-true) < nearBy }
			i := slices.IndexFunc(got, func(x detect.Time) bool { return near(x) && inside(true, widened(x, rowDelay)) })
			switch {
			case i >= 0:
				n.right++
				got = slices.Delete(got, i, i+1)
			case slices.ContainsFunc(got, near):
				n.outside++
				t.Logf("%s at %.3f s is in none of %v", what, true, got)
			default:
				n.missed++
				t.Logf("%s at %.3f s not found", what, true)
			}
		}
		n.wrong += len(got)
		if len(got) > 0 {
			t.Logf("%s too many: %v", what, got)
		}
	}
	times("lift-off", truth.Facts.LiftOffs.times(), liftOffs)
	times("touchdown", truth.Facts.Touchdowns.times(), touchdowns)
	if lowestPoints {
		times("lowest point", truth.Facts.GoArounds.times(), lowest)
	}
	for _, m := range truth.Must {
		if m.Rule == nil {
			continue
		}
		n.events++
		if slices.ContainsFunc(events, func(e detect.Event) bool {
			return e.Rule.ID == *m.Rule && e.Start.Earliest <= m.End && e.End.Latest >= m.Start
		}) {
			n.right++
		} else {
			n.missed++
			t.Logf("%s (%s) at %.3f s not found", *m.Rule, m.What, m.Start)
		}
	}
	for _, e := range events {
		if e.Certainty != detect.Certain {
			continue
		}
		if !slices.ContainsFunc(reference, func(r detect.Event) bool {
			return r.Rule.ID == e.Rule.ID && r.Start.Earliest <= e.End.Latest && e.Start.Earliest <= r.End.Latest
		}) {
			n.wrong++
			t.Logf("%s is certain at %.3f s (%.3f to %.3f) and not with the whole profile", e.Rule.ID, e.Start.Nominal, e.Start.Earliest, e.Start.Latest)
		}
	}
	return n
}

func TestOperationsWithout(t *testing.T) {
	t.Parallel()
	const dir = "../testdata/operations/"
	rules, err := detect.LoadRules()
	if err != nil {
		t.Fatal(err)
	}
	references := map[int][]detect.Event{}
	for _, w := range withouts {
		t.Run(w.name, func(t *testing.T) {
			p := w.profile(t, dir+"profile.yaml")
			d, err := detect.New(p, rules)
			if err != nil {
				t.Fatal(err)
			}
			var sum found
			for number := 1; number <= 6; number++ {
				if number == 6 && !w.heights {
					continue // begins and ends in the air: without a height it has no go-around
				}
				var truth groundTruth
				text, err := os.ReadFile(fmt.Sprintf("%struth/op-%d.json", dir, number))
				if err == nil {
					err = json.Unmarshal(text, &truth)
				}
				if err != nil {
					t.Fatal(err)
				}
				results := d.Detect(readFile(t, fmt.Sprintf("%sop-%d.csv.gz", dir, number), p))
				if w.name == "as given" {
					for _, r := range results {
						references[number] = append(references[number], r.Events...)
					}
				}
				t.Logf("op-%d", number)
				sum.add(truth.hold(t, results, references[number], w.heights))
			}
			sum.check(t)
		})
	}
}

// A profile that takes the airspeed for another unit, or an aircraft that flies as
// slowly: the stand-in says "ground" in the air, and the altitude says otherwise.
func TestAirspeedThatIsTooSmall(t *testing.T) {
	t.Parallel()
	for scale, all := range map[float64]bool{0.2: true, 0.4: true, 0.5: false, 0.5144: false, 0.6: false} {
		for number := 1; number <= 8; number++ {
			truth := readTruth(t, fmt.Sprintf("../testdata/x100/truth/flight-%d.json", number))
			p := withouts[3].profile(t, "../testdata/x100/profile.yaml")
			p.Columns["computed_airspeed"][0].Scale = scale
			d := detectorOf(t, p)
			r := readFile(t, fmt.Sprintf("../testdata/x100/flight-%d.csv.gz", number), p)
			failed := slices.ContainsFunc(d.Check(r), func(c detect.Check) bool {
				return c.ID == "ground-altitude" && c.Outcome == detect.Failed
			})
			if all && !failed {
				t.Errorf("flight-%d, airspeed times %g: never above 80 kt, and the altitude on the ground is not noticed", number, scale)
			}
			for _, result := range d.Detect(r) {
				for _, down := range result.Flight.Touchdowns {
					if !inside(truth.Touchdown, down.Time) {
						t.Errorf("flight-%d, airspeed times %g: touchdown %v, the true one is at %.1f s", number, scale, down.Time, truth.Touchdown)
					}
				}
			}
		}
	}
}
