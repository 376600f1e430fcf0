package readings

import (
	"fmt"
	"slices"

	"pgregory.net/rapid"
)

// The brute force looks at some whole seconds: at each of their beginnings, an
// instant, and at the open stretch between it and the next. A history says for
// each of these places, one bit of a set, whether a condition holds there. In a
// history a change comes with an instant or just after it, so that every order
// of changes occurs.
const seconds = cells / 2

var window = Spans{{0, seconds}}

// timeOf is an instant, or the middle of an open stretch.
func timeOf(place int) float64 { return float64(place) / 2 }

// read is the places at which spans hold.
func read(spans Spans) (s set) {
	for i := 0; i < cells; i++ {
		if spans.Contains(timeOf(i)) {
			s |= 1 << i
		}
	}
	return s
}

// leaf is a condition on one parameter of its own: the reading that the code under test
// makes of the samples, and every history they allow.
type leaf struct {
	text      string
	condition Condition
	histories []set
	yes, no   set // the nominal reading; neither: unknown
	hasGap    bool
}

// drawHeld draws the samples of a parameter of three values, of which some are
// wanted, and lists its histories by trying every change.
func drawHeld(t *rapid.T, name string) leaf {
	interval := rapid.IntRange(1, 4).Draw(t, name+" interval")
	gap := interval * rapid.IntRange(1, 2).Draw(t, name+" intervals without a gap")
	var times []float64
	var values []uint8
	for at := rapid.IntRange(0, 3).Draw(t, name+" first"); at <= seconds; at += interval {
		if v := rapid.IntRange(0, 4).Draw(t, name); v < 4 {
			times, values = append(times, float64(at)), append(values, uint8(min(v, 2)))
		}
	}
	wanted := rapid.SampledFrom([][]uint8{{0}, {1}, {2}, {0, 1}, {1, 2}}).Draw(t, name+" wanted")
	holds := func(v uint8) bool { return slices.Contains(wanted, v) }
	sampling := Sampling{Times: times, Interval: float64(interval), Gap: float64(gap)}
	l := leaf{
		text:      fmt.Sprintf("%s (every %d, gap %d, %v at %v) in %v", name, interval, gap, values, times, wanted),
		condition: NewHeld(sampling, values).Condition(holds, window),
		histories: heldHistories(sampling, values, holds),
	}
	l.yes, l.no = heldNominal(sampling, values, holds)
	l.hasGap = l.yes|l.no != every
	return l
}

// heldHistories tries, between each two samples, every second for the change,
// and across a gap every value in every second.
func heldHistories(s Sampling, values []uint8, holds func(uint8) bool) []set {
	histories := []set{0}
	each := func(options []set) {
		var out []set
		for _, h := range histories {
			for _, o := range options {
				out = append(out, h|o)
			}
		}
		slices.Sort(out)
		histories = slices.Compact(out)
	}
	// place is the one at an instant; those beyond the window are cut off.
	place := func(second float64) int { return min(max(2*int(second), 0), cells) }
	fill := func(from, to int, value bool) (out set) {
		for i := from; i < to && value; i++ {
			out |= 1 << i
		}
		return out
	}
	unknown := func(from, to int) { // a second at a time, to keep them few
		for i := from; i < to; i += 2 {
			each([]set{0, fill(i, min(i+2, to), true)})
		}
	}
	if len(values) == 0 {
		unknown(0, cells)
		return histories
	}
	first, last := s.Times[0], s.Times[len(s.Times)-1]
	unknown(0, place(first-s.Interval))
	each([]set{fill(place(first-s.Interval), place(first), holds(values[0]))})
	for i := 1; i < len(values); i++ {
		from, to := place(s.Times[i-1]), place(s.Times[i])
		before, after := holds(values[i-1]), holds(values[i])
		if s.Times[i]-s.Times[i-1] > s.Gap {
			each([]set{fill(from, from+1, before)})
			unknown(from+1, to)
			continue
		}
		var options []set
		for change := from + 1; change <= to; change++ {
			options = append(options, fill(from, change, before)|fill(change, to, after))
		}
		each(options)
	}
	each([]set{fill(place(last), place(last+s.Interval), holds(values[len(values)-1]))})
	unknown(place(last+s.Interval), cells)
	return histories
}

