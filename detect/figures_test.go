package detect

import (
	"math"
	"testing"

	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/memory"
	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"downlock/detect/readings"
	"downlock/detect/samples"
	"downlock/ingest"
	"downlock/schemas"
)

func alike(t *testing.T, what string, got, want any) {
	t.Helper()
	if diff := cmp.Diff(want, got, cmpopts.EquateEmpty(), cmpopts.EquateApprox(0, 1e-9), cmpopts.EquateNaNs(),
		cmp.AllowUnexported(AuditFinding{}, Audit{}, start{}, phaseMark{}, stay{}, bounds{}, occurrence{})); diff != "" {
		t.Errorf("%s (-want +got):\n%s", what, diff)
	}
}

// seconds is a series sampled each second from 0, a number or, for other parameters, a code.
func seconds(name string, values ...float64) *ingest.Series {
	p, ok := schemas.LookupParameter(name)
	if !ok {
		panic("no parameter " + name)
	}
	at, n, c := array.NewFloat64Builder(memory.DefaultAllocator), array.NewFloat64Builder(memory.DefaultAllocator), array.NewUint8Builder(memory.DefaultAllocator)
	for i, v := range values {
		at.Append(float64(i))
		n.Append(v)
		c.Append(uint8(v))
	}
	s := &ingest.Series{Parameter: p, Interval: 1, Longest: 1, Gap: 3, Times: at.NewFloat64Array(), Values: n.NewFloat64Array()}
	if !p.Numeric() {
		s.Values = c.NewUint8Array()
	}
	return s
}

// repeated is a list of stretches: so many times a value, and so on.
func repeated(pairs ...float64) (out []float64) {
	for i := 0; i < len(pairs); i += 2 {
		for range int(pairs[i]) {
			out = append(out, pairs[i+1])
		}
	}
	return out
}

// flightOf is a flight of the series from 0 to the end.
func flightOf(end float64, series ...*ingest.Series) *Flight {
	r := &ingest.Recording{Series: series, End: end}
	return &Flight{Recording: r, Profile: &schemas.Profile{}, Span: stretch(0, end), signals: samples.New(r)}
}

func during(ends ...float64) (out readings.Spans) {
	for i := 0; i < len(ends); i += 2 {
		out = append(out, stretch(ends[i], ends[i+1]))
	}
	return out
}

func sure(at float64) readings.Moment {
	return readings.Moment{Nominal: at, Earliest: at, Latest: at, Certain: true}
}

// 400 ft down and 400 ft up are part of the same approach; a foot more of each is not.
func TestGoAroundDeviation(t *testing.T) {
	t.Parallel()
	anywhere := func(int) bool { return true }
	for _, c := range []struct {
		name      string
		altitudes []float64
		want      []int
	}{
		{"as large as it may be", []float64{0, 2000, 1600, 2000}, nil},
		{"the descent as large", []float64{2000, 1600, 2001}, nil},
		{"the climb as large", []float64{2001, 1600, 2000}, nil},
		{"both larger", []float64{0, 2001, 1600, 2001, 1500}, []int{2}},
		{"the lowest point", []float64{2000, 1500, 1400, 1400, 1300, 1350, 1800}, []int{4}},
		{"the first of two as low", []float64{2000, 1400, 1300, 1300, 1800}, []int{2}},
		{"two", []float64{2000, 1000, 1500, 1000, 1500}, []int{1, 3}},
		{"a climb between too small to be one", []float64{2000, 1000, 1300, 900, 1301}, []int{3}},
		{"a climb at first", []float64{0, 500, 1000}, nil},
		{"none", nil, nil},
	} {
		alike(t, c.name, turningPoints(c.altitudes, anywhere), c.want)
	}
	alike(t, "not low", turningPoints([]float64{2000, 1000, 1500, 900, 1500}, func(i int) bool { return i == 3 }), []int{3})
	first, last := dip([]float64{900, 600, 500, 200, 300, 599, 600, 900}, 3)
	alike(t, "dip", []int{first, last}, []int{1, 6})
	first, last = dip([]float64{500, 200, 300}, 1)
	alike(t, "dip to the ends", []int{first, last}, []int{0, 2})
}

// Eight changes within ten seconds are chatter; seven, or a hundredth of a second more, are not.
func TestChatterByHand(t *testing.T) {
	t.Parallel()
	alike(t, "eight in ten", chatter([]float64{0, 1, 2, 3, 4, 5, 6, 10}), during(0, 10))
	alike(t, "in a little more", chatter([]float64{0, 1, 2, 3, 4, 5, 6, 10.01}), during())
	alike(t, "seven", chatter([]float64{0, 1, 2, 3, 4, 5, 6}), during())
	alike(t, "nine", chatter([]float64{0, 1, 2, 3, 4, 5, 6, 7, 8}), during(0, 8))
}

