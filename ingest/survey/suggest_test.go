package survey

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"downlock/ingest"
	"downlock/schemas"
)

// columnsOf returns the equivalent columns of a profile written by hand.
func columnsOf(t *testing.T, p *schemas.Profile, parameter string) (names []string) {
	t.Helper()
	for _, s := range p.Columns[parameter] {
		names = append(names, s.Column)
	}
	return names
}

// A sure or likely suggestion must agree with the profile written by hand in column,
// polarity, states, unit and scale. On the whole flights most parameters must be
// suggested.
func TestSuggestionsAgainstProfilesByHand(t *testing.T) {
	t.Parallel()
	shipped, err := schemas.ShippedProfile()
	if err != nil {
		t.Fatal(err)
	}
	read := func(name string) *schemas.Profile {
		p, err := schemas.ReadProfile(name)
		if err != nil {
			t.Fatal(err)
		}
		return p
	}
	right, inverted := read(x100Dir+"profile.yaml"), read(x100Dir+"profile-inverted.yaml")
	files, _ := filepath.Glob(demoDir + "tarnholm-*")
	x100, _ := filepath.Glob(x100Dir + "flight-*.csv.gz")
	if len(files) < 18 || len(x100) != 9 {
		t.Fatalf("%d demo and %d check flights", len(files), len(x100))
	}
	for _, file := range append(files, x100...) {
		p := shipped
		switch {
		case strings.Contains(file, "flight-6"):
			p = inverted
		case strings.Contains(file, "x100"):
			p = right
		}
		t.Run(filepath.Base(file), func(t *testing.T) {
			s := surveyFile(t, file)
			suggestions := s.Suggest()
			sure := map[string]bool{}
			for _, one := range suggestions {
				// A switch is sure only where the recording shows which value means true, a
				// number where its values are those of a flight; else there is a question.
				if one.Confidence == Sure || one.Confidence == Likely && len(one.Decide) > 0 {
					sure[one.Parameter] = true
				}
				if c := s.Column(one.Column); one.Confidence == Sure && c.Distinct == 1 && len(one.TrueWhen) > 0 && !strings.HasSuffix(one.Parameter, "_locked") {
					t.Errorf("%s is sure, from a column that never changed", one.Parameter)
				}
				if one.Confidence != Doubtful {
					compareWithHand(t, p, one, strings.Contains(file, "x100"))
				}
			}
			missed := 0
			for parameter := range p.Columns {
				if has := slices.ContainsFunc(columnsOf(t, p, parameter), func(c string) bool { return s.Column(c) != nil && s.Column(c).Samples > 0 }); has && !sure[parameter] {
					missed++
					t.Logf("%s is not suggested for sure", parameter)
				}
			}
			if missed > 0 {
				t.Errorf("%d parameters of the profile by hand are not suggested for sure", missed)
			}
			mustParse(t, s, suggestions)
		})
	}
}

// compareWithHand compares a suggestion with the profile by hand. whole means that
// the recording holds a whole flight, so it shows the polarity.
func compareWithHand(t *testing.T, p *schemas.Profile, one Suggestion, whole bool) {
	t.Helper()
	if len(p.Columns[one.Parameter]) == 0 {
		if !strings.HasPrefix(one.Parameter, "gpws_too_low_") { // recorded, not mapped by an older profile
			t.Errorf("%s is suggested from %q; the profile by hand has none", one.Parameter, one.Column)
		}
		return
	}
	i := slices.IndexFunc(p.Columns[one.Parameter], func(s schemas.Source) bool { return s.Column == one.Column })
	if i < 0 {
		t.Errorf("%s is suggested from %q, by hand from %q", one.Parameter, one.Column, columnsOf(t, p, one.Parameter))
		return
	}
	hand := p.Columns[one.Parameter][i]
	if len(one.Evidence) == 0 {
		t.Errorf("%s is suggested without evidence", one.Parameter)
	}
	if len(one.Decide) == 0 {
		if len(hand.TrueWhen) > 0 && !slices.Equal(one.TrueWhen, []string(hand.TrueWhen)) {
			t.Errorf("%s is true when %v, by hand when %v (%v)", one.Parameter, one.TrueWhen, hand.TrueWhen, one.Evidence)
		}
		if name, _ := schemas.UnitName(hand.Unit); name != one.Unit {
			t.Errorf("%s in %s, by hand in %s", one.Parameter, one.Unit, hand.Unit)
		}
	}
	for text, state := range one.States {
		if hand.States[text] != state {
			t.Errorf("%s: %q is %s, by hand %s", one.Parameter, text, state, hand.States[text])
		}
	}
	if scale := one.Scale; whole && one.Parameter == "vertical_speed" && (scale == 0 || scale/hand.Scale > 1.001 || scale/hand.Scale < 0.999) {
		t.Errorf("vertical speed is suggested with the scale %v, by hand %v", scale, hand.Scale)
	}
}

