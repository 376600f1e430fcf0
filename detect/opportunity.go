package detect

import (
	"cmp"
	"math"
	"slices"

	"downlock/detect/readings"
)

// OpportunityKind names the thing a flight must contain before a rule could show
// anything. A flight without one was neither evaluated nor not evaluable for the
// rule: it had no opportunity, and no rate divides by it.
type OpportunityKind string

const (
	OpenFlight        OpportunityKind = "flight" // the recording of a flight itself
	OpenTakeOffRoll   OpportunityKind = "take-off roll"
	OpenLiftOff       OpportunityKind = "lift-off"
	OpenRetraction    OpportunityKind = "gear retraction"
	OpenExtension     OpportunityKind = "gear extension"
	OpenApproach      OpportunityKind = "approach"
	OpenGoAround      OpportunityKind = "go-around"
	OpenTouchdown     OpportunityKind = "touchdown"
	OpenLanding       OpportunityKind = "landing"
	OpenTouchAndGo    OpportunityKind = "touch-and-go"
	OpenBalkedLanding OpportunityKind = "balked landing"
	OpenAir           OpportunityKind = "air time"
	OpenGround        OpportunityKind = "ground time"
)

// OpportunityKinds lists every kind in the order reports show them.
var OpportunityKinds = []OpportunityKind{OpenFlight, OpenTakeOffRoll, OpenLiftOff, OpenRetraction, OpenExtension, OpenApproach,
	OpenGoAround, OpenTouchdown, OpenLanding, OpenTouchAndGo, OpenBalkedLanding, OpenAir, OpenGround}

// Opportunity is one chance for a rule to show something. Between its ends lies all
// that a rule of its kind looks at; the ends have bounds, like those of an event.
type Opportunity struct {
	Kind         OpportunityKind
	Begins, Ends Time
	Ended        string // how, where there is more than one way

	// moment is the one that makes it one, where that is neither of its ends.
	moment float64
}

// owns reports whether a moment at that nominal time is one of those that make it
// an opportunity.
func (o *Opportunity) owns(t float64) bool {
	return t == o.Begins.Nominal || t == o.Ends.Nominal || t == o.moment
}

// Span is its nominal reading.
func (o Opportunity) Span() Span { return stretch(o.Begins.Nominal, o.Ends.Nominal) }

// afterContact (s) belongs to a touchdown: the wheels spin up, the spoilers come out.
const afterContact = 10.0

// opportunities lists every opportunity of a flight, by kind and then by time.
func opportunities(t *Tracks) []Opportunity {
	f := t.flight
	whole := exactly(f.Span.Start)
	out := []Opportunity{{Kind: OpenFlight, Begins: whole, Ends: exactly(f.Span.End), moment: math.NaN()}}
	addAt := func(moment float64, kind OpportunityKind, begins, ends Time, ended string) {
		out = append(out, Opportunity{kind, begins, ends, ended, moment})
	}
	add := func(kind OpportunityKind, begins, ends Time, ended string) {
		addAt(math.NaN(), kind, begins, ends, ended)
	}
	for _, r := range f.Rolls {
		add(OpenTakeOffRoll, r.Begins, r.Ends, string(r.Ended))
	}
	for _, a := range f.air {
		add(OpenAir, a.begins, a.ends, "")
	}
	for _, g := range f.groundStays(f.air) {
		add(OpenGround, g.begins, g.ends, "")
		if g.flies {
			addAt(g.ends.Nominal, OpenLiftOff, g.begins, f.climbed(g.ends), "")
		}
	}
	for _, s := range t.selections("UP", "gear_up_locked") {
		add(OpenRetraction, s.begins, s.ends, "")
	}
	for _, s := range t.selections("DOWN", "gear_down_locked") {
		add(OpenExtension, s.begins, s.ends, "")
	}
	for _, a := range f.Approaches {
		add(OpenApproach, a.Begins, a.Ends, string(a.Outcome))
	}
	for _, g := range f.GoArounds {
		addAt(g.Lowest.Nominal, OpenGoAround, g.Begins, g.Ends, "")
	}
	for i, d := range f.Touchdowns {
		begins, ends := f.air[i].begins, d.Time.later(afterContact)
		if k := slices.IndexFunc(f.Approaches, func(a Approach) bool { return a.Ends == d.Time }); k >= 0 {
			begins = f.Approaches[k].Begins
		}
		addAt(d.Time.Nominal, OpenTouchdown, begins, ends, string(d.Landed))
		kind := map[Landed]OpportunityKind{FullStop: OpenLanding, TouchAndGo: OpenTouchAndGo, BalkedLanding: OpenBalkedLanding}[d.Landed]
		if kind != "" {
			addAt(d.Time.Nominal, kind, begins, ends, "")
		}
	}
	slices.SortStableFunc(out, func(a, b Opportunity) int {
		return cmp.Or(cmp.Compare(slices.Index(OpportunityKinds, a.Kind), slices.Index(OpportunityKinds, b.Kind)), cmp.Compare(a.Begins.Nominal, b.Begins.Nominal))
	})
	return out
}

