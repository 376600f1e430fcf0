package ingest

import (
	"testing"

	"github.com/google/go-cmp/cmp"
)

// The other keys of a source mean in sample columns what they mean in one column. Samples
// worked out by hand: 0x8 and 0xc have bit 3, 0x4 does not; 0.96 lies between the levels and
// holds the state before it, which is that of the sample before in time, in another column.
func TestRowSamplesOfOtherValues(t *testing.T) {
	t.Parallel()
	profile := profileOf(t, "column: time", "  gear_horn: {samples: [W_1, W_2], bit: 3, true_when: 1}\n"+
		"  nose_gear_down_locked: {samples: [P_1, P_2], true_above: 0.98, false_below: 0.95}\n"+
		"  flap_angle: {samples: [F_1, F_2], unit: deg, points: [[2440, 0], [2640, 10], [3040, 20]]}\n")
	r := read(t, "time,W_1,W_2,P_1,P_2,F_1,F_2\n0,0x8,0x4,1,0.96,2440,2540\n1,0x0,0xc,0.5,0.96,2840,3040\n2,0x8,0x8,0.96,1,3040,3040\n", profile)
	want := samples{
		"gear_horn":             {{0, 1}, {0.5, 0}, {1, 0}, {1.5, 1}, {2, 1}, {2.5, 1}},
		"nose_gear_down_locked": {{0, 1}, {0.5, 1}, {1, 0}, {1.5, 0}, {2, 0}, {2.5, 1}},
		"flap_angle":            {{0, 0}, {0.5, 5}, {1, 15}, {1.5, 20}, {2, 20}, {2.5, 20}},
	}
	if diff := cmp.Diff(want, samplesOf(r)); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	if got := r.Series[len(r.Series)-1].Column; got == "" {
		t.Errorf("column %q", got)
	}
	checkSound(t, r)
}
