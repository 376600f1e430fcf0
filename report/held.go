package report

import (
	"sort"

	"downlock/detect"
	"downlock/ingest"
	"downlock/schemas"
)

// run is a stretch in which a held parameter keeps one value: from its first
// sample until the next run begins, or, before a gap, until the value has been
// held for one interval. Last is the time of its last sample: from there to
// the next run the change may have come at any time.
type run struct {
	start, last, end float64
	joined           bool // the next run follows without a gap
	value            int
}

// heldRuns finds the runs within a span. value gives the value of sample i.
func heldRuns(s *ingest.Series, span detect.Span, value func(i int) int) []run {
	times := s.TimeValues()
	from := max(sort.SearchFloat64s(times, span.Start)-1, 0)
	to := sort.Search(len(times), func(i int) bool { return times[i] > span.End })
	var runs []run
	for i := from; i < to; i++ {
		v, t := value(i), times[i]
		if n := len(runs); n > 0 {
			current := &runs[n-1]
			close := t-current.last <= s.Gap
			if close && current.value == v {
				current.last = t
				continue
			}
			current.joined = close
			current.end = t
			if !close {
				current.end = min(current.last+s.Interval, t)
			}
		}
		runs = append(runs, run{start: t, last: t, value: v})
	}
	if n := len(runs); n > 0 {
		runs[n-1].end = runs[n-1].last + s.Interval
		if to < len(times) && times[to]-runs[n-1].last <= s.Gap {
			runs[n-1].end = times[to]
		}
	}
	return clipRuns(runs, span)
}

func clipRuns(runs []run, span detect.Span) []run {
	kept := runs[:0]
	for _, r := range runs {
		r.start, r.end = max(r.start, span.Start), min(r.end, span.End)
		if r.end >= r.start {
			kept = append(kept, r)
		}
	}
	return kept
}

// codeRuns are the runs of a discrete or state.
func codeRuns(s *ingest.Series, span detect.Span) []run {
	codes := s.Codes()
	if codes == nil {
		return nil
	}
	return heldRuns(s, span, func(i int) int { return int(codes[i]) })
}

// detentRuns are the runs of the highest flap detent reached.
func detentRuns(s *ingest.Series, flaps schemas.Flaps, span detect.Span) []run {
	angles := s.Numbers()
	if angles == nil {
		return nil
	}
	return heldRuns(s, span, func(i int) int {
		reached := 0
		for k, d := range flaps.Detents {
			if angles[i] >= d.Angle-flaps.Tolerance {
				reached = k
			}
		}
		return reached
	})
}

// The positions a leg can be seen in.
const (
	legDown          = iota // down and locked
	legUp                   // up and locked
	legTransit              // neither
	legContradictory        // both, which no leg can be
	legNotDown              // not down and locked; whether up is not recorded
	legNotUp                // not up and locked; whether down is not recorded
)

var legNames = [...]string{"down", "up", "transit", "both?", "not down", "not up"}

// legRuns puts the down-lock and the up-lock of a leg together; either may be
// missing.
func legRuns(down, up []run) []run {
	cuts := make([]float64, 0, 2*(len(down)+len(up)))
	for _, list := range [][]run{down, up} {
		for _, r := range list {
			cuts = append(cuts, r.start, r.end)
		}
	}
	sort.Float64s(cuts)
	var runs []run
	for i := 1; i < len(cuts); i++ {
		start, end := cuts[i-1], cuts[i]
		if start == end {
			continue
		}
		value, known := legPosition(valueAt(down, (start+end)/2), valueAt(up, (start+end)/2))
		if !known {
			continue
		}
		if n := len(runs); n > 0 && runs[n-1].value == value && runs[n-1].end == start {
			runs[n-1].last, runs[n-1].end = end, end
			continue
		}
		runs = append(runs, run{start: start, last: end, end: end, value: value})
	}
	return runs
}

func legPosition(down, up int) (position int, known bool) {
	switch {
	case down == 1 && up == 1:
		return legContradictory, true
	case down == 1:
		return legDown, true
	case up == 1:
		return legUp, true
	case down == 0 && up == 0:
		return legTransit, true
	case down == 0:
		return legNotDown, true
	case up == 0:
		return legNotUp, true
	}
	return 0, false
}

// valueAt is the value at a time, -1 where it is unknown.
func valueAt(runs []run, t float64) int {
	i := sort.Search(len(runs), func(i int) bool { return runs[i].end > t })
	if i < len(runs) && runs[i].start <= t {
		return runs[i].value
	}
	return -1
}

// belowRuns are the stretches in which a continuous parameter is below a
// limit (value 1) or not (value 0), crossings interpolated and gaps left out.
func belowRuns(s *ingest.Series, limit float64, span detect.Span) []run {
	times, values := s.TimeValues(), s.Numbers()
	from := max(sort.SearchFloat64s(times, span.Start)-1, 0)
	to := min(sort.Search(len(times), func(i int) bool { return times[i] > span.End })+1, len(values))
	var runs []run
	extend := func(start, end float64, below bool) {
		value := 0
		if below {
			value = 1
		}
		if n := len(runs); n > 0 && runs[n-1].value == value && runs[n-1].end == start {
			runs[n-1].end, runs[n-1].last = end, end
			return
		}
		runs = append(runs, run{start: start, last: end, end: end, value: value})
	}
	for i := from + 1; i < to; i++ {
		t0, t1, v0, v1 := times[i-1], times[i], values[i-1], values[i]
		if t1-t0 > s.Gap {
			continue
		}
		if (v0 < limit) == (v1 < limit) {
			extend(t0, t1, v0 < limit)
			continue
		}
		crossing := t0 + (t1-t0)*(limit-v0)/(v1-v0)
		extend(t0, crossing, v0 < limit)
		extend(crossing, t1, v1 < limit)
	}
	return clipRuns(runs, span)
}
