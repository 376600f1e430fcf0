package readings

import "math"

// Condition is something that holds or not over time, in three readings. True
// and False are the nominal reading; where neither lists a time it is unknown.
// Certain lies within True, True within Possible, and False outside Certain.
type Condition struct {
	Certain, True, False, Possible Spans
}

// Always is the condition that holds in every reading throughout the windows.
func Always(windows Spans) Condition {
	return Condition{Certain: windows, True: windows, Possible: windows}
}

// Never is the condition that holds nowhere in the windows.
func Never(windows Spans) Condition { return Condition{False: windows} }

// Unknown is the condition nothing was recorded for.
func Unknown(windows Spans) Condition { return Condition{Possible: windows} }

// And holds where both do.
func And(a, b Condition) Condition {
	return Condition{
		Certain:  Intersect(a.Certain, b.Certain),
		True:     Intersect(a.True, b.True),
		False:    Union(a.False, b.False),
		Possible: Intersect(a.Possible, b.Possible),
	}
}

// Or holds where either does.
func Or(a, b Condition) Condition {
	return Condition{
		Certain:  Union(a.Certain, b.Certain),
		True:     Union(a.True, b.True),
		False:    Intersect(a.False, b.False),
		Possible: Union(a.Possible, b.Possible),
	}
}

// Not holds where a does not, within the windows a was evaluated in.
func Not(a Condition, windows Spans) Condition {
	return Condition{
		Certain:  a.Possible.Complement(windows),
		True:     a.False,
		False:    a.True,
		Possible: a.Certain.Complement(windows),
	}
}

// Clip is the condition inside the windows only.
func (c Condition) Clip(windows Spans) Condition {
	return Condition{
		Certain:  Intersect(c.Certain, windows),
		True:     Intersect(c.True, windows),
		False:    Intersect(c.False, windows),
		Possible: Intersect(c.Possible, windows),
	}
}

// Followed is the condition and what comes of it later, where nothing lies between.
func (c Condition) Followed(later Condition) Condition {
	return Condition{
		Certain:  Union(c.Certain, later.Certain),
		True:     Union(c.True, later.True),
		False:    Union(c.False, later.False),
		Possible: Union(c.Possible, later.Possible),
	}
}

// Blurred is the condition when its changes are only known to within that many
// seconds: around each, it is neither certain nor impossible. Where it is possible only
// because nothing is known, that does not spread.
func (c Condition) Blurred(seconds float64, windows Spans) Condition {
	surely := func(s Spans) Spans {
		var out Spans
		for _, x := range s {
			if x.Start > windows[0].Start {
				x.Start += seconds
			}
			if x.End < windows[len(windows)-1].End {
				x.End -= seconds
			}
			out = out.add(x)
		}
		return out
	}
	known := Union(c.True, c.False)
	near := surely(Intersect(c.Possible, known).Complement(windows)).Complement(windows)
	c.Certain, c.Possible = surely(c.Certain), Union(c.Possible, near)
	return c
}

// Missing is the part of the windows where the nominal reading is unknown.
func (c Condition) Missing(windows Spans) Spans {
	return Union(c.True, c.False).Complement(windows)
}

// HeldFor holds once c has held for that many seconds without a break. Where c
// holds from the very beginning it may have held before: that is possible, not
// certain, and unknown in the nominal reading, until the seconds have passed.
func HeldFor(c Condition, seconds float64, windows Spans) Condition {
	perhaps := Union(c.True, Union(c.Missing(windows), beyond(windows)))
	return Condition{
		Certain:  c.Certain.Widen(seconds, 0),
		True:     c.True.Widen(seconds, 0),
		False:    perhaps.Widen(seconds, 0).Complement(windows),
		Possible: Intersect(Union(c.Possible, beyond(windows)).Widen(seconds, 0), windows),
	}
}

// Lasting holds on the whole of each stretch of c that lasts that many seconds.
// A stretch that reaches the beginning or the end may last longer than is seen.
func Lasting(c Condition, seconds float64, windows Spans) Condition {
	perhaps := Union(c.True, Union(c.Missing(windows), beyond(windows)))
	return Condition{
		Certain:  c.Certain.AtLeast(seconds),
		True:     c.True.AtLeast(seconds),
		False:    perhaps.AtLeast(seconds).Complement(windows),
		Possible: Intersect(Union(c.Possible, beyond(windows)).AtLeast(seconds), windows),
	}
}

// beyond is all time before and after the windows.
func beyond(windows Spans) Spans {
	always := Spans{{math.Inf(-1), math.Inf(1)}}
	return windows.Hull().Complement(always)
}

// Every holds where each of the conditions does.
func Every(cs []Condition, windows Spans) Condition {
	all := Always(windows)
	for _, c := range cs {
		all = And(all, c)
	}
	return all
}

// Some holds where one of the conditions does, or more.
func Some(cs []Condition, windows Spans) Condition {
	any := Never(windows)
	for _, c := range cs {
		any = Or(any, c)
	}
	return any
}
