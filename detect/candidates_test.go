package detect

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/memory"

	"downlock/detect/readings"
	"downlock/ingest"
)

// oneByOne is candidatesOf in its plain form: it looks at the surroundings of each moment
// alone, and keeps all it sees there.
func oneByOne(env *Tracks, rule *Rule) ([]candidate, readings.Spans) {
	moments, missing := rule.at.Moments(env)
	var undecided []Span
	var out []candidate
	for _, m := range moments {
		window := around(env, m)
		c := rule.when.ConditionWithin(env, window)
		reach := stretch(m.Earliest, math.Nextafter(m.Latest, math.Inf(1)))
		inNominal := m.InNominal() && c.True.Contains(m.Nominal)
		shown := decidable(c.Possible, c.Missing(window)).Within(reach)
		switch {
		case !m.InNominal():
			shown = decidable(shown, missing)
		case !inNominal && !c.False.Contains(m.Nominal):
			undecided = append(undecided, stretch(m.Nominal, math.Nextafter(m.Nominal, math.Inf(1))))
			shown = nil
		}
		if inNominal || len(c.Possible.Within(reach)) > 0 {
			out = append(out, candidate{m, c, inNominal, len(shown) > 0})
		}
	}
	return out, readings.Union(missing, readings.UnionOf(undecided))
}

// withGaps leaves some stretches of the samples out.
func withGaps(s *ingest.Series, random *rand.Rand) *ingest.Series {
	at, n, c := array.NewFloat64Builder(memory.DefaultAllocator), array.NewFloat64Builder(memory.DefaultAllocator), array.NewUint8Builder(memory.DefaultAllocator)
	left := 0
	for i, t := range s.TimeValues() {
		if random.IntN(60) == 0 {
			left = random.IntN(25)
		}
		if left--; left > 0 {
			continue
		}
		at.Append(t)
		if s.Parameter.Numeric() {
			n.Append(s.Numbers()[i])
		} else {
			c.Append(s.Codes()[i])
		}
	}
	out := *s
	out.Times, out.Values = at.NewFloat64Array(), n.NewFloat64Array()
	if !s.Parameter.Numeric() {
		out.Values = c.NewUint8Array()
	}
	return &out
}

func TestCandidatesAreThoseOneByOne(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(14, 1))
	rules := []*Rule{
		ruleOf(t, `at: 'begins(gear_lever == "DOWN")', when: computed_airspeed > 100, also_possible: true`),
		ruleOf(t, `at: changes(gear_lever), when: gear_horn or computed_airspeed < 98, also_possible: true`),
		ruleOf(t, `at: 'either(ends(gear_horn), falls_through(computed_airspeed, 100))', when: 'gear_lever == "UP" and pressure_altitude < radio_altitude', also_possible: true`),
		ruleOf(t, `at: 'last_before(begins(gear_horn), changes(gear_lever))', when: 'held(gear_horn, 2)', also_possible: true`),
	}
	const end = 1500 // more than twice nearSeconds
	found, doubted := 0, 0
	for range 40 {
		walk := func(start, by float64) (out []float64) {
			for range end + 1 {
				out = append(out, start)
				start += math.Round(random.NormFloat64()*by) + math.Round((100-start)/10)
			}
			return out
		}
		flips := func(most int) (out []float64) {
			for on := 0.0; len(out) <= end; on = 2 - on {
				out = append(out, repeated(float64(1+random.IntN(most)), on)...)
			}
			return out[:end+1]
		}
		horn := flips(30)
		for i := range horn {
			horn[i] /= 2
		}
		env := ReadTracks(flightOf(end, withGaps(seconds("gear_lever", flips(1+random.IntN(40))...), random), withGaps(seconds("gear_horn", horn...), random),
			withGaps(seconds("computed_airspeed", walk(100, 3)...), random), withGaps(seconds("pressure_altitude", walk(100, 3)...), random), withGaps(seconds("radio_altitude", walk(100, 2)...), random)))
		for i, rule := range rules {
			want, wantUnknown := oneByOne(env, rule)
			got, gotUnknown := candidatesOf(env, rule)
			alike(t, fmt.Sprint("unknown of rule ", i), gotUnknown, wantUnknown)
			if len(got) != len(want) {
				t.Fatalf("rule %d: %d candidates, want %d", i, len(got), len(want))
			}
			for k, g := range got {
				w, reach := want[k], stretch(got[k].Earliest, got[k].Latest)
				alike(t, fmt.Sprint("moment of rule ", i), g.Moment, w.Moment)
				alike(t, fmt.Sprint("nominal, shown, sure of rule ", i), []bool{g.nominal, g.shown, g.sure()}, []bool{w.nominal, w.shown, w.sure()})
				alike(t, fmt.Sprint("certain of rule ", i), g.condition.Certain.Within(reach), w.condition.Certain.Within(reach))
				alike(t, fmt.Sprint("possible of rule ", i), g.condition.Possible.Within(reach), w.condition.Possible.Within(reach))
				if found++; !g.shown && !g.nominal {
					doubted++
				}
			}
		}
	}
	if found < 5000 || doubted < 500 {
		t.Errorf("%d candidates, %d of them rest on missing samples: too few to show anything", found, doubted)
	}
}
