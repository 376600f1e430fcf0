package ingest

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

const (
	pairProfile = "  gear_horn: {column: A, odd_with: B, true_when: 1}\n  gpws_too_low_gear: {column: A, even_with: B, true_when: 1}\n"
	pairRows    = "time,A,B\n0,0,0\n1,1,0\n2,1,1\n3,0,1\n4,,1\n5,1,\n6,1,0\n"
)

// Worked out by hand: one of two is odd, none or two are even; rows 4 and 5 have one of
// the columns only and say nothing.
var pairSamples = samples{
	"gear_horn":         {{0, 0}, {1, 1}, {2, 0}, {3, 1}, {6, 1}},
	"gpws_too_low_gear": {{0, 1}, {1, 0}, {2, 1}, {3, 0}, {6, 0}},
}

func TestPairOfColumns(t *testing.T) {
	t.Parallel()
	long := "time,parameter,value\n"
	for i, row := range strings.Split(strings.TrimSpace(pairRows), "\n") {
		if cells := strings.Split(row, ","); i > 0 {
			for k, name := range []string{"A", "B"} {
				if cells[1+k] != "" {
					long += cells[0] + "," + name + "," + cells[1+k] + "\n"
				}
			}
		}
	}
	for _, rows := range []string{pairRows, long} {
		checkPair(t, read(t, rows, profileOf(t, "column: time", pairProfile)))
	}
}

func checkPair(t *testing.T, r *Recording) {
	t.Helper()
	if diff := cmp.Diff(pairSamples, samplesOf(r)); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	if got := r.Lookup("gear_horn").Column; got != "A other than B" {
		t.Errorf("column %q", got)
	}
	checkSound(t, r)
}

// With one of the columns alone nothing is known, and a note says why.
func TestPairWithoutItsPartner(t *testing.T) {
	t.Parallel()
	r := read(t, "time,A,alt\n0,0,1\n1,1,2\n", profileOf(t, "column: time", pairProfile+"  pressure_altitude: {column: alt, unit: ft}\n"))
	if r.Lookup("gear_horn") != nil {
		t.Error("the horn is read from half of its pair")
	}
	if all := strings.Join(r.Notes, "\n"); !strings.Contains(all, `gear_horn is not read from its pair of columns: the export has no "B"`) {
		t.Errorf("notes %q", r.Notes)
	}
}
