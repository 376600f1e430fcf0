package report

import (
	"math"
	"strings"
	"testing"
	"time"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/memory"

	"downlock/detect"
	"downlock/ingest"
	"downlock/schemas"
)

// hostile is text no report may show as it is.
const hostile = `<script>alert("x")</script>'&` + "\x00\x1b\u202e"

// floats and codes make Arrow arrays.
func floats(values []float64) *array.Float64 {
	b := array.NewFloat64Builder(memory.DefaultAllocator)
	defer b.Release()
	b.AppendValues(values, nil)
	return b.NewFloat64Array()
}

func codes(values []uint8) arrow.Array {
	b := array.NewUint8Builder(memory.DefaultAllocator)
	defer b.Release()
	b.AppendValues(values, nil)
	return b.NewUint8Array()
}

// sampled makes a series of a parameter sampled every interval seconds from
// first on; the value function returns numbers, codes and states alike.
func sampled(t testing.TB, name string, first, interval, end float64, value func(t float64) float64) *ingest.Series {
	t.Helper()
	p, ok := schemas.LookupParameter(name)
	if !ok {
		t.Fatalf("no parameter %s", name)
	}
	var times, numbers []float64
	var small []uint8
	for k := 0; ; k++ {
		at := first + float64(k)*interval
		if at > end {
			break
		}
		v := value(at)
		if math.IsNaN(v) {
			continue // not recorded
		}
		times, numbers, small = append(times, at), append(numbers, v), append(small, uint8(v))
	}
	s := &ingest.Series{Parameter: p, Column: name, Times: floats(times), Interval: interval, Gap: 3 * interval}
	if p.Numeric() {
		s.Values = floats(numbers)
	} else {
		s.Values = codes(small)
	}
	return s
}

func from(start float64) func(float64) float64 {
	return func(t float64) float64 {
		if t >= start {
			return 1
		}
		return 0
	}
}

func not(f func(float64) float64) func(float64) float64 {
	return func(t float64) float64 { return 1 - f(t) }
}

