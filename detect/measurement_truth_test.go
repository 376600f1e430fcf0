package detect_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"sort"
	"testing"

	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/memory"

	"downlock/detect"
	"downlock/ingest"
	"downlock/schemas"
	"downlock/testdata/effort"
)

// Measurements against the truth: flights are made up in continuous time, what
// is to be measured is worked out from that (by going through every instant at
// which anything changes), and then they are sampled as a recorder samples, with
// a random phase, rate and gaps. The true value must lie in the bounds, and what
// is certain must be so. Nothing here reads the samples to know the truth.

// switching is a value in continuous time: values[i] holds from times[i].
type switching struct {
	times  []float64
	values []float64
}

func (s *switching) add(at, value float64) {
	s.times, s.values = append(s.times, at), append(s.values, value)
}

func (s switching) at(t float64) float64 {
	i := sort.Search(len(s.times), func(i int) bool { return s.times[i] > t })
	return s.values[max(i-1, 0)]
}

// inventedFlight is a flight in continuous time.
type inventedFlight struct {
	end, liftOff, touchdown float64
	lever                   switching // 0 UP, 2 DOWN
	down, up                [3]switching
	horn, cutout, flap      switching
	speed, height           []float64 // at each second, straight between
	wiggle                  float64   // kt the true airspeed departs from that
}

var inventedLegs = [3]string{"nose", "left", "right"}

func invent(r *rand.Rand) *inventedFlight {
	f := &inventedFlight{end: 300, liftOff: 30 + 5*r.Float64(), touchdown: 260 + 20*r.Float64(), wiggle: 1}
	f.lever.add(0, 2)
	position := [3]float64{} // when each leg is where the lever wants it
	for leg := range 3 {
		f.down[leg].add(0, 1)
		f.up[leg].add(0, 0)
	}
	at := f.liftOff + 12*r.Float64() - 1
	for up := true; at < f.touchdown-10; up = !up {
		f.lever.add(at, map[bool]float64{true: 0, false: 2}[up])
		for leg := range 3 {
			leaves, arrives := max(at+0.3+r.Float64(), position[leg]+0.1), at+6+4*r.Float64()
			arrives = max(arrives, leaves+2)
			position[leg] = arrives
			from, to := &f.down[leg], &f.up[leg]
			if !up {
				from, to = to, from
			}
			from.add(leaves, 0)
			to.add(arrives, 1)
		}
		at += 16 + 90*r.Float64()
	}
	for _, s := range []*switching{&f.horn, &f.cutout} {
		s.add(0, 0)
		for at, on := 40+80*r.Float64(), 1.0; at < 290; at, on = at+9+60*r.Float64(), 1-on {
			s.add(at, on)
		}
	}
	f.flap.add(0, 5)
	for at := f.liftOff + 20*r.Float64(); at < 290; at += 9 + 30*r.Float64() {
		if flap := []float64{0, 1, 5, 15, 20, 30, 40}[r.IntN(7)]; flap != f.flap.at(at) {
			f.flap.add(at, flap)
		}
	}
	speed, height := 0.0, 0.0
	for t := range 302 {
		climb := 0.0
		switch at := float64(t); {
		case at >= f.liftOff && at < 150:
			climb = 4 + 18*r.Float64()
		case at >= f.liftOff && at < f.touchdown-1:
			climb = -height / (f.touchdown - at) * (0.7 + 0.6*r.Float64())
		case at >= f.liftOff:
			climb = -height
		}
		f.speed, f.height = append(f.speed, speed), append(f.height, height)
		speed = min(max(speed+14*r.Float64()-4, 0), 300)
		height = max(height+climb, 0)
	}
	return f
}

func straight(points []float64, t float64) float64 {
	i := min(int(t), len(points)-2)
	return points[i] + (points[i+1]-points[i])*(t-float64(i))
}

func (f *inventedFlight) airspeed(t float64) float64 {
	return straight(f.speed, t) + f.wiggle*math.Sin(7*t)
}

func (f *inventedFlight) airborne(t float64) bool { return t >= f.liftOff && t < f.touchdown }

