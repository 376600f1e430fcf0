package detect

import (
	"fmt"
	"math"
	"slices"
	"sort"

	"downlock/detect/readings"
	"downlock/detect/samples"
	"downlock/ingest/accuracy"
	"downlock/schemas"
)

// ObservationKind is a way in which a recorded parameter is odd.
type ObservationKind string

const (
	Frozen     ObservationKind = "frozen"       // it stays the same while another shows that it cannot
	Dropouts   ObservationKind = "dropouts"     // gaps of a hundredth of the flight and more
	Chatter    ObservationKind = "chatter"      // a discrete that changes to and fro
	EndOfRange ObservationKind = "end of range" // it stays at its largest value

	Implausible ObservationKind = "implausible" // it cannot have been so, and is not used there
	Terrain     ObservationKind = "terrain"     // the ground rises below the aircraft

	Understated ObservationKind = "accuracy" // the stated accuracy is less than the samples allow

	// Unconfirmed: nothing in the recording shows that the profile reads it rightly, so
	// that no finding that rests on it is certain.
	Unconfirmed ObservationKind = "unconfirmed"

	// Unexplained: it is true, and nothing in the flight shows the cause or the effect that
	// its meaning implies. Another may stand in its column.
	Unexplained ObservationKind = "unexplained"

	SourcesDisagree ObservationKind = "sources disagree" // the source in use and a further one say different things
)

// Observation is something odd about one parameter in one flight. It is for a
// reader to weigh: nothing is taken out for it.
type Observation struct {
	Kind      ObservationKind
	Parameter string
	Spans     []Span // where, in order
	Evidence  string
}

// observations look at every recorded parameter of a flight.
func observations(f *Flight) []Observation {
	out := []Observation{}
	add := func(kind ObservationKind, name string, spans readings.Spans, format string, args ...any) {
		if len(spans) > 0 {
			out = append(out, Observation{kind, name, spans, fmt.Sprintf(format, args...)})
		}
	}
	for _, p := range f.Profile.Parameters() {
		name := p.Name
		if !f.signals.Has(name) {
			continue
		}
		for _, w := range frozenSigns {
			if w.parameter == name {
				spans := w.find(f)
				add(Frozen, name, spans, "the same value for %.0f s while %s", spans.Seconds(), w.meanwhile)
			}
		}
		if gaps := samples.Sampling(f.signals.Series(name)).Gaps(f.Span); gaps.Seconds() >= 0.01*f.Span.Seconds() {
			add(Dropouts, name, gaps, "no samples for %.0f s of %.0f s", gaps.Seconds(), f.Span.Seconds())
		}
		if h := f.signals.Code(name); h != nil {
			add(Chatter, name, chatter(h.Changes(f.Span)), "%d or more changes within %.0f s", chatterChanges, chatterSeconds)
		}
		out = append(out, understated(f, p)...)
		out = append(out, disagreements(f, p)...)
	}
	if line := f.signals.Line("radio_altitude"); line != nil {
		spans := f.signals.Excursions().Within(f.Span)
		add(Implausible, "radio_altitude", spans, "jumps while the pressure altitude does not; not used for %.1f s", spans.Seconds())
		out = append(out, terrain(f)...)
		top := f.signals.Top("radio_altitude")
		spans = constantRuns(line, f.Span, leastAtEnd, func(v float64) bool { return v == top })
		add(EndOfRange, "radio_altitude", spans, "reads %.0f ft for %.0f s, the largest value of the recording; not a height", top, spans.Seconds())
	}
	return out
}

// understated finds an accuracy the profile states that is less than the samples of a
// stay in the air allow. On the ground a wheel is steered and levers are tried.
func understated(f *Flight, p schemas.Parameter) (out []Observation) {
	line := f.signals.Line(p.Name)
	if line == nil || line.Accuracy == 0 {
		return nil
	}
	for _, a := range f.air {
		from, to := line.Within(a.span())
		if e, small := accuracy.TooSmall(line.Accuracy, line.Times[from:to], line.Values[from:to], line.Gap); small {
			out = append(out, Observation{Understated, p.Name, readings.Spans{a.span()}, fmt.Sprintf("the profile states an accuracy of %s %s; the samples are %s",
				threeDigits(line.Accuracy), p.Unit, e.Evidence(unitWord(p)))})
		}
	}
	return out
}

const leastAtEnd = 30.0 // s; a hill does not stay below the aircraft for as long to the foot

