package language

import (
	"errors"
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"downlock/detect/readings"
)

func compiled(t *testing.T, text string, want Kind) *Expression {
	t.Helper()
	x, err := Compile(text, testVocabulary, want)
	if err != nil {
		t.Fatalf("%s: %v", text, err)
	}
	return x
}

func alike(t *testing.T, text string, got, want any) {
	t.Helper()
	if diff := cmp.Diff(want, got, cmpopts.EquateEmpty(), cmpopts.EquateApprox(0, 1e-9)); diff != "" {
		t.Errorf("%s (-want +got):\n%s", text, diff)
	}
}

// The limit of the type is 220 kt; it has no value for absent and lacking.
func TestFixedByHand(t *testing.T) {
	t.Parallel()
	for text, want := range map[string]float64{
		"limit": 220, "limit - 20": 200, "limit + 20": 240, "20 + limit": 240, "20 - limit": -200, "limit * 2": 440, "2 * limit": 440,
		"limit / 4": 55, "-limit": -220, "+limit": 220, "abs(20 - limit)": 200, "abs(limit)": 220, "abs(limit - 20)": 200, "limit * 0": 0,
	} {
		got, ok := compiled(t, text, Number).Fixed(testFlight{})
		alike(t, text, []any{got, ok}, []any{want, true})
	}
	for _, text := range []string{
		"absent", "absent + 1", "1 + absent", "absent - 1", "1 - absent", "absent * 2", "absent / 2", "2 * absent", "-absent", "abs(absent)",
		"limit / 0", "limit / -0", "speed", "floor(200)", "speed + 1", "speed * 2",
	} {
		if got, ok := compiled(t, text, Number).Fixed(flatFlight()); ok {
			t.Errorf("%s is %v", text, got)
		}
	}
}

// The speed is 200 kt throughout: at least and at most hold, more and less do not, on
// whichever side the number stands.
func TestComparedOnTheLimit(t *testing.T) {
	t.Parallel()
	all := readings.Spans{{Start: 0, End: flightEnd}}
	for text, holds := range map[string]bool{
		"speed > 200": false, "speed >= 200": true, "speed < 200": false, "speed <= 200": true, "speed == 200": true, "speed != 200": false,
		"200 > speed": false, "200 >= speed": true, "200 < speed": false, "200 <= speed": true, "200 == speed": true, "200 != speed": false,
		"201 > speed": true, "199 > speed": false, "199 < speed": true, "201 < speed": false,
		"limit - 20 > speed": false, "limit - 20 >= speed": true, "speed > limit - 20": false, "speed >= limit - 20": true, "speed > limit - 21": true,
		"limit <= limit": true, "limit < limit": false, "limit < 220": false, "limit <= 220": true, "220 > limit": false, "+speed == 200": true, "-speed == -200": true,
		"tyres > 200": true, "tyres < 220": false, "tyres <= 220": true, "220 <= tyres": true,
		"speed < 2 * speed": true, "speed < 1 * speed": false, "speed <= 1 * speed": true,
	} {
		want := readings.Never(all)
		if holds {
			want = readings.Always(all)
		}
		alike(t, text, compiled(t, text, Condition).Condition(flatFlight()), want)
	}
}

// The height is 2000 ft - 100 ft/s, and the floor at 200 kt 500 + 10·25/3 ft: passed at
// 14.1667 s. Above it there is no shorter way than looking it up.
func TestTableByHand(t *testing.T) {
	t.Parallel()
	passed := (2000 - (500 + 10*25/3.0)) / 100
	above, below := readings.Spans{{Start: 0, End: passed}}, readings.Spans{{Start: passed, End: flightEnd}}
	for text, want := range map[string]readings.Condition{
		"height > floor(speed)":  {Certain: above, True: above, False: below, Possible: above},
		"height >= floor(speed)": {Certain: above, True: above, False: below, Possible: above},
		"height < floor(speed)":  {Certain: below, True: below, False: above, Possible: below},
		"height <= floor(speed)": {Certain: below, True: below, False: above, Possible: below},
		"floor(speed) > height":  {Certain: below, True: below, False: above, Possible: below},
	} {
		alike(t, text, compiled(t, text, Condition).Condition(flatFlight()), want)
	}
	all := readings.Spans{{Start: 0, End: flightEnd}}
	for _, text := range []string{"height < empty(speed)", "height <= empty(speed)", "height > empty(speed)", "height < absent", "absent > 3", "speed / 0 > 3", "held(horn, lacking)",
		"often(begins(horn), lacking, 2)", "often(begins(horn), 2, lacking)", "after(touch, lacking)", "before(touch, lacking)"} {
		alike(t, text, compiled(t, text, Condition).Condition(flatFlight()), readings.Unknown(all))
	}
}

