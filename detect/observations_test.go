package detect_test

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"downlock/detect"
	"downlock/ingest"
	"downlock/schemas"
)

const signalsProfile = `
schema: downlock profile 1
aircraft: T
title: signals
legs: [nose, left, right]
engines: 2
time: {column: t}
columns:
  computed_airspeed: {column: ias, unit: kt}
  ground_speed: {column: gs, unit: kt}
  pressure_altitude: {column: alt, unit: ft}
  radio_altitude: {column: ra, unit: ft}
  vertical_speed: {column: vs, unit: ft/min}
  latitude: {column: lat, unit: deg}
  longitude: {column: lon, unit: deg}
  left_strut_compressed: {column: left, true_when: 1}
  right_strut_compressed: {column: right, true_when: 1}
  gear_horn: {column: horn, true_when: 1}
`

// sample is one row of a made-up flight.
type sample struct {
	ias, gs, alt, ra, vs, lat, lon float64
	left, right, horn              int
	raBlank                        bool
}

// ordinary is a flight of 600 s: on the ground until 60 s, a climb of 1200 ft/min
// to 3340 ft, level from 260 to 400 s, a descent of 1000 ft/min to the ground at
// 600 s. Speeds rise and fall by 2 kt/s on the ground.
func ordinary(t float64) sample {
	s := sample{lat: 46 + t*1e-4, lon: -27}
	height := 0.0
	switch {
	case t < 60:
		s.ias = max(0, 2.5*(t-2))
	case t < 210:
		height, s.vs, s.ias = 20*(t-60), 1200, 150+(t-60)*0.3
	case t < 420:
		height, s.ias = 3000, 195+10*math.Sin(t/20)
	case t < 600:
		height, s.vs, s.ias = 3000-1000./60*(t-420), -1000, 195-(t-420)*0.3
	default:
		s.ias = max(0, 141-2*(t-600))
	}
	s.gs, s.alt, s.ra = s.ias, math.Round(340+height), math.Round(min(height, 2500))
	if s.ias < 40 {
		s.gs = 10 + t/100
	}
	if height == 0 {
		s.left, s.right = 1, 1
	}
	return s
}

func madeUp(t *testing.T, flight func(t float64) sample) *detect.Result {
	t.Helper()
	var b strings.Builder
	b.WriteString("t,ias,gs,alt,ra,vs,lat,lon,left,right,horn\n")
	for at := 0.0; at < 680; at++ {
		s := flight(at)
		ra := fmt.Sprint(s.ra)
		if s.raBlank {
			ra = ""
		}
		fmt.Fprintf(&b, "%g,%g,%g,%g,%s,%g,%.5f,%.5f,%d,%d,%d\n", at, s.ias, s.gs, s.alt, ra, s.vs, s.lat, s.lon, s.left, s.right, s.horn)
	}
	p := profileOf(t, signalsProfile)
	r, err := ingest.ReadBytes("signals.csv", []byte(b.String()), p)
	if err != nil {
		t.Fatal(err)
	}
	results := detectorOf(t, p).Detect(r)
	if len(results) != 1 {
		t.Fatalf("%d flights, want 1", len(results))
	}
	for _, c := range results[0].Checks {
		if c.Outcome == detect.Failed {
			t.Errorf("%s failed: %s", c.ID, c.Evidence)
		}
	}
	return results[0]
}

// Each made-up flight has one thing odd between times written down here; the
// ordinary one has none but the end of the radio altitude's range (2500 ft are
// reached at 60 + 2500/20 = 185 s and left at 420 + 500·60/1000 = 450 s).
func TestObservations(t *testing.T) {
	t.Parallel()
	within := func(t, from, to float64) bool { return from <= t && t <= to }
	frozenFrom := func(at float64) sample { return ordinary(at) }
	for _, c := range []struct {
		name      string
		change    func(t float64, s *sample)
		kind      detect.ObservationKind
		parameter string
		from, to  float64
	}{
		{"nothing", func(float64, *sample) {}, detect.EndOfRange, "radio_altitude", 185, 450},
		{"radio altitude frozen in the descent", func(t float64, s *sample) {
			if within(t, 500, 550) {
				s.ra = frozenFrom(500).ra
			}
		}, detect.Frozen, "radio_altitude", 500, 550},
		{"pressure altitude frozen in the climb", func(t float64, s *sample) {
			if within(t, 80, 140) {
				s.alt = frozenFrom(80).alt
			}
		}, detect.Frozen, "pressure_altitude", 80, 140},
		{"airspeed frozen in the landing roll", func(t float64, s *sample) {
			if t >= 600 {
				s.ias = frozenFrom(600).ias
			}
		}, detect.Frozen, "computed_airspeed", 600, 679},
		{"vertical speed frozen in level flight", func(t float64, s *sample) {
			if within(t, 209, 330) {
				s.vs = 1190
			}
		}, detect.Frozen, "vertical_speed", 209, 330},
		{"position frozen", func(t float64, s *sample) {
			if within(t, 200, 300) {
				s.lat = frozenFrom(200).lat
			}
		}, detect.Frozen, "latitude", 200, 300},
		{"radio altitude lost", func(t float64, s *sample) { s.raBlank = within(t, 501, 529) }, detect.Dropouts, "radio_altitude", 500, 530},
		{"strut chatters", func(t float64, s *sample) {
			if within(t, 620, 630) {
				s.left = int(t) % 2
			}
		}, detect.Chatter, "left_strut_compressed", 621, 631},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := madeUp(t, func(at float64) sample {
				s := ordinary(at)
				c.change(at, &s)
				return s
			})
			found := false
			for _, o := range r.Observations {
				if o.Kind == detect.EndOfRange && c.kind != o.Kind {
					continue
				}
				if o.Kind != c.kind || o.Parameter != c.parameter {
					t.Errorf("%s of %s is not to be found: %s", o.Kind, o.Parameter, o.Evidence)
					continue
				}
				found = true
				first, last := o.Spans[0], o.Spans[len(o.Spans)-1]
				if math.Abs(first.Start-c.from) > 1 || math.Abs(last.End-c.to) > 1 || o.Evidence == "" {
					t.Errorf("from %v to %v s, want %v to %v", first.Start, last.End, c.from, c.to)
				}
			}
			if !found {
				t.Errorf("no %s of %s: %+v", c.kind, c.parameter, r.Observations)
			}
		})
	}
}