func (f *inventedFlight) allOf(legs [3]switching) func(float64) bool {
	return func(t float64) bool { return legs[0].at(t) == 1 && legs[1].at(t) == 1 && legs[2].at(t) == 1 }
}

func (f *inventedFlight) anyOf(legs [3]switching) func(float64) bool {
	return func(t float64) bool { return legs[0].at(t) == 1 || legs[1].at(t) == 1 || legs[2].at(t) == 1 }
}

func is(s switching, value float64) func(float64) bool {
	return func(t float64) bool { return s.at(t) == value }
}

// changes are all instants at which anything changes.
func (f *inventedFlight) changes() []float64 {
	all := []float64{f.liftOff, f.touchdown}
	for _, s := range append(append([]switching{f.lever, f.horn, f.cutout, f.flap}, f.down[:]...), f.up[:]...) {
		all = append(all, s.times[1:]...)
	}
	slices.Sort(all)
	return all
}

// begins lists the instants at which a condition becomes true.
func (f *inventedFlight) begins(c func(float64) bool) (out []float64) {
	const before = 1e-7
	for _, t := range f.changes() {
		if !c(t-before) && c(t) {
			out = append(out, t)
		}
	}
	return slices.Compact(out)
}

func only(times []float64, c func(float64) bool) (out []float64) {
	for _, t := range times {
		if c(t) {
			out = append(out, t)
		}
	}
	return out
}

// next gives the seconds from each moment to the next, nothing between.
func next(from, to []float64) (out []float64) {
	for _, b := range to {
		before := math.Inf(-1)
		for _, a := range from {
			if a <= b {
				before = max(before, a)
			}
		}
		if !slices.ContainsFunc(to, func(other float64) bool { return other >= before && other < b }) && !math.IsInf(before, -1) {
			out = append(out, b-before)
		}
	}
	return out
}

func valuesAt(f func(float64) float64, times []float64) (out []float64) {
	for _, t := range times {
		out = append(out, f(t))
	}
	return out
}

func largestOf(v []float64) []float64 {
	if len(v) == 0 {
		return nil
	}
	return []float64{slices.Max(v)}
}

func negative(v []float64) []float64 {
	for i := range v {
		v[i] = -v[i]
	}
	return v
}

// moreMeasurements are of forms the built-in ones use little.
const moreMeasurements = `schema: downlock rules 1
pack: more
measurements:
  - {id: highest-horn-airspeed, title: A, definition: B., of: computed_airspeed, while: gear_horn, take: largest}
  - {id: lowest-horn-height, title: A, definition: B., of: height, while: airborne and gear_horn, take: smallest}
  - {id: slowest-extension, title: A, definition: B., from: 'begins(gear_lever == "DOWN")', to: begins(gear_down_locked), while: airborne, take: largest}
  - {id: flap-retractions, title: A, definition: B., count: decreases(flap_handle), while: airborne}
`

// looks are the times the truth of a continuous number is looked at: every
// 1/64 s, which whole seconds are among, and on either side of every change.
func (f *inventedFlight) looks() (out []float64) {
	for t := 0.0; t <= f.end; t += 1.0 / 64 {
		out = append(out, t)
	}
	for _, t := range f.changes() {
		out = append(out, t-1e-7, t)
	}
	return out
}

