package detect

import "downlock/detect/readings"

// exactly is a time that is known: an end of the recording.
func exactly(t float64) Time { return Time{t, t, t} }

// earlier is the time of whichever comes first.
func earlier(a, b Time) Time {
	return Time{min(a.Nominal, b.Nominal), min(a.Earliest, b.Earliest), min(a.Latest, b.Latest)}
}

// later is the time of whichever comes last.
func later(a, b Time) Time {
	return Time{max(a.Nominal, b.Nominal), max(a.Earliest, b.Earliest), max(a.Latest, b.Latest)}
}

// happened turns times into moments that happen in every history.
func happened(times []Time) []readings.Moment {
	out := make([]readings.Moment, len(times))
	for i, t := range times {
		out[i] = readings.Moment{Nominal: t.Nominal, Earliest: t.Earliest, Latest: t.Latest, Certain: true}
	}
	return out
}

// firstOf is the first of the moments whose nominal time lies in the span. In
// another history an earlier one that is only possible may be the first, and
// where the one found does not happen there, a later one is.
func firstOf(moments []readings.Moment, within Span) (Time, bool) {
	for i, m := range moments {
		if !m.InNominal() || m.Nominal < within.Start || m.Nominal > within.End {
			continue
		}
		t := Time{m.Nominal, m.Earliest, m.Latest}
		for k := i - 1; k >= 0 && !moments[k].InNominal() && moments[k].Earliest >= within.Start; k-- {
			t.Earliest = min(t.Earliest, moments[k].Earliest)
		}
		k := i
		for k < len(moments) && !moments[k].Certain && moments[k].Earliest <= within.End {
			k++
		}
		if k == len(moments) || moments[k].Earliest > within.End {
			t.Latest = max(t.Latest, within.End) // in some history there is none at all
		} else {
			t.Latest = max(t.Latest, moments[k].Latest)
		}
		return t, true
	}
	return Time{}, false
}

// lastOf is the last of the moments whose nominal time lies in the span, with
// the bounds of firstOf the other way round.
func lastOf(moments []readings.Moment, within Span) (Time, bool) {
	mirror := make([]readings.Moment, len(moments))
	for i, m := range moments {
		mirror[len(moments)-1-i] = readings.Moment{Nominal: -m.Nominal, Earliest: -m.Latest, Latest: -m.Earliest, Certain: m.Certain}
	}
	t, ok := firstOf(mirror, stretch(-within.End, -within.Start))
	return Time{-t.Nominal, -t.Latest, -t.Earliest}, ok
}

// startOf is the time from which a condition holds in the span a nominal one
// of its stretches lies in, and endOf the time until which it does. Where the
// stretch is not certain, it may not be there at all: its ends may meet.
func startOf(c readings.Condition, nominal Span) Time {
	t := Time{nominal.Start, containing(c.Possible, nominal).Start, nominal.End}
	if sure := c.Certain.Within(nominal); len(sure) > 0 {
		t.Latest = sure[0].Start
	}
	return t
}

func endOf(c readings.Condition, nominal Span) Time {
	t := Time{nominal.End, nominal.Start, containing(c.Possible, nominal).End}
	if sure := c.Certain.Within(nominal); len(sure) > 0 {
		t.Earliest = sure[len(sure)-1].End
	}
	return t
}

// extremeTime is the time of sample i of a number, its largest or smallest among
// those of a span. rank returns the place of a sample: the smaller the more extreme.
// With a number known to within the accuracy the true extreme may lie among the
// samples beside it that are within twice that, and before the next one, or where
// there is none up to the end of the span.
func extremeTime(times []float64, i int, within Span, accuracy float64, rank func(i int) float64) Time {
	near := func(k int) bool { return k == i || rank(k) <= rank(i)+2*accuracy }
	from, to := i, i
	for from >= 0 && near(from) {
		from--
	}
	for to < len(times) && near(to) {
		to++
	}
	t := Time{times[i], within.Start, within.End}
	if from >= 0 {
		t.Earliest = times[from]
	}
	if to < len(times) {
		t.Latest = times[to]
	}
	return t
}

// crossings are the moments at which the height begins to stand in the relation
// to a level.
func (f *Flight) crossings(relation readings.Relation, level float64) []readings.Moment {
	key := comparison{heightName, relation, level}
	found, ok := f.passed[key]
	if !ok {
		if f.passed == nil {
			f.passed = map[comparison][]readings.Moment{}
		}
		found = readings.Begins(f.compareHeight(relation, level))
		f.passed[key] = found
	}
	return found
}

// passes is the first time in a span at which the height is above a level: as it rises through it,
// or when it is known again and higher.
func (f *Flight) passes(level float64, within Span) (Time, bool) {
	t, ok := firstOf(f.crossings(readings.Above, level), within)
	above := f.compareHeight(readings.Above, level)
	if high := above.True.Within(within); len(high) > 0 && (!ok || high[0].Start < t.Nominal) {
		return startOf(above, high[0]), true
	}
	return t, ok
}

// compareHeight is where the height stands in the relation to a level.
func (f *Flight) compareHeight(relation readings.Relation, level float64) readings.Condition {
	return readings.CompareClosely(f.heightEnvelope(), relation, readings.LevelEnvelope(level), readings.Spans{f.Span},
		func(w readings.Spans) readings.Condition { return f.height.Compare(relation, level, w) })
}

// heightEnvelope is that of the height, made when first asked for.
func (f *Flight) heightEnvelope() readings.Envelope {
	if f.heightIn.Each == 0 {
		f.heightIn = f.height.Envelope(f.Span, stretchSeconds)
	}
	return f.heightIn
}