// A number that comes down to the level and rests on it has not fallen through it yet:
// 1000 ft from 5 to 8 s, below from there; and the same upside down.
func TestFallsThroughIsBelow(t *testing.T) {
	t.Parallel()
	s := readings.Sampling{Times: []float64{0, 5, 8, 10, 20}, Interval: 1, Gap: 20}
	f := testFlight{height: &readings.Line{Sampling: s, Values: []float64{1500, 1000, 1000, 800, 800}}}
	for _, text := range []string{"falls_through(height, 1000)", "rises_through(-height, -1000)"} {
		moments, unknown := compiled(t, text, Moments).Moments(f)
		alike(t, text, moments, []readings.Moment{{Nominal: 8, Earliest: 8, Latest: 8, Certain: true}})
		alike(t, text, unknown, readings.Spans{})
	}
	f.height = &readings.Line{Sampling: s, Values: []float64{800, 1000, 1000, 1500, 1500}}
	moments, _ := compiled(t, "rises_through(height, 1000)", Moments).Moments(f)
	alike(t, "rises_through", moments, []readings.Moment{{Nominal: 8, Earliest: 8, Latest: 8, Certain: true}})
}

// The touch comes at 14.75 to 15 s. Two seconds before and three after it are surely 13 to
// 17.75 s, without a hole between, when both are of the same moments.
func TestBeforeAndAfterTogether(t *testing.T) {
	t.Parallel()
	all := readings.Spans{{Start: 0, End: flightEnd}}
	span := func(start, end float64) readings.Spans { return readings.Spans{{Start: start, End: end}} }
	both := readings.Condition{Certain: span(13, 17.75), True: span(13, 18), False: span(13, 18).Complement(all), Possible: span(12.75, 18)}
	apart := readings.Condition{Certain: readings.Spans{{Start: 13, End: 14.75}, {Start: 15, End: 17.75}}, True: both.True, False: both.False, Possible: both.Possible}
	for text, want := range map[string]readings.Condition{
		"before(touch, 2) or after(touch, 3)":                               both,
		"after(touch, 3) or before(touch, 2)":                               both,
		"before(touch, 2) or (horn and after(touch, 3)) or after(touch, 3)": apart,
		"before(touch, 2) or before(touch, 1)":                              {Certain: span(13, 14.75), True: span(13, 15), False: span(13, 15).Complement(all), Possible: span(12.75, 15)},
		"after(touch, 2) or after(touch, 3)":                                {Certain: span(15, 17.75), True: span(15, 18), False: span(15, 18).Complement(all), Possible: span(14.75, 18)},
	} {
		alike(t, text, compiled(t, text, Condition).Condition(flatFlight()), want)
	}
	for text, want := range map[string]readings.Spans{ // of different moments, and with what is not near them
		"before(touch, 2) or after(begins(horn), 1)":           {{Start: 4, End: 5}, {Start: 13, End: 15}},
		"before(begins(horn), 2) or often(begins(horn), 1, 2)": {{Start: 2, End: 6}},
		"often(begins(horn), 1, 2) or before(begins(horn), 2)": {{Start: 2, End: 6}},
		"before(begins(horn), 1) or after(ends(horn), 1)":      {{Start: 3, End: 4}, {Start: 7, End: 8}},
		"held(horn, 1) or held(horn, 2)":                       {{Start: 5, End: 7}},
		"horn or switch":                                       {{Start: 4, End: 7}},
	} {
		alike(t, text, compiled(t, text, Condition).Condition(flatFlight()).True, want)
	}
}

