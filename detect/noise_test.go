package detect_test

import (
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"downlock/detect"
	"downlock/ingest/simulator"
)

// weather is the noise of a real flight and a real recorder on top of a simulated one. The
// figures are common practice: moderate turbulence, a radio altimeter over rough
// ground, a strut switch that flickers as it works and an aircraft that bounces,
// a recorder whose samples are a little late or early and now and then lost.
type weather struct {
	random *rand.Rand
	flight *simulator.Flight
	gusts  [4]wave
	bounce float64 // s in the air again, beginning a second after touchdown; 0: none
}

// wave is one part of the turbulence: periods of 3 to 20 s.
type wave struct{ amplitude, frequency, phase float64 }

func newWeather(f *simulator.Flight, random *rand.Rand) *weather {
	w := &weather{random: random, flight: f}
	for i := range w.gusts {
		w.gusts[i] = wave{random.Float64() / 2, 2 * math.Pi / (3 + 17*random.Float64()), 2 * math.Pi * random.Float64()}
	}
	if random.IntN(2) == 0 {
		w.bounce = 0.4 + 1.4*random.Float64()
	}
	return w
}

// gust is between about -1 and 1.
func (w *weather) gust(t float64) (g float64) {
	for _, x := range w.gusts {
		g += x.amplitude * math.Sin(x.frequency*t+x.phase)
	}
	return g
}

// gustRate is how fast it changes, per second.
func (w *weather) gustRate(t float64) (r float64) {
	for _, x := range w.gusts {
		r += x.amplitude * x.frequency * math.Cos(x.frequency*t+x.phase)
	}
	return r
}

const (
	gustSpeed      = 3.0  // kt
	gustHeight     = 8.0  // ft, at a height of 200 ft and above
	radioNoise     = 1.0  // ft, standard deviation
	strutFlicker   = 0.6  // s around lift-off and touchdown
	earlyOrLate    = 0.05 // of the interval
	lostOneSampleA = 400  // one in so many
)

// change does all of it to the samples of a column.
func (w *weather) change(c simulator.Channel, times, values []float64) ([]float64, []float64) {
	for i, t := range times {
		height := w.flight.Height(t)
		share := min(height/200, 1) // none on the ground
		switch c.Parameter {
		case "computed_airspeed":
			values[i] = math.Round(10*(values[i]+share*gustSpeed*w.gust(t))) / 10
		case "pressure_altitude":
			values[i] = math.Round(values[i] + share*gustHeight*w.gust(t))
		case "vertical_speed":
			values[i] = 10 * math.Round((values[i]+share*60*gustHeight*w.gustRate(t))/10)
		case "radio_altitude":
			values[i] = min(2500, math.Round(values[i]+share*gustHeight*w.gust(t)+radioNoise*w.random.NormFloat64()))
		case "left_strut_compressed", "right_strut_compressed", "left_body_strut_compressed", "right_body_strut_compressed":
			values[i] = w.strut(t, values[i])
		}
	}
	return w.recorded(1/c.Sampling.PerSecond, times, values)
}

// strut flickers while the strut extends or takes the weight, and is extended
// again in a bounce.
func (w *weather) strut(t, value float64) float64 {
	for _, a := range w.flight.Scenario.Airborne {
		since := t - a.Touchdown
		if since > 1 && since < 1+w.bounce {
			return 0
		}
		if math.Abs(t-a.LiftOff) < strutFlicker || math.Abs(since) < strutFlicker {
			return float64(w.random.IntN(2))
		}
	}
	return value
}

// makes says that the weather may make an event of a rule come true.
func (w *weather) makes(rule string) bool { return rule == "bounced-landing" && w.bounce > 0 }

// recorded makes the samples late or early, and loses single ones.
func (w *weather) recorded(interval float64, times, values []float64) ([]float64, []float64) {
	kept, lostLast := 0, false
	for i, t := range times {
		if lostLast = !lostLast && w.random.IntN(lostOneSampleA) == 0; lostLast {
			continue
		}
		times[kept], values[kept] = t+interval*earlyOrLate*(2*w.random.Float64()-1), values[i]
		kept++
	}
	return times[:kept], values[:kept]
}

// noisy records a flight through weather of its own.
func noisy(f flown, random *rand.Rand) []detect.Event {
	w := newWeather(f.flight, random)
	s := sampled{flight: f.flight, wanted: f.columns, sampling: anyOffset(random), change: w.change}
	var found []detect.Event
	for _, result := range f.detector.Detect(s.recording()) {
		found = append(found, result.Events...)
	}
	return slices.DeleteFunc(found, func(e detect.Event) bool { return w.makes(e.Rule.ID) })
}

// errorsOf counts, for one rule, true events missed and events found that are
// not true, of these the certain ones.
type errorsOf struct{ happened, missed, falsely, certain int }

