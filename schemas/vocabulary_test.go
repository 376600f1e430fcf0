package schemas

import (
	"math"
	"regexp"
	"testing"
)

var snakeCase = regexp.MustCompile(`^[a-z][a-z0-9]*(_[a-z0-9]+)*$`)

func TestParametersAreWellFormed(t *testing.T) {
	t.Parallel()
	seen := map[string]bool{}
	for _, p := range Parameters() {
		if seen[p.Name] || !snakeCase.MatchString(p.Name) {
			t.Errorf("%s: the name is taken or not in small letters and underscores", p.Name)
		}
		seen[p.Name] = true
		if p.Meaning == "" {
			t.Errorf("%s: no meaning", p.Name)
		}
		if _, known := UnitName(p.Unit); p.Numeric() != (p.Unit != "") || p.Numeric() != known {
			t.Errorf("%s is %s with unit %q", p.Name, p.Kind, p.Unit)
		}
		if p.Numeric() != (p.Range[0] < p.Range[1]) {
			t.Errorf("%s is %s with range %v", p.Name, p.Kind, p.Range)
		}
		if (p.Kind == State) != (len(p.States) > 1) {
			t.Errorf("%s is %s with states %v", p.Name, p.Kind, p.States)
		}
		switch p.Kind {
		case Continuous, Step, State, Discrete:
		default:
			t.Errorf("%s: unknown kind %q", p.Name, p.Kind)
		}
		if p.MaxRate < 0 || p.LongestInterval < 0 || p.Read && p.LongestInterval == 0 {
			t.Errorf("%s: rate %v, interval %v, read %v", p.Name, p.MaxRate, p.LongestInterval, p.Read)
		}
		if got, ok := LookupParameter(p.Name); !ok || got.Name != p.Name {
			t.Errorf("%s cannot be looked up", p.Name)
		}
	}
	if _, ok := LookupParameter("no_such_parameter"); ok {
		t.Error("a parameter that is not there is found")
	}
}

func TestValuesAndTablesAreWellFormed(t *testing.T) {
	t.Parallel()
	seen := map[string]bool{}
	check := func(name, meaning string, units ...string) {
		if seen[name] || !snakeCase.MatchString(name) || meaning == "" {
			t.Errorf("%s: taken, ill-formed or without a meaning", name)
		}
		seen[name] = true
		for _, u := range units {
			if _, ok := UnitName(u); !ok {
				t.Errorf("%s: unknown unit %q", name, u)
			}
		}
		if _, ok := LookupParameter(name); ok {
			t.Errorf("%s is a parameter, too; in a rule nobody could tell which", name)
		}
	}
	for _, v := range Values() {
		check(v.Name, v.Meaning, v.Unit)
	}
	for _, x := range Tables() {
		check(x.Name, x.Meaning, x.From, x.To)
	}
}

func TestDefaults(t *testing.T) {
	t.Parallel()
	for name, want := range map[string]struct {
		number float64
		unit   string
		ok     bool
	}{"gear_warning_height": {3000, "ft", true}, "gear_stays_down_time": {180, "s", true}, "gear_extended_speed": {}, "mach": {}} {
		if number, unit, ok := DefaultOf(name); number != want.number || unit != want.unit || ok != want.ok {
			t.Errorf("%s: %v %s %v, want %v", name, number, unit, ok, want)
		}
	}
}

// Longest sampling intervals of 14 CFR part 121 appendix M. Rows 2, 3, 5 to 9, 30,
// 42, flap and radio altitude were read in the published text; rows 31, 35 and 36 are
// from memory.
func TestLongestIntervals(t *testing.T) {
	t.Parallel()
	for name, want := range map[string]float64{
		"pressure_altitude": 1, "computed_airspeed": 1, "normal_acceleration": 0.125, "pitch_attitude": 1, "roll_attitude": 1,
		"engine_n1_1": 1, "flap_handle": 2, "flap_angle": 2, "radio_altitude": 1, "master_warning": 1, "throttle_angle_4": 1,
		"weight_on_wheels": 1, "left_strut_compressed": 1, "gpws_too_low_gear": 1, "gear_lever": 4, "nose_gear_down_locked": 4,
	} {
		if p, _ := LookupParameter(name); p.LongestInterval != want {
			t.Errorf("%s: got %v s, want %v", name, p.LongestInterval, want)
		}
	}
}

// The exact definitions: international nautical mile 1852 m, foot 0.3048 m,
// statute mile 1609.344 m and avoirdupois pound 0.45359237 kg (international
// yard and pound agreement, 1959); standard gravity 9.80665 m/s² (3rd General
// Conference on Weights and Measures, 1901); a flight level is 100 ft.
func TestUnitFactors(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		from, to string
		want     float64
	}{
		{"kt", "m/s", 1852.0 / 3600}, {"kt", "km/h", 1.852}, {"mph", "km/h", 1.609344}, {"m/s", "ft/min", 60 / 0.3048},
		{"ft/s", "ft/min", 60}, {"m", "ft", 1 / 0.3048}, {"km", "m", 1000}, {"FL", "ft", 100},
		{"rad", "deg", 180 / math.Pi}, {"m/s2", "g", 1 / 9.80665}, {"lb", "kg", 0.45359237}, {"t", "kg", 1000}, {"klb", "kg", 453.59237},
		{"min", "s", 60}, {"ms", "s", 0.001}, {"kt", "kt", 1}, {"%", "%", 1},
	} {
		there, err := UnitFactor(c.from, c.to)
		if err != nil || math.Abs(there/c.want-1) > 1e-14 {
			t.Errorf("%s to %s: got %v (%v), want %v", c.from, c.to, there, err, c.want)
		}
		back, err := UnitFactor(c.to, c.from)
		if err != nil || math.Abs(back*c.want-1) > 1e-14 {
			t.Errorf("%s to %s: got %v (%v), want %v", c.to, c.from, back, err, 1/c.want)
		}
	}
	if f, _ := UnitFactor("FL", "ft"); math.Abs(100*f-10000) > 1e-9 {
		t.Errorf("FL 100 is %v ft, want 10000", 100*f)
	}
}

func TestUnitsThatCannotBeConverted(t *testing.T) {
	t.Parallel()
	for _, c := range [][2]string{{"ft", "kt"}, {"kg", "ft"}, {"deg", "%"}, {"1", "%"}, {"furlong", "ft"}, {"degC", "deg"}, {"degF", "degC"}, {"ft", "furlong"}, {"", "ft"}} {
		if f, err := UnitFactor(c[0], c[1]); err == nil || f != 0 {
			t.Errorf("%q to %q: got %v and no error", c[0], c[1], f)
		}
	}
}

func TestUnitSpellings(t *testing.T) {
	t.Parallel()
	for spelling, want := range map[string]string{
		"Knots": "kt", " KTS ": "kt", "FT": "ft", "feet": "ft", "fpm": "ft/min", "Deg": "deg", "°": "deg", "LBS": "lb", "pct": "%", "FL": "FL", "fl": "FL", "G": "g", "Deg C": "degC", "°C": "degC", "degC": "degC",
	} {
		if got, ok := UnitName(spelling); !ok || got != want {
			t.Errorf("%q: got %q, want %q", spelling, got, want)
		}
	}
	for spelling, name := range spellings {
		if _, ok := units[name]; !ok {
			t.Errorf("the spelling %q leads to %q, which is no unit", spelling, name)
		}
	}
}
