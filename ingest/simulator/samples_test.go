package simulator

import (
	"math"
	"testing"
)

// order works out by brute force the possible outcomes of "UP selected before the
// last strut extended". It tries every moment the lever and each strut may have moved
// between the samples around the movement.
func order(lever, left, right float64) (certain, possible bool) {
	bracket := func(at, offset, interval float64) (from, to float64) {
		k := math.Ceil((at - offset) / interval)
		return offset + (k-1)*interval, offset + k*interval
	}
	const n = 25
	moments := func(from, to float64) (out []float64) {
		for i := 1; i < n; i++ { // inside the bracket
			out = append(out, from+(to-from)*float64(i)/n)
		}
		return out
	}
	certain = true
	levers := moments(bracket(lever, 0.625, 1))
	lefts := moments(bracket(left, 0.125, 0.25))
	rights := moments(bracket(right, 0, 0.25))
	for _, l := range levers {
		for _, a := range lefts {
			for _, b := range rights {
				early := l < math.Max(a, b)
				certain = certain && early
				possible = possible || early
			}
		}
	}
	return certain, possible
}

func TestUndecidedOrderAgainstBruteForce(t *testing.T) {
	t.Parallel()
	const id = "gear-up-before-strut-extension"
	seen := map[string]int{}
	for k := range 60 {
		after := -1.513 + 0.05*float64(k)
		f := flown(t, outward(day(1, 1, 0, 0), func(d *departure, _ *arrival) { d.gearUp = after }).done())
		certain, possible := order(usualLiftOff+after, usualLiftOff-0.15, usualLiftOff)
		want := ""
		switch {
		case certain:
			want = Certain
		case possible:
			want = Possible
		}
		got := ""
		for _, e := range f.Truths()[0].Events {
			if e.Rule == id {
				got += e.Certainty
			}
		}
		if got != want {
			t.Errorf("lever %.3f s after lift-off: %q, brute force says %q", after, got, want)
		}
		seen[want]++
	}
	for _, kind := range []string{"", Possible, Certain} {
		if seen[kind] < 5 {
			t.Errorf("only %d cases were %q", seen[kind], kind)
		}
	}
}

func TestBracketingSamples(t *testing.T) {
	t.Parallel()
	c := channel{perSecond: 4, offset: 0.125}
	for _, x := range [][3]float64{{10, 9.875, 10.125}, {10.2, 10.125, 10.375}, {10.125, 10.125, 10.125}} {
		if b, a := c.before(x[0]), c.after(x[0]); b != x[1] || a != x[2] {
			t.Errorf("around %g: %g and %g, want %g and %g", x[0], b, a, x[1], x[2])
		}
	}
}

// The recorded value is the function at the time of the sample, to half a unit of the
// last decimal, at the rates of a recorder.
func TestRecord(t *testing.T) {
	t.Parallel()
	f := flown(t, outward(day(1, 1, 0, 0), nil).done())
	rates := map[string]float64{"airspeed": 1, "pressure altitude": 1, "gear lever": 1, "flap handle": 1, "radio height": 2,
		"flap angle": 2, "throttle 1": 2, "gear horn": 2, "left strut": 4, "normal acceleration": 8, "latitude": 0.25}
	for _, c := range f.Record().Columns {
		if rate := rates[c.Name]; rate > 0 {
			for i := 1; i < len(c.Times); i++ {
				if gap := c.Times[i] - c.Times[i-1]; math.Abs(gap-1/rate) > 1e-9 {
					t.Fatalf("%s: %g s between samples, want %g", c.Name, gap, 1/rate)
				}
			}
			delete(rates, c.Name)
		}
		var of func(float64) float64
		switch c.Name {
		case "airspeed":
			of = f.Airspeed
		case "pressure altitude":
			of = f.Altitude
		case "radio height":
			of = func(t float64) float64 { return math.Min(2500, f.Height(t)) }
		default:
			continue
		}
		for i, at := range c.Times {
			if half := 0.5*math.Pow10(-c.Decimals) + 1e-9; math.Abs(c.Numbers[i]-of(at)) > half {
				t.Errorf("%s at %g s: recorded %g, is %g", c.Name, at, c.Numbers[i], of(at))
			}
		}
	}
	if len(rates) > 0 {
		t.Errorf("not recorded: %v", rates)
	}
}

func TestDamage(t *testing.T) {
	t.Parallel()
	table := flown(t, badDownload()).Record()
	lost, spikes, beyond := 0, 0, 0
	for _, c := range table.Columns {
		for i := range c.Times {
			switch {
			case c.Name == "flap angle" && c.Texts[i] == lostToken:
				lost++
			case c.Name == "airspeed" && c.Numbers[i] > 350:
				spikes++
			case c.Name == "pressure altitude" && c.Numbers[i] == 99999:
				beyond++
			case c.Name == "radio height" && c.Times[i] >= 250 && c.Times[i] < 290:
				t.Errorf("radio height at %g s is there", c.Times[i])
			}
		}
	}
	if lost != 50 || spikes != 1 || beyond != 1 { // 25 s at 2 a second
		t.Errorf("%d lost, %d spikes, %d beyond the range; want 50, 1, 1", lost, spikes, beyond)
	}
	for _, c := range flown(t, oneThrottle()).Record().Columns {
		if c.Name == "left strut" || c.Name == "right strut" || c.Name == "nose strut" {
			t.Errorf("%s is there", c.Name)
		}
	}
}