func mustParse(t *testing.T, s *Survey, suggestions []Suggestion) *schemas.Profile {
	t.Helper()
	text, err := s.Draft(suggestions)
	if err != nil {
		t.Fatal(err)
	}
	p, err := schemas.ParseProfile("draft.yaml", []byte(text))
	if err != nil {
		t.Fatalf("the draft is no profile: %v\n%s", err, text)
	}
	return p
}

// flight-6 records circuits: 0 when a leg is down and locked and a strut compressed.
// Its gear never leaves the down-locks.
func TestInvertedCircuitsAreRecognised(t *testing.T) {
	t.Parallel()
	s := surveyFile(t, x100Dir+"flight-6.csv.gz")
	found := 0
	for _, one := range s.Suggest() {
		if !strings.HasSuffix(one.Parameter, "_strut_compressed") && !strings.HasSuffix(one.Parameter, "_gear_down_locked") {
			continue
		}
		found++
		if !slices.Equal(one.TrueWhen, []string{"0"}) || len(one.Decide) > 0 || !strings.Contains(strings.Join(one.Evidence, " "), "on the ground") {
			t.Errorf("%s is true when %v: %v, to decide %v", one.Parameter, one.TrueWhen, one.Evidence, one.Decide)
		}
	}
	if found != 6 {
		t.Errorf("%d struts and down-locks suggested, want 6", found)
	}
}

// The circuit file has the layout of a published data set. Its dictionary says that
// LGDN is 0 when down and locked and WOW 1 in the air.
func TestSuggestionsForTheMATLABLayout(t *testing.T) {
	t.Parallel()
	s := surveyFile(t, "../../testdata/mat/circuit.mat")
	want := map[string]string{"CAS": "computed_airspeed", "ALT": "pressure_altitude", "RALT": "radio_altitude", "PLA_3": "throttle_angle_3",
		"N1_4": "engine_n1_4", "LGDN": "gear_down_locked", "LGUP": "gear_up_locked", "WOW": "weight_on_wheels", "NSQT": "nose_strut_compressed",
		"TOCW": "takeoff_configuration_warning", "MW": "master_warning", "LATP": "latitude"}
	suggestions := s.Suggest()
	for _, one := range suggestions {
		if parameter, ok := want[one.Column]; ok {
			if parameter != one.Parameter || one.Confidence == Doubtful || one.Confidence != Sure && s.Column(one.Column).Distinct > 1 {
				t.Errorf("%s is suggested for %s (%s), want %s", one.Column, one.Parameter, one.Confidence, parameter)
			}
			delete(want, one.Column)
		}
		if (one.Column == "LGDN" || one.Column == "WOW") && !slices.Equal(one.TrueWhen, []string{"0"}) {
			t.Errorf("%s is true when %v, want 0", one.Column, one.TrueWhen)
		}
		// Counts are no unit, so the column is left to the user.
		if one.Column == "FLAP" && (one.Parameter != "flap_angle" || one.Confidence != Doubtful || !strings.Contains(strings.Join(one.Decide, " "), `the unit "COUNTS"`)) {
			t.Errorf("FLAP is suggested for %s (%s): %v", one.Parameter, one.Confidence, one.Decide)
		}
		if one.Column == "PH" {
			t.Errorf("the flight phase is suggested for %s", one.Parameter)
		}
	}
	if len(want) > 0 {
		t.Errorf("nothing suggested for %v", want)
	}
	p := mustParse(t, s, suggestions)
	if p.Engines != 4 || p.Time.UTC.Hour != "GMT_HOUR" {
		t.Errorf("%d engines, clock %+v", p.Engines, p.Time.UTC)
	}
}

// A draft reads the file it was made from.
func TestDraftReadsItsFile(t *testing.T) {
	t.Parallel()
	for _, file := range []string{x100Dir + "flight-1.csv.gz", x100Dir + "flight-2-long.csv.gz", demoDir + "tarnholm-18.csv.gz", "../../testdata/mat/circuit.mat"} {
		s := surveyFile(t, file)
		suggestions := s.Suggest()
		r, err := ingest.Read(file, mustParse(t, s, suggestions))
		if err != nil {
			t.Errorf("%s: %v", file, err)
			continue
		}
		if len(r.Series) < 20 {
			t.Errorf("%s: only %d parameters read", file, len(r.Series))
		}
	}
}