// heldNominal reads the last sample at each place.
func heldNominal(s Sampling, values []uint8, holds func(uint8) bool) (yes, no set) {
	for i := 0; i < cells; i++ {
		at, k := timeOf(i), -1
		for k+1 < len(values) && s.Times[k+1] <= at {
			k++
		}
		switch {
		case len(values) == 0:
			continue
		case k < 0 && s.Times[0]-at > s.Interval:
			continue
		case k < 0:
			k = 0
		case k == len(values)-1 && at-s.Times[k] >= s.Interval:
			continue
		case k < len(values)-1 && s.Times[k+1]-s.Times[k] > s.Gap && at-s.Times[k] >= s.Interval:
			continue
		}
		if holds(values[k]) {
			yes |= 1 << i
		} else {
			no |= 1 << i
		}
	}
	return yes, no
}

// drawLine draws a line compared with a constant. At each place a history may
// lie anywhere within the accuracy, wherever it lies at the others. The
// comparison can only become true as the value moves one way, and a formula it is
// part of changes one way too: the two extreme histories bound all others.
func drawLine(t *rapid.T, name string) leaf {
	interval := rapid.IntRange(1, 3).Draw(t, name+" interval")
	gap := interval * rapid.IntRange(1, 2).Draw(t, name+" intervals without a gap")
	accuracy := float64(rapid.IntRange(0, 3).Draw(t, name+" accuracy"))
	line := &Line{Sampling: Sampling{Interval: float64(interval), Gap: float64(gap)}, Accuracy: accuracy}
	for at := rapid.IntRange(0, 3).Draw(t, name+" first"); at <= seconds; at += interval {
		if rapid.IntRange(0, 5).Draw(t, name+" present") > 0 {
			line.Times = append(line.Times, float64(at))
			line.Values = append(line.Values, float64(rapid.IntRange(-6, 6).Draw(t, name)))
		}
	}
	// Thirteenths: no line between whole numbers meets them at any place.
	constant := float64(rapid.IntRange(-6, 5).Draw(t, name+" constant")) + 1.0/13
	relation := rapid.SampledFrom([]Relation{Above, AtLeast, Below, AtMost}).Draw(t, name+" relation")
	l := leaf{
		text:      fmt.Sprintf("%s (%v at %v, ± %v, every %d, gap %d) %s %v", name, line.Values, line.Times, accuracy, interval, gap, relation, constant),
		condition: line.Compare(relation, constant, window),
	}
	low, high := set(0), set(0)
	for i := 0; i < cells; i++ {
		value, nominal, bounded := valueAt(line, timeOf(i))
		is := func(v float64) set {
			if (v > constant) == (relation == Above || relation == AtLeast) {
				return 1 << i
			}
			return 0
		}
		if nominal {
			l.yes |= is(value)
			l.no |= 1 << i &^ is(value)
		}
		if !bounded {
			high |= 1 << i
			continue
		}
		low |= is(value-accuracy) & is(value+accuracy)
		high |= is(value-accuracy) | is(value+accuracy)
	}
	l.histories = []set{low, high}
	return l
}

// valueAt interpolates; nominal says that the value is known in the nominal
// reading, bounded that it is known in every history.
func valueAt(l *Line, at float64) (value float64, nominal, bounded bool) {
	n := len(l.Times)
	for i, t := range l.Times {
		switch {
		case i == 0 && at < t:
			return l.Values[0], t-at <= l.Interval, t-at <= l.Interval
		case i == n-1 && at >= t:
			return l.Values[i], at-t < l.Interval, at-t < l.Interval
		case at < t || at >= l.Times[i+1]:
		case l.Times[i+1]-t > l.Gap:
			return l.Values[i], at-t < l.Interval, at == t
		default:
			return l.Values[i] + (l.Values[i+1]-l.Values[i])*(at-t)/(l.Times[i+1]-t), true, true
		}
	}
	return 0, false, false
}