// A warning is due from 10 to 30 s and usually late by 2 s.
func TestQuietFindingsByHand(t *testing.T) {
	t.Parallel()
	windows := during(0, 100)
	is := func(ends ...float64) readings.Condition { return readings.Always(windows).Clip(during(ends...)) }
	expected := is(10, 30)
	for _, c := range []struct {
		name                     string
		quiet, sounded, inEffect readings.Condition
		want                     []Finding
		delay                    float64
	}{
		{"half of it silenced", is(10, 30), is(), is(0, 20), []Finding{Missed}, 0},
		{"more than half", is(10, 30), is(), is(0, 20.5), []Finding{WronglySilenced}, 0},
		{"silenced, but elsewhere", is(10, 30), is(), is(30, 60), []Finding{Missed}, 0},
		{"late", is(10, 15), is(15, 30), is(), []Finding{Late}, 5},
		{"late from a little behind the start", is(11.5, 15), is(15, 30), is(), []Finding{Late}, 3.5},
		{"quiet two seconds behind the start", is(12, 15), is(10, 12, 15, 30), is(), []Finding{Missed}, 0},
		{"sounds when it is due no more", is(10, 30), is(30, 40), is(), []Finding{Missed}, 0},
		{"no longer than usual", is(10, 12), is(12, 30), is(), nil, 0},
		{"hardly longer", is(10, 12.001), is(12.001, 30), is(), []Finding{Late}, 2.001},
		{"twice", is(10, 15, 20, 24), is(15, 20, 24, 30), is(), []Finding{Late, Missed}, 5},
	} {
		var a Audit
		a.quietFindings(c.quiet, expected, c.sounded, c.inEffect, 2)
		var got []Finding
		for _, f := range a.Findings {
			got = append(got, f.Finding)
		}
		alike(t, c.name, got, c.want)
		if len(a.Findings) > 0 && math.Abs(a.Findings[0].Delay.Nominal-c.delay) > 1e-9 {
			t.Errorf("%s: quiet for %v", c.name, a.Findings[0].Delay)
		}
	}
}

