package simulator

import (
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"
)

var show = cmp.AllowUnexported(stretch{}, known{}, moment{})

func shows(t *testing.T, what string, got, want stretches) {
	t.Helper()
	if diff := cmp.Diff(want, got, show); diff != "" {
		t.Errorf("%s (-want +got):\n%s", what, diff)
	}
}

// A switch is on from 10.3 to 14.6 s and is sampled at whole seconds. The samples
// show it off at 10, on from 11 to 14, and off at 15.
var switched = known{really: stretches{{10.3, 14.6}}, surely: stretches{{11, 14}}, never: stretches{{math.Inf(-1), 10}, {15, math.Inf(1)}}}

func TestKnownOverTime(t *testing.T) {
	t.Parallel()
	maybe := func(k known) stretches { return k.never.outside() }
	// It lasts 4.3 s in truth, surely 3 s and perhaps 5 s.
	for _, c := range []struct {
		seconds                 float64
		really, surely, perhaps int
	}{{2.9, 1, 1, 1}, {3.1, 1, 0, 1}, {4.4, 0, 0, 1}, {5.1, 0, 0, 0}} {
		k := lasting(switched, c.seconds)
		if len(k.really) != c.really || len(k.surely) != c.surely || len(maybe(k)) != c.perhaps {
			t.Errorf("lasting %g s: really %v, surely %v, perhaps %v", c.seconds, k.really, k.surely, maybe(k))
		}
	}
	k := held(switched, 2)
	shows(t, "held really", k.really, stretches{{12.3, 14.6}})
	shows(t, "held surely", k.surely, stretches{{13, 14}})
	shows(t, "held perhaps", maybe(k), stretches{{12, 15}})

	on, off := begins(switched), begins(not(switched))
	if diff := cmp.Diff([][]moment{{{10.3, 10, 11}}, {{14.6, 14, 15}}}, [][]moment{on, off}, show); diff != "" {
		t.Errorf("moments (-want +got):\n%s", diff)
	}
	k = after(on, 3)
	shows(t, "after really", k.really, stretches{{10.3, 13.3}})
	shows(t, "after surely", k.surely, stretches{{11, 13}})
	shows(t, "after perhaps", maybe(k), stretches{{10, 14}})
	k = until([]moment{{5, 4, 6}}, switched)
	shows(t, "until really", k.really, stretches{{5, 10.3}})
	shows(t, "until surely", k.surely, stretches{{6, 10}})
	shows(t, "until perhaps", maybe(k), stretches{{4, 11}})
}

// Three changes, each seen at the next whole second. The condition holds while all
// three lie within the last 4 s.
func TestOften(t *testing.T) {
	t.Parallel()
	k := often([]moment{{1.5, 1, 2}, {2.5, 2, 3}, {3.5, 3, 4}}, 3, 4)
	shows(t, "really", k.really, stretches{{3.5, 5.5}})
	shows(t, "surely", k.surely, stretches{{4, 5}})
	shows(t, "perhaps", k.never.outside(), stretches{{3, 6}})
}

func TestKnownTogether(t *testing.T) {
	t.Parallel()
	other := known{really: stretches{{12, 20}}, surely: stretches{{13, 20}}, never: stretches{{math.Inf(-1), 12}, {21, math.Inf(1)}}}
	both, either := all(switched, other), some(switched, other)
	shows(t, "both really", both.really, stretches{{12, 14.6}})
	shows(t, "both surely", both.surely, stretches{{13, 14}})
	shows(t, "both perhaps", both.never.outside(), stretches{{12, 15}})
	shows(t, "either really", either.really, stretches{{10.3, 20}})
	shows(t, "either surely", either.surely, stretches{{11, 20}})
	shows(t, "either perhaps", either.never.outside(), stretches{{10, 21}})
	shows(t, "not surely", not(switched).surely, stretches{{math.Inf(-1), 10}, {15, math.Inf(1)}})
}
