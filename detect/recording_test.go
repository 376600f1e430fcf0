package detect_test

import (
	"math"
	"testing"

	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/memory"

	"downlock/detect"
	"downlock/ingest"
	"downlock/schemas"
)

// recordingOf makes a recording of 0 to end seconds in memory.
func recordingOf(end float64, series ...*ingest.Series) *ingest.Recording {
	return &ingest.Recording{Name: "made in memory", SHA256: "none", Format: "memory", End: end, Series: series}
}

// sampledEvery samples a function every so many seconds from 0 to end, both
// included. A state or discrete is its index.
func sampledEvery(name string, every, end float64, value func(t float64) float64) *ingest.Series {
	p, ok := schemas.LookupParameter(name)
	if !ok {
		panic("no parameter " + name)
	}
	var times, numbers []float64
	var codes []uint8
	for i := 0; float64(i)*every <= end; i++ {
		t := float64(i) * every
		times = append(times, t)
		if p.Numeric() {
			numbers = append(numbers, value(t))
		} else {
			codes = append(codes, uint8(value(t)))
		}
	}
	s := sampledAt(p, times, numbers, codes)
	s.Interval, s.Longest, s.Gap = every, every, 3*every
	return s
}

// sampledAt makes a series of numbers or, for other parameters, of codes.
func sampledAt(p schemas.Parameter, times, numbers []float64, codes []uint8) *ingest.Series {
	at, n, c := array.NewFloat64Builder(memory.DefaultAllocator), array.NewFloat64Builder(memory.DefaultAllocator), array.NewUint8Builder(memory.DefaultAllocator)
	at.AppendValues(times, nil)
	n.AppendValues(numbers, nil)
	c.AppendValues(codes, nil)
	s := &ingest.Series{Parameter: p, Column: p.Name, Times: at.NewFloat64Array(), Values: n.NewFloat64Array()}
	if !p.Numeric() {
		s.Values = c.NewUint8Array()
	}
	return s
}

// during is 1 in the given stretches (from, to, from, to, ...) and 0 elsewhere.
func during(ends ...float64) func(float64) float64 {
	return func(t float64) float64 {
		for i := 0; i+1 < len(ends); i += 2 {
			if ends[i] <= t && t < ends[i+1] {
				return 1
			}
		}
		return 0
	}
}

func otherwise(f func(float64) float64) func(float64) float64 {
	return func(t float64) float64 { return 1 - f(t) }
}

// through runs straight through points (time, value, time, value, ...), level
// before the first and after the last.
func through(points ...float64) func(float64) float64 {
	return func(t float64) float64 {
		if t <= points[0] {
			return points[1]
		}
		for i := 2; i+1 < len(points); i += 2 {
			if t <= points[i] {
				part := (t - points[i-2]) / (points[i] - points[i-2])
				return points[i-1]*(1-part) + points[i+1]*part
			}
		}
		return points[len(points)-1]
	}
}

// struts are both main struts at 4 Hz, extended during the stretches.
func struts(end float64, inAir ...float64) []*ingest.Series {
	compressed := otherwise(during(inAir...))
	return []*ingest.Series{
		sampledEvery("left_strut_compressed", 0.25, end, compressed),
		sampledEvery("right_strut_compressed", 0.25, end, compressed),
	}
}

func detected(t testing.TB, r *ingest.Recording) []*detect.Result {
	t.Helper()
	d, _ := shippedDetector(t)
	return d.Detect(r)
}

// oneFlight detects and wants one flight.
func oneFlight(t *testing.T, r *ingest.Recording) *detect.Flight {
	t.Helper()
	results := detected(t, r)
	if len(results) != 1 {
		t.Fatalf("%d flights, want 1", len(results))
	}
	return results[0].Flight
}

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