// The lever is at UP from 10 to 40 s, where the warning is required. It sounds from 15 to 25 and from 50 to
// 53 s, and its switch, which may silence it, is on from 25 to 30 s: it is to sound from 10 to 25 and from
// 30 to 40 s, 25 s, and does for 10 of them. All samples are a second apart.
func TestAuditByHand(t *testing.T) {
	t.Parallel()
	set, err := ParseRules("a.yaml", []byte(packHead+`warnings:
  - {warning: w, title: t, required: 'gear_lever == "UP"', may_be_silenced: computed_airspeed > 100, silenced: gear_horn_cutout, sounded: gear_horn, delay: 2}
  - {warning: plain, title: t, required: 'gear_lever == "UP"', sounded: gear_horn, tolerated: computed_airspeed > 100, delay: 2}
rules:
  - {id: a, title: t, meaning: m, basis: common practice, when: gear_horn}
`))
	if err != nil {
		t.Fatal(err)
	}
	lever, horn := repeated(10, 2, 30, 0, 21, 2), repeated(15, 0, 10, 1, 25, 0, 3, 1, 8, 0)
	cutout, speed := seconds("gear_horn_cutout", repeated(25, 0, 5, 1, 31, 0)...), along("computed_airspeed", 60, straight(0, 150))
	of := func(name string, series ...*ingest.Series) *Audit {
		f := flightOf(60, append(series, speed, seconds("gear_down_locked", repeated(33, 0, 28, 1)...))...)
		f.Profile.Legs = []string{"nose", "left", "right"}
		f.airborne = readings.Always(during(0, 60))
		return audit(newTracks(f, criteria{}), set.Warning(name))
	}
	type finding struct {
		finding    Finding
		start, end float64
	}
	findings := func(a *Audit) (out []finding) {
		for _, f := range a.Findings {
			out = append(out, finding{f.Finding, f.Start.Nominal, f.End.Nominal})
		}
		return out
	}
	causes := func(a *Audit) (out []Cause) {
		for _, s := range a.Soundings {
			out = append(out, s.Cause)
		}
		return out
	}
	found := cmp.AllowUnexported(finding{})
	a := of("w", seconds("gear_lever", lever...), seconds("gear_horn", horn...), cutout)
	alike(t, "sums", []any{a.Coverage, a.Due, a.DueSeconds, a.Sounded, a.SoundedSeconds, a.AgreementSeconds, a.UnknownSeconds, len(a.Missing)}, []any{Evaluated, 2, 25.0, 2, 13.0, 10.0, 0.0, 0})
	alike(t, "where", []readings.Spans{a.due, a.sounded, a.silenced}, []readings.Spans{during(10, 40), during(15, 25, 50, 53), during(25, 30)})
	if diff := cmp.Diff([]finding{{Late, 10, 15}, {Missed, 30, 40}, {Nuisance, 50, 53}, {Silenced, 25, 30}}, findings(a), found); diff != "" {
		t.Error(diff)
	}
	alike(t, "causes", causes(a), []Cause{CriteriaMet, WithoutCause})
	if len(a.SwitchUses) != 1 || a.SwitchUses[0].Start.Nominal != 25 || a.SwitchUses[0].LockedAfter != 8 {
		t.Errorf("uses of the switch: %+v", a.SwitchUses)
	}
	// Without a switch it is to sound for 30 s, also while the switch is on; sounding is tolerated everywhere.
	a = of("plain", seconds("gear_lever", lever...), seconds("gear_horn", horn...), cutout)
	alike(t, "without a switch", []any{a.Due, a.DueSeconds, a.AgreementSeconds, a.silenced, a.SwitchUses == nil, causes(a)}, []any{1, 30.0, 10.0, readings.Spans(nil), true, []Cause{CriteriaMet, AlsoAllowed}})
	if diff := cmp.Diff([]finding{{Late, 10, 15}, {Missed, 25, 40}}, findings(a), found); diff != "" {
		t.Error(diff)
	}
	a = of("plain", seconds("gear_lever", lever...), seconds("gear_horn", repeated(15, 0, 1, 1, 45, 0)...))
	alike(t, "heard in one sample", []any{a.Sounded, a.SoundedSeconds, causes(a)}, []any{1, 1.0, []Cause{CriteriaMet}})
	// The horn is not recorded from 55 s on, the lever not from 58 s on.
	a = of("plain", seconds("gear_lever", lever[:58]...), seconds("gear_horn", horn[:55]...))
	alike(t, "partly", []any{a.Coverage, a.UnknownSeconds, a.unknown}, []any{PartlyEvaluated, 5.0, during(55, 60)})
	a = of("plain", seconds("gear_horn", horn...))
	alike(t, "no lever", []any{a.Coverage, a.Missing, causes(a), len(a.Findings)}, []any{NotEvaluable, []string{"gear_lever: not mapped in the profile"}, []Cause{CauseUnknown, CauseUnknown}, 0})
	a = of("plain", seconds("gear_lever", lever...))
	alike(t, "no horn", []any{a.Coverage, a.Missing, len(a.Soundings)}, []any{NotEvaluable, []string{"gear_horn: not mapped in the profile"}, 0})
}

// Found from 10 to 14, surely from 11 to 13, perhaps from 8 to 17.
func TestFindingsByHand(t *testing.T) {
	t.Parallel()
	c := readings.Condition{Certain: during(11, 13), True: during(10, 14, 20, 21), Possible: during(8, 17, 19, 22)}
	got := findings(c, 1)
	alike(t, "longer than a second", got, []AuditFinding{{Certainty: Certain, Start: Time{10, 8, 11}, End: Time{14, 13, 17}, sure: during(11, 13), maybe: during(8, 17)}})
	got = findings(c, 2)
	alike(t, "longer than the sure part", got, []AuditFinding{{Certainty: Possible, Start: Time{10, 8, 17}, End: Time{14, 8, 17}, sure: during(11, 13), maybe: during(8, 17)}})
	if got := findings(c, 4); len(got) != 0 {
		t.Errorf("four seconds are not longer than four: %v", got)
	}
	alike(t, "holds it", containing(during(0, 5, 7, 9), stretch(7, 9)), stretch(7, 9))
	alike(t, "reaches beyond", containing(during(0, 5, 7, 9), stretch(6, 9)), stretch(6, 9))
	alike(t, "within the first", containing(during(0, 5, 7, 9), stretch(1, 2)), stretch(0, 5))
}

// Due from 10 to 20 s, with two seconds on both sides: what sounds from 5 to 9 s is unexpected
// until 8, and from 22 on.
func TestUnexpectedByHand(t *testing.T) {
	t.Parallel()
	windows := during(0, 100)
	is := func(ends ...float64) readings.Condition {
		return readings.Condition{Certain: during(ends...), True: during(ends...), False: during(ends...).Complement(windows), Possible: during(ends...)}
	}
	alike(t, "unexpected", unexpected(is(5, 9, 15, 25), is(10, 20), 2, windows), is(5, 8, 22, 25))
	// Not known from 20 to 30: near there nothing is false, and what sounds need not be unexpected.
	unknown := is(10, 20)
	unknown.False, unknown.Possible = during(0, 10, 30, 100), during(10, 30)
	alike(t, "not known", unexpected(is(31, 40), unknown, 2, windows), readings.Condition{
		Certain: during(32, 40), True: during(32, 40), False: during(0, 31, 40, 100), Possible: during(31, 40)})
}

