package detect_test

import (
	"math"
	"testing"

	"downlock/ingest"
)

// twoHours is a flight of two hours with the parameters rules read most, at usual
// rates, its numbers rough as recorded ones are.
func twoHours() *ingest.Recording {
	const end, up, down = 7200, 400, 6900
	rough := func(f func(float64) float64, by float64) func(float64) float64 {
		return func(t float64) float64 { return f(t) + by*math.Sin(t*1.7)*math.Sin(t*0.31) }
	}
	height := through(up, 0, 1900, 31000, 5400, 31000, down, 0)
	locked, unlocked := during(0, up+12, down-240, end+1), during(up+20, down-250)
	series := append(struts(end, up, down),
		sampledEvery("computed_airspeed", 1, end, rough(through(370, 0, up, 140, 700, 250, 1900, 280, 5400, 280, 6500, 210, down, 135, 6960, 20), 1)),
		sampledEvery("pressure_altitude", 1, end, rough(func(t float64) float64 { return 340 + height(t) }, 4)),
		sampledEvery("radio_altitude", 0.5, end, rough(func(t float64) float64 { return min(height(t), 2600) }, 1)),
		sampledEvery("flap_handle", 1, end, through(up+60, 5, up+61, 0, 6400, 0, 6401, 5, 6600, 5, 6601, 20, 6700, 20, 6701, 30)),
		sampledEvery("flap_angle", 0.5, end, through(up+60, 5, up+75, 0, 6400, 0, 6415, 5, 6600, 5, 6620, 20, 6700, 20, 6715, 30)),
		sampledEvery("gear_lever", 1, end, func(t float64) float64 { return 2 - 2*during(up+8, down-262)(t) }),
		sampledEvery("gear_horn", 0.5, end, during()),
		sampledEvery("gear_horn_cutout", 1, end, during()),
		sampledEvery("nose_strut_compressed", 0.25, end, otherwise(during(up-2, down+4))),
		sampledEvery("throttle_angle_1", 0.5, end, rough(through(350, 5, 372, 60, 5400, 50, 5410, 8, 6500, 25), 0.4)),
		sampledEvery("throttle_angle_2", 0.5, end, rough(through(350, 5, 372, 60, 5400, 50, 5410, 8, 6500, 25), 0.4)),
	)
	for _, leg := range []string{"nose", "left", "right"} {
		series = append(series, sampledEvery(leg+"_gear_down_locked", 1, end, locked), sampledEvery(leg+"_gear_up_locked", 1, end, unlocked))
	}
	return recordingOf(end, series...)
}

// BenchmarkRules finds the flight and applies every built-in rule to it.
func BenchmarkRules(b *testing.B) {
	r := twoHours()
	d, _ := shippedDetector(b)
	if results := d.Detect(r); len(results) != 1 {
		b.Fatalf("%d flights, want 1", len(results))
	}
	b.ReportAllocs()
	for b.Loop() {
		d.Detect(r)
	}
}
