package detect_test

import (
	"math"
	"runtime"
	"testing"

	"downlock/ingest"
)

// chattering is a flight of so many seconds on which one discrete changes at each of its
// samples, 50 ms apart.
func chattering(seconds float64, name string) *ingest.Recording {
	const up = 100
	down := seconds - 200
	flips := func(t float64) float64 { return float64(int(math.Round(t*20)) % 2) }
	if name == "gear_lever" || name == "flap_handle" {
		flips = func(t float64) float64 { return float64(int(math.Round(t*20)) % 2 * 2) }
	}
	series := append(struts(seconds, up, down),
		sampledEvery("computed_airspeed", 1, seconds, through(70, 0, up, 140, up+60, 250, down-60, 250, down, 135, down+60, 20)),
		sampledEvery("pressure_altitude", 1, seconds, through(up, 340, up+150, 9000, down-150, 9000, down, 340)),
		sampledEvery("radio_altitude", 0.5, seconds, through(up, 0, up+50, 2600, down-50, 2600, down, 0)))
	for _, other := range []string{"gear_lever", "flap_handle", "gear_horn", "nose_gear_down_locked", "left_gear_down_locked", "right_gear_down_locked"} {
		if other == name {
			series = append(series, sampledEvery(name, 0.05, seconds, flips))
		} else {
			series = append(series, sampledEvery(other, 1, seconds, during()))
		}
	}
	return recordingOf(seconds, series...)
}

// TestWorkGrowsWithTheLength: twice the time in the air takes twice the work, of which the bytes that
// are allocated are the measure; with the square they would be four times as many. The
// flight is flown alone, since the count is of the whole process.
func TestWorkGrowsWithTheLength(t *testing.T) {
	d, _ := shippedDetector(t)
	allocated := func(r *ingest.Recording) float64 {
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		if len(d.Detect(r)) != 1 {
			t.Fatal("not one flight")
		}
		runtime.ReadMemStats(&after)
		return float64(after.TotalAlloc - before.TotalAlloc)
	}
	for _, name := range []string{"gear_lever", "flap_handle", "gear_horn"} {
		once, twice := allocated(chattering(1300, name)), allocated(chattering(2300, name))
		t.Logf("%s: %.0f MiB, and %.2f times as much for twice the length", name, once/(1<<20), twice/once)
		if twice > 2.6*once {
			t.Errorf("%s: %.2f times the work for twice the length", name, twice/once)
		}
	}
}

// BenchmarkChattering has a lever that changes at each of its samples, for a thousand seconds in the air and two.
func BenchmarkChattering(b *testing.B) {
	d, _ := shippedDetector(b)
	for _, seconds := range []float64{1300, 2300} {
		r := chattering(seconds, "gear_lever")
		b.Run(map[float64]string{1300: "once", 2300: "twice"}[seconds], func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				d.Detect(r)
			}
		})
	}
}
