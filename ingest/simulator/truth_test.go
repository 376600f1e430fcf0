package simulator

import (
	"math"
	"strings"
	"testing"
)

// near is how far a time worked out by hand may be from the truth where it
// depends on a curve between its knots, s.
const near = 3

// The events of every demonstration recording, worked out by hand from what the
// crew does: D is the touchdown at 595.3 s; the last leg is locked 1.2 + 7.2 s
// after the lever; the approach passes 1000 ft at D-80 and, on the slope of
// 588 ft in 44 s from 650 ft at D-52, 500 ft at about D-41.
func TestDemoTruth(t *testing.T) {
	const d = usualTouchdown
	type row struct {
		rule       string
		start, end float64
		tolerance  float64
	}
	moment := func(rule string, at, tolerance float64) row { return row{rule, at, at, tolerance} }
	want := map[string][]row{
		"01": {}, "02": {}, "03": {},
		"04": {{"landing-flap-gear-not-locked", d - 140, d - 118 + 8.4, 0.01}},
		"05": {{"throttle-retarded-gear-not-locked", d - 232, d - 200 + 0.4, 0.01}, {"warning-inhibited", d - 224, d - 206, 0.01}},
		"06": {{"gear-up-before-strut-extension", 94.55, 95.45, 0.01}},
		"07": {{"gear-up-before-strut-extension", 94.625, 95.5, 0.01}},
		"08": {moment("gear-late", d-80, 0.01), moment("landing-flap-late", d-80, 0.01), moment("gear-late-visual", d-41, near),
			moment("landing-flap-late-visual", d-41, near), {"too-low-gear", d - 41, d - 34 + 8.4, near}},
		"09": {{"landing-flap-gear-not-locked", d - 140, d, 0.01}, moment("gear-late", d-80, 0.01),
			moment("gear-late-visual", d-41, near), {"too-low-gear", d - 41, d - 5, near}, moment("gear-not-locked-at-touchdown", d, 0.01)},
		"10": {moment("gear-extension-speed", d-318, 0.01), {"gear-extended-speed", d - 296, d - 267, near}, {"flap-placard-speed", d - 237, d - 225, near}},
		"11": {moment("gear-retraction-speed", usualLiftOff+118, 0.01)},
		"12": {{"gear-locked-down-after-up", usualLiftOff + 4.3, d - 190, 0.01}},
		"13": {moment("landing-flap-late", d+687.3-80, 0.01), moment("landing-flap-late-visual", d+687.3-41, near)},
		"14": {{"landing-flap-gear-not-locked", d - 140, d - 118 + 8.4, 0.01}},
		"15": {{"flap-placard-speed", usualLiftOff + 91, usualLiftOff + 121, near}},
		"16": {{"throttle-retarded-gear-not-locked", d - 232, d - 200 + 0.4, 0.01}},
		"17": {moment("landing-flap-late", d-80, 0.01)},
		"18": {{"throttle-retarded-gear-not-locked", 86100 + d - 232, 86100 + d - 200 + 0.4, 0.01}},
	}
	demo, err := Demo()
	if err != nil {
		t.Fatal(err)
	}
	if len(demo) != len(want) {
		t.Fatalf("%d recordings, %d worked out by hand", len(demo), len(want))
	}
	for _, file := range demo {
		number, _, _ := strings.Cut(strings.TrimPrefix(file.Name, "tarnholm-"), ".")
		var got []Event
		for _, flight := range file.Flight.Truths() {
			got = append(got, flight.Events...)
		}
		if len(got) != len(want[number]) {
			t.Errorf("%s: events %v, want %v", file.Name, got, want[number])
			continue
		}
		for i, w := range want[number] {
			e := got[i]
			if e.Rule != w.rule || math.Abs(e.Start-w.start) > w.tolerance || math.Abs(e.End-w.end) > w.tolerance || e.Moment != (w.start == w.end) {
				t.Errorf("%s: got %+v, want %+v", file.Name, e, w)
			}
			if undecided := number == "07"; (e.Certainty == Possible) != undecided {
				t.Errorf("%s: %s is %s", file.Name, e.Rule, e.Certainty)
			}
		}
	}
}

// Every rule the truth speaks of is met in the demonstration set.
func TestEveryRuleIsMet(t *testing.T) {
	rules := strings.Fields(`landing-flap-gear-not-locked throttle-retarded-gear-not-locked warning-inhibited
		gear-up-before-strut-extension too-low-gear gear-not-locked-at-touchdown gear-late gear-late-visual
		landing-flap-late landing-flap-late-visual gear-extension-speed gear-retraction-speed gear-extended-speed
		flap-placard-speed gear-locked-down-after-up`)
	demo, err := Demo()
	if err != nil {
		t.Fatal(err)
	}
	met := map[string]int{}
	for _, file := range demo {
		for _, flight := range file.Flight.Truths() {
			for _, e := range flight.Events {
				met[e.Rule]++
			}
		}
	}
	for _, rule := range rules {
		if met[rule] == 0 {
			t.Errorf("no recording has %s", rule)
		}
		delete(met, rule)
	}
	if len(met) > 0 {
		t.Errorf("rules nobody listed: %v", met)
	}
}

func TestFlightBoundaries(t *testing.T) {
	two := flown(t, thereAndBack()).Truths()
	if len(two) != 2 || *two[0].Touchdown != 595.3 || *two[1].LiftOff != 782.75 || *two[1].Touchdown != 1282.6 {
		t.Errorf("there and back: %+v", two)
	}
	if in := flown(t, beginsInAir()).Truths(); len(in) != 1 || in[0].LiftOff != nil || *in[0].Touchdown != 595.3 {
		t.Errorf("begins in the air: %+v", in)
	}
	if out := flown(t, endsInAir()).Truths(); len(out) != 1 || *out[0].LiftOff != 95.45 || out[0].Touchdown != nil {
		t.Errorf("ends in the air: %+v", out)
	}
	if tg := flown(t, touchAndGoFlight()).Truths(); len(tg) != 1 || len(tg[0].TouchAndGoes) != 1 || tg[0].TouchAndGoes[0] != 595.3 {
		t.Errorf("touch-and-go: %+v", tg)
	}
	if ga := flown(t, goAroundFlight()).Truths(); len(ga) != 1 || len(ga[0].GoArounds) != 1 || ga[0].GoArounds[0] != 543.3 {
		t.Errorf("go-around: %+v", ga)
	}
}