// The horn, from 4 to 7 s, is not recorded between 8 and 14 s: it is unknown from 9 to 14, and
// so is whether it begins there. Nothing that rests on a beginning is false where one may
// have been missed.
func TestNearMissingSamples(t *testing.T) {
	t.Parallel()
	f := flatFlight()
	var times []float64
	var horn []uint8
	for i := 0.0; i <= flightEnd; i++ {
		if i <= 8 || i >= 14 {
			times, horn = append(times, i), append(horn, map[bool]uint8{true: 1}[i >= 4 && i < 7])
		}
	}
	f.horn = readings.NewHeld(readings.Sampling{Times: times, Interval: 1, Gap: 3}, horn)
	spans := func(ends ...float64) (out readings.Spans) {
		for i := 0; i < len(ends); i += 2 {
			out = append(out, readings.Span{Start: ends[i], End: ends[i+1]})
		}
		return out
	}
	const i = 1e-6 // the length of a sample
	for text, want := range map[string]readings.Condition{
		"after(begins(horn), 2)":     {Certain: spans(4, 5+i), True: spans(4, 6), False: spans(0, 4, 6, 9, 16, 20), Possible: spans(3+i, 6, 8+i, 16)},
		"before(begins(horn), 2)":    {Certain: spans(2, 3+i), True: spans(2, 4), False: spans(0, 2, 4, 7, 14, 20), Possible: spans(1+i, 4, 6+i, 14)},
		"often(begins(horn), 1, 2)":  {Certain: spans(4, 5+i), True: spans(4, 6), False: spans(0, 4, 6, 9, 16, 20), Possible: spans(3+i, 6, 8+i, 16)},
		"often(begins(horn), 2, 2)":  {False: spans(0, 9, 16, 20), Possible: spans(9, 16)},
		"often(begins(horn), 2, 12)": {False: spans(0, 9), Possible: spans(8+i, 20)},
	} {
		alike(t, text, compiled(t, text, Condition).Condition(f), want)
	}
	// A held number that is the same on both sides of the gap changes there in no reading
	// of its samples, and may have changed twice.
	flap := make([]float64, len(times))
	f.flap = readings.NewHeld(readings.Sampling{Times: times, Interval: 1, Gap: 3}, flap)
	alike(t, "after a change missed", compiled(t, "after(changes(flap), 2)", Condition).Condition(f), readings.Condition{False: spans(0, 8, 16, 20), Possible: spans(8, 16)})
	moments, unknown := compiled(t, "begins(horn)", Moments).Moments(f)
	alike(t, "begins", len(moments), 2)
	alike(t, "begins", unknown, spans(9, 14))
}

// steppedFlight has samples of its own for the horn, with one change, at 9.
type steppedFlight struct{ testFlight }

func (steppedFlight) Steps(string, readings.Direction) ([]readings.Moment, readings.Spans) {
	return []readings.Moment{{Nominal: 9, Earliest: 8, Latest: 9, Certain: true}}, nil
}

func TestChangesByHand(t *testing.T) {
	t.Parallel()
	moments, _ := compiled(t, "changes(horn)", Moments).Moments(steppedFlight{flatFlight()})
	alike(t, "one of its own", moments, []readings.Moment{{Nominal: 9, Earliest: 8, Latest: 9, Certain: true}})
	f := flatFlight()
	flap := make([]float64, len(f.speed.Times))
	for i := range flap {
		flap[i] = map[bool]float64{true: 30, false: 5}[i < 10]
	}
	f.flap = readings.NewHeld(f.speed.Sampling, flap)
	want := []readings.Moment{{Nominal: 10, Earliest: 9, Latest: 10, Certain: true}}
	for text, want := range map[string][]readings.Moment{"changes(flap)": want, "decreases(flap)": want, "increases(flap)": nil} {
		moments, _ := compiled(t, text, Moments).Moments(f)
		alike(t, text, moments, want)
	}
}

// TestHints: what is suggested, word for word, and nothing where nothing helps.
func TestHints(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		text        string
		want        Kind
		cause, hint string
	}{
		{"touch", Condition, "these are moments where a condition is needed", "put after(..., seconds) or before(..., seconds) around them, or move them into at"},
		{"touch", Number, "these are moments where a number is needed", ""},
		{"horn", Number, "this is a condition where a number is needed", ""},
		{"speed", Moments, "this is a number where moments are needed", "write rises_through(..., level) or falls_through(..., level)"},
		{"lever", Number, "this is a state where a number is needed", ""},
		{"lever", Moments, "this is a state where moments are needed", `write begins(... == "WORD"), or changes(...)`},
		{`lever == "dwn"`, Condition, `lever has no state "dwn"`, `did you mean DOWN? its states are ["UP" "OFF" "DOWN"]`},
		{`lever == "wrong"`, Condition, `lever has no state "wrong"`, `its states are ["UP" "OFF" "DOWN"]`},
		{"lever == 2", Condition, "cannot compare a state with a number using ==", `compare it, with == or !=, with one of ["UP" "OFF" "DOWN"]`},
		{"lever == flap", Condition, "cannot compare a state with a number using ==", `compare it, with == or !=, with one of ["UP" "OFF" "DOWN"]`},
		{`speed == "UP"`, Condition, "cannot compare a number with a quoted word using ==", ""},
		{"horn == 3", Condition, "cannot compare a condition with a number", "a condition needs no comparison: write it alone, or with not before it"},
		{"3 == horn", Condition, "cannot compare a number with a condition", "a condition needs no comparison: write it alone, or with not before it"},
		{"limit * speed > 3", Condition, "* needs a plain number on one side", "a function of two parameters belongs in a table of the profile"},
		{"speed / limit > 3", Condition, "/ needs a plain number on one side", "a function of two parameters belongs in a table of the profile"},
		{"changes(limit)", Moments, "changes needs a parameter that is held from sample to sample", "it takes a state, a discrete, or a held number such as flap_handle"},
		{strings.Repeat("(", 999) + "zz" + strings.Repeat(")", 999), Condition, `unknown name "zz"`, ""}, // 2000 characters are not too many
	} {
		_, err := Compile(c.text, testVocabulary, c.want)
		var mistake *Error
		if !errors.As(err, &mistake) {
			t.Errorf("%s: %v", c.text, err)
			continue
		}
		alike(t, c.text, []string{mistake.Cause, mistake.Hint}, []string{c.cause, c.hint})
	}
	_, err := Compile("horn and spead > 200", testVocabulary, Condition)
	alike(t, "its text", err.Error(), `at character 10: unknown name "spead"`)
}

