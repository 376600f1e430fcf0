package statistics

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
)

func simulated(source rand.Source, months int, rate, perYear, swing float64, peak int) []Rate {
	rates := make([]Rate, months)
	for i := range rates {
		wave := math.Cos(2 * math.Pi * float64(i%12-(peak-1)) / 12)
		mean := 9000 * rate * math.Pow(perYear, float64(i)/12) * math.Pow(swing, wave)
		rates[i] = Rate{int(distuv.Poisson{Lambda: mean, Src: source}.Rand()), 9000}
	}
	return rates
}

// The drift put in comes out, and its interval covers it in about
// 95 % of 300 fleets.
func TestSeasonComesOut(t *testing.T) {
	t.Parallel()
	source := rand.NewPCG(1, 9)
	covered := 0
	for range 300 {
		s, ok := FitSeason(simulated(source, 60, 0.004, 1.1, 1.3, 2), 1)
		if !ok {
			t.Fatal("no fit")
		}
		if s.Drift.Low <= 1.1 && 1.1 <= s.Drift.High {
			covered++
		}
		near(t, "swing", s.Swing, 1.3, 0.2)
		near(t, "peak", float64(s.Peak), 2, 1)
		if s.P > 0.001 {
			t.Errorf("p %v", s.P)
		}
	}
	near(t, "coverage", float64(covered)/300, 0.95, 0.04)
}

// Without a season p below 0.05 comes up as often as it says, drift or not.
func TestSeasonFalseAlarms(t *testing.T) {
	t.Parallel()
	source := rand.NewPCG(2, 9)
	for _, perYear := range []float64{1, 1.4} {
		alarms := 0
		for range 1000 {
			s, ok := FitSeason(simulated(source, 48, 0.001, perYear, 1, 1), 4)
			if ok && s.P < 0.05 {
				alarms++
			}
		}
		near(t, "false alarms", float64(alarms)/1000, 0.05, 3*math.Sqrt(0.05*0.95/1000))
	}
}

// Months by the calendar: a series that begins in October and is highest three
// months later peaks in January.
func TestSeasonCalendar(t *testing.T) {
	t.Parallel()
	rates := make([]Rate, 36)
	for i := range rates {
		rates[i] = Rate{100, 1000}
		if i%12 == 3 {
			rates[i].Events = 200
		}
	}
	if s, ok := FitSeason(rates, 10); !ok || s.Peak != 1 {
		t.Errorf("%+v %v", s, ok)
	}
	if _, ok := FitSeason(rates[:23], 10); ok {
		t.Error("a season from less than two years")
	}
}

// Two months, the first with events enough to fix the level at 1: the second one's coefficient
// is the logarithm of its count. Newton's method starts from one event there, goes to
// count - 1, and comes back by about one a step.
func TestRegressionConverges(t *testing.T) {
	t.Parallel()
	fit := func(count, second float64) (b []float64, ok bool) {
		b, _, _, ok = poissonRegression([]float64{1e15, count}, []float64{math.Log(1e15), 0}, [][]float64{{1, 0}, {1, second}})
		return b, ok
	}
	if b, ok := fit(30, 1); !ok || math.Abs(b[slope]-math.Log(30)) > 1e-6 {
		t.Errorf("%v %v, want %v", b, ok, math.Log(30))
	}
	var took [2]bool // the most steps there may be, and one more
	for count := 40.0; count <= 60; count += 0.5 {
		steps := 1
		for b := 0.0; ; steps++ {
			step := (count - math.Exp(b)) / math.Exp(b)
			if math.Abs(step) < 1e-9 {
				break
			}
			b += step
		}
		if b, ok := fit(count, 1); ok != (steps <= 50) {
			t.Errorf("%v after %d steps: %v %v", count, steps, b, ok)
		}
		took[0], took[1] = took[0] || steps == 50, took[1] || steps == 51
	}
	if took != [2]bool{true, true} {
		t.Errorf("50 and 51 steps: %v", took)
	}
	// Rows that cannot be told apart: by 1e-9, of which the square counts.
	if b, ok := fit(1, 1e-9); ok {
		t.Errorf("rows alike have %v", b)
	}
}