// later is the time some seconds after t.
func (t Time) later(seconds float64) Time {
	return Time{t.Nominal + seconds, t.Earliest + seconds, t.Latest + seconds}
}

// climbed is the end of the climb that follows a lift-off: 1000 ft, or the end of
// the stay in the air before that.
func (f *Flight) climbed(liftOff Time) Time {
	for _, a := range f.air {
		if a.begins != liftOff {
			continue
		}
		if t, ok := f.passes(initialClimbEnds, a.span()); ok {
			return t
		}
		return a.ends
	}
	return liftOff
}

// selections are the times from a selection of the gear lever in the air until
// every leg has locked where it is to be, or the lever is moved away again.
func (t *Tracks) selections(position, locked string) (out []stay) {
	if !t.flight.signals.Has("gear_lever") {
		return nil
	}
	selected := t.State("gear_lever", position)
	moved := readings.Begins(readings.Not(selected, t.windows()))
	there := readings.Begins(t.Condition(locked))
	ended := [2][]readings.Moment{moved, there}
	for _, m := range readings.Begins(selected) {
		if !m.InNominal() || !t.flight.airborne.True.Contains(m.Nominal) {
			continue
		}
		s := stay{Time{m.Nominal, m.Earliest, m.Latest}, exactly(t.flight.Span.End)}
		rest := stretch(m.Nominal, t.flight.Span.End)
		for i, ends := range ended {
			for len(ends) > 0 && ends[0].Latest < m.Nominal { // over before this and every later selection
				ends = ends[1:]
			}
			ended[i] = ends
			if end, ok := firstOf(ends, rest); ok && end.Nominal < s.ends.Nominal {
				s.ends = end
			}
		}
		out = append(out, s)
	}
	return out
}

// ofKind keeps the opportunities of a kind.
func ofKind(all []Opportunity, kind OpportunityKind) (out []Opportunity) {
	for _, o := range all {
		if o.Kind == kind {
			out = append(out, o)
		}
	}
	return out
}

// Chances counts, of one rule on one flight, its opportunities and how far the
// samples let each be evaluated.
type Chances struct{ All, Evaluated, Partly, Not int }

// chances counts the opportunities against the time in which samples are missing.
func chances(open []Opportunity, unknown readings.Spans) Chances {
	c := Chances{All: len(open)}
	for _, o := range open {
		switch missing := unknown.Within(o.Span()); {
		case len(missing) == 0:
			c.Evaluated++
		case missing.Seconds() < o.Span().Seconds():
			c.Partly++
		default:
			c.Not++
		}
	}
	return c
}

// spansOf are the times of the opportunities, joined.
func spansOf(open []Opportunity) readings.Spans {
	var all []Span
	for _, o := range open {
		all = append(all, stretch(o.Begins.Earliest, o.Ends.Latest))
	}
	return readings.UnionOf(all)
}

// tells says that a flight without an opportunity of a kind had none, and not only
// nothing recorded that shows one.
func (t *Tracks) tells(kind OpportunityKind) bool {
	switch kind {
	case OpenRetraction, OpenExtension:
		lever := t.State("gear_lever", "DOWN")
		return t.Has("gear_lever") && len(readings.Intersect(lever.Missing(t.windows()), t.Condition("airborne").Possible)) == 0
	case OpenApproach, OpenGoAround:
		missing, _ := heightNeeds(t)
		return len(missing) == 0
	}
	return true
}