// fixtureProfile is the shipped profile of the invented type.
func fixtureProfile(t testing.TB) *schemas.Profile {
	t.Helper()
	p, err := schemas.ShippedProfile()
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func fixtureRun(t testing.TB) *Run {
	return &Run{Version: "0.1.0", Profile: fixtureProfile(t), Packs: []Pack{{"built-in", strings.Repeat("ab", 32)}}}
}

// fixtureRecording is 200 s of an approach and landing: gear selected down at
// 60 s, legs down from 68 s, touchdown at 150 s; the left down-lock is missing
// from 100 to 110 s, and the horn sounds from 61 to 66 s.
func fixtureRecording(t testing.TB) *ingest.Recording {
	height := func(at float64) float64 { return max(0, 3000-20*at) }
	down, extended := from(60), from(68)
	missing := func(at float64) float64 {
		if at > 100 && at < 110 {
			return math.NaN()
		}
		return extended(at)
	}
	lever := func(at float64) float64 { return 2 * down(at) }
	flap := func(at float64) float64 { return 15 + 15*from(80)(at) }
	horn := func(at float64) float64 { return from(61)(at) - from(66)(at) }
	throttle := func(at float64) float64 { return 20 - 15*from(50)(at) }
	s := []*ingest.Series{
		sampled(t, "computed_airspeed", 0, 1, 200, func(at float64) float64 { return 180 - at/4 }),
		sampled(t, "radio_altitude", 0, 0.5, 200, height),
		sampled(t, "gear_lever", 0.5, 1, 200, lever),
		sampled(t, "nose_gear_down_locked", 0.25, 1, 200, extended),
		sampled(t, "left_gear_down_locked", 0.25, 1, 200, missing),
		sampled(t, "right_gear_down_locked", 0.25, 1, 200, extended),
		sampled(t, "nose_gear_up_locked", 0.75, 1, 200, not(from(61))),
		sampled(t, "flap_handle", 0, 1, 200, flap),
		sampled(t, "throttle_angle_1", 0, 0.5, 200, throttle),
		sampled(t, "throttle_angle_2", 0, 0.5, 200, throttle),
		sampled(t, "gear_horn", 0, 1, 200, horn),
		sampled(t, "gear_horn_cutout", 0, 1, 200, func(float64) float64 { return 0 }),
	}
	s[0].Accuracy = 1
	s[1].Dropped = ingest.Dropped{Range: 2, Spike: 1, Token: 4}
	return &ingest.Recording{
		Name: "north-07.csv", SHA256: strings.Repeat("0c", 32), Bytes: 123456, Format: "wide CSV",
		Epoch: time.Date(2031, 5, 4, 10, 0, 0, 0, time.UTC), Start: 0, End: 200, Series: s,
		Absent: []ingest.Absent{{Parameter: "gear_up_locked", Columns: []string{"UP LOCK", "UPLK"}}},
		Notes:  []string{"last line cut off"},
	}
}

var (
	lateGear = &detect.Rule{ID: "gear-late", Title: "Gear late", Group: "Approach and landing", Meaning: "The gear is not locked.",
		When: "airborne and not gear_down_locked", Basis: "common practice", Caution: "May call for an inspection.", Pack: "built-in",
		Opportunity: detect.OpenApproach}
	leverFirst = &detect.Rule{ID: "lever-first", Title: "Lever before strut", Group: "Retraction protection", Meaning: "The order is undecided.",
		When: "gear_lever == \"UP\" and main_strut_compressed", Basis: "common practice", Pack: "built-in", Opportunity: detect.OpenFlight}
	brakes = &detect.Rule{ID: "speedbrake", Title: "Speedbrake with landing flap", Group: "Approach and landing", Meaning: "Both are out.",
		When: "speedbrake_handle > 5 and landing_flap", Basis: "common practice", Pack: "built-in", Opportunity: detect.OpenTouchdown}
	lateAround = &detect.Rule{ID: "go-around-late", Title: "Late in a go-around", Group: "Go-around", Meaning: "Something is late.",
		When: "go_around", Basis: "common practice", Pack: "built-in", Opportunity: detect.OpenGoAround}
)

var horn = &detect.Warning{Name: "gear_horn", Title: "Gear warning horn"}

// fixtureAudits are worked out by hand: a horn that sounded late and was silenced
// once as it may be, an alert that was never due, a warning not recorded.
func fixtureAudits() []detect.Audit {
	return []detect.Audit{
		{Warning: horn, Coverage: detect.PartlyEvaluated, Due: 2, Sounded: 1, DueSeconds: 12.5, SoundedSeconds: 5, AgreementSeconds: 4.25, UnknownSeconds: 10,
			Findings: []detect.AuditFinding{
				{Finding: detect.Silenced, Certainty: detect.Possible, Start: detect.Time{Nominal: 90, Earliest: 89, Latest: 91}, End: detect.Time{Nominal: 95, Earliest: 94, Latest: 96}},
				{Finding: detect.Late, Certainty: detect.Certain, Start: detect.Time{Nominal: 57, Earliest: 56, Latest: 57}, End: detect.Time{Nominal: 61, Earliest: 60, Latest: 61},
					Delay: detect.Time{Nominal: 4, Earliest: 3, Latest: 5}},
			},
			SwitchUses: []detect.SwitchUse{
				{Start: detect.Time{Nominal: 90, Earliest: 89, Latest: 90}, End: detect.Time{Nominal: 97, Earliest: 96, Latest: 97}, Height: 1200, HeightKnown: true},
				{Start: detect.Time{Nominal: 40, Earliest: 39, Latest: 40}, End: detect.Time{Nominal: 42, Earliest: 41, Latest: 42}, LockedAfter: 28, Locked: true},
			}},
		{Warning: &detect.Warning{Name: "too_low_gear", Title: "Too-low-gear alert"}, Coverage: detect.Evaluated},
		{Warning: &detect.Warning{Name: "takeoff", Title: "Take-off warning"}, Coverage: detect.NotEvaluable, Missing: []string{"no such column"}},
	}
}

// fixtureMeasurements has one of each outcome, and one without an upper bound.
func fixtureMeasurements() []detect.Measurement {
	rule := func(id, title, unit string) *detect.MeasurementRule {
		return &detect.MeasurementRule{ID: id, Title: title, Group: "Extension", Definition: "What " + title + " means.", Unit: unit, Pack: "built-in measurements", Opportunity: detect.OpenFlight}
	}
	height := rule("gear-down-height", "Height at gear down", "ft")
	height.Opportunity = detect.OpenExtension
	return []detect.Measurement{
		{Rule: height, Opportunity: 1, Begins: detect.Time{Nominal: 60.5, Earliest: 59.5, Latest: 60.5}, Ends: detect.Time{Nominal: 68.25, Earliest: 67.25, Latest: 68.25}, Outcome: detect.Measured, Certainty: detect.Certain, Value: 1800.4, Lowest: 1798.4, Highest: 1822.1,
			At: &detect.Time{Nominal: 60.5, Earliest: 59.5, Latest: 60.5}},
		{Rule: rule("lever-movements", "Lever movements", "1"), Outcome: detect.Measured, Certainty: detect.Certain, Value: 1, Lowest: 1, Highest: math.Inf(1), UnknownSeconds: 3},
		{Rule: rule("horn-seconds", "Horn", "s"), Outcome: detect.Measured, Certainty: detect.Possible, Value: 5, Lowest: 5, Highest: 5},
		{Rule: rule("go-around-height", "Go-around", "ft"), Outcome: detect.DidNotHappen, Certainty: detect.Certain},
		{Rule: rule("landing-flap-height", "Landing flap", "ft"), Outcome: detect.NotRecorded, Certainty: detect.Certain},
		{Rule: rule("touchdown-weight", "Weight", "kg"), Outcome: detect.NotMeasurable, Certainty: detect.Certain, Missing: []string{"gross_weight is not recorded"}},
	}
}

func exactly(t float64) detect.Time { return detect.Time{Nominal: t, Earliest: t, Latest: t} }

func phase(p detect.Phase, start, end float64) detect.PhaseSpan {
	return detect.PhaseSpan{Phase: p, Span: detect.Span{Start: start, End: end}, Begins: exactly(start), Ends: exactly(end)}
}

// fixtureOpportunities are those of one approach that ends in a landing, of a
// recording that begins in the air.
func fixtureOpportunities(touchdown detect.Time) []detect.Opportunity {
	after := detect.Time{Nominal: 160, Earliest: 159.5, Latest: 160}
	return []detect.Opportunity{
		{Kind: detect.OpenFlight, Begins: exactly(0), Ends: exactly(200)},
		{Kind: detect.OpenExtension, Begins: detect.Time{Nominal: 60.5, Earliest: 59.5, Latest: 60.5}, Ends: detect.Time{Nominal: 68.25, Earliest: 67.25, Latest: 68.25}},
		{Kind: detect.OpenApproach, Begins: exactly(10), Ends: touchdown, Ended: "landing"},
		{Kind: detect.OpenTouchdown, Begins: exactly(10), Ends: after, Ended: "landing"},
		{Kind: detect.OpenLanding, Begins: exactly(10), Ends: after},
		{Kind: detect.OpenAir, Begins: exactly(0), Ends: touchdown},
	}
}

// fixtureResult is worked out by hand: one certain event, one possible one, one
// moment, and a rule of each coverage.
func fixtureResult(t testing.TB) *detect.Result {
	t.Helper()
	rec := fixtureRecording(t)
	touchdown := detect.Time{Nominal: 150, Earliest: 149.5, Latest: 150}
	f := &detect.Flight{
		ID: "F0123456789ab", Number: 1, Recording: rec, Profile: fixtureProfile(t), Span: detect.Span{Start: 0, End: 200},
		BeginsInAir: true, Touchdown: &touchdown, Touchdowns: []detect.Touchdown{{Time: touchdown, Landed: detect.FullStop}},
		Approaches: []detect.Approach{{Span: detect.Span{Start: 10, End: 150}, Begins: exactly(10), Ends: touchdown, Outcome: detect.EndsInLanding}},
		Phases:     []detect.PhaseSpan{phase(detect.ApproachPhase, 0, 140), phase(detect.Landing, 140, 170), phase(detect.Taxi, 170, 200)},
		Notes:      []string{"airborne from radio altitude"},
	}
	events := []detect.Event{
		{ID: "E1", Occurrence: "E1", Rule: lateGear, Severity: detect.High, Certainty: detect.Certain, Phase: "approach",
			Start: detect.Time{Nominal: 60, Earliest: 59.5, Latest: 60.5}, End: detect.Time{Nominal: 68.25, Earliest: 67.25, Latest: 68.25},
			Sure: []detect.Span{{Start: 60.5, End: 67.25}}, Maybe: []detect.Span{{Start: 59.5, End: 68.25}},
			Measures: []detect.Measure{{Name: "lowest_height", Unit: "ft", Value: 1635.00049, Known: true}, {Name: "pitch", Unit: "deg"}}},
		{ID: "E2", Occurrence: "E2", Rule: leverFirst, Severity: detect.Low, Certainty: detect.Possible, Phase: "approach",
			Start: detect.Time{Nominal: 80, Earliest: 79, Latest: math.Inf(1)}, End: detect.Time{Nominal: 82, Earliest: 80, Latest: math.NaN()},
			Maybe:    []detect.Span{{Start: 79, End: 82}},
			Measures: []detect.Measure{{Name: "ratio", Unit: "1", Value: math.NaN(), Known: true}}},
		{ID: "E3", Occurrence: "E1", Rule: lateGear, Severity: detect.Medium, Certainty: detect.Certain, Moment: true, Phase: "landing",
			Start: touchdown, End: touchdown, Sure: []detect.Span{{Start: 150, End: 150}}, Maybe: []detect.Span{{Start: 149.5, End: 150}}},
	}
	return &detect.Result{Flight: f, Tracks: detect.ReadTracks(f), Opportunities: fixtureOpportunities(touchdown), Events: events, Occurrences: []detect.Occurrence{{ID: "E1", Events: []int{0, 2}}, {ID: "E2", Events: []int{1}}}, Audits: fixtureAudits(), Measurements: fixtureMeasurements(), Evaluations: []detect.Evaluation{
		{Rule: lateGear, Coverage: detect.PartlyEvaluated, Unknown: []detect.Span{{Start: 100, End: 110}}, UnknownSeconds: 10, ScopeSeconds: 150,
			Fallbacks: []string{"airborne from radio altitude"}, Events: 2, Chances: detect.Chances{All: 1, Partly: 1}},
		{Rule: leverFirst, Coverage: detect.Evaluated, ScopeSeconds: 200, Events: 1, Chances: detect.Chances{All: 1, Evaluated: 1}},
		{Rule: brakes, Coverage: detect.NotEvaluable, Missing: []string{"speedbrake_handle is not recorded"}, Chances: detect.Chances{All: 1, Not: 1}},
		{Rule: lateAround, Coverage: detect.NoOpportunity},
	}}
}

// hostileResult has hostile text in every place text from outside can have.
func hostileResult(t testing.TB) *detect.Result {
	r := fixtureResult(t)
	rec := r.Flight.Recording
	rec.Name, rec.Format, rec.Notes = "../"+hostile, hostile, []string{hostile}
	for _, s := range rec.Series {
		s.Column = hostile
	}
	rec.Absent[0].Columns = []string{hostile}
	r.Flight.Notes = []string{hostile}
	r.Flight.Approaches[0].Outcome = hostile
	r.Opportunities[2].Ended = hostile
	rule := &detect.Rule{ID: hostile, Title: hostile, Group: hostile, Meaning: hostile, When: hostile, Basis: hostile, Caution: hostile, Pack: hostile, Opportunity: detect.OpenFlight}
	for i := range r.Events {
		r.Events[i].Rule, r.Events[i].Phase, r.Events[i].ID = rule, hostile, hostile
		r.Events[i].Measures = []detect.Measure{{Name: hostile, Unit: hostile, Value: 1, Known: true}}
	}
	for i := range r.Evaluations {
		r.Evaluations[i].Rule = rule
		r.Evaluations[i].Missing, r.Evaluations[i].Fallbacks = []string{hostile}, []string{hostile}
	}
	rule.Systems, rule.Audit = []string{hostile}, &detect.AuditRule{Warning: hostile, Finding: detect.Missed}
	for i := range r.Audits {
		r.Audits[i].Warning = &detect.Warning{Name: hostile, Title: hostile}
		r.Audits[i].Missing = []string{hostile}
	}
	for i := range r.Measurements {
		r.Measurements[i].Rule = &detect.MeasurementRule{ID: hostile, Title: hostile, Group: hostile, Definition: hostile, Unit: hostile, Pack: hostile, Opportunity: detect.OpenFlight}
		r.Measurements[i].Missing, r.Measurements[i].Fallbacks = []string{hostile}, []string{hostile}
	}
	return r
}