// Marks share a time, follow one another in the same phase, or come last.
func TestPhaseSpansByHand(t *testing.T) {
	t.Parallel()
	at := func(x float64) Time { return Time{x, x - 1, x + 1} }
	got := phaseSpans([]phaseMark{{at(0), Taxi}, {at(10), Standing}, {at(10), TakeOff}, {at(20), TakeOff}, {at(30), EnRoute}}, stretch(0, 50))
	alike(t, "phases", got, []PhaseSpan{
		{Taxi, stretch(0, 10), at(0), at(10)}, {TakeOff, stretch(10, 30), at(10), at(30)}, {EnRoute, stretch(30, 50), at(30), exactly(50)},
	})
	alike(t, "the same at first", phaseSpans([]phaseMark{{at(0), Taxi}, {at(5), Taxi}, {at(10), TakeOff}}, stretch(0, 50)), []PhaseSpan{{Taxi, stretch(0, 10), at(0), at(10)}, {TakeOff, stretch(10, 50), at(10), exactly(50)}})
	f := &Flight{Phases: got}
	for x, want := range map[float64]Phase{0: Taxi, 9.9: Taxi, 10: TakeOff, 30: EnRoute, 50: UnknownPhase, -1: UnknownPhase} {
		alike(t, "phase at", f.phaseAt(x), want)
	}
}

// Five seconds below one knot are standing; less, or one knot, is a taxi.
func TestStandingByHand(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name   string
		speeds []float64
		want   []phaseMark
	}{
		// The line passes 1 kt halfway between 2 and 0: half a second outside the zeros.
		{"five seconds", repeated(3, 2, 5, 0, 3, 2), []phaseMark{{Time{2.5, 2.5, 2.5}, Standing}, {Time{7.5, 7.5, 7.5}, Taxi}}},
		{"four", repeated(3, 2, 4, 0, 3, 2), nil},
		{"4.8, from 0.1 of 1.1 kt on", repeated(3, 1.1, 4, 0, 3, 1.1), nil},
		{"at one knot", repeated(9, 1), nil},
	} {
		f := flightOf(float64(len(c.speeds)-1), seconds("ground_speed", c.speeds...))
		var got []phaseMark
		f.markStanding(func(at Time, p Phase) { got = append(got, phaseMark{at, p}) }, f.Span)
		alike(t, c.name, got, c.want)
	}
	// 1.2 kt from 10 to 16 s, known to within 0.5, may be a standstill; from 20 to 24 s that would be too short.
	// The line from 9.2 to 1.2 kt passes 1.5 kt 0.0375 s before 10 s.
	slow := seconds("ground_speed", append(repeated(10, 9.2, 7, 1.2, 3, 9.2, 5, 1.2, 5, 9.2), 0, 0, 0, 0, 0, 0)...)
	slow.Accuracy = 0.5
	f := flightOf(35, slow)
	f.markStanding(func(Time, Phase) {}, stretch(0, 28))
	alike(t, "perhaps standing", f.perhapsStanding, during(10-0.0375, 16+0.0375))
	f.Phases = []PhaseSpan{{Taxi, stretch(0, 30), exactly(0), exactly(30)}, {Standing, stretch(30, 35), exactly(30), exactly(35)}}
	standing, taxi := f.inPhase(Standing), f.inPhase(Taxi)
	alike(t, "standing", []readings.Spans{standing.Certain, standing.True, standing.Possible}, []readings.Spans{during(30, 35), during(30, 35), during(10-0.0375, 16+0.0375, 30, 35)})
	alike(t, "taxi", []readings.Spans{taxi.Certain, taxi.True, taxi.Possible}, []readings.Spans{during(0, 10-0.0375, 16+0.0375, 30), during(0, 30), during(0, 30)})
	f.markStanding(func(Time, Phase) {}, stretch(28, 35))
	alike(t, "a second taxi", len(f.perhapsStanding), 2)
}

