package detect_test

import (
	"fmt"
	"maps"
	"math/rand/v2"
	"slices"
	"testing"

	"downlock/detect"
	"downlock/ingest/simulator"
	"downlock/schemas"
)

// soundingsOf are those of a warning in a result, in words: cause, and the rules of the
// events it is about.
func soundingsOf(r *detect.Result, warning string) (out []string) {
	for _, a := range r.Audits {
		if a.Warning.Name != warning {
			continue
		}
		for _, s := range a.Soundings {
			words := string(s.Cause)
			for _, id := range s.Events {
				i := slices.IndexFunc(r.Events, func(e detect.Event) bool { return e.ID == id })
				words += ", " + r.Events[i].Rule.ID
			}
			out = append(out, words)
		}
	}
	return out
}

// From the truth of the demonstration: in tarnholm-31 the too-low-gear alert sounds once
// for nothing; in tarnholm-32 once, late, below its floor.
func TestSoundingsHaveCauses(t *testing.T) {
	t.Parallel()
	d, p := shippedDetector(t)
	for name, want := range map[string][]string{"31": {"without cause"}, "32": {"its criteria are met, too-low-gear"}} {
		r := d.Detect(readFile(t, "../testdata/demo/tarnholm-"+name+".csv.zst", p))[0]
		if got := soundingsOf(r, "too_low_gear"); !slices.Equal(got, want) {
			t.Errorf("tarnholm-%s: got %q, want %q", name, got, want)
		}
	}
}

// From the truth of the recordings: on the first take-off roll of one of them the flap is
// not set, the take-off warning sounds, and the take-off is rejected.
func TestSoundingOfARejectedTakeOff(t *testing.T) {
	t.Parallel()
	p, err := schemas.ReadProfile("../testdata/operations/profile.yaml")
	if err != nil {
		t.Fatal(err)
	}
	d := detectorOf(t, p)
	var got []string
	for n := 1; n <= 6; n++ {
		for _, r := range d.Detect(readFile(t, fmt.Sprintf("../testdata/operations/op-%d.csv.gz", n), p)) {
			got = append(got, soundingsOf(r, "takeoff_configuration")...)
		}
	}
	if want := "its criteria are met, takeoff-flap"; !slices.Contains(got, want) {
		t.Errorf("got %q, want one that is %q", got, want)
	}
}

// Row 9 tests the warnings on the stand and flies on with nothing wrong.
func TestSoundingsOnTheStand(t *testing.T) {
	t.Parallel()
	d, _ := shippedDetector(t)
	o, err := simulator.FlyOperation(9, 1)
	if err != nil {
		t.Fatal(err)
	}
	r := sampled{flight: o.Flight, wanted: inVocabulary(o.Flight), sampling: anyOffset(rand.New(rand.NewPCG(9, 1)))}.recording()
	tested := 0
	for _, result := range d.Detect(r) {
		for _, a := range result.Audits {
			for _, s := range a.Soundings {
				tested++
				if s.Cause != detect.TestOnStand {
					t.Errorf("%s sounds at %v: %s", a.Warning.Name, s.Start, s.Cause)
				}
			}
		}
	}
	if tested < 3 {
		t.Errorf("%d soundings: too few to tell", tested)
	}
}

// Without criteria the horn cannot be audited. That it sounded is said all the same.
func TestSoundingsWithoutCriteria(t *testing.T) {
	t.Parallel()
	_, shipped := shippedDetector(t)
	p := *shipped
	p.Criteria = maps.Clone(shipped.Criteria)
	delete(p.Criteria, "gear_warning_silenceable")
	r := detectorOf(t, &p).Detect(readFile(t, "../testdata/demo/tarnholm-32.csv.zst", &p))[0]
	if got, want := soundingsOf(r, "gear_horn"), []string{"not known", "not known, landing-flap-gear-not-locked"}; !slices.Equal(got, want) {
		t.Errorf("got %q, want %q", got, want)
	}
}
