package detect

import (
	"math"

	"downlock/detect/language"
	"downlock/detect/readings"
)

// occurrence is one thing a measurement may be taken from. Order is the moment
// that puts it before or after others, shown the one the report gives. value is
// not a number where it does not happen in the nominal reading, or where it was
// not recorded then; low and high bound it in every history in which it happens.
type occurrence struct {
	order, shown     readings.Moment
	value, low, high float64
}

// occurrences are those of a flight. The moment shown says which part of the flight
// each belongs to; where it is the first of two, the second must be able to lie
// there too.
type occurrences struct {
	all     []occurrence
	unknown readings.Spans
}

func (x occurrences) measure(m *Measurement, p *part) {
	m.UnknownSeconds = p.within(x.unknown).Seconds()
	if p.whole {
		m.choose(x.all)
		return
	}
	var own []occurrence
	for _, o := range x.all {
		in, ok := p.moment(o.shown)
		if ok && p.outside == nil {
			_, ok = p.moment(o.order)
		}
		if !ok {
			continue
		}
		if !in.InNominal() {
			o.order.Nominal = math.NaN()
		}
		o.order.Certain = o.order.Certain && in.Certain
		o.shown = in
		own = append(own, o)
	}
	m.choose(own)
}

// counted lists the moments at which while may hold, each cut down to the times
// at which it may, and the time in which missing samples may hide more of them.
// What may be hidden is listed too, as moments that happen in some history only.
func counted(env *Tracks, at, while *language.Expression) (moments []readings.Moment, unknown readings.Spans) {
	all, unknown := at.Moments(env)
	for _, u := range unknown {
		all = append(all, readings.Moment{Nominal: math.NaN(), Earliest: u.Start, Latest: u.End})
	}
	if while == nil {
		return all, unknown
	}
	c := while.Condition(env)
	unknown = readings.Intersect(unknown, c.Possible)
	undecided := c.Missing(env.windows())
	var undecidedNear []Span
	for _, m := range all {
		reach := stretch(m.Earliest, math.Nextafter(m.Latest, math.Inf(1)))
		maybe := c.Possible.Within(reach)
		if len(maybe) == 0 {
			continue
		}
		if m.InNominal() && !c.True.Contains(m.Nominal) {
			if undecided.Contains(m.Nominal) {
				undecidedNear = append(undecidedNear, undecided.Within(reach)...)
			}
			m.Nominal = math.NaN()
		}
		m.Certain = m.Certain && c.Certain.Covers(reach)
		m.Earliest, m.Latest = maybe[0].Start, min(m.Latest, maybe[len(maybe)-1].End)
		moments = append(moments, m)
	}
	return moments, readings.Union(unknown, readings.UnionOf(undecidedNear))
}

// atMoments measures a number at moments.
func atMoments(env *Tracks, rule *MeasurementRule) occurrences {
	moments, unknown := counted(env, rule.at, rule.while)
	var near []Span
	reach := rule.Around
	for _, x := range moments {
		wide := x
		wide.Earliest, wide.Latest = x.Earliest+reach[0], x.Latest+reach[1]
		near = append(near, around(env, wide)...)
	}
	windows := readings.UnionOf(near)
	number := rule.of.Number(env, windows)
	found := make([]occurrence, len(moments))
	for i, x := range moments {
		o := occurrence{order: x, shown: x, value: math.NaN()}
		if reach[0] < reach[1] {
			o.value, o.low, o.high = extremeAround(number, x, reach, rule.Take == "smallest")
			found[i] = o
			continue
		}
		if x.InNominal() {
			if v, ok := number.Nominal.At(x.Nominal); ok {
				o.value = v
			}
		}
		o.low, o.high = boundsOver(number, x.Earliest, x.Latest)
		found[i] = o
	}
	return occurrences{found, unknown}
}

