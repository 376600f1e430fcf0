package detect

import (
	"fmt"
	"strconv"

	"downlock/detect/readings"
	"downlock/detect/samples"
	"downlock/schemas"
)

// leastDisagreement (s): shorter differences come from sampling, filters and
// switches that do not work at the same moment (common practice).
const leastDisagreement = 5.0

// Two instruments of the same quantity differ by more than their accuracy: they
// lie at different places, filter and lag. So beyond the accuracies stated or
// estimated a margin is granted: 2 % of the plausible range, but not more than the parameter
// can change in a second, since for some that share is very wide (1240 ft of
// pressure altitude). Both are conservative, and common practice: in flight
// parameters change at a fraction of the largest plausible rate, so that the
// second stands for a lag of several.
const (
	marginOfRange = 0.02
	marginSeconds = 1.0
)

func sourcesMargin(p schemas.Parameter) float64 {
	margin := marginOfRange * (p.Range[1] - p.Range[0])
	if p.MaxRate > 0 {
		margin = min(margin, marginSeconds*p.MaxRate)
	}
	return margin
}

// soundRange is where an instrument is made to work; where neither source reads
// inside it they need not agree.
type soundRange struct {
	relation readings.Relation
	limit    float64
}

// soundRanges: the first two are the ranges of 14 CFR part 121 appendix M, the
// third is common practice.
var soundRanges = map[string]soundRange{
	"computed_airspeed": {readings.AtLeast, 50},
	"radio_altitude":    {readings.Below, 2500},
	"mach":              {readings.AtLeast, 0.2},
}

// disagreements compare every further source of a parameter with the one the
// rules use, over a flight. Where one has a gap nothing is said.
func disagreements(f *Flight, p schemas.Parameter) (out []Observation) {
	for _, other := range f.signals.Further(p.Name) {
		if !other.Has(p.Name) {
			continue
		}
		compare := compareCodes
		if p.Numeric() {
			compare = compareNumbers
		}
		spans, known, how := compare(f.signals, other, p, f.Span)
		if len(spans) > 0 {
			evidence := fmt.Sprintf("%s and %s differ %sfor %.0f s of %.0f s", f.signals.Series(p.Name).Column, other.Series(p.Name).Column, how, spans.Seconds(), known.Seconds())
			out = append(out, Observation{SourcesDisagree, p.Name, spans, evidence})
		}
	}
	return out
}

// compareNumbers gives where two sources of a number surely differ by more than
// they may, where both are known, and by how much they differ in words.
func compareNumbers(used, other *samples.Set, p schemas.Parameter, within Span) (differ, known readings.Spans, how string) {
	allowed := sourcesMargin(p)
	// The bounds of a line allow for its accuracy, stated or estimated. A step has none, and
	// none is estimated: the distance of its values is that of the detents.
	if p.Kind == schemas.Step {
		allowed += used.Series(p.Name).Accuracy + other.Series(p.Name).Accuracy
	}
	a, b := used.Sampled(p.Name), other.Sampled(p.Name)
	if readings.NeverApart(a, b, within, allowed) {
		return nil, nil, ""
	}
	return differences(a, b, p, within, allowed)
}

// differences is compareNumbers for more than what is allowed.
func differences(a, b readings.Sampled, p schemas.Parameter, within Span, allowed float64) (differ, known readings.Spans, how string) {
	windows := sound(a, b, p, readings.Spans{within})
	difference := readings.Subtract(a.Number(windows), b.Number(windows)).Absolute()
	known = difference.Low.Holes(windows).Complement(windows)
	differ = readings.Compare(difference, readings.Above, readings.Constant(allowed, windows), windows).Certain.AtLeast(leastDisagreement)
	most, _, _ := difference.Nominal.Peak(differ)
	unit := p.Unit
	if unit == "1" {
		unit = ""
	} else {
		unit += " "
	}
	return differ, known, fmt.Sprintf("by up to %s %s", threeDigits(most), unit)
}

// sound is the part of the windows where one source or the other reads what it
// is made for.
func sound(a, b readings.Sampled, p schemas.Parameter, windows readings.Spans) readings.Spans {
	r, limited := soundRanges[p.Name]
	if !limited {
		return windows
	}
	limit := readings.Constant(r.limit, windows)
	inside := func(s readings.Sampled) readings.Spans {
		return readings.Compare(s.Number(windows), r.relation, limit, windows).True
	}
	return readings.Union(inside(a), inside(b))
}

// compareCodes gives where the nominal values of two sources of a discrete or
// state differ, where both are known, and what they read first. A stretch that
// slow sampling alone could explain does not count.
func compareCodes(used, other *samples.Set, p schemas.Parameter, within Span) (differ, known readings.Spans, how string) {
	windows := readings.Spans{within}
	a, b := used.Code(p.Name), other.Code(p.Name)
	apart := readings.Never(windows)
	for code := range max(2, len(p.States)) {
		is := func(v uint8) bool { return int(v) == code }
		first, second := a.Condition(is, windows), b.Condition(is, windows)
		apart = readings.Or(apart, readings.And(first, readings.Not(second, windows)))
		known = readings.Union(known, readings.Intersect(readings.Union(first.True, first.False), readings.Union(second.True, second.False)))
	}
	for _, span := range apart.True.AtLeast(leastDisagreement) {
		if len(apart.Certain.Within(span)) > 0 {
			differ = append(differ, span)
		}
	}
	if len(differ) == 0 {
		return nil, known, ""
	}
	first, _ := a.At(max(differ[0].Start, a.Times[0])) // the first sample counts a little before its time
	second, _ := b.At(max(differ[0].Start, b.Times[0]))
	return differ, known, fmt.Sprintf("(at first %s and %s) ", codeWord(p, first), codeWord(p, second))
}

func codeWord(p schemas.Parameter, code uint8) string {
	if int(code) < len(p.States) {
		return p.States[code]
	}
	return strconv.FormatBool(code == 1)
}

// threeDigits writes a number with three digits that count, without an exponent.
func threeDigits(x float64) string {
	rounded, err := strconv.ParseFloat(strconv.FormatFloat(x, 'g', 3, 64), 64)
	if err != nil {
		rounded = x
	}
	return strconv.FormatFloat(rounded, 'f', -1, 64)
}