// TestPartsOfNothing: an expression without a value over time has no parts.
func TestPartsOfNothing(t *testing.T) {
	t.Parallel()
	if got := compiled(t, "true", Condition).Parts(); len(got) != 0 {
		t.Errorf("parts of true: %v", got)
	}
	if got := compiled(t, "3", Number).Parts(); len(got) != 0 {
		t.Errorf("parts of 3: %v", got)
	}
	if n := compiled(t, "speed / 4", Number).Number(flatFlight(), readings.Spans{{Start: 0, End: 1}}); len(n.Low) != 1 || math.Abs(n.Low[0].From-50) > 1e-12 {
		t.Errorf("speed / 4 is %v", n)
	}
}

// The speed is 200 kt throughout and the height falls by 100 ft a second from 2,000 ft: from
// 1.5 s to 3 s, the second stretch, its samples are 1,900 to 1,700 ft.
func TestEnvelopesByHand(t *testing.T) {
	t.Parallel()
	for text, want := range map[string][2]float64{
		"height": {1700, 1900}, "height - 50": {1650, 1850}, "height + 50": {1750, 1950}, "50 - height": {-1850, -1650}, "height - height": {-200, 200},
		"height * 2": {3400, 3800}, "height / 2": {850, 950}, "-height": {-1900, -1700}, "abs(height - 1800)": {0, 100}, "abs(speed)": {200, 200},
		"limit": {220, 220}, "limit + 1": {221, 221}, "speed - limit": {-20, -20}, "7": {7, 7}, "speed": {200, 200}, "floor(limit)": {750, 750},
	} {
		e, ok := compiled(t, text, Number).root.(numberNode).envelope(flatFlight())
		at := 1
		if e.Each == 0 {
			at = 0
		}
		if !ok || len(e.Low) <= at || [2]float64{e.Low[at], e.High[at]} != want {
			t.Errorf("%s: %v %v, want %v", text, e, ok, want)
		}
	}
	for _, text := range []string{"absent", "absent + 1", "1 + absent", "height - absent", "absent * 2", "abs(absent)", "empty(speed)"} {
		if e, ok := compiled(t, text, Number).root.(numberNode).envelope(flatFlight()); ok {
			t.Errorf("%s: %v", text, e)
		}
	}
}

// What the parser points at may follow the mistaken word.
func TestWordsAround(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		text string
		at   int
		want []word
	}{
		{"speed > 200 kt and horn", 12, []word{{"speed", 0, false}, {"kt", 12, true}}},
		{"speed > 200 kt and horn", 14, []word{{"kt", 12, true}, {"and", 15, false}}},
		{"speed > 200 kt", 8, []word{{"speed", 0, false}, {"kt", 12, true}}},
		{"200kt", 3, []word{{"kt", 3, true}}},
		{"2 kt", 0, []word{{"kt", 2, true}}},
		{"2kt", 0, []word{{"kt", 1, true}}},
		{" kt", 0, []word{{"kt", 1, false}}},
		{"kt", 0, []word{{"kt", 0, false}}},
		{`lever == "UP kt" AND horn`, 17, []word{{"lever", 0, false}, {"AND", 17, false}}},
		{`'AND' OR horn`, 0, []word{{"OR", 6, false}}},
		{"a_b1 > x", 3, []word{{"a_b1", 0, false}}},
		{"a_b1 > x", 4, []word{{"a_b1", 0, false}, {"x", 7, false}}},
		{`"never closed`, 3, nil},
	} {
		got := wordsAround([]rune(c.text), c.at)
		if diff := cmp.Diff(c.want, got, cmp.AllowUnexported(word{}), cmpopts.EquateEmpty()); diff != "" {
			t.Errorf("%s at %d (-want +got):\n%s", c.text, c.at, diff)
		}
	}
	for _, c := range []struct {
		text string
		at   int
		want string
	}{{"a => b", 2, "=>"}, {"a => b", 3, "=>"}, {"a => b", 4, "=>"}, {"= b", 0, "="}, {"= b", 1, "="}, {"a <>", 4, "<>"}, {"a", 0, ""}} {
		if got := operatorAt([]rune(c.text), c.at); got != c.want {
			t.Errorf("%q at %d: %q, want %q", c.text, c.at, got, c.want)
		}
	}
}
