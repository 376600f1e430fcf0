package readings

import (
	"math"
	"slices"
)

// Sampled is a number by its samples: a Line or a HeldNumber.
type Sampled interface {
	Number(windows Spans) Number
	// piece is the run that ends at sample i: before the first sample and behind
	// the last one the value held for an interval, in a gap for hold seconds.
	piece(i int, hold float64) Piece
	samples() []float64 // times
	accuracy() float64
}

func (l *Line) samples() []float64 { return l.Times }
func (l *Line) accuracy() float64  { return l.Accuracy }

// NeverApart reports that two numbers nowhere in a span differ surely by more than is
// allowed. It looks at the samples alone and makes no curves: nearly always they agree,
// and it takes a fiftieth of the time. False says nothing.
//
// Both run in straight pieces, so that their difference is largest at an end of
// one of them.
func NeverApart(a, b Sampled, within Span, allowed float64) bool {
	allowed += a.accuracy() + b.accuracy()
	allowed *= 1 - 1e-9 // for rounding; what is nearer is looked at more closely
	if x, y, ok := sampledTogether(a, b); ok && neverApartAtSamples(x, y, within, allowed) {
		return true
	}
	x, y := newPieces(a, within), newPieces(b, within)
	for x.ok && y.ok {
		start, end := max(x.now.Start, y.now.Start, within.Start), min(x.now.End, y.now.End, within.End)
		if start <= end && (math.Abs(x.now.at(start)-y.now.at(start)) > allowed || math.Abs(x.now.at(end)-y.now.at(end)) > allowed) {
			return false
		}
		if x.now.End < y.now.End {
			x.next()
		} else {
			y.next()
		}
	}
	return true
}

// sampledTogether returns two lines with samples at the same times, as columns that each
// row of an export fills have.
func sampledTogether(a, b Sampled) (x, y *Line, ok bool) {
	x, _ = a.(*Line)
	y, ok = b.(*Line)
	return x, y, ok && x != nil && slices.Equal(x.Times, y.Times)
}

// neverApartAtSamples is NeverApart for them: their pieces end at the samples. It looks at
// the whole of the first and the last piece.
func neverApartAtSamples(x, y *Line, within Span, allowed float64) bool {
	from, to := x.Within(within)
	from, to = max(0, from-1), min(len(x.Times), to+1)
	others := y.Values[from:to]
	for i, v := range x.Values[from:to] {
		if math.Abs(v-others[i]) > allowed {
			return false
		}
	}
	return true
}

// pieces goes through the pieces of a number in order.
type pieces struct {
	of  Sampled
	now Piece
	i   int
	end float64
	ok  bool
}

func newPieces(of Sampled, within Span) *pieces {
	times := of.samples()
	from, _ := (Sampling{Times: times}).Within(within)
	p := &pieces{of: of, i: from - 1, end: within.End, ok: len(times) > 0}
	p.next()
	return p
}

func (p *pieces) next() {
	p.i++
	if p.ok = p.ok && p.i <= len(p.of.samples()); p.ok {
		p.now = p.of.piece(p.i, instant)
		p.ok = p.now.Start <= p.end
	}
}
