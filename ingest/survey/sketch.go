package survey

import "slices"

// sketchRoom bounds the samples kept of a column: some two hours at one in four
// seconds.
const sketchRoom = 2048

// sketch is a thinned copy of a column: every n-th sample. n doubles whenever the
// room is full.
type sketch struct {
	times, values []float64
	every, next   int
}

func (s *sketch) add(at, v float64) {
	if s.every == 0 {
		s.every = 1
	}
	if s.next++; s.next < s.every {
		return
	}
	s.next = 0
	if len(s.times) == sketchRoom {
		for i := range sketchRoom / 2 {
			s.times[i], s.values[i] = s.times[2*i+1], s.values[2*i+1]
		}
		s.times, s.values = s.times[:sketchRoom/2], s.values[:sketchRoom/2]
		s.every *= 2
	}
	s.times, s.values = append(s.times, at), append(s.values, v)
}

// share returns the share of the values for which holds is true.
func (s *sketch) share(holds func(v float64) bool) float64 {
	if len(s.values) == 0 {
		return 0
	}
	n := 0
	for _, v := range s.values {
		if holds(v) {
			n++
		}
	}
	return float64(n) / float64(len(s.values))
}

// shareWithin returns the same share of the values within the spans, 0 where there
// are none.
func (s *sketch) shareWithin(spans []span, holds func(v float64) bool) float64 {
	n, all := 0, 0
	for _, x := range spans {
		i, _ := slices.BinarySearch(s.times, x.start)
		for ; i < len(s.times) && s.times[i] <= x.end; i++ {
			all++
			if holds(s.values[i]) {
				n++
			}
		}
	}
	if all == 0 {
		return 0
	}
	return float64(n) / float64(all)
}

// high returns the value that 19 of 20 samples do not exceed.
func (s *sketch) high() float64 {
	if len(s.values) == 0 {
		return 0
	}
	sorted := slices.Sorted(slices.Values(s.values))
	return sorted[len(sorted)*19/20]
}

// at returns the last value at or before a time; ok is false before the first.
func (s *sketch) at(t float64) (v float64, ok bool) {
	i, found := slices.BinarySearch(s.times, t)
	if found {
		return s.values[i], true
	}
	if i == 0 {
		return 0, false
	}
	return s.values[i-1], true
}