// So many changes within so short a time are no use of a lever or switch, no
// bounce on landing and no warning that flickers at its limit: common practice.
const (
	chatterChanges = 8
	chatterSeconds = 10.0
)

// chatter lists the stretches in which a discrete changes to and fro.
func chatter(changes []float64) readings.Spans {
	var found []Span
	for i := chatterChanges - 1; i < len(changes); i++ {
		if from := changes[i-chatterChanges+1]; changes[i]-from <= chatterSeconds {
			found = append(found, stretch(from, changes[i]))
		}
	}
	return readings.UnionOf(found)
}

// constantRuns lists the stretches of at least so many seconds in which a line
// keeps one value, to the bit, without a gap.
func constantRuns(l *readings.Line, within Span, least float64, keep func(v float64) bool) (out readings.Spans) {
	for _, r := range l.Rests(l.Values, within, least, 0) {
		if keep(r.Value) {
			out = append(out, r.Span)
		}
	}
	return out
}

// frozenSign is what shows that a parameter cannot have stayed the same.
type frozenSign struct {
	parameter string
	least     float64 // s of one value
	keep      func(v float64) bool
	meanwhile string
	shown     func(f *Flight, run Span) bool
}

// moves says that a parameter's smallest and largest value in a run are so far
// apart.
func moves(name string, by float64) func(*Flight, Span) bool {
	return func(f *Flight, run Span) bool {
		l := f.signals.Line(name)
		if l == nil {
			return false
		}
		low, high := math.Inf(1), math.Inf(-1)
		for i := sort.SearchFloat64s(l.Times, run.Start); i < len(l.Times) && l.Times[i] <= run.End; i++ {
			low, high = min(low, l.Values[i]), max(high, l.Values[i])
		}
		return high-low >= by
	}
}

// anyValue keeps every value.
func anyValue(float64) bool { return true }

// frozenSigns: a steady flight keeps many parameters the same for long, so each
// needs another that contradicts it.
var frozenSigns = []frozenSign{
	{"pressure_altitude", 30, anyValue, "the radio altitude changes by 500 ft or more and the vertical speed is not zero", func(f *Flight, run Span) bool {
		l := f.signals.Line("vertical_speed")
		if l == nil || !moves("radio_altitude", 500)(f, run) {
			return false
		}
		m, ok := l.Mean(run.Start, run.End)
		return ok && math.Abs(m) > 300
	}},
	{"radio_altitude", 20, func(v float64) bool { return v > 50 && v < 2000 }, "the pressure altitude changes by 300 ft or more", moves("pressure_altitude", 300)},
	{"computed_airspeed", 30, func(v float64) bool { return v > 60 }, "the ground speed changes by 60 kt or more", moves("ground_speed", 60)},
	{"ground_speed", 30, func(v float64) bool { return v > 60 }, "the airspeed changes by 60 kt or more", moves("computed_airspeed", 60)},
	{"vertical_speed", 60, func(v float64) bool { return math.Abs(v) >= 300 }, "the pressure altitude changes by less than half as much", func(f *Flight, run Span) bool {
		vertical, pressure := f.signals.Line("vertical_speed"), f.signals.Line("pressure_altitude")
		if pressure == nil {
			return false
		}
		d, ok := pressure.Change(run.Start, run.End)
		said, _ := vertical.At(run.Start)
		return ok && math.Abs(d) < math.Abs(said)/60*run.Seconds()/2
	}},
	{"latitude", 60, anyValue, "the longitude stays too and the ground speed is above 80 kt", standsStill},
}

// standsStill says that the longitude stays the same too while the aircraft is
// fast: a flight due east keeps its latitude alone.
func standsStill(f *Flight, run Span) bool {
	longitude, speed := f.signals.Line("longitude"), f.signals.Line("ground_speed")
	if longitude == nil || speed == nil || moves("longitude", 1e-9)(f, run) {
		return false
	}
	m, ok := speed.Mean(run.Start, run.End)
	return ok && m > 80
}

// find lists where a parameter is frozen.
func (w frozenSign) find(f *Flight) (out readings.Spans) {
	l := f.signals.Line(w.parameter)
	if l == nil {
		return nil
	}
	// The top of the range is no sign of a frozen one.
	top := f.signals.Top("radio_altitude")
	runs := constantRuns(l, f.Span, w.least, func(v float64) bool { return w.keep(v) && (w.parameter != "radio_altitude" || v < top) })
	return slices.DeleteFunc(runs, func(run Span) bool { return !w.shown(f, run) })
}