// A draft holds the names that no export holds as comments. With the marks removed
// and the capitals replaced, it is a profile with every value, table and criterion.
func TestDraftAsksForTheRest(t *testing.T) {
	t.Parallel()
	s := surveyFile(t, x100Dir+"flight-1.csv.gz")
	text, err := s.Draft(s.Suggest(), Opening{Fill: []string{"tyre_speed", "warning_delay"}, Said: "filling these 2 opens 1 rule", Rules: []string{"tyre-speed"}})
	if err != nil {
		t.Fatal(err)
	}
	if first := strings.Index(text, "#   tyre_speed: "); first < 0 || first > strings.Index(text, "#   gear_extension_speed: ") || !strings.Contains(text, "group 1, filling these 2 opens 1 rule: tyre_speed, warning_delay (for tyre-speed)") {
		t.Errorf("the values to fill in first do not come first:\n%s", text)
	}
	before, rest, found := strings.Cut(text, "# What no export contains.")
	if !found {
		t.Fatalf("not asked for:\n%s", text)
	}
	var filled strings.Builder
	filled.WriteString(before)
	_, rest, _ = strings.Cut(rest, "not the same as no events.\n")
	for line := range strings.Lines(rest) {
		filled.WriteString(strings.NewReplacer("[[NUMBER, NUMBER], [NUMBER, NUMBER]]", "[[1, 2], [3, 4]]", "NUMBER", "7", "EXPRESSION", "gear_horn").Replace(strings.TrimPrefix(line, "# ")))
	}
	p, err := schemas.ParseProfile("filled.yaml", []byte(filled.String()))
	if err != nil {
		t.Fatalf("%v\n%s", err, filled.String())
	}
	if len(p.Systems) != 5 || len(p.Values) != len(schemas.Values()) || len(p.Tables) != len(schemas.Tables()) || len(p.Criteria) != len(schemas.Criteria()) {
		t.Errorf("%d systems, %d values, %d tables, %d criteria", len(p.Systems), len(p.Values), len(p.Tables), len(p.Criteria))
	}
	// The radio altitude of the check flights ends at 2500 ft.
	if p.Values["radio_altitude_ceiling"] != 2500 || p.Throttle.Parameter != "throttle_angle" || p.Throttle.RetardedBelow != 7 {
		t.Errorf("ceiling %v, throttle %+v", p.Values["radio_altitude_ceiling"], p.Throttle)
	}
}

// Names in the trade's spellings, each with the parameter it must be recognised as;
// common practice.
func TestNames(t *testing.T) {
	t.Parallel()
	for name, want := range map[string]string{
		"IAS": "computed_airspeed", "CAS (kt)": "computed_airspeed", "Computed Air Speed": "computed_airspeed", "AIRSPEED_COMPUTED": "computed_airspeed",
		"GS": "ground_speed", "GroundSpeed": "ground_speed", "RALT": "radio_altitude", "RadioHeight": "radio_altitude", "RAD ALT": "radio_altitude", "PALT": "pressure_altitude",
		"Pressure Alt": "pressure_altitude", "IVV": "vertical_speed", "Vert Speed": "vertical_speed", "VRTG": "normal_acceleration", "Nz": "normal_acceleration",
		"N1 ENG 1": "engine_n1_1", "ENG1 N1": "engine_n1_1", "N11": "engine_n1_1", "n1_2": "engine_n1_2", "TLA2": "throttle_angle_2", "PLA_1": "throttle_angle_1", "Thrust Lever 1 Angle": "throttle_angle_1",
		"WOW": "weight_on_wheels", "Weight on Wheels": "weight_on_wheels", "Air/Ground": "weight_on_wheels", "LDG HANDLE": "gear_lever", "LG LVR": "gear_lever", "Gear Selector": "gear_lever",
		"LH MLG DNLK": "left_gear_down_locked", "NLG UPLK": "nose_gear_up_locked", "R GEAR DOWN LOCK": "right_gear_down_locked", "Left Squat Switch": "left_strut_compressed",
		"Flap Handle Position": "flap_handle", "FLAP": "flap_angle", "TE Flap Pos": "", "Slat": "slat_angle", "Gear Warning": "gear_horn", "Horn Silence": "gear_horn_cutout",
		"LDG_N_DNLK": "nose_gear_down_locked", "GEAR N UP LOCK": "nose_gear_up_locked", "WOW_N": "nose_strut_compressed", "HORN_CUTOFF": "gear_horn_cutout",
		"TOCW": "takeoff_configuration_warning", "Take-Off Config Warn": "takeoff_configuration_warning", "GPWS Too Low Gear": "gpws_too_low_gear", "HYD A LO PRESS": "hydraulic_pressure_low_a",
		"SPDBRK": "speedbrake_handle", "Spd Brake Armed": "", "Park Brake": "parking_brake", "STAB TRIM": "stabiliser_trim", "NWS angle": "nose_wheel_angle", "GW": "gross_weight",
		"Lever Lock Override": "gear_lever_lock_override", "TAS": "", "Selected Altitude": "", "EGT 1": "", "Heading": "", "Frame counter": "", "N2 1": "",
	} {
		best, score := "", sureScore
		for _, p := range schemas.Parameters() {
			if n := nameScore(wordsOf(bareName(name)), p.Name); n >= score {
				best, score = p.Name, n
			}
		}
		if best != want && want != "" || want == "" && best != "" && !slices.Contains([]string{"TE Flap Pos", "Spd Brake Armed"}, name) {
			t.Errorf("%q reads as %v and is taken for %q, want %q", name, wordsOf(bareName(name)), best, want)
		}
	}
}