// Of moments at 3, 5 and 9, where 5 need not happen and one may come at 1 to 2.
func TestFirstOfByHand(t *testing.T) {
	t.Parallel()
	perhaps := readings.Moment{Nominal: math.NaN(), Earliest: 1, Latest: 2}
	moments := []readings.Moment{perhaps, sure(3), {Nominal: 5, Earliest: 4, Latest: 6}, sure(9)}
	for _, c := range []struct {
		within      Span
		first, last Time
		ok          bool
	}{
		{stretch(0, 10), Time{3, 1, 3}, Time{9, 9, 9}, true},
		{stretch(1, 10), Time{3, 1, 3}, Time{9, 9, 9}, true},
		{stretch(1.5, 10), Time{3, 3, 3}, Time{9, 9, 9}, true},
		{stretch(3, 9), Time{3, 3, 3}, Time{9, 9, 9}, true},
		{stretch(4, 10), Time{5, 4, 9}, Time{9, 9, 9}, true},
		{stretch(4, 8), Time{5, 4, 8}, Time{5, 4, 6}, true},
		{stretch(0, 6), Time{3, 1, 3}, Time{5, 3, 6}, true},
		{stretch(6.5, 9), Time{9, 9, 9}, Time{9, 9, 9}, true},
		{stretch(10, 20), Time{}, Time{}, false},
		{stretch(5.5, 8), Time{}, Time{}, false},
	} {
		first, ok := firstOf(moments, c.within)
		alike(t, "first", []any{first, ok}, []any{c.first, c.ok})
		last, ok := lastOf(moments, c.within)
		alike(t, "last", []any{last, ok}, []any{c.last, c.ok})
	}
}

// Of a moment at 5 s that need not be and a certain one at 8 to 10 s: up to 8 s the second may be the first.
func TestFirstOfTwoByHand(t *testing.T) {
	t.Parallel()
	moments := []readings.Moment{moment(5, 4, 6, false), moment(9, 8, 10, true)}
	for end, want := range map[float64]Time{7: {5, 4, 7}, 8: {5, 4, 10}, 8.5: {5, 4, 10}, 20: {5, 4, 10}} {
		first, ok := firstOf(moments, stretch(0, end))
		alike(t, "first", []any{first, ok}, []any{want, true})
	}
	moments[1].Certain = false // there may be none at all
	for end, want := range map[float64]Time{7: {5, 4, 7}, 8: {5, 4, 8}, 20: {5, 4, 20}} {
		first, ok := firstOf(moments, stretch(0, end))
		alike(t, "first, perhaps", []any{first, ok}, []any{want, true})
	}
	f := flightOf(40, along("pressure_altitude", 40, straight(0, 0, 40, 400)))
	f.height = readings.Spliced{{Line: f.signals.Line("pressure_altitude"), Where: during(0, 40)}}
	alike(t, "the height's stretches", f.heightEnvelope().Each, stretchSeconds)
}

// Values 9, 5, 4, 5, 9 at 0 to 4 s: the smallest lies at 2 s. Known to within half, 5 may be
// it too, and 9 not.
func TestExtremeTimeByHand(t *testing.T) {
	t.Parallel()
	times, values := []float64{0, 1, 2, 3, 4}, []float64{9, 5, 4, 5, 9}
	rank := func(i int) float64 { return values[i] }
	within := stretch(-1, 6)
	alike(t, "exact", extremeTime(times, 2, within, 0, rank), Time{2, 1, 3})
	alike(t, "to a half", extremeTime(times, 2, within, 0.5, rank), Time{2, 0, 4})
	alike(t, "to less", extremeTime(times, 2, within, 0.49, rank), Time{2, 1, 3})
	alike(t, "to ten", extremeTime(times, 2, within, 10, rank), Time{2, -1, 6})
}

// A level of 1000 ft held to 30 ft is left at its last sample so near, not when it has sunk
// by the 100 ft that end it.
func TestLeavesByHand(t *testing.T) {
	t.Parallel()
	values := append(repeated(40, 1000), 970, 969, 930, 910)
	shape := altitudes{readings.Sampling{Interval: 1, Gap: 3}, values}
	for i := range values {
		shape.Times = append(shape.Times, float64(i))
	}
	alike(t, "left", leaves(shape, readings.Rest{Span: stretch(0, 43), Value: 1000}), 40.0)
	alike(t, "never left", leaves(shape, readings.Rest{Span: stretch(0, 30), Value: 1000}), 30.0)
	// Of 1000, 940 and 1060 ft the one in the middle is the first.
	odd := altitudes{readings.Sampling{Times: []float64{0, 20, 40}, Interval: 20, Gap: 60}, []float64{1000, 940, 1060}}
	alike(t, "left at the first", leaves(odd, readings.Rest{Span: stretch(0, 40), Value: 1000}), 0.0)
}