// extremeAround is the largest value of a number around a moment, or the smallest.
// Whenever the moment comes, the stretch lies within the widest one, and the part
// that belongs to every one of them holds a value that is no larger than its largest.
func extremeAround(n readings.Number, m readings.Moment, reach [2]float64, smallest bool) (value, low, high float64) {
	if smallest {
		value, low, high = extremeAround(n.Scale(-1), m, reach, false)
		return -value, -high, -low
	}
	value, low, high = math.NaN(), math.Inf(-1), math.Inf(1)
	if m.InNominal() {
		if v, _, ok := n.Nominal.Peak(readings.Spans{stretch(m.Nominal+reach[0], m.Nominal+reach[1])}); ok {
			value = v
		}
	}
	if _, most, known := n.High.Over(m.Earliest+reach[0], m.Latest+reach[1]); known {
		high = most
	}
	if shared := stretch(m.Latest+reach[0], m.Earliest+reach[1]); shared.Start < shared.End {
		if v, _, ok := n.Low.Peak(readings.Spans{shared}); ok {
			low = v
		}
	}
	return value, low, high
}

// boundsOver bounds a number at an unknown time between two: infinite where it
// has no bound throughout.
func boundsOver(n readings.Number, from, to float64) (low, high float64) {
	low, _, lowKnown := n.Low.Over(from, to)
	_, high, highKnown := n.High.Over(from, to)
	if !lowKnown || math.IsNaN(low) {
		low = math.Inf(-1)
	}
	if !highKnown || math.IsNaN(high) {
		high = math.Inf(1)
	}
	return low, high
}

// countedMoments are the moments that are counted.
type countedMoments struct {
	all     []readings.Moment
	unknown readings.Spans
}

// measure counts moments. A moment that happens in every history is one at least;
// where samples are missing there is no telling how many they hide.
func (x countedMoments) measure(m *Measurement, p *part) {
	unknown := p.within(x.unknown)
	m.Outcome, m.UnknownSeconds = Measured, unknown.Seconds()
	for _, k := range x.all {
		in, ok := p.moment(k)
		if !ok {
			continue
		}
		m.Highest++
		if in.InNominal() {
			m.Value++
		}
		if in.Certain {
			m.Lowest++
		}
	}
	if len(unknown) > 0 {
		m.Highest = math.Inf(1)
	}
}

// choose keeps the first, last, largest or smallest occurrence and bounds it.
//
// In a history the first one is none later than the latest time of any that
// happens in every history, so that those which may be as early bound it; the
// last one likewise. The largest is at least as large as each that happens in
// every history, and no larger than all that may happen.
func (m *Measurement) choose(all []occurrence) {
	var kept *occurrence
	var sure []occurrence
	for i := range all {
		o := &all[i]
		if o.order.Certain {
			sure = append(sure, *o)
		}
		if o.order.InNominal() && (kept == nil || m.before(o, kept)) {
			kept = o
		}
	}
	if len(all) > 0 && len(sure) == 0 {
		m.Certainty = Possible
	}
	if kept == nil {
		m.Outcome = DidNotHappen
		return
	}
	m.Outcome, m.Value = Measured, kept.value
	if math.IsNaN(m.Value) || math.IsInf(m.Value, 0) {
		m.Outcome = NotRecorded
	}
	m.At = &Time{kept.shown.Nominal, floor(kept.shown.Earliest), kept.shown.Latest}
	m.bound(all, sure)
}

// before reports whether a is to be kept rather than b.
func (m *Measurement) before(a, b *occurrence) bool {
	switch m.Rule.Take {
	case "first":
		return a.order.Nominal < b.order.Nominal
	case "last":
		return a.order.Nominal > b.order.Nominal
	case "largest":
		return a.value > b.value || math.IsNaN(b.value)
	}
	return a.value < b.value || math.IsNaN(b.value)
}

func (m *Measurement) bound(all, sure []occurrence) {
	from, to := math.Inf(-1), math.Inf(1) // the order kept may come from
	for _, o := range sure {
		switch m.Rule.Take {
		case "first":
			to = min(to, o.order.Latest)
		case "last":
			from = max(from, o.order.Earliest)
		}
	}
	m.Lowest, m.Highest = math.Inf(1), math.Inf(-1)
	for _, o := range all {
		if o.order.Earliest <= to && o.order.Latest >= from {
			m.Lowest, m.Highest = min(m.Lowest, o.low), max(m.Highest, o.high)
		}
	}
	if len(sure) == 0 {
		return
	}
	least, most := math.Inf(-1), math.Inf(1) // the largest is no smaller, the smallest no larger
	for _, o := range sure {
		least, most = max(least, o.low), min(most, o.high)
	}
	switch m.Rule.Take {
	case "largest":
		m.Lowest = least
	case "smallest":
		m.Highest = most
	}
}