// Every parameter, unit and state in the dictionary exists.
func TestWordsAreWellFormed(t *testing.T) {
	t.Parallel()
	d := words()
	for name := range d.Patterns {
		if _, ok := schemas.LookupParameter(name); !ok {
			t.Errorf("patterns: no parameter %s", name)
		}
	}
	for _, p := range schemas.Parameters() {
		if len(d.Patterns[p.Name]) == 0 {
			t.Logf("no pattern for %s", p.Name)
		}
	}
	for name, ranges := range d.units {
		p, ok := schemas.LookupParameter(name)
		if !ok {
			t.Errorf("units: no parameter %s", name)
		}
		for _, u := range ranges {
			if _, err := schemas.UnitFactor(u.unit, p.Unit); err != nil || u.low >= u.high {
				t.Errorf("units of %s: %+v, %v", name, u, err)
			}
		}
	}
	lever, _ := schemas.LookupParameter("gear_lever")
	for state := range d.States {
		if !slices.Contains(lever.States, state) {
			t.Errorf("states: the lever has no %s", state)
		}
	}
	for _, w := range d.MeansTrue {
		if slices.Contains(d.MeansFalse, w) {
			t.Errorf("%q means true and false", w)
		}
	}
}

// Names with YAML and control characters do not change the profile.
func TestHostileNames(t *testing.T) {
	t.Parallel()
	for _, name := range []string{`airspeed", unit: m}`, "airspeed # comment", "airspeed: {x}", "air\tspeed", "airspeed \u2028 x", "'airspeed'", `air\speed`} {
		text := "time," + `"` + strings.ReplaceAll(name, `"`, `""`) + `"` + ",radio altitude\n0,100,20\n1,120,200\n2,140,900\n3,150,1500\n4,160,1700\n"
		s := surveyText(t, text)
		suggestions := s.Suggest()
		for i := range suggestions { // for any suggestion the name must come through
			if suggestions[i].Parameter == "radio_altitude" {
				suggestions[i].Confidence = Sure
				suggestions[i].Column = name
			}
		}
		p := mustParse(t, s, suggestions)
		if got := p.Columns["radio_altitude"][0].Column; got != strings.TrimSpace(name) && got != name {
			t.Errorf("%q came through as %q", name, got)
		}
	}
}

func TestNothingRecognised(t *testing.T) {
	t.Parallel()
	s := surveyText(t, "time,foo,bar\n0,1,2\n1,2,3\n2,3,1\n")
	if text, err := s.Draft(s.Suggest()); err == nil {
		t.Errorf("a draft of nothing: %s", text)
	}
}

func BenchmarkSurvey(b *testing.B) {
	data, err := os.ReadFile(x100Dir + "flight-1.csv.gz")
	if err != nil {
		b.Fatal(err)
	}
	b.SetBytes(int64(len(data)))
	for b.Loop() {
		raw, err := ingest.OpenRawBytes("flight-1.csv.gz", data)
		if err != nil {
			b.Fatal(err)
		}
		s, err := Of(raw)
		if err != nil {
			b.Fatal(err)
		}
		s.Suggest()
	}
}

// Every parameter of the vocabulary can be recognised by a name.
func TestEveryParameterHasAName(t *testing.T) {
	t.Parallel()
	for _, p := range schemas.Parameters() {
		if len(words().patterns[p.Name]) == 0 {
			t.Errorf("words.yaml has no pattern of %s", p.Name)
		}
	}
}
