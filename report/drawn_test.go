package report

import (
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"downlock/detect"
	"downlock/detect/readings"
	"downlock/ingest"
	"downlock/report/svg"
	"downlock/schemas"
)

// shippedResults are the flights of every recording shipped with the project.
func shippedResults(t *testing.T) (results []*detect.Result) {
	t.Helper()
	rules, err := detect.LoadRules()
	if err != nil {
		t.Fatal(err)
	}
	small := fixtureProfile(t)
	large, err := schemas.ShippedProfileNamed("th440")
	if err != nil {
		t.Fatal(err)
	}
	x100, inverted := profileIn(t, "../testdata/x100/profile.yaml"), profileIn(t, "../testdata/x100/profile-inverted.yaml")
	for pattern, profile := range map[string]*schemas.Profile{
		"../testdata/demo/*-[0-9][0-9].*": small, "../testdata/demo440/*-[0-9][0-9].*": large,
		"../testdata/operations/op-*.csv.gz":      profileIn(t, "../testdata/operations/profile.yaml"),
		"../testdata/x100/flight-[1-578]*.csv.gz": x100, "../testdata/x100/flight-6.csv.gz": inverted,
	} {
		paths, err := filepath.Glob(pattern)
		if err != nil || len(paths) == 0 {
			t.Fatalf("%s: no recordings, %v", pattern, err)
		}
		detector, err := detect.New(profile, rules)
		if err != nil {
			t.Fatal(err)
		}
		for _, path := range paths {
			recording, err := ingest.Read(path, profile)
			if err != nil {
				t.Fatal(err)
			}
			results = append(results, detector.Detect(recording)...)
		}
	}
	return results
}

