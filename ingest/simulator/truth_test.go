package simulator

import (
	"math"
	"slices"
	"strings"
	"testing"
)

// near is the tolerance of a time worked out by hand where it depends on a curve
// between its knots, s.
const near = 3

// row is an event worked out by hand.
type row struct {
	rule       string
	start, end float64
	tolerance  float64
}

func instant(rule string, at, tolerance float64) row { return row{rule, at, at, tolerance} }

// The events of every demonstration recording, worked out by hand from the acts of
// the crew and the forced failures. L is the lift-off at 95.45 s and D the touchdown
// at 595.3 s. The legs (nose, left, right) leave their locks 0.9, 1.1 and 1.2 s after
// the lever. They take 6.4, 6.9 and 7.2 s down and 7.1, 7.6 and 7.9 s up. All are
// down 8.4 s after DOWN and up 9.1 s after UP. The approach passes 1000 ft at D-80
// and 800 ft at about D-64. On the slope of 588 ft in 44 s from 650 ft at D-52 it
// passes 500 ft at about D-41 and 245 ft at about D-22; it passes 30 ft at about D-4.
// Take-off thrust is set at L-32 from 5 to 42 deg at 10 deg/s. N1 is 22 + 1.6 times
// the mean of the throttle now and 1, 2, 3 s ago, so it is above 80 % from 68.5 s:
// (42 + 42 + 35.5 + 25.5)/4 = 36.25.
func TestDemoTruth(t *testing.T) {
	t.Parallel()
	const l, d, exact = usualLiftOff, usualTouchdown, 0.01
	want := map[string][]row{
		"01": {}, "02": {}, "03": {},
		"04": {{"landing-flap-gear-not-locked", d - 140, d - 118 + 8.4, exact}},
		// The throttles pass 10 deg 0.6 s after they leave 4 deg.
		"05": {{"throttle-retarded-gear-not-locked", d - 230, d - 200 + 0.6, exact}, {"warning-inhibited", d - 224, d - 206, exact},
			{"gear-horn-silenced", d - 224, d - 206, exact}},
		"06": {{"gear-up-before-strut-extension", l - 0.9, l, exact}, {"lever-lock-overridden", l - 2, l, exact}},
		// The vertical speed at lift-off is zero; 0.15 s later it is hardly more.
		"07": {{"gear-up-before-strut-extension", 94.625, 95.5, exact}, instant("gear-up-before-positive-climb", l+0.15, exact)},
		"08": {instant("gear-late", d-80, exact), instant("landing-flap-late", d-80, exact), instant("gear-late-visual", d-41, near),
			instant("landing-flap-late-visual", d-41, near), {"too-low-gear", d - 41, d - 34 + 8.4, near},
			instant("configuration-change-low", d-34, exact), instant("configuration-change-low", d-25.2, exact)},
		"09": {{"landing-flap-gear-not-locked", d - 140, d, exact}, instant("gear-late", d-80, exact),
			instant("gear-late-visual", d-41, near), {"too-low-gear", d - 41, d - 5, near}, instant("gear-not-locked-at-touchdown", d, exact),
			{"extension-slow", d - 190, d, exact}, {"lever-position-disagree", d - 190, d, exact},
			{"slow-leg", d - 190 + 0.9 + 6.4, d, exact}, {"alternate-extension-selected", d - 30, d, exact}},
		"10": {instant("gear-extension-speed", d-318, exact), {"gear-extended-speed", d - 296, d - 267, near}, {"flap-placard-speed", d - 237, d - 225, near},
			{"gear-transit-speed", d - 318 + 0.9, d - 318 + 8.4, exact}}, // from the first leg unlocked to the last one locked
		"11": {instant("gear-retraction-speed", l+118, exact), {"gear-transit-speed", l + 118 + 0.9, l + 118 + 9.1, exact}},
		"12": {{"gear-locked-down-after-up", l + 4.3, d - 190, exact}, {"lever-position-disagree", l + 4.3, d - 190, exact}, instant("return-with-gear-down", d, exact)},
		"13": {instant("landing-flap-late", d+687.3-80, exact), instant("landing-flap-late-visual", d+687.3-41, near),
			instant("configuration-change-low", d+687.3-31, exact)},
		"14": {{"landing-flap-gear-not-locked", d - 140, d - 118 + 8.4, exact}, {"gear-horn-missed", d - 140, d - 118 + 8.4, exact}},
		"15": {{"flap-placard-speed", l + 91, l + 121, near}},
		"16": {{"throttle-retarded-gear-not-locked", d - 230, d - 200 + 0.6, exact}},
		"17": {instant("landing-flap-late", d-80, exact)},
		"18": {{"throttle-retarded-gear-not-locked", 86100 + d - 230, 86100 + d - 200 + 0.6, exact}},
		// The left leg takes 17 s up from 1.1 s after UP at L+4.3. The right one has
		// left its lock after 1.2 s; the nose leg is up after 0.9 + 7.1 s.
		"19": {{"lever-lock-released-early", 80, 84, exact}, instant("nose-wheel-not-centred", l+4.3+0.9, exact),
			{"retraction-slow", l + 4.3, l + 4.3 + 18.1, exact}, {"slow-leg-up", l + 4.3 + 8, l + 4.3 + 18.1, exact}},
		// Eight changes half a second apart from 44 s. The sixth is at 46.5 s; the
		// last six begin at 45 s.
		"20": {{"takeoff-flap", 68.5, l, exact}, {"strut-switches-disagree", 25, 34, exact}, {"strut-switch-chatter", 46.5, 50, exact}},
		"21": {{"takeoff-parking-brake", 68.5, 75.45, exact}, {"takeoff-trim", 68.5, l, exact}, {"takeoff-warning-late", 68.5, 75, exact}},
		"22": {{"takeoff-speedbrake", 68.5, l, exact}, {"takeoff-warning-missed", 68.5, l - 6, exact}, {"takeoff-warning-nuisance", 44, 50, exact}},
		"23": {instant("gear-up-before-positive-climb", l+8, exact), instant("flap-retracted-early", l+17, exact),
			instant("lever-cycled", l+36, exact), instant("lever-cycled", l+58, exact)},
		// From 19,820 ft it gains 2200 ft in 110 s as 3x² - 2x³: 180 ft at x = 0.1758,
		// or 19.33 s. The right leg leaves its lock 1.2 s after it lets go. It is back
		// 1.2 s and 0.03 of 7.9 s after it takes hold.
		"24": {{"gear-altitude", 19.33, 30 + 9.1, exact}, {"flap-altitude", 19.33, 50, exact}, {"doors-left-open", 30 + 9.1, 60, exact},
			{"gear-altitude", 81.2, 89.2 + 0.24, exact}, {"up-lock-lost", 81.2, 89.2 + 0.24, exact}},
		// The nose leg takes 17 s; the left one is the first.
		"25": {{"extension-slow", d - 190, d - 190 + 17.9, exact}, {"slow-leg", d - 190 + 8, d - 190 + 17.9, exact}},
		"26": {{"alternate-extension", d - 190 + 8.4, d - 100, 0.1}},
		"27": {{"alternate-extension", d - 190 + 8.4, d, exact}, {"alternate-extension-selected", d - 189, d, exact}},
		"28": {instant("landing-flap-late", d-80, exact), instant("landing-flap-late-visual", d-41, near), {"too-low-flaps", d - 22, d - 4, near},
			instant("reduced-flap-landing", d, exact)},
		"29": {instant("landing-flap-late", d-80, exact), instant("landing-flap-late-visual", d-41, near), {"too-low-flaps", d - 22, d - 4, near},
			instant("reduced-flap-landing", d, exact), instant("speedbrake-not-armed", d-64, near),
			{"too-low-flaps-alert-missed", d - 22, d - 4, near}, {"too-low-flaps-alert-nuisance", d - 115, d - 109, exact}},
		"30": {instant("landing-flap-late", d-80, exact), instant("landing-flap-late-visual", d-41, near), {"too-low-flaps", d - 22, d - 9, near},
			{"too-low-flaps-alert-late", d - 22, d - 15, near}, instant("configuration-change-low", d-9, exact)},
		"31": {instant("gear-late", d-80, exact), instant("landing-flap-late", d-80, exact), instant("gear-late-visual", d-41, near),
			instant("landing-flap-late-visual", d-41, near), {"too-low-gear", d - 41, d - 34 + 8.4, near},
			{"landing-flap-gear-not-locked", d - 38, d - 34 + 8.4, exact}, instant("configuration-change-low", d-38, exact),
			instant("configuration-change-low", d-34, exact), {"too-low-gear-alert-missed", d - 41, d - 34 + 8.4, near},
			{"too-low-gear-alert-nuisance", d - 70, d - 64, exact}},
		"32": {instant("gear-late", d-80, exact), instant("landing-flap-late", d-80, exact), instant("gear-late-visual", d-41, near),
			{"too-low-gear", d - 41, d - 36 + 8.4, near}, {"landing-flap-gear-not-locked", d - 50, d - 36 + 8.4, exact},
			instant("configuration-change-low", d-36, exact), {"too-low-gear-alert-late", d - 41, d - 34, near},
			{"gear-horn-late", d - 50, d - 45, exact}, {"gear-horn-nuisance", d - 120, d - 112, exact}},
		"33": {{"warning-inhibited", d - 150, d - 118 + 8.4, exact}, {"landing-flap-gear-not-locked", d - 140, d - 118 + 8.4, exact},
			{"gear-horn-wrongly-silenced", d - 140, d - 118 + 8.4, exact}},
		// The handle passes 5 deg half a second after it leaves 0, and 1.5 s after it
		// leaves 20.
		"34": {{"speedbrake-with-landing-flap", d - 99.5, d - 33.5, exact}, {"speedbrake-low", d - 64, d - 33.5, near}, instant("speedbrake-not-armed", d-64, near)},
		"35": {instant("go-around-retraction-early", d-52-5, exact), {"go-around-gear-left-down", d - 52, d - 52 + 45, exact}},
		"36": {instant("gear-late", d-80, exact), instant("landing-flap-late", d-80, exact), instant("go-around-gear-never-extended", d-52, exact)},
		"41": {},
		"42": {{"lever-lock-overridden", l + 2.6, l + 6.2, exact}, instant("truck-not-tilted", l+4.3, exact), instant("body-gear-not-aligned", l+4.3, exact)},
		"43": {{"emergency-pressure", d - 188, d - 172, exact}},
	}
	demo := allDemo(t)
	if len(demo) != len(want) {
		t.Fatalf("%d recordings, %d worked out by hand", len(demo), len(want))
	}
	for _, file := range demo {
		number, _, _ := strings.Cut(strings.TrimPrefix(file.Name, "tarnholm-"), ".")
		var got []Event
		for _, flight := range file.Flight.Truths() {
			got = append(got, flight.Events...)
		}
		compareRows(t, file.Name, got, want[number])
		for _, e := range got {
			// In 29 and 34 nothing shows which way round the arming is recorded.
			notShown := e.Rule == "speedbrake-not-armed" && (number == "29" || number == "34")
			if undecided := number == "07" || notShown; (e.Certainty == Possible) != undecided {
				t.Errorf("%s: %s is %s", file.Name, e.Rule, e.Certainty)
			}
		}
	}
}

