package schemas

import (
	"strings"
	"testing"
)

// The figures are the invented ones of the demonstration scenario, written here a
// second time by hand.
func TestShippedProfile(t *testing.T) {
	t.Parallel()
	p, err := ShippedProfile()
	if err != nil {
		t.Fatal(err)
	}
	if p.Aircraft != "TH-120" || p.Engines != 2 || len(p.Legs) != 3 {
		t.Errorf("got %s with %d engines and legs %v, want TH-120 with 2 and 3 legs", p.Aircraft, p.Engines, p.Legs)
	}
	for name, want := range map[string]float64{
		"gear_extension_speed": 250, "gear_retraction_speed": 230, "gear_extended_speed": 280,
		"stabilisation_height": 1000, "visual_stabilisation_height": 500,
		"too_low_gear_cut_off": 30, "too_low_gear_arming_time": 60,
	} {
		if got := p.Values[name]; got != want {
			t.Errorf("%s: got %v, want %v", name, got, want)
		}
	}
	// A value the type does not have stands in a comment, to be filled in.
	for _, v := range Values() {
		if !strings.Contains(string(ShippedProfileText()), "  "+v.Name+":") && !strings.Contains(string(ShippedProfileText()), "  # "+v.Name+":") {
			t.Errorf("the shipped profile leaves out %s; it is to show everything", v.Name)
		}
	}
	if len(p.Flaps.Detents) != 7 {
		t.Errorf("got %d detents, want 7", len(p.Flaps.Detents))
	}
	if got := p.Columns["computed_airspeed"]; len(got) != 2 || got[0].Accuracy != 1 || got[0].Scale != 1 {
		t.Errorf("computed_airspeed: got %+v, want two sources, the first ±1 kt", got)
	}
	text := ShippedProfileText()
	text[0] = 'x'
	if ShippedProfileText()[0] == 'x' {
		t.Error("changing the text changes the shipped one")
	}
}

// The larger type has the systems that the smaller one does not have.
func TestShippedProfileNamed(t *testing.T) {
	t.Parallel()
	p, err := ShippedProfileNamed("th440")
	if err != nil {
		t.Fatal(err)
	}
	if p.Aircraft != "TH-440" || p.Engines != 4 || len(p.Legs) != 5 {
		t.Errorf("got %s with %d engines and legs %v, want TH-440 with 4 and 5 legs", p.Aircraft, p.Engines, p.Legs)
	}
	for _, system := range []string{"lever_lock", "truck_tilt", "body_gear_steering", "emergency_pressure"} {
		if !p.HasSystem(system) {
			t.Errorf("no %s", system)
		}
	}
	if p.HasSystem("alternate_extension") {
		t.Error("it has an alternate extension")
	}
	if _, err := ShippedProfileNamed("th999"); err == nil {
		t.Error("a name that is none gives a profile")
	}
	if ShippedProfileTextNamed("../parameters") != nil {
		t.Error("a text that is no profile")
	}
}