// truth gives the true value of measurements, none where there is nothing to
// measure.
func (f *inventedFlight) truth() map[string][]float64 {
	up, down := only(f.begins(is(f.lever, 0)), f.airborne), only(f.begins(is(f.lever, 2)), f.airborne)
	locked := f.begins(f.allOf(f.down))
	height := func(t float64) float64 { return straight(f.height, t) }
	first := func(v []float64) []float64 { return v[:min(1, len(v))] }
	last := func(v []float64) []float64 { return v[max(len(v)-1, 0):] }
	total := func(c func(float64) bool) []float64 {
		seconds, from := 0.0, 0.0
		for _, t := range append(f.changes(), f.end) {
			if c((from + t) / 2) {
				seconds += t - from
			}
			from = t
		}
		return []float64{seconds}
	}
	looks := f.looks()
	largest := func(v func(float64) float64, c func(float64) bool) (out []float64) {
		for _, t := range looks {
			if c(t) && (len(out) == 0 || v(t) > out[0]) {
				out = []float64{v(t)}
			}
		}
		return out
	}
	uses := only(f.begins(is(f.cutout, 1)), f.airborne)
	smallest := func(v []float64) []float64 { return negative(largestOf(negative(v))) }
	var retracted []float64 // flap moved towards up
	for i, t := range f.flap.times[1:] {
		if f.flap.values[i+1] < f.flap.values[i] && f.airborne(t) {
			retracted = append(retracted, t)
		}
	}
	airborneOut := func(t float64) bool { return f.airborne(t) && !f.allOf(f.up)(t) }
	truth := map[string][]float64{
		"lift-off-airspeed":            {f.airspeed(f.liftOff)},
		"touchdown-airspeed":           {f.airspeed(f.touchdown)},
		"gear-up-time":                 first(next([]float64{f.liftOff}, f.begins(is(f.lever, 0)))),
		"gear-locked-height":           last(valuesAt(height, only(locked, f.airborne))),
		"gear-locked-to-touchdown":     last(next(only(locked, f.airborne), []float64{f.touchdown})),
		"gear-extended-seconds":        total(airborneOut),
		"lever-movements":              {float64(len(up) + len(down))},
		"extended-speed-excess":        largest(func(t float64) float64 { return f.airspeed(t) - 280 }, airborneOut), // the shipped limit
		"highest-horn-airspeed":        largest(f.airspeed, is(f.horn, 1)),
		"lowest-horn-height":           negative(largest(func(t float64) float64 { return -height(t) }, func(t float64) bool { return f.airborne(t) && f.horn.at(t) == 1 })),
		"slowest-extension":            largestOf(next(down, locked)),
		"flap-retractions":             {float64(len(retracted))},
		"first-flap-retraction-height": first(valuesAt(height, retracted)),
		"horn-seconds":                 total(is(f.horn, 1)),
		"horn-switch-seconds":          total(func(t float64) bool { return f.airborne(t) && f.cutout.at(t) == 1 }),
		"horn-switch-uses":             {float64(len(uses))},
		"horn-switch-height":           smallest(valuesAt(height, uses)),
	}
	return truth
}

// movement is one gear movement: when it was selected in the air, and what is true
// of it, none where there is nothing to measure.
type movement struct {
	selected float64
	value    []float64
}

// movements gives the true value of measurements made in every retraction or
// extension.
func (f *inventedFlight) movements() map[string][]movement {
	up, down := only(f.begins(is(f.lever, 0)), f.airborne), only(f.begins(is(f.lever, 2)), f.airborne)
	height := func(t float64) float64 { return straight(f.height, t) }
	// The lever stays for 16 s and more, longer than the legs take.
	within := func(selected float64, times []float64) []float64 {
		return only(times, func(t float64) bool { return t >= selected && t < selected+15 })
	}
	each := func(selections []float64, of func(selected float64) []float64) (out []movement) {
		for _, s := range selections {
			v := of(s)
			out = append(out, movement{s, v[:min(1, len(v))]})
		}
		return out
	}
	until := func(times []float64) func(float64) []float64 {
		return func(selected float64) []float64 {
			return valuesAt(func(t float64) float64 { return t - selected }, within(selected, times))
		}
	}
	at := func(v func(float64) float64) func(float64) []float64 {
		return func(selected float64) []float64 { return []float64{v(selected)} }
	}
	truth := map[string][]movement{
		"gear-up-height":     each(up, at(height)),
		"gear-up-airspeed":   each(up, at(f.airspeed)),
		"gear-down-height":   each(down, at(height)),
		"gear-down-airspeed": each(down, at(f.airspeed)),
		"extension-time":     each(down, until(f.begins(f.allOf(f.down)))),
		"retraction-time":    each(up, until(f.begins(f.allOf(f.up)))),
		"unlock-time":        each(up, until(f.begins(func(t float64) bool { return !f.anyOf(f.down)(t) }))),
		"extension-spread": each(down, func(selected float64) []float64 {
			return next(within(selected, only(f.begins(f.anyOf(f.down)), f.airborne)), within(selected, f.begins(f.allOf(f.down))))
		}),
		"extension-speed-excess":  each(down, at(func(t float64) float64 { return f.airspeed(t) - 250 })), // the shipped limits
		"retraction-speed-excess": each(up, at(func(t float64) float64 { return f.airspeed(t) - 230 })),
	}
	for i, leg := range inventedLegs {
		truth["extension-time-"+leg] = each(down, until(f.begins(is(f.down[i], 1))))
		truth["retraction-time-"+leg] = each(up, until(f.begins(is(f.up[i], 1))))
	}
	return truth
}