// A handle that rests three seconds at a detent is still moving, a tenth more and it moves
// anew; a slow column needs one and a half of its intervals.
func TestOneMovementByHand(t *testing.T) {
	t.Parallel()
	flap := func(interval float64, times ...float64) *readings.HeldNumber {
		values := make([]float64, len(times))
		for i := range values {
			values[i] = float64(i)
		}
		return &readings.HeldNumber{Held: readings.NewHeld(readings.Sampling{Times: times, Interval: interval, Gap: 100}, values)}
	}
	for _, c := range []struct {
		name string
		of   *readings.HeldNumber
		want []float64
	}{
		{"three seconds", flap(1, 0, 1, 4, 7), []float64{1}},
		{"more", flap(1, 0, 1, 4, 7.1), []float64{1, 7.1}},
		{"slow", flap(4, 0, 4, 10, 16), []float64{4}},
		{"slow, more", flap(4, 0, 4, 10, 16.1), []float64{4, 16.1}},
	} {
		for _, d := range []readings.Direction{readings.Increases, readings.Changes} {
			moments, _ := movements(c.of, d, during(0, 100))
			var got []float64
			for _, m := range moments {
				got = append(got, m.Nominal)
			}
			alike(t, c.name, got, c.want)
		}
		if moments, _ := movements(c.of, readings.Decreases, during(0, 100)); len(moments) > 0 {
			t.Errorf("%s: decreases at %v", c.name, moments)
		}
	}
}

// The switch comes on with the criteria, at 10, and the warning only after it, or never.
func TestSilencedFirstByHand(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name                   string
		due, sounded, silenced readings.Spans
		want                   bool
	}{
		{"never sounds", during(10, 30), nil, during(11, 20), true},
		{"sounds after", during(10, 30), during(12, 20), during(11, 20), true},
		{"sounds first", during(10, 30), during(11, 20), during(12, 20), false},
		{"together", during(10, 30), during(11, 20), during(11, 20), false},
		{"long after", during(10, 30), nil, during(15.5, 20), false},
		{"at the last moment", during(10, 30), nil, during(15, 20), true},
		{"before by two seconds", during(10, 30), nil, during(8, 20), true},
		{"long before", during(10, 30), nil, during(7.9, 20), false},
		{"sounds, never silenced", during(10, 30), during(11, 20), nil, false},
		{"first once, not the other time", during(10, 30, 50, 60), during(51, 60), during(11, 20), false},
		{"nothing at all", during(10, 30), nil, nil, false},
	} {
		a := Audit{due: c.due, sounded: c.sounded, silenced: c.silenced}
		alike(t, c.name, a.silencedFirst(5), c.want)
	}
}

// A switch ends a warning that sounds when it comes on and stops within two seconds.
func TestSilencesByHand(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name          string
		uses, sounded readings.Spans
		want          bool
	}{
		{"within two seconds", during(10, 20), during(5, 12), true},
		{"a little later", during(10, 20), during(5, 12.1), false},
		{"at once", during(10, 20), during(5, 10), true},
		{"it began with it", during(10, 20), during(10, 11), false},
		{"it was over", during(10, 20), during(5, 9.9), false},
		{"the second of two", during(0, 1, 10, 20), during(5, 12), true},
	} {
		alike(t, c.name, silences(c.uses, c.sounded), c.want)
	}
	alike(t, "begins at the start", anyBegins(during(10, 20), stretch(10, 15)), true)
	alike(t, "begins at the end", anyBegins(during(10, 20), stretch(5, 10)), true)
	alike(t, "begins before", anyBegins(during(10, 20), stretch(10.1, 15)), false)
	alike(t, "begins after", anyBegins(during(10, 20), stretch(5, 9.9)), false)
	alike(t, "in the second place", begunIn(during(10, 20), during(0, 1, 9, 11)), true)
	alike(t, "in none", begunIn(during(10, 20), during(0, 1, 11, 12)), false)
}

// An event goes on while the looser condition holds without a break, from its first moment.
func TestContinuedByHand(t *testing.T) {
	t.Parallel()
	is := func(ends ...float64) readings.Condition {
		return readings.Condition{Certain: during(ends...), True: during(ends...), Possible: during(ends...)}
	}
	alike(t, "continued", continued(is(5, 6, 20, 21), is(5.5, 10, 15, 19, 20.5, 30)), is(5, 10, 20, 30))
	alike(t, "from within", continued(is(5, 6), is(0, 10)), is(5, 10))
	alike(t, "nothing looser", continued(is(5, 6), is()), is(5, 6))
	alike(t, "decidable", decidable(during(0, 5, 10, 15), during(5, 10, 12, 13)), during(0, 5))
	alike(t, "rounded down", floor(12.345678), 12.34567)
}