// verdict counts the errors of one flight. Turbulence moves the times at which a
// limit is passed, and splits an event or joins two: an event found within 10 s
// of a true one of its rule is that one.
func verdict(f flown, found []detect.Event, counts map[string]*errorsOf) {
	const near = 10
	of := func(rule string) *errorsOf {
		if counts[rule] == nil {
			counts[rule] = &errorsOf{}
		}
		return counts[rule]
	}
	same := func(e detect.Event, w simulator.Event) bool {
		return e.Rule.ID == w.Rule && e.Start.Nominal < w.End+near && e.End.Nominal > w.Start-near
	}
	for _, w := range f.happened {
		of(w.Rule).happened++
		if !slices.ContainsFunc(found, func(e detect.Event) bool { return same(e, w) }) {
			of(w.Rule).missed++
		}
	}
	for _, e := range found {
		if len(f.happened) > 0 && !slices.Contains(simulator.Rules(), e.Rule.ID) {
			continue // the truth does not speak of it; where nothing happens it has to be silent too
		}
		if !slices.ContainsFunc(f.happened, func(w simulator.Event) bool { return same(e, w) }) {
			of(e.Rule.ID).falsely++
			if e.Certainty == detect.Certain {
				of(e.Rule.ID).certain++
			}
		}
	}
}

// cleanAndEventful splits the demonstration flights: those in which nothing
// happens, and the others. One is in neither: there the lever moves within the
// flicker of the struts, so that the noise decides what happens first.
func cleanAndEventful(t testing.TB) (clean, eventful []flown) {
	for _, f := range demonstration(t) {
		switch {
		case len(f.happened) == 0:
			clean = append(clean, f)
		case !strings.HasPrefix(f.flight.Scenario.Name, "tarnholm-07"):
			eventful = append(eventful, f)
		}
	}
	return clean, eventful
}

func TestNoCertainFalseEvent(t *testing.T) {
	t.Parallel()
	clean, eventful := cleanAndEventful(t)
	random := rand.New(rand.NewPCG(20310303, 5))
	for k := range 25 {
		for _, f := range []flown{clean[k%len(clean)], eventful[k%len(eventful)]} {
			counts := map[string]*errorsOf{}
			verdict(f, noisy(f, random), counts)
			for rule, n := range counts {
				if n.certain > 0 {
					t.Errorf("%s: %s is said to be certain and did not happen", f.flight.Scenario.Name, rule)
				}
			}
		}
	}
}

// BenchmarkFalseEvents takes, each time, one clean flight and one with true
// events through noise: -benchtime 1000x makes a thousand of each.
//
// **Noise** (`go test ./detect -run XXX -bench FalseEvents -benchtime 1000x`): a thousand clean flights and a thousand with
// true events of 65 rules, each through turbulence (speed ± 3 kt, height ± 8 ft, the vertical speed that goes with it), radio
// altitude noise of 1 ft, strut switches flickering for 0.6 s either side of lift-off and touchdown, a bounce of up to 1.8 s
// every other time, samples late or early by 5 % of their interval, one in 400 lost. The figures are common practice.
//
// | flights | true events missed | false, certain | false, possible |
// |---|---|---|---|
// | 1000 clean | | 0 | 1 |
// | 1000 with events | 0 | 0 | 10 |
//
// The one on a clean flight is `go-around-retraction-early`: the flap is moved 3 s after the lowest point of a go-around, and a
// downdraught keeps the recorded rate of climb below 100 ft/min at that moment; it is not false of the air mass, and possible
// only. Of the ten, eight are `landing-flap-gear-not-locked` on a flight whose landing flap and last down-lock come 0.4 s apart,
// sampled once a second: their order is undecided. Two are `lever-cycled` and `gear-up-before-positive-climb` on the flight
// with UP selected before lift-off, where a flickering strut switch puts the selection in the air. A flight with the lever
// moved within the flicker is left out of the count, since the noise decides what happens first.
func BenchmarkFalseEvents(b *testing.B) {
	clean, eventful := cleanAndEventful(b)
	random := rand.New(rand.NewPCG(20310304, 6))
	onClean, onEventful := map[string]*errorsOf{}, map[string]*errorsOf{}
	n := 0
	for b.Loop() {
		quiet, busy := clean[n%len(clean)], eventful[n%len(eventful)]
		verdict(quiet, noisy(quiet, random), onClean)
		verdict(busy, noisy(busy, random), onEventful)
		n++
	}
	c, e := total(onClean), total(onEventful)
	b.ReportMetric(float64(c.falsely)/float64(n), "false/clean-flight")
	b.ReportMetric(float64(c.certain)/float64(n), "certain-false/clean-flight")
	b.ReportMetric(float64(e.falsely)/float64(n), "false/eventful-flight")
	b.ReportMetric(100*float64(e.missed)/float64(max(e.happened, 1)), "%-missed")
	b.Logf("%d clean flights:\n%s%d flights with events:\n%s", n, table(onClean), n, table(onEventful))
}

func total(counts map[string]*errorsOf) (sum errorsOf) {
	for _, n := range counts {
		sum.happened += n.happened
		sum.missed += n.missed
		sum.falsely += n.falsely
		sum.certain += n.certain
	}
	return sum
}

// table lists the rules with errors.
func table(counts map[string]*errorsOf) string {
	var b strings.Builder
	for _, rule := range slices.Sorted(maps.Keys(counts)) {
		if n := counts[rule]; n.missed > 0 || n.falsely > 0 {
			fmt.Fprintf(&b, "  %-34s happened %4d, missed %3d; false %3d, of these certain %d\n", rule, n.happened, n.missed, n.falsely, n.certain)
		}
	}
	if b.Len() == 0 {
		return "  no error\n"
	}
	return b.String()
}
