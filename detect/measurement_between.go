package detect

import (
	"cmp"
	"math"
	"slices"
	"sort"

	"downlock/detect/readings"
)

// untilNext measures the seconds from a moment to the next one of another kind. Pairs
// are made over the whole flight, so that none reaches past another of its moments into
// the next opportunity.
func untilNext(env *Tracks, rule *MeasurementRule) occurrences {
	from, unknownFrom := counted(env, rule.from, rule.while)
	to, unknownTo := counted(env, rule.to, nil)
	return occurrences{pairs(from, to), readings.Union(unknownFrom, unknownTo)}
}

// mostPartners is how many of the moments that may be next after one are kept apart: in
// a flight there are a few. Where no moment is certain, every one may be next, and pairs
// of all with all would grow with the square of the flight.
const mostPartners = 16

// pairs lists the pairs of a moment and the next one of to that may be in some
// history with nothing of either kind between them. A pair is certain where both
// happen in every history, in this order, and nothing else may come between. Partners
// beyond mostPartners stand as one, which may come whenever any of them may.
func pairs(from, to []readings.Moment) []occurrence {
	order := newOrder(from, to)
	nominal := nominalPairs(from, to)
	partner := make([]int, len(from)) // the reverse: number, from 1
	for j, i := range nominal {
		if i > 0 {
			partner[i-1] = j + 1
		}
	}
	// By the latest of a moment and those before it, and the earliest of it and those
	// behind it, few of the others are looked at.
	latest, earliest := make([]float64, len(to)), make([]float64, len(to))
	for j, k := 0, len(to)-1; k >= 0; j, k = j+1, k-1 {
		latest[j], earliest[k] = to[j].Latest, to[k].Earliest
		if j > 0 {
			latest[j], earliest[k] = max(latest[j], latest[j-1]), min(earliest[k], earliest[k+1])
		}
	}
	var out []occurrence
	for i, a := range from {
		stop := order.nextCertain(a.Latest)
		first := sort.SearchFloat64s(latest, a.Earliest)
		end := sort.Search(len(to), func(j int) bool { return earliest[j] > stop })
		pair := func(j int) {
			b := to[j]
			if b.Latest < a.Earliest || b.Earliest > stop {
				return
			}
			o := pairOf(a, b)
			o.order.Certain = a.Certain && b.Certain && a.Latest <= b.Earliest && order.alone(a, b)
			if nominal[j] == i+1 {
				o.value = b.Nominal - a.Nominal
			} else {
				o.order.Nominal = math.NaN()
			}
			out = append(out, o)
		}
		each := min(end, first+mostPartners)
		for j := first; j < each; j++ {
			pair(j)
		}
		if j := partner[i] - 1; j >= each {
			pair(j)
		}
		if each < end {
			out = append(out, pairOf(a, readings.Moment{Nominal: math.NaN(), Earliest: earliest[each], Latest: latest[end-1]}))
		}
	}
	return out
}

// pairOf is the pair of two moments, with its bounds.
func pairOf(a, b readings.Moment) occurrence {
	return occurrence{order: b, shown: a, value: math.NaN(), low: max(0, b.Earliest-a.Latest), high: b.Latest - a.Earliest}
}

// nominalPairs gives for each moment of to the number, from 1, of the moment it
// is paired with in the nominal reading; 0 for none.
func nominalPairs(from, to []readings.Moment) []int {
	type mark struct {
		at   float64
		from bool
		i    int
	}
	var marks []mark
	for i, a := range from {
		if a.InNominal() {
			marks = append(marks, mark{a.Nominal, true, i})
		}
	}
	for j, b := range to {
		if b.InNominal() {
			marks = append(marks, mark{b.Nominal, false, j})
		}
	}
	slices.SortStableFunc(marks, func(x, y mark) int { return cmp.Compare(x.at, y.at) }) // from first at the same time
	paired, last := make([]int, len(to)), 0
	for _, k := range marks {
		if k.from {
			last = k.i + 1
			continue
		}
		paired[k.i], last = last, 0
	}
	return paired
}

// order answers what may lie between two moments without going through all.
type order struct {
	starts, ends   []float64 // of the bounds of every moment, each sorted
	certain        []float64 // earliest times of the certain moments, sorted
	earliestLatest []float64 // beside it: the least latest time from there on
}

func newOrder(lists ...[]readings.Moment) *order {
	o := &order{}
	var sure []readings.Moment
	for _, list := range lists {
		for _, m := range list {
			o.starts, o.ends = append(o.starts, m.Earliest), append(o.ends, m.Latest)
			if m.Certain {
				sure = append(sure, m)
			}
		}
	}
	sort.Float64s(o.starts)
	sort.Float64s(o.ends)
	slices.SortFunc(sure, func(a, b readings.Moment) int { return cmp.Compare(a.Earliest, b.Earliest) })
	o.certain, o.earliestLatest = make([]float64, len(sure)), make([]float64, len(sure)+1)
	o.earliestLatest[len(sure)] = math.Inf(1)
	for i := len(sure) - 1; i >= 0; i-- {
		o.certain[i] = sure[i].Earliest
		o.earliestLatest[i] = min(sure[i].Latest, o.earliestLatest[i+1])
	}
	return o
}

// nextCertain is the time by which, in every history, the next moment after t
// has come.
func (o *order) nextCertain(t float64) float64 {
	return o.earliestLatest[sort.Search(len(o.certain), func(i int) bool { return o.certain[i] > t })]
}

// alone reports whether no third moment may come between a and b.
func (o *order) alone(a, b readings.Moment) bool {
	begun := sort.SearchFloat64s(o.starts, b.Latest)                                     // start before the latest b
	over := sort.Search(len(o.ends), func(i int) bool { return o.ends[i] > a.Earliest }) // end by the earliest a
	themselves := 0
	for _, m := range []readings.Moment{a, b} {
		if m.Earliest < b.Latest && m.Latest > a.Earliest {
			themselves++
		}
	}
	return begun-over == themselves
}