// In the air the struts are out: three seconds are a hop of a landing, more are a flight.
// Below 30 kt nothing flies.
func TestInFlightByHand(t *testing.T) {
	t.Parallel()
	out := func(s *samples.Set, ends ...float64) readings.Condition {
		x := during(ends...)
		return readings.Condition{Certain: x, True: x, False: x.Complement(s.Window), Possible: x}
	}
	fast := flightOf(60, seconds("ground_speed", repeated(61, 100)...)).signals
	slow := flightOf(60, seconds("ground_speed", repeated(61, 30)...)).signals
	still := flightOf(60).signals
	alike(t, "a hop", inFlight(fast, out(fast, 10, 13, 20, 23.5)).True, during(20, 23.5))
	alike(t, "at the ends", inFlight(fast, out(fast, 0, 2, 58, 60)).True, during(0, 2, 58, 60))
	alike(t, "on jacks", inFlight(slow, out(slow, 10, 20)), out(slow))
	alike(t, "no speed recorded", inFlight(still, out(still, 10, 20)), out(still, 10, 20))
	alike(t, "too short to tell", lifted(slow, stretch(10, 13)), false)
	alike(t, "lifted", lifted(slow, stretch(10, 13.5)), true)
	faster := flightOf(60, seconds("ground_speed", repeated(61, 20)...), seconds("computed_airspeed", repeated(61, 31)...)).signals
	alike(t, "one speed is too fast", lifted(faster, stretch(10, 20)), false)

	// In the air for certain for less than is possible: too short for a flight, or, from the sample after a fast one
	// on, too slow for one.
	narrow := readings.Condition{Certain: during(10, 13), True: during(10, 14), False: during(0, 10, 14, 60), Possible: during(9, 15)}
	alike(t, "certain for 3 s", inFlight(fast, narrow), readings.Condition{True: during(10, 14), False: during(0, 10, 14, 60), Possible: during(9, 15)})
	narrow.Certain = during(10, 13.5)
	alike(t, "certain for longer", inFlight(fast, narrow), narrow)
	braking := flightOf(60, seconds("ground_speed", repeated(10, 100, 51, 20)...)).signals
	narrow = readings.Condition{Certain: during(10, 20), True: during(9, 20), False: during(0, 9, 20, 60), Possible: during(8, 21)}
	alike(t, "certain where it is too slow", inFlight(braking, narrow), readings.Condition{True: during(9, 20), False: during(0, 9, 20, 60), Possible: during(8, 21)})
	legs := &schemas.Profile{Legs: []string{"nose", "left", "right"}}
	strut := func(name string) *ingest.Series { return seconds(name, repeated(10, 1, 10, 0, 10, 1, 10, 0, 21, 1)...) }
	moving := seconds("ground_speed", repeated(30, 0, 31, 100)...)
	alike(t, "on jacks until 20 s, flying until 40 s", onJacks(flightOf(60, strut("left_strut_compressed"), strut("right_strut_compressed"), moving).signals, legs), during(10, 20))
	alike(t, "on jacks, one strut recorded", onJacks(flightOf(60, strut("right_strut_compressed"), moving).signals, legs), during(10, 20))
	alike(t, "on jacks, no main strut recorded", onJacks(flightOf(60, strut("nose_strut_compressed"), moving).signals, legs), during())

	early := flightOf(60, seconds("ground_speed", repeated(9, 20)...)).signals
	alike(t, "no speed recorded then", lifted(early, stretch(10, 20)), false)

	// Contact of less than a second at height, with a long stay in the air behind it, is chatter.
	high := flightOf(60, seconds("radio_altitude", repeated(61, 500)...)).signals
	low := flightOf(60, seconds("radio_altitude", repeated(61, 14)...)).signals
	alike(t, "chatter", airSpans(high, out(high, 5, 20, 20.5, 40)), during(5, 40))
	alike(t, "chatter, and another flight", airSpans(high, out(high, 5, 20, 20.5, 40, 45, 58)), during(5, 40, 45, 58))
	alike(t, "a second", airSpans(high, out(high, 5, 20, 21, 40)), during(5, 20, 21, 40))
	alike(t, "soon on the ground again", airSpans(high, out(high, 5, 20, 20.5, 30.5)), during(5, 20, 20.5, 30.5))
	alike(t, "half a second later", airSpans(high, out(high, 5, 20, 20.5, 31)), during(5, 31))
	alike(t, "wheels on the ground", airSpans(low, out(low, 5, 20, 20.5, 40)), during(5, 20, 20.5, 40))
	alike(t, "no radio altitude", airSpans(still, out(still, 5, 20, 20.5, 40)), during(5, 40))
	unknown := out(high, 10, 20)
	unknown.False = during(0, 8, 25, 60)
	alike(t, "unknown beside", airSpans(high, unknown), during(10, 25))
	unknown.False = during(0, 2, 4, 10, 20, 60)
	alike(t, "unknown on the ground before", airSpans(high, unknown), during(10, 20))
}