func profileIn(t *testing.T, path string) *schemas.Profile {
	t.Helper()
	p, err := schemas.ReadProfile(path)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// probes are times all over a flight, and a hair on either side of the edges of
// boxes, where a drawing would go wrong first.
func probes(random *rand.Rand, f *detect.Flight, boxes []box) (times []float64) {
	for range 60 {
		times = append(times, f.Span.Start+random.Float64()*f.Span.Seconds())
	}
	for _, b := range boxes {
		times = append(times, b.start-1e-3, b.start+1e-3, b.end-1e-3)
	}
	return slices.DeleteFunc(times, func(t float64) bool { return t < f.Span.Start || t >= f.Span.End })
}

// drawnAt is the text, or the class where there is none, of the box seen at a
// time.
func drawnAt(boxes []box, t float64, class bool) string {
	seen := ""
	for _, b := range boxes {
		if b.start <= t && t < b.end {
			seen = b.text
			if class {
				seen = b.class
			}
		}
	}
	return seen
}

// TestDrawnIsWhatRulesSee: at any time of any shipped flight a band shows the value that
// an expression of the rule language finds there, and is hatched
// where that is undecided.
func TestDrawnIsWhatRulesSee(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(20310305, 1))
	compared := map[string]int{}
	for _, r := range shippedResults(t) {
		tracks, where := r.Tracks, r.Recording().Name
		check := func(name string, track detect.Held, boxes []box, shows func(t float64) bool, rules readings.Condition) {
			undecided := track.Undecided()
			for _, at := range probes(random, r.Flight, boxes) {
				if shows(at) != rules.True.Contains(at) {
					t.Errorf("%s: at %.3f s %s is drawn as %v, and rules see %v", where, at, name, shows(at), rules.True.Contains(at))
				}
				open := rules.Possible.Contains(at) && !rules.Certain.Contains(at)
				if missing := readings.Union(rules.True, rules.False).Complement(readings.Spans{r.Flight.Span}); open && !undecided.Contains(at) && !missing.Contains(at) {
					t.Errorf("%s: at %.3f s %s is undecided for rules and drawn as if it were known", where, at, name)
				}
			}
			compared[strings.TrimRight(name, "0123456789")]++
		}
		text := func(boxes []box, want string) func(float64) bool {
			return func(at float64) bool { return drawnAt(boxes, at, false) == want }
		}
		if flap, ok := tracks.Flap(); ok {
			boxes := flapBoxes(flap)
			for _, class := range []string{"up", "takeoff", "intermediate", "landing"} {
				name := map[string]string{"up": "flap_up", "takeoff": "takeoff_flap", "intermediate": "intermediate_flap", "landing": "landing_flap"}[class]
				check(name, flap, boxes, func(at float64) bool {
					return slices.ContainsFunc(r.Flight.Profile.Flaps.Detents, func(d schemas.Detent) bool {
						return d.Name == drawnAt(boxes, at, false) && slices.Contains(d.Classes, class)
					})
				}, tracks.Condition(name))
			}
		}
		for _, leg := range recordedLegs(r) {
			boxes := legBoxes(leg.track)
			for _, name := range leg.track.From {
				words := []string{detect.LegDown, detect.LegBoth}
				if strings.Contains(name, "up_locked") {
					words = []string{detect.LegUp, detect.LegBoth}
				}
				check(name, leg.track, boxes, func(at float64) bool { return slices.Contains(words, drawnAt(boxes, at, false)) }, tracks.Condition(name))
			}
		}
		for n := 1; n <= r.Flight.Profile.Engines; n++ {
			throttle, ok := tracks.Throttle(n)
			if !ok {
				continue
			}
			boxes, name := onOff(throttle, "idle", ""), r.Flight.Profile.Throttle.Parameter+"_"+strconv.Itoa(n)
			check(name, throttle, boxes, func(at float64) bool { return drawnAt(boxes, at, true) == "idle" },
				tracks.Compare(name, readings.Below, r.Flight.Profile.Throttle.RetardedBelow))
		}
		phase := tracks.Phase()
		drawn := heldBoxes(phase, func(_ int, name string) (string, string) { return "phase", name })
		for word, name := range map[string]detect.Phase{"standing": detect.Standing, "taxi": detect.Taxi, "takeoff": detect.TakeOff,
			"initial_climb": detect.InitialClimb, "en_route": detect.EnRoute, "approach": detect.ApproachPhase, "landing": detect.Landing} {
			check(word, phase, drawn, text(drawn, string(name)), tracks.Condition(word))
		}
		for _, p := range tracks.Recorded() {
			track, ok := tracks.Parameter(p.Parameter.Name)
			if !ok {
				continue
			}
			name := p.Parameter.Name
			if p.Parameter.Kind == schemas.Discrete {
				boxes := onOff(track, "on", "")
				check(name, track, boxes, func(at float64) bool { return drawnAt(boxes, at, true) == "on" }, tracks.Condition(name))
				continue
			}
			boxes := stateBoxes(track)
			for _, state := range p.Parameter.States {
				check(name, track, boxes, text(boxes, state), tracks.State(name, state))
			}
		}
	}
	for _, name := range []string{"landing_flap", "left_gear_down_locked", "throttle_angle_", "approach", "gear_lever", "gear_horn"} {
		if compared[name] < 10 {
			t.Errorf("%s was compared %d times", name, compared[name])
		}
	}
}

// TestCurvesAreWhatRulesSee reads the path of every number of every shipped flight
// back: beside each time it passes the value that rules see there, and it leaves
// open where they know none.
func TestCurvesAreWhatRulesSee(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(20310305, 2))
	numbers := 0
	for _, r := range shippedResults(t) {
		parameters := []schemas.Parameter{{Name: "height", Kind: schemas.Continuous}}
		for _, p := range r.Tracks.Recorded() {
			if p.Parameter.Numeric() && r.Tracks.Has(p.Parameter.Name) {
				parameters = append(parameters, p.Parameter)
			}
		}
		for _, p := range parameters {
			nominal := r.Tracks.Number(p.Name, readings.Spans{r.Flight.Span}).Nominal
			if drawn := r.Tracks.Nominal(p.Name, readings.Spans{r.Flight.Span}); !slices.Equal(drawn, nominal) {
				t.Errorf("%s: %s is drawn as %d pieces that are not the %d of its number", r.Recording().Name, p.Name, len(drawn), len(nominal))
			}
			smallest, largest, known := nominal.Extremes()
			if !known {
				continue
			}
			numbers++
			x := svg.Scale{Low: r.Flight.Span.Start, High: r.Flight.Span.End, From: 0, To: 800}
			y := svg.Scale{Low: smallest, High: largest, From: 100, To: 0}
			lines := strokes(t, svg.Curve(nominal, p.Kind == schemas.Step, x, y))
			for range 60 {
				at := r.Flight.Span.Start + random.Float64()*r.Flight.Span.Seconds()
				value, here := nominal.At(at)
				low, high, drawn := passes(lines, x.At(at), 0.9)
				if here && (!drawn || y.At(value) < low-0.11 || y.At(value) > high+0.11) {
					t.Errorf("%s: %s is %g at %.3f s, at %.1f of its strip, and the line passes %.1f to %.1f", r.Recording().Name, p.Name, value, at, y.At(value), low, high)
				}
				if around, _, _ := nominal.Over(at-2*r.Flight.Span.Seconds()/800, at+2*r.Flight.Span.Seconds()/800); drawn && !here && around > largest {
					t.Errorf("%s: %s is drawn at %.3f s, where it is unknown", r.Recording().Name, p.Name, at)
				}
			}
		}
	}
	if numbers < 300 {
		t.Errorf("%d numbers are compared", numbers)
	}
}

