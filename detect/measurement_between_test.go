package detect

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"downlock/detect/readings"
)

// Pairs beyond the first few partners stand as one, and nothing is lost by it: every
// pair the definition allows, looked for among all with all, lies within one that is
// listed, and those of the nominal reading and the certain ones are as they were.
func TestPairsOfManyMoments(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(5, 9))
	some := func(n int, within, certain float64) (out []readings.Moment) {
		for range n {
			at, before, after := random.Float64()*within, random.Float64()*3, random.Float64()*3
			m := moment(at, at-before, at+after, random.Float64() < certain)
			if !m.Certain && random.IntN(2) == 0 {
				m.Nominal = math.NaN()
			}
			out = append(out, m)
		}
		slices.SortFunc(out, func(a, b readings.Moment) int { return int(math.Copysign(1, a.Earliest-b.Earliest)) })
		return out
	}
	for range 300 {
		certain := []float64{0, 0.02, 0.5}[random.IntN(3)]
		within := []float64{2, 100}[random.IntN(2)]
		from, to := some(random.IntN(60), within, certain), some(random.IntN(60), within, certain)
		listed := pairs(from, to)
		if len(listed) > len(from)*(mostPartners+2) {
			t.Fatalf("%d pairs of %d moments", len(listed), len(from))
		}
		order := newOrder(from, to)
		for _, a := range from {
			for _, b := range to {
				if b.Latest < a.Earliest || b.Earliest > order.nextCertain(a.Latest) {
					continue
				}
				if !slices.ContainsFunc(listed, func(o occurrence) bool {
					return o.shown.Earliest == a.Earliest && o.shown.Latest == a.Latest &&
						o.order.Earliest <= b.Earliest && b.Latest <= o.order.Latest &&
						o.low <= max(0, b.Earliest-a.Latest) && b.Latest-a.Earliest <= o.high
				}) {
					t.Fatalf("the pair of %v and %v is not listed", a, b)
				}
			}
		}
		want := 0
		for _, i := range nominalPairs(from, to) {
			want += min(i, 1)
		}
		for _, o := range listed {
			if !math.IsNaN(o.value) {
				want--
				if o.value != o.order.Nominal-o.shown.Nominal {
					t.Fatalf("%v", o)
				}
			}
		}
		if want != 0 {
			t.Fatalf("%d pairs of the nominal reading are missing", want)
		}
	}
	// All with all would be 900 million pairs.
	if n := len(pairs(some(30000, 100, 0), some(30000, 100, 0))); n > 30000*(mostPartners+2) {
		t.Errorf("%d pairs", n)
	}
}
