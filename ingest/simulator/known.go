package simulator

import "math"

// known is a condition as it really is and as a reader of the samples can know it.
// really lists the stretches where it holds. surely lists those where the samples
// leave no doubt that it holds; never, those where they leave no doubt that it does
// not. The rest is open. Both apply the stated accuracy of a number against the
// condition. Only really decides whether there is an event; surely and never decide
// its certainty.
type known struct{ really, surely, never stretches }

func not(a known) known { return known{a.really.outside(), a.never, a.surely} }

func all(first known, rest ...known) known {
	for _, k := range rest {
		first = known{intersection(first.really, k.really), intersection(first.surely, k.surely), union(first.never, k.never)}
	}
	return first
}

func some(first known, rest ...known) known {
	for _, k := range rest {
		first = known{union(first.really, k.really), union(first.surely, k.surely), intersection(first.never, k.never)}
	}
	return first
}

var nothing = known{never: forever}

func oneOf(ks []known) known { return some(nothing, ks...) }

// lasting holds throughout each stretch that lasts at least that many seconds.
func lasting(k known, seconds float64) known {
	return known{k.really.atLeast(seconds), k.surely.atLeast(seconds), k.never.outside().atLeast(seconds).outside()}
}

// held holds once the condition has held for that many seconds.
func held(k known, seconds float64) known {
	return known{k.really.later(seconds), k.surely.later(seconds), k.never.outside().later(seconds).outside()}
}

// moment is a point in time, with the earliest and latest time at which a reader of
// the samples must look for it.
type moment struct{ at, earliest, latest float64 }

// begins lists the moments at which a condition really begins to hold.
func begins(k known) (out []moment) {
	for _, s := range k.really {
		if math.IsInf(s.start, -1) {
			continue
		}
		m := moment{s.start, math.Inf(-1), math.Inf(1)}
		for _, n := range k.never {
			if n.end <= m.at || n.start <= m.at {
				m.earliest = min(n.end, m.at)
			}
		}
		for _, n := range k.surely {
			if n.end >= m.at {
				m.latest = max(n.start, m.at)
				break
			}
		}
		out = append(out, m)
	}
	return out
}

// after holds from each moment for that many seconds; before holds for as long up to
// it.
func after(ms []moment, seconds float64) known  { return around(ms, 0, seconds) }
func before(ms []moment, seconds float64) known { return around(ms, seconds, 0) }

func around(ms []moment, before, after float64) known {
	var really, surely, maybe []stretch
	for _, m := range ms {
		really = append(really, stretch{m.at - before, m.at + after})
		maybe = append(maybe, stretch{m.earliest - before, m.latest + after})
		if s := (stretch{m.latest - before, m.earliest + after}); s.start <= s.end {
			surely = append(surely, s)
		}
	}
	return known{joined(0, really...), joined(0, surely...), joined(0, maybe...).outside()}
}

// until holds from each moment until another condition begins to hold.
func until(ms []moment, reset known) known {
	var really, surely, maybe []stretch
	next := func(s stretches, t float64) float64 {
		for _, x := range s {
			if x.end > t {
				return max(x.start, t)
			}
		}
		return math.Inf(1)
	}
	for _, m := range ms {
		really = append(really, stretch{m.at, next(reset.really, m.at)})
		maybe = append(maybe, stretch{m.earliest, next(reset.surely, m.earliest)})
		surely = append(surely, stretch{m.latest, next(reset.never.outside(), m.latest)})
	}
	return known{joined(0, really...), joined(0, surely...), joined(0, maybe...).outside()}
}

// often holds while the last so many seconds contain at least count moments.
func often(ms []moment, count int, seconds float64) known {
	var really, surely, maybe []stretch
	for i := 0; i+count <= len(ms); i++ {
		first, last := ms[i], ms[i+count-1]
		add := func(to *[]stretch, start, end float64) {
			if start < end {
				*to = append(*to, stretch{start, end})
			}
		}
		add(&really, last.at, first.at+seconds)
		add(&surely, last.latest, first.earliest+seconds)
		add(&maybe, last.earliest, first.latest+seconds)
	}
	return known{joined(0, really...), joined(0, surely...), joined(0, maybe...).outside()}
}

// latched holds from where set holds until reset begins, and never while reset holds.
func latched(set, reset known) known {
	latch := func(set, reset stretches) (out stretches) {
		for _, free := range reset.outside() {
			if inside := intersection(set, stretches{free}); len(inside) > 0 {
				out = append(out, stretch{inside[0].start, free.end})
			}
		}
		return out
	}
	return known{
		latch(set.really, reset.really),
		latch(set.surely, reset.never.outside()),
		latch(set.never.outside(), reset.surely).outside(),
	}
}