// Air and ground by the best of what is recorded, with a note where that is not every main strut.
// Each says that the aircraft is in the air from 20 to 40 s.
func TestWhatTellsAirFromGround(t *testing.T) {
	t.Parallel()
	strut := func(name string) *ingest.Series { return seconds(name, repeated(20, 1, 20, 0, 21, 1)...) }
	radio := along("radio_altitude", 60, straight(19, 0, 21, 20, 39, 20, 41, 0)) // 10 ft at 20 and at 40 s
	speed := along("computed_airspeed", 60, straight(19, 40, 21, 120, 39, 120, 41, 40))
	for _, c := range []struct {
		series []*ingest.Series
		note   string
	}{
		{[]*ingest.Series{strut("left_strut_compressed"), strut("right_strut_compressed"), radio}, ""},
		{[]*ingest.Series{strut("right_strut_compressed"), strut("weight_on_wheels")}, "air and ground from right_strut_compressed alone: left_strut_compressed not recorded"},
		{[]*ingest.Series{strut("weight_on_wheels"), radio, speed}, "air and ground from weight_on_wheels: no main strut recorded"},
		{[]*ingest.Series{radio, speed}, "air and ground from radio altitude above 10 ft, accurate to within 15 s: no strut or air/ground parameter recorded"},
		{[]*ingest.Series{speed}, "air and ground from airspeed above 80 kt, accurate to within 30 s: no better parameter recorded"},
	} {
		c2, note, ok := airborneCondition(flightOf(60, c.series...).signals, &schemas.Profile{Legs: []string{"nose", "left", "right"}})
		alike(t, c.note, []any{note, ok, c2.True, c2.False}, []any{c.note, true, during(20, 40), during(0, 20, 40, 60)})
	}
	none, note, ok := airborneCondition(flightOf(60, strut("nose_strut_compressed")).signals, &schemas.Profile{Legs: []string{"nose", "left", "right"}})
	alike(t, "nothing", []any{note, ok, none}, []any{"no recorded parameter tells air from ground", false, readings.Unknown(during(0, 60))})
}

// Below 40 kt for a while a flight ends, in the longest such stretch before a dash of more
// than five seconds.
func TestFlightBoundsByHand(t *testing.T) {
	t.Parallel()
	of := func(speeds ...float64) *samples.Set {
		values := repeated(speeds...)
		return flightOf(float64(len(values)-1), seconds("ground_speed", values...)).signals
	}
	s := of(20, 100, 10, 0, 20, 100, 30, 0, 21, 100) // 20 to 30 s, 50 to 80 s at rest
	// 100 to 0 kt in a second passes 40 kt after 0.6 s, and on the way up after 0.4 s.
	x, ok := slowPart(s, stretch(15, 90))
	alike(t, "before the dash", []any{x, ok}, []any{stretch(19.6, 29.4), true})
	s = of(20, 100, 10, 0, 5, 100, 30, 0, 21, 100) // fast for 5 samples: 40 kt and more for 5.2 s
	x, _ = slowPart(s, stretch(15, 80))
	alike(t, "a dash of 5.2 s", x, stretch(19.6, 29.4))
	s = of(20, 100, 10, 0, 4, 100, 30, 0, 21, 100)
	x, _ = slowPart(s, stretch(15, 80))
	alike(t, "a dash of 4.2 s", x, stretch(33.6, 63.4))
	s = of(20, 80, 10, 0, 5, 80, 30, 0, 21, 80) // 40 kt are half way between two samples: fast for 5 s
	x, _ = slowPart(s, stretch(15, 80))
	alike(t, "a dash of 5 s", x, stretch(34.5, 64.5))
	s = of(20, 80, 10, 0, 3, 80, 10, 0, 21, 80)
	x, _ = slowPart(s, stretch(15, 80))
	alike(t, "as long before the dash as after it", x, stretch(19.5, 29.5))
	x, ok = slowPart(of(20, 100, 1, 0, 40, 100), stretch(15, 50))
	alike(t, "slow for 0.8 s", []any{x, ok}, []any{stretch(19.6, 20.4), true})
	_, ok = slowPart(of(60, 100), stretch(10, 50))
	alike(t, "never slow", ok, false)
	none := flightOf(300).signals
	for end, want := range map[float64]bool{100: false, 100.1: true} {
		if _, ok := slowPart(none, stretch(10, end)); ok != want {
			t.Errorf("no speed, %v s on the ground: %v", end-10, ok)
		}
	}
	s = of(20, 100, 10, 0, 30, 100, 40, 100)
	alike(t, "two flights", flightBounds(s, during(5, 15, 35, 50)), []bounds{
		{stretch(0, 24.5), during(5, 15)}, {stretch(24.5, 99), during(35, 50)},
	})
	alike(t, "one flight", flightBounds(s, during(35, 50, 55, 60)), []bounds{{stretch(0, 99), during(35, 50, 55, 60)}})
}