// A steady flight, a flight due north and a warning that flickers a few
// times are not odd.
func TestOrdinaryIsNotOdd(t *testing.T) {
	t.Parallel()
	for name, change := range map[string]func(t float64, s *sample){
		"ordinary": func(float64, *sample) {},
		"airspeed held in cruise": func(t float64, s *sample) {
			if t > 210 && t < 420 {
				s.ias = 195
			}
		},
		"flight due east":          func(t float64, s *sample) { s.lat, s.lon = 46, -27+t*1e-4 },
		"horn sounds three times":  func(t float64, s *sample) { s.horn = map[float64]int{500: 1, 503: 1, 506: 1}[t] },
		"three bounces on landing": func(t float64, s *sample) { s.left -= map[float64]int{602: 1, 605: 1, 608: 1}[t] },
		"one sample lost":          func(t float64, s *sample) { s.raBlank = t == 500 },
	} {
		for _, o := range madeUp(t, func(at float64) sample {
			s := ordinary(at)
			change(at, &s)
			return s
		}).Observations {
			if o.Kind != detect.EndOfRange {
				t.Errorf("%s: %s of %s: %s", name, o.Kind, o.Parameter, o.Evidence)
			}
		}
	}
}

// The demonstration is odd only where its scenarios make it so: tarnholm-17
// loses its radio altitude from 250 to 290 s and its flap angle for a while,
// tarnholm-20 has a strut switch that chatters.
func TestObservationsOfTheDemonstration(t *testing.T) {
	t.Parallel()
	shipped := string(schemas.ShippedProfileText())
	for file, want := range map[string][]string{
		"tarnholm-01.csv.gz": nil, "tarnholm-07.csv.gz": nil, "tarnholm-13.csv.gz": nil, "tarnholm-14.parquet": nil,
		"tarnholm-17.csv.zst": {"dropouts radio_altitude", "dropouts flap_angle"},
		"tarnholm-20.csv.gz":  {"chatter left_strut_compressed"},
	} {
		var got []string
		for _, r := range withProfile(t, demoDir+file, shipped) {
			for _, o := range r.Observations {
				if o.Kind != detect.EndOfRange {
					got = append(got, string(o.Kind)+" "+o.Parameter)
				}
			}
		}
		if !slices.Equal(got, want) {
			t.Errorf("%s: %v, want %v", file, got, want)
		}
	}
}

// A profile so wrong that no flight is found says what failed.
func TestWhyNoFlightNamesFailedChecks(t *testing.T) {
	t.Parallel()
	const only = `
schema: downlock profile 1
aircraft: T
title: struts the wrong way round
legs: [nose, left, right]
engines: 2
time: {column: time}
columns:
  left_strut_compressed: {column: left strut, true_when: 0}
  right_strut_compressed: {column: right strut, true_when: 0}
  ground_speed: {column: ground speed, unit: kt}
`
	p := profileOf(t, only)
	d, r := detectorOf(t, p), readFile(t, demoDir+"tarnholm-07.csv.gz", p)
	if n := len(d.Detect(r)); n != 0 {
		t.Fatalf("%d flights without anything that tells air from ground", n)
	}
	_, err := d.WhyNoFlight(r)
	problem, ok := err.(*schemas.Problem)
	if !ok || !strings.Contains(problem.Hint, "consistency check failed: left_strut_compressed is compressed for") || !strings.Contains(problem.Hint, "reverse true_when") {
		t.Errorf("got %v", err)
	}
}