// stroke is a straight line of a path.
type stroke struct{ x0, y0, x1, y1 float64 }

// strokes follows a path as a browser would.
func strokes(t *testing.T, p *svg.Path) (out []stroke) {
	t.Helper()
	c := svg.New(1000, 200, "", "")
	c.Path(p, "line")
	for _, s := range shapes(t, c.Bytes()) {
		x, y, rest := 0.0, 0.0, s.D
		for len(rest) > 0 {
			end := strings.IndexAny(rest[1:], "MlhvmL") + 1
			if end == 0 {
				end = len(rest)
			}
			var a, b float64
			command, text := rest[0], rest[1:end]
			rest = rest[end:]
			if command == 'h' || command == 'v' {
				a, _ = strconv.ParseFloat(text, 64)
			} else if _, err := fmt.Sscan(strings.TrimSpace(strings.ReplaceAll(text, "-", " -")), &a, &b); err != nil {
				t.Fatalf("%q: %v", text, err)
			}
			from := stroke{x0: x, y0: y}
			switch command {
			case 'M':
				x, y = a, b
				continue
			case 'l':
				x, y = x+a, y+b
			case 'h':
				x += a
			case 'v':
				y += a
			}
			from.x1, from.y1 = x, y
			out = append(out, from)
		}
	}
	return out
}

// passes is the range of y the strokes have within so many units of x.
func passes(lines []stroke, x, within float64) (low, high float64, drawn bool) {
	low, high = 1e9, -1e9
	for _, s := range lines {
		from, to := max(s.x0, x-within), min(s.x1, x+within)
		if from > to {
			continue
		}
		at := func(x float64) float64 {
			if s.x1 == s.x0 {
				return s.y0
			}
			return s.y0 + (s.y1-s.y0)*(x-s.x0)/(s.x1-s.x0)
		}
		low, high, drawn = min(low, at(from), at(to)), max(high, at(from), at(to)), true
		if s.x0 == s.x1 {
			low, high = min(low, s.y1), max(high, s.y1)
		}
	}
	return low, high, drawn
}

// A handle recorded at 0 is drawn at 0, also where the tolerance of the detents 0
// and 1 reaches from the one to the other; by hand.
func TestHandleAtZeroIsDrawnAtZero(t *testing.T) {
	t.Parallel()
	r := fixtureResult(t)
	profile := *r.Flight.Profile
	profile.Flaps = schemas.Flaps{Parameters: []string{"flap_handle"}, Tolerance: 1, Detents: []schemas.Detent{{Name: "0"}, {Name: "1", Angle: 1}, {Name: "5", Angle: 5}}}
	r.Flight.Profile = &profile
	r.Flight.Recording.Series = append(slices.DeleteFunc(r.Flight.Recording.Series, func(s *ingest.Series) bool { return s.Parameter.Name == "flap_handle" }),
		sampled(t, "flap_handle", 0, 1, 200, func(at float64) float64 { return 5*from(50)(at) - 4*from(100)(at) }))
	r.Tracks = detect.ReadTracks(r.Flight)
	flap, _ := r.Tracks.Flap()
	for at, want := range map[float64]string{20: "0", 70: "5", 120: "1"} {
		if got := drawnAt(flapBoxes(flap), at, false); got != want {
			t.Errorf("at %g s the flap is drawn at %q, want %q", at, got, want)
		}
	}
}