// record samples a function; gaps leaves stretches out.
func record(r *rand.Rand, name string, every, end, accuracy float64, gaps int, value func(float64) float64) *ingest.Series {
	p, _ := schemas.LookupParameter(name)
	s := &ingest.Series{Parameter: p, Column: name, Interval: every, Gap: 3 * every, Accuracy: accuracy}
	var holes [][2]float64
	for range gaps {
		at := end * r.Float64()
		holes = append(holes, [2]float64{at, at + s.Gap + 25*r.Float64()}) // shorter ones are no gap
	}
	times, numbers, codes := array.NewFloat64Builder(memory.DefaultAllocator), array.NewFloat64Builder(memory.DefaultAllocator), array.NewUint8Builder(memory.DefaultAllocator)
	first := every * r.Float64()
	if p.Kind == schemas.Continuous {
		first = 0 // numbers are straight between whole seconds: what a line says is then true
	}
	for t := first; t <= end; t += every {
		if slices.ContainsFunc(holes, func(h [2]float64) bool { return h[0] < t && t < h[1] }) {
			continue
		}
		times.Append(t)
		numbers.Append(value(t))
		codes.Append(uint8(value(t)))
	}
	s.Times = times.NewFloat64Array()
	s.Values = codes.NewUint8Array()
	if p.Numeric() {
		s.Values = numbers.NewFloat64Array()
	}
	return s
}

// recorded samples the flight, with up to so many gaps in a parameter.
func (f *inventedFlight) recorded(r *rand.Rand, gaps int) *ingest.Recording {
	rate := func() float64 { return []float64{0.25, 0.5, 1, 2, 4}[r.IntN(5)] }
	some := func() int { return r.IntN(gaps + 1) }
	ground := func(t float64) float64 {
		if f.airborne(t) {
			return 0
		}
		return 1
	}
	struts := rate()
	series := []*ingest.Series{
		record(r, "left_strut_compressed", struts, f.end, 0, 0, ground),
		record(r, "right_strut_compressed", rate(), f.end, 0, 0, ground),
		record(r, "computed_airspeed", 1, f.end, f.wiggle, some(), func(t float64) float64 { return straight(f.speed, t) }),
		record(r, "radio_altitude", 1, f.end, 0, some(), func(t float64) float64 { return straight(f.height, t) }),
		record(r, "gear_lever", rate(), f.end, 0, some(), f.lever.at),
		record(r, "gear_horn", rate(), f.end, 0, some(), f.horn.at),
		record(r, "gear_horn_cutout", rate(), f.end, 0, some(), f.cutout.at),
		record(r, "flap_handle", rate(), f.end, 0, some(), f.flap.at),
	}
	for i, leg := range inventedLegs {
		series = append(series, record(r, leg+"_gear_down_locked", rate(), f.end, 0, some(), f.down[i].at),
			record(r, leg+"_gear_up_locked", rate(), f.end, 0, some(), f.up[i].at))
	}
	return recordingOf(f.end, series...)
}

