package detect

import (
	"slices"
	"testing"

	"downlock/detect/language"
	"downlock/detect/readings"
)

// Of moments at 10, 20 (perhaps) and 30, those in a part from 5 to 25.
func TestOccurrencesOfAPart(t *testing.T) {
	t.Parallel()
	value := func(m readings.Moment, v float64) occurrence {
		return occurrence{order: m, shown: m, value: v, low: v, high: v}
	}
	all := occurrences{[]occurrence{value(sure(10), 1), value(moment(20, 18, 27, true), 2), value(sure(30), 3)}, during(0, 8, 24, 40)}
	p := part{number: 1, begins: exactly(5), ends: exactly(25), open: Opportunity{Begins: exactly(5), Ends: exactly(25), moment: nan}, owned: map[float64]bool{5: true, 25: true}}
	of := func(take string, p part) Measurement {
		m := Measurement{Rule: &MeasurementRule{Take: take}, Certainty: Certain}
		all.measure(&m, &p)
		return m
	}
	kept(t, "first", of("first", p), Measurement{Outcome: Measured, Certainty: Certain, Value: 1, Lowest: 1, Highest: 1, At: &Time{10, 10, 10}, UnknownSeconds: 4})
	kept(t, "last", of("last", p), Measurement{Outcome: Measured, Certainty: Certain, Value: 2, Lowest: 1, Highest: 2, At: &Time{20, 18, 25}, UnknownSeconds: 4})
	kept(t, "of the flight", of("last", part{whole: true}), Measurement{Outcome: Measured, Certainty: Certain, Value: 3, Lowest: 3, Highest: 3, At: &Time{30, 30, 30}, UnknownSeconds: 24})
	kept(t, "beside it", of("first", part{outside: []part{p}}), Measurement{Outcome: Measured, Certainty: Certain, Value: 3, Lowest: 3, Highest: 3, At: &Time{30, 30, 30}, UnknownSeconds: 20})
	late := p
	late.begins, late.ends = exactly(21), exactly(26)
	late.open = Opportunity{Begins: late.begins, Ends: late.ends, moment: nan}
	kept(t, "nominally before it", of("first", late), Measurement{Outcome: DidNotHappen, Certainty: Possible, UnknownSeconds: 2})
	// Where it is the second of two moments that puts them in order, that must lie there too.
	all.all = []occurrence{{order: sure(40), shown: sure(10), value: 1, low: 1, high: 1}}
	kept(t, "the second lies elsewhere", of("first", p), Measurement{Outcome: DidNotHappen, Certainty: Certain, UnknownSeconds: 4})
	all.all = []occurrence{{order: sure(10), shown: sure(30), value: 1, low: 1, high: 1}}
	kept(t, "the first lies elsewhere", of("first", p), Measurement{Outcome: DidNotHappen, Certainty: Certain, UnknownSeconds: 4})
	all.all = []occurrence{{order: sure(40), shown: sure(10), value: 1, low: 1, high: 1}}
	kept(t, "beside it that does not matter", of("first", part{outside: []part{late}}), Measurement{Outcome: Measured, Certainty: Certain, Value: 1, Lowest: 1, Highest: 1, At: &Time{10, 10, 10}, UnknownSeconds: 22})
	for _, c := range []struct {
		name   string
		m      readings.Moment
		beside bool
		sure   bool
	}{
		{"within it in every history", moment(nan, 5, 25, true), false, false},
		{"perhaps before it", moment(nan, 4, 25, true), true, false},
		{"perhaps behind it", moment(nan, 5, 26, true), true, false},
		{"nominally within it", moment(6, 4, 26, true), false, false},
		{"nominally before it", moment(4, 3, 6, true), true, false},
		{"before it", moment(4, 3, 4.5, true), true, true},
	} {
		in, ok := (&part{outside: []part{p}}).moment(c.m)
		alike(t, c.name, []bool{ok, ok && in.Certain}, []bool{c.beside, c.sure})
	}
	for _, c := range []struct {
		name     string
		from, to float64
		in       bool
	}{{"at its end", 25, 25, true}, {"from its end on", 25, 26, false}, {"behind it", 25.5, 26, false}, {"at its start", 5, 5, true}, {"until its start", 4, 5, false}, {"before it", 4, 4.5, false}} {
		_, ok := p.moment(moment(nan, c.from, c.to, true))
		alike(t, c.name, ok, c.in)
	}
	// Counted: one in every history, two in the nominal reading, three in some.
	counts := countedMoments{[]readings.Moment{sure(10), moment(20, 18, 22, false), moment(nan, 12, 13, false), sure(30)}, nil}
	m := Measurement{}
	counts.measure(&m, &p)
	alike(t, "counted", []any{m.Outcome, m.Lowest, m.Value, m.Highest}, []any{Measured, 1.0, 2.0, 3.0})
	counts.unknown = during(0, 8)
	m = Measurement{}
	counts.measure(&m, &p)
	alike(t, "with samples missing", []any{m.Lowest, m.Value, m.Highest > 1e300, m.UnknownSeconds}, []any{1.0, 2.0, true, 3.0})
}

