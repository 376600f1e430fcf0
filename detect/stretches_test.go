package detect_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"downlock/ingest"
	"downlock/schemas"
)

// Seven check flights one after the other in one export, whose elapsed time begins anew
// with each: seven flights, each with the events of its own truth and its own day.
func TestElapsedTimeBeginsAnew(t *testing.T) {
	t.Parallel()
	profile, err := schemas.ReadProfile("../testdata/x100/profile.yaml")
	if err != nil {
		t.Fatal(err)
	}
	numbers := []int{1, 2, 3, 4, 5, 7, 8}
	var exports [][]string
	starts := map[int]string{}
	for _, n := range numbers {
		lines := linesOf(t, fmt.Sprintf("../testdata/x100/flight-%d.csv.gz", n))
		first := strings.Split(lines[1], ",")
		starts[n] = first[1] + "T" + first[2] + "Z"
		exports = append(exports, lines)
	}
	for name, text := range map[string][]string{"wide": allInOne(asGiven)(exports), "long": allInOne(longForm)(exports)} {
		recording, err := ingest.ReadBytes("all.csv", []byte(text[0]), profile)
		if err != nil {
			t.Fatal(err)
		}
		results := detectorOf(t, profile).Detect(recording)
		if len(results) != len(numbers) {
			t.Errorf("%s: %d flights, want %d", name, len(results), len(numbers))
			continue
		}
		ids := map[string]bool{}
		for i, result := range results {
			f := result.Flight
			t.Run(fmt.Sprintf("%s, flight-%d", name, numbers[i]), func(t *testing.T) {
				compareWithTruth(t, readTruth(t, fmt.Sprintf("../testdata/x100/truth/flight-%d.json", numbers[i])), result, false)
				if want, err := time.Parse(time.RFC3339, starts[numbers[i]]); err != nil || !f.Recording.Epoch.Equal(want) {
					t.Errorf("second 0 is %v, want %v", f.Recording.Epoch, want)
				}
				if f.Number != i+1 || ids[f.ID] || !strings.HasPrefix(f.Recording.Notes[0], "time is not continuous: the recording was split into 7 stretches") {
					t.Errorf("number %d, id %s, notes %q", f.Number, f.ID, f.Recording.Notes)
				}
				ids[f.ID] = true
			})
		}
	}
}