func TestMeasurementsHoldTheTruth(t *testing.T) {
	t.Parallel()
	rules, err := detect.LoadRules()
	if err != nil {
		t.Fatal(err)
	}
	if rules, err = rules.With("more.yaml", []byte(moreMeasurements)); err != nil {
		t.Fatal(err)
	}
	_, profile := shippedDetector(t)
	detector, err := detect.New(profile, &detect.RuleSet{Measurements: rules.Measurements})
	if err != nil {
		t.Fatal(err)
	}
	flights := effort.Of(100, 150, 300)
	var sum measuredScore
	movements := 0
	for seed := range flights {
		r := rand.New(rand.NewPCG(uint64(seed), 7))
		f := invent(r)
		results := detector.Detect(f.recorded(r, seed%3)) // none, up to one, up to two gaps
		if len(results) != 1 {
			t.Fatalf("seed %d: %d flights", seed, len(results))
		}
		for id, want := range f.truth() {
			sum.compare(t, fmt.Sprintf("seed %d, %s", seed, id), measurementOf(t, results[0], id), want)
		}
		before := sum.compared
		for id, want := range f.movements() {
			sum.compareMovements(t, fmt.Sprintf("seed %d, %s", seed, id), measurementsOf(results[0], id), want)
		}
		movements += sum.compared - before
	}
	if sum.certain < sum.compared*8/10 {
		t.Errorf("only %d of %d measurements are certain", sum.certain, sum.compared)
	}
	if movements < 10*flights {
		t.Errorf("only %d measurements of gear movements in %d flights", movements, flights)
	}
	t.Logf("%d measurements compared, %d of them of gear movements, %d certain", sum.compared, movements, sum.certain)
}

// measuredScore counts measurements that were compared, and those of them that are certain.
type measuredScore struct{ compared, certain int }

// compare holds a measurement against the true value, none where there is nothing
// to measure.
func (s *measuredScore) compare(t *testing.T, what string, m detect.Measurement, want []float64) {
	t.Helper()
	s.compared++
	if m.Certainty == detect.Certain {
		s.certain++
	}
	certainlyWrong := m.Certainty == detect.Certain && (len(want) == 0) != (m.Outcome == detect.DidNotHappen)
	outside := m.Outcome == detect.Measured && (!bounds(m, m.Value) || len(want) > 0 && !bounds(m, want[0]))
	if certainlyWrong || outside {
		t.Errorf("%s, number %d: %s %s %v in %v to %v; true %v", what, m.Opportunity, m.Certainty, m.Outcome, m.Value, m.Lowest, m.Highest, want)
	}
}

// compareMovements finds for each measurement the movement that was selected when
// the samples say, and wants no movement passed over as if there had been none.
func (s *measuredScore) compareMovements(t *testing.T, what string, made []detect.Measurement, want []movement) {
	t.Helper()
	selectedIn := func(m detect.Measurement) (found []movement) {
		for _, k := range want {
			if m.Opportunity > 0 && k.selected >= m.Begins.Earliest && k.selected <= m.Begins.Latest {
				found = append(found, k)
			}
		}
		return found
	}
	moreMayBe := false
	for _, m := range made {
		switch found := selectedIn(m); {
		case m.Opportunity == 0:
			moreMayBe = m.Outcome != detect.DidNotHappen || m.Certainty != detect.Certain
		case len(found) == 1:
			s.compare(t, what, m, found[0].value)
		case len(found) == 0 && m.Certainty == detect.Certain && m.Outcome != detect.DidNotHappen:
			t.Errorf("%s, number %d: %v at %v, none was selected", what, m.Opportunity, m.Value, m.At)
		case len(found) > 1 && m.Outcome == detect.Measured && !slices.ContainsFunc(found, func(k movement) bool { return len(k.value) == 0 || bounds(m, k.value[0]) }):
			t.Errorf("%s, number %d: %v in %v to %v; true %v", what, m.Opportunity, m.Value, m.Lowest, m.Highest, found)
		}
	}
	for _, k := range want {
		passedOver := !slices.ContainsFunc(made, func(m detect.Measurement) bool {
			return slices.ContainsFunc(selectedIn(m), func(f movement) bool { return f.selected == k.selected })
		})
		if passedOver && len(k.value) > 0 && !moreMayBe {
			t.Errorf("%s: what was selected at %v is passed over in %+v", what, k.selected, made)
		}
	}
}