// The horn is heard at 10 and at 30 s, at 100 and 300 kt, and was to be measured in approaches of which there is
// none, or in retractions, one of which is from 5 to 15 s. Height shows whether there was an approach.
func TestMeasuredWithoutOpportunity(t *testing.T) {
	t.Parallel()
	horn, speed := seconds("gear_horn", repeated(10, 0, 2, 1, 18, 0, 2, 1, 9, 0)...), along("computed_airspeed", 40, straight(0, 0, 40, 400))
	told, untold := ReadTracks(flightOf(40, horn, speed, along("radio_altitude", 40, straight(0, 100)))), ReadTracks(flightOf(40, horn, speed))
	of := func(kind OpportunityKind, moments bool) *MeasurementRule {
		r := &MeasurementRule{Opportunity: kind, Take: "last", of: expressionOf(t, "computed_airspeed", language.Number), at: expressionOf(t, "begins(gear_horn)", language.Moments)}
		if !moments {
			r = &MeasurementRule{Opportunity: kind, seconds: expressionOf(t, "gear_horn", language.Condition)}
		}
		return r
	}
	retraction := []Opportunity{{Kind: OpenRetraction, Begins: exactly(5), Ends: exactly(15), moment: nan}}
	around := []Opportunity{{Kind: OpenRetraction, Begins: exactly(5), Ends: exactly(35), moment: nan}}
	type found struct {
		number    int
		outcome   Outcome
		certainty Certainty
		value     float64
		partial   bool
	}
	for _, c := range []struct {
		name string
		env  *Tracks
		rule *MeasurementRule
		open []Opportunity
		want []found
	}{
		{"there was none", told, of(OpenApproach, true), nil, []found{{0, DidNotHappen, Certain, 0, false}}},
		{"there was none, of seconds", told, of(OpenApproach, false), nil, []found{{0, DidNotHappen, Certain, 0, false}}},
		{"there may have been one", untold, of(OpenApproach, true), nil, []found{{0, Measured, Certain, 300, false}}},
		{"there may have been one, of seconds", untold, of(OpenApproach, false), nil, []found{{0, DidNotHappen, Possible, 0, true}}},
		{"another beside it", told, of(OpenRetraction, true), retraction, []found{{1, Measured, Certain, 100, false}, {0, Measured, Certain, 300, false}}},
		{"none beside it", told, of(OpenRetraction, true), around, []found{{1, Measured, Certain, 300, false}}},
		{"in it alone, of seconds", told, of(OpenRetraction, false), retraction, []found{{1, Measured, Certain, 2, false}}},
		{"of the flight", told, of(OpenFlight, true), retraction, []found{{0, Measured, Certain, 300, false}}},
	} {
		var got []found
		for _, m := range measure(c.env, c.rule, c.open) {
			got = append(got, found{m.Opportunity, m.Outcome, m.Certainty, m.Value, m.Partial})
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
}

// Selections of DOWN at 10 and at 30 s count while the speed is above 100 kt: until 29.5 s, half
// way between two samples.
func TestCountedByHand(t *testing.T) {
	t.Parallel()
	lever := repeated(10, 0, 10, 2, 10, 0, 11, 2)
	speed := along("computed_airspeed", 40, straight(29, 150, 30, 50))
	env := ReadTracks(flightOf(40, seconds("gear_lever", lever...), speed))
	at := expressionOf(t, `begins(gear_lever == "DOWN")`, language.Moments)
	moments, unknown := counted(env, at, nil)
	alike(t, "all", []int{len(moments), len(unknown)}, []int{2, 0})
	moments, unknown = counted(env, at, expressionOf(t, "computed_airspeed > 100", language.Condition))
	alike(t, "while", []int{len(moments), len(unknown)}, []int{2, 0})
	alike(t, "the first is certain", []any{moments[0].Nominal, moments[0].Certain, hundredths(moments[0].Earliest), moments[0].Latest}, []any{10.0, true, 9.0, 10.0})
	// The other lies after 29 s; only until 29.5 is it fast enough.
	alike(t, "the second is cut down", []any{moments[1].InNominal(), moments[1].Certain, hundredths(moments[1].Earliest), hundredths(moments[1].Latest)}, []any{false, false, 29.0, 29.5})
	moments, _ = counted(env, at, expressionOf(t, "computed_airspeed > 200", language.Condition))
	alike(t, "never", len(moments), 0)
	// No speed from 5 to 20 s: whether the first counts is unknown then.
	gap := along("computed_airspeed", 4, straight(0, 150))
	env = ReadTracks(flightOf(40, seconds("gear_lever", lever...), gap))
	moments, unknown = counted(env, at, expressionOf(t, "computed_airspeed > 100", language.Condition))
	alike(t, "unknown", []any{len(moments), moments[0].InNominal(), moments[0].Certain, len(unknown)}, []any{2, false, false, 2})
	// No lever from 13 s on; what it may hide from then on does not count below 100 kt, reached at 20.5 s.
	env = ReadTracks(flightOf(40, seconds("gear_lever", lever[:13]...), along("computed_airspeed", 40, straight(20, 150, 21, 50))))
	moments, unknown = counted(env, at, nil)
	alike(t, "hidden", []any{unknown, len(moments), moments[1]}, []any{during(13, 40), 2, moment(nan, 13, 40, false)})
	moments, unknown = counted(env, at, expressionOf(t, "computed_airspeed > 100", language.Condition))
	alike(t, "hidden while it counts", []any{len(unknown), unknown[0].Start, hundredths(unknown[0].End), len(moments), hundredths(moments[1].Latest)}, []any{1, 13.0, 20.5, 2, 20.5})
	// Measured at the moments: 150 kt at the first, 100 halfway and 50 to 150 at the second.
	env = ReadTracks(flightOf(40, seconds("gear_lever", lever...), speed))
	found := atMoments(env, &MeasurementRule{at: at, of: expressionOf(t, "computed_airspeed", language.Number)})
	alike(t, "values", []float64{found.all[0].value, hundredths(found.all[0].low), found.all[1].value, hundredths(found.all[1].low), hundredths(found.all[1].high)}, []float64{150, 150, 50, 50, 150})
	found = atMoments(env, &MeasurementRule{at: at, of: expressionOf(t, "computed_airspeed", language.Number), Around: [2]float64{-5, 0}, Take: "largest"})
	alike(t, "largest of the five seconds before", []float64{found.all[1].value, hundredths(found.all[1].low)}, []float64{150, 150})
	found = atMoments(env, &MeasurementRule{at: at, of: expressionOf(t, "computed_airspeed", language.Number), Around: [2]float64{0, 5}, Take: "largest"})
	alike(t, "largest of the five seconds behind", []float64{found.all[1].value, hundredths(found.all[1].low), hundredths(found.all[1].high)}, []float64{50, 50, 150})
}

// The lever goes to DOWN between 9 and 10 s, the speed falls by a knot a second from 200 kt: of the nine seconds before
// it the largest is 199 kt, at least 199 and at most 200, and of the nine behind it the smallest 181 kt.
func TestFarAroundByHand(t *testing.T) {
	t.Parallel()
	env := ReadTracks(flightOf(40, seconds("gear_lever", repeated(10, 0, 31, 2)...), along("computed_airspeed", 40, straight(0, 200, 40, 160))))
	for _, c := range []struct {
		around [2]float64
		take   string
		want   []float64
	}{{[2]float64{-9, 0}, "largest", []float64{199, 199, 200}}, {[2]float64{0, 9}, "smallest", []float64{181, 181, 182}}, {[2]float64{-9, -7}, "smallest", []float64{197, 197, 198}}} {
		o := atMoments(env, &MeasurementRule{at: expressionOf(t, `begins(gear_lever == "DOWN")`, language.Moments), of: expressionOf(t, "computed_airspeed", language.Number), Around: c.around, Take: c.take}).all[0]
		alike(t, c.take, []float64{hundredths(o.value), hundredths(o.low), hundredths(o.high)}, c.want)
	}
}

// Approaches from 10 to 20 and 50 to 60 s, alone, with the time before them or after them.
func TestPartsByHand(t *testing.T) {
	t.Parallel()
	f := flightOf(100, along("pressure_altitude", 100, straight(0, 0)))
	f.height = readings.Spliced{{Line: f.signals.Line("pressure_altitude"), Where: during(0, 100)}}
	env := newTracks(f, nil)
	open := []Opportunity{{Kind: OpenApproach, Begins: exactly(10), Ends: exactly(20), moment: nan}, {Kind: OpenApproach, Begins: exactly(50), Ends: exactly(60), moment: 55}, {Kind: OpenAir, Begins: exactly(0), Ends: exactly(99)}}
	for including, want := range map[string][]Span{"": {stretch(10, 20), stretch(50, 60)}, IncludingBefore: {stretch(0, 20), stretch(20, 60)}, IncludingAfter: {stretch(10, 50), stretch(50, 100)}} {
		parts, _ := partsOf(env, &MeasurementRule{Opportunity: OpenApproach, Including: including}, open)
		var got []Span
		for i, p := range parts {
			got = append(got, stretch(p.begins.Nominal, p.ends.Nominal))
			alike(t, "number", p.number, i+1)
		}
		alike(t, including, got, want)
	}
	parts, told := partsOf(env, &MeasurementRule{Opportunity: OpenFlight}, open)
	alike(t, "of the flight", []any{len(parts), told}, []any{0, true})
	parts, _ = partsOf(env, &MeasurementRule{Opportunity: OpenApproach}, open)
	alike(t, "owned", []bool{parts[0].owned[10], parts[0].owned[55], parts[0].owned[99]}, []bool{true, true, false})
	c := readings.Always(during(0, 100))
	alike(t, "condition in it", parts[0].condition(c, during(0, 100)).True, during(10, 20))
	alike(t, "condition in all", (&part{whole: true}).condition(c, during(0, 100)).True, during(0, 100))
}

// Airspeed alone tells a flight above 80 kt. Less than a minute above it without a climb is a
// rejected take-off; a stay below it that no descent leads to may be in the air.
func TestAirborneByAirspeedByHand(t *testing.T) {
	t.Parallel()
	of := func(seconds float64, height func(float64) float64) readings.Condition {
		speed := along("computed_airspeed", 600, func(s float64) float64 {
			if s > 200 && s <= 200+seconds {
				return 120
			}
			return 20
		})
		return airborneByAirspeed(flightOf(600, speed, along("pressure_altitude", 600, height)).signals)
	}
	level := straight(0, 500)
	alike(t, "rejected", len(of(59, level).True), 0)
	alike(t, "a minute and more", of(61, level).True.Seconds() > 60, true)
	minute := along("computed_airspeed", 600, func(s float64) float64 { // 80 kt half a second behind 200 and 260 s
		return map[bool]float64{true: 120, false: 40}[s > 200 && s <= 260]
	})
	// A minute is no rejected take-off, and as nothing leads to the ground before and after it, it may be in the air there, too.
	alike(t, "a minute", airborneByAirspeed(flightOf(600, minute, along("pressure_altitude", 600, level)).signals).True, during(0, 600))
	climbs := straight(210, 500, 230, 1500, 240, 1500, 258, 500)
	alike(t, "with a climb", of(59, climbs).True.Seconds() > 55, true)
	line := func(f func(float64) float64) *readings.Line {
		return flightOf(600, along("pressure_altitude", 600, f)).signals.Line("pressure_altitude")
	}
	for _, c := range []struct {
		name   string
		height func(float64) float64
		want   bool
	}{
		{"200 ft higher before", straight(100, 700, 200, 500), true},
		{"less", straight(100, 699, 200, 500), false},
		{"lower before by 100 ft", straight(50, 800, 100, 400, 200, 500), true},
		{"lower by more", straight(50, 800, 100, 399, 200, 500), false},
		{"level", level, false},
	} {
		alike(t, c.name, descended(line(c.height), stretch(60, 180), stretch(200, 300)), c.want)
	}
	// Below 80 kt from 240 to 320 s, less fast than is thought possible: with a descent of 500 ft before it and a
	// climb after it that is a landing, without one of them it may be in the air. By airspeed alone the
	// stay is bounded to within 30 s.
	for _, c := range []struct {
		name   string
		height func(float64) float64
		lands  bool
	}{
		{"down and up", straight(150, 1000, 200, 500, 400, 500, 440, 1000), true},
		{"down, and no climb", straight(150, 1000, 200, 500), false},
		{"no descent, and up", straight(400, 500, 440, 1000), false},
		{"neither", level, false},
		{"up more than two minutes after it", straight(150, 1000, 200, 500, 440, 500, 441, 1000), false},
		{"up within two minutes of it", straight(150, 1000, 200, 500, 439, 500, 440, 1000), true},
		{"down more than two minutes before it", straight(120, 1000, 121, 500, 400, 500, 440, 1000), false},
		{"down within two minutes of it", straight(121, 1000, 122, 500, 400, 500, 440, 1000), true},
	} {
		speed := along("computed_airspeed", 600, straight(240, 120, 241, 40, 320, 40, 321, 120))
		in := airborneByAirspeed(flightOf(600, speed, along("pressure_altitude", 600, c.height)).signals)
		alike(t, c.name, []bool{in.True.Contains(280), in.False.Contains(280), in.Possible.Contains(280), in.Certain.Contains(280)}, []bool{!c.lands, c.lands, !c.lands, false})
		alike(t, c.name+": before", in.True.Contains(100), true)
	}
	// Never as fast as 80 kt, and up by 1000 ft from 200 to 210 s: higher by 50 ft and more than ten seconds before from 201
	// to 219 s, so that it climbs from 191 to 219 s, and surely ten seconds within that.
	slow40 := airborneByAirspeed(flightOf(600, along("computed_airspeed", 600, straight(0, 40)), along("pressure_altitude", 600, straight(200, 500, 210, 1500))).signals)
	alike(t, "a climb at 40 kt", slow40, readings.Condition{Certain: during(201, 209), True: during(201, 209), False: during(0, 201, 209, 600), Possible: during(191, 219)})
	// On the ground at the start and at the end of the recording nothing has to lead to it.
	ends := along("computed_airspeed", 600, straight(0, 20, 50, 20, 60, 120, 500, 120, 510, 20))
	in := airborneByAirspeed(flightOf(600, ends, along("pressure_altitude", 600, straight(60, 500, 120, 3000, 400, 3000, 500, 500))).signals)
	alike(t, "on the ground at both ends", []bool{in.True.Contains(10), in.Possible.Contains(10), in.True.Contains(590), in.Possible.Contains(590), in.True.Contains(300)}, []bool{false, false, false, false, true})
	alike(t, "nothing recorded before", descended(line(level), stretch(-200, -100), stretch(200, 300)), true)
	alike(t, "nothing recorded on the ground", descended(line(level), stretch(60, 180), stretch(900, 999)), true)
	v := line(straight(0, 3000, 200, 500, 400, 3000))
	alike(t, "perhaps on the wheels", perhapsOnWheels(v), during(140, 260))
	alike(t, "a flat valley is none", perhapsOnWheels(line(straight(0, 800, 200, 500, 400, 800))), during())
	slowSet := flightOf(40, along("ground_speed", 40, straight(10, 40, 20, 20))).signals
	alike(t, "too slow to fly", slow(slowSet)[0].Start > 14.99 && slow(slowSet)[0].Start < 15.01, true)
	radio := airborneByRadioAltitude(flightOf(60, along("radio_altitude", 60, straight(20, 0, 30, 100, 40, 0))).signals)
	alike(t, "by radio altitude", radio.True, during(21, 39))
	alike(t, "perhaps", []float64{hundredths(radio.Possible[0].Start), hundredths(radio.Possible[0].End)}, []float64{16, 54})
	// By airspeed where no ground speed is: slow until 50 s.
	x, ok := slowPart(flightOf(60, along("computed_airspeed", 60, straight(50, 20, 60, 220))).signals, stretch(0, 60))
	alike(t, "slow by airspeed", []any{x, ok}, []any{stretch(0, 51), true})
}

// From 350 ft the aircraft comes down by 250 ft to the lowest altitude on the ground, and by
// 117 ft to that of the first second: 200 ft are a descent.
func TestDescendedByHand(t *testing.T) {
	altitude := ReadTracks(flightOf(20, along("pressure_altitude", 20, straight(0, 350, 10, 250, 11, 250, 20, 100)))).flight.signals.Line("pressure_altitude")
	alike(t, "to the lowest", descended(altitude, stretch(0, 10), stretch(11, 20)), true)
	alike(t, "to the first", descended(altitude, stretch(0, 10), stretch(11, 12)), false)
}

// The cut-out is used at 10 s, the legs lock at 14 and, after a moment, again at 20 s.
func TestSwitchUsesByHand(t *testing.T) {
	t.Parallel()
	f := flightOf(40, seconds("gear_down_locked", repeated(14, 0, 4, 1, 2, 0, 21, 1)...))
	f.airborne = readings.Always(during(0, 40))
	f.Profile.Legs = []string{"nose", "left", "right"}
	env := newTracks(f, nil)
	used := func(from, to float64) SwitchUse {
		c := readings.Condition{Certain: during(from, to), True: during(from, to), Possible: during(from, to)}
		uses := switchUses(env, c)
		if len(uses) != 1 {
			t.Fatalf("%d uses", len(uses))
		}
		return uses[0]
	}
	u := used(10, 12)
	alike(t, "before the locks", []any{u.Locked, u.LockedAfter, u.HeightKnown, u.Start.Nominal, u.End.Nominal}, []any{true, 4.0, false, 10.0, 12.0})
	u = used(18.5, 19)
	alike(t, "between them", []any{u.Locked, u.LockedAfter}, []any{true, 1.5})
	f.height = readings.Spliced{{Line: ReadTracks(flightOf(40, along("pressure_altitude", 40, straight(0, 0, 40, 400)))).flight.signals.Line("pressure_altitude"), Where: during(0, 40)}}
	u = used(10, 12) // at ten feet a second
	alike(t, "height", []any{u.Height, u.HeightKnown}, []any{100.0, true})
	u = used(15, 16)
	alike(t, "while locked", []any{u.Locked, u.LockedAfter}, []any{false, 0.0})
}
