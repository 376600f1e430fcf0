package detect_test

import (
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"downlock/detect"
	"downlock/ingest"
	"downlock/ingest/simulator"
	"downlock/testdata/effort"
)

// TestCutOff cuts the recordings of testdata/operations off wherever it may be. What became of a
// roll or a touchdown is said only where the part in hand shows it, by the truth beside the
// recordings; and no event is certain that is none of the whole flight.
func TestCutOff(t *testing.T) {
	t.Parallel()
	p, d := operationsDetector(t)
	random := rand.New(rand.NewPCG(20341, 6))
	for _, o := range operationsRecordings(t) {
		name, truth := o.name, o.truth
		rows := linesOf(t, o.path)
		for _, at := range cutsOf(truth, effort.Of(4, 12, 150), random) {
			n := slices.IndexFunc(rows[1:], func(row string) bool { return timeOfRow(row) > at })
			if n < 0 || name == "op-5" && 147 < at && at < 152 {
				continue // a radio altitude that jumped is known to be wrong once it has jumped back
			}
			path := filepath.Join(t.TempDir(), "cut.csv")
			if err := os.WriteFile(path, []byte(strings.Join(rows[:1+n], "\n")), 0o600); err != nil {
				t.Fatal(err)
			}
			r, err := ingest.Read(path, p)
			if err != nil {
				t.Fatal(err)
			}
			for _, one := range d.Detect(r) {
				for _, fault := range beyondTheCut(one, truth, at) {
					t.Errorf("%s cut off at %.1f s: %s", name, at, fault)
				}
			}
		}
	}
}

// cutsOf are moments about what happens on the ground and low above it, and some anywhere.
func cutsOf(truth simulator.OperationsTruth, n int, random *rand.Rand) (cuts []float64) {
	var about []float64
	for _, roll := range truth.Facts.Rolls {
		about = append(about, roll.Thrust, roll.End)
	}
	for _, down := range truth.Facts.Touchdowns {
		about = append(about, down.At)
	}
	for _, around := range truth.Facts.GoArounds {
		about = append(about, around.Start)
	}
	for range n {
		if len(about) > 0 {
			cuts = append(cuts, about[random.IntN(len(about))]+30*random.Float64()-10)
		}
		cuts = append(cuts, 20+random.Float64()*(truth.Seconds-20))
	}
	return cuts
}

// beyondTheCut lists what is said of a recording that its part up to a cut does not show.
func beyondTheCut(r *detect.Result, truth simulator.OperationsTruth, cut float64) (faults []string) {
	near := func(t detect.Time, truly float64) bool { return t.Nominal > truly-3 && t.Nominal < truly+3 }
	for _, roll := range r.Flight.Rolls {
		shown := slices.ContainsFunc(truth.Facts.Rolls, func(x simulator.RollFact) bool {
			return x.EndsAs == string(roll.Ended) && near(roll.Ends, x.End) && x.End < cut+operationSlack
		})
		if !shown && roll.Ended != detect.RollsOn {
			faults = append(faults, fmt.Sprintf("a roll from %.1f to %.1f s ended as %s", roll.Begins.Nominal, roll.Ends.Nominal, roll.Ended))
		}
	}
	for _, roll := range r.Flight.Rolls { // of the recordings no roll begins within half a minute of a full stop
		fromTouchdown := slices.ContainsFunc(truth.Facts.Touchdowns, func(x simulator.TouchdownFact) bool {
			return x.At < roll.Begins.Nominal && roll.Begins.Nominal < x.At+30
		})
		if roll.FromTouchdown != fromTouchdown {
			faults = append(faults, fmt.Sprintf("a roll from %.1f s: from a touchdown %v", roll.Begins.Nominal, roll.FromTouchdown))
		}
	}
	for _, down := range r.Flight.Touchdowns {
		shown := slices.ContainsFunc(truth.Facts.Touchdowns, func(x simulator.TouchdownFact) bool {
			return near(down.Time, x.At) && x.EndsAs == string(down.Landed)
		})
		if !shown && down.Landed != detect.LandedOrNot && !down.Perhaps {
			faults = append(faults, fmt.Sprintf("the touchdown at %.1f s is certainly a %s", down.Time.Nominal, down.Landed))
		}
	}
	for _, e := range r.Events {
		barred := slices.ContainsFunc(truth.MustNot, func(b simulator.Barred) bool { return b.Rule == e.Rule.ID && b.Start == nil })
		if barred && e.Certainty == detect.Certain {
			faults = append(faults, fmt.Sprintf("%s is certain at %.1f s", e.Rule.ID, e.Start.Nominal))
		}
	}
	return faults
}

// timeOfRow is the first cell of a row, in s.
func timeOfRow(row string) float64 {
	cell, _, _ := strings.Cut(row, ",")
	seconds, _ := strconv.ParseFloat(cell, 64)
	return seconds
}
