package survey

import "testing"

// Units at the end of names, each by hand.
func TestUnitsOfNames(t *testing.T) {
	t.Parallel()
	for name, want := range map[string][2]string{
		"IAS [km/h]": {"IAS", "km/h"}, "V/S (m/s)": {"V/S", "m/s"}, "Pitch [°]": {"Pitch", "deg"}, "PL1(deg)": {"PL1", "deg"},
		"eng1_n1_pct": {"eng1_n1", "%"}, "speed_kmh": {"speed", "km/h"}, "speed_mps": {"speed", "m/s"}, "Vcas_m_s": {"Vcas", "m/s"},
		"alt_m": {"alt", "m"}, "ALT FT": {"ALT", "ft"}, "h-dot-fps": {"h-dot", "ft/s"}, "PLANE PITCH DEGREES": {"PLANE PITCH", "deg"},
		"Vertical speed, ft/min": {"Vertical speed", "ft/min"}, "ALT KTS": {"ALT", "kt"},
		"NAV_GS": {"NAV_GS", ""}, "HYD_C": {"HYD_C", ""}, "unit[1]": {"unit[1]", ""}, "RA M": {"RA M", ""}, "kt": {"kt", ""}, "TLA_L": {"TLA_L", ""},
	} {
		if bare, unit := splitUnit(name); bare != want[0] || unit != want[1] {
			t.Errorf("%q is %q in %q, want %q in %q", name, bare, unit, want[0], want[1])
		}
	}
}

// What the export states is believed before what the values look like: a speed of
// 250 in km/h stays one in km/h, a unit of something else is no match, and one not
// known here is a question.
func TestStatedUnitsAreBelieved(t *testing.T) {
	t.Parallel()
	rows := "0,0\n1,100\n2,200\n3,250\n4,180\n5,90\n"
	for header, want := range map[string]string{"IAS [km/h]": "km/h", "ias_kmh": "km/h", "IAS (kt)": "kt", "IAS": "kt", "IAS [deg]": ""} {
		unit := ""
		for _, s := range surveyText(t, "time,"+header+"\n"+rows).Suggest() {
			if s.Parameter == "computed_airspeed" && s.Confidence != Doubtful {
				unit = s.Unit
			}
		}
		if unit != want {
			t.Errorf("%s is read in %q, want %q", header, unit, want)
		}
	}
}

// A name that fits over values that do not is never sure: a flap in counts, an
// airspeed of thousands, a warning that never came on.
func TestNamesOverWrongValues(t *testing.T) {
	t.Parallel()
	s := surveyText(t, "time,FLAP,IAS,GEAR HORN\n0,2438,9000,0\n1,2438,9100,0\n2,3000,9200,0\n3,3500,9100,0\n4,3660,9000,0\n")
	for _, one := range s.Suggest() {
		if one.Confidence == Sure || len(one.Decide) == 0 {
			t.Errorf("%s is %s for %s, to decide %v", one.Column, one.Confidence, one.Parameter, one.Decide)
		}
	}
}