func compareRows(t *testing.T, name string, got []Event, want []row) {
	t.Helper()
	left := slices.Clone(got)
	for _, w := range want {
		i := slices.IndexFunc(left, func(e Event) bool {
			return e.Rule == w.rule && math.Abs(e.Start-w.start) <= w.tolerance && math.Abs(e.End-w.end) <= w.tolerance && e.Moment == (w.start == w.end)
		})
		if i < 0 {
			t.Errorf("%s: no %s from %.3f to %.3f in %v", name, w.rule, w.start, w.end, left)
			continue
		}
		left = slices.Delete(left, i, i+1)
	}
	for _, e := range left {
		t.Errorf("%s: %+v was not worked out by hand", name, e)
	}
}

func allDemo(t *testing.T) []DemoFile {
	t.Helper()
	demo, err := Demo()
	if err != nil {
		t.Fatal(err)
	}
	large, err := DemoLarge()
	if err != nil {
		t.Fatal(err)
	}
	return append(demo, large...)
}

// Every rule is met in the demonstration set, and no other.
func TestEveryRuleIsMet(t *testing.T) {
	t.Parallel()
	met := map[string]int{}
	for _, file := range allDemo(t) {
		for _, flight := range file.Flight.Truths() {
			for _, e := range flight.Events {
				met[e.Rule]++
			}
		}
	}
	for _, rule := range Rules() {
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
	t.Parallel()
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
