package ingest

import "fmt"

// A long export may mix its parameters row by row, list them flight by flight, or
// list each from its first sample to its last. So time that steps back says
// something only where it does so within one parameter; whether the others begin
// anew with it, or each for itself, is told from whether a parameter has come back
// after another.

// longState is how the rows of a long export follow each other.
type longState struct {
	on       bool
	last     *channel // parameter of the row before
	returned bool     // a parameter came back after another
	listed   bool     // time began anew while none had
	round    int      // stretches begun by all parameters together
}

// longPlace is where a parameter of a long export stands.
type longPlace struct {
	met   bool
	round int     // of the last sample
	at    float64 // its time, s
}

// noteLong takes the time of a row of a mapped parameter, before its value.
func (r *reading) noteLong(head *channel, at float64, where int) error {
	s, place := &r.longState, &head.long
	s.on = true
	if head != s.last {
		if place.met {
			s.returned = true
		}
		s.last = head
	}
	known := place.met && place.round == s.round
	back := known && place.at-at > jitterSeconds
	from := place.at
	*place = longPlace{met: true, round: s.round, at: at}
	if s.listed && s.returned {
		return r.problem(fmt.Sprintf("%s %d: the time of column %q started again while parameters were listed one after the other, but here they are mixed", r.place, where, head.column),
			"which samples belong together is not known: sort the export by flight and time, or split it by flight")
	}
	if !back {
		return nil
	}
	if len(r.earlier) >= maxStretches || len(head.earlier) >= maxStretches {
		return r.problem(fmt.Sprintf("%s %d: the time of column %q steps back for the %dth time", r.place, where, head.column, maxStretches+1), "sort the rows by time, or split the export by flight")
	}
	if !s.returned {
		s.listed = true
		for c := head; c != nil; c = c.also {
			c.begin()
		}
		return nil
	}
	r.previous, r.follow = from, followSamples
	err := r.begin(at, where)
	r.previous, r.follow = at, followNothing
	s.round++
	place.round = s.round
	return err
}

// listedStretches lists the stretches of an export that lists each parameter from
// its first sample to its last: the first of one belongs to the first of the others.
// Where their numbers differ nobody can tell.
func (r *reading) listedStretches() ([]stretch, error) {
	var most *channel
	for _, c := range r.mapping.channels {
		if c.seen && c.whole() > 0 && (most == nil || len(c.earlier) > len(most.earlier)) {
			most = c
		}
	}
	if most == nil { // all cells are blank
		return []stretch{r.current}, nil
	}
	for _, c := range r.mapping.channels {
		if c.seen && c.whole() > 0 && len(c.earlier) != len(most.earlier) {
			return nil, r.problem(fmt.Sprintf("the time of column %q starts again %d times and that of %q %d times", most.column, len(most.earlier), c.column, len(c.earlier)),
				"which samples belong together is not known: sort the export by flight and time, or split it by flight")
		}
	}
	all := make([]stretch, len(most.earlier)+1)
	for k := range all {
		all[k].where = r.current.where
		r.bound(&all[k], k)
		if k > 0 {
			all[k].from = all[k-1].last
		}
	}
	all[0].epoch, all[0].month = r.current.epoch, r.current.month
	return all, nil
}
