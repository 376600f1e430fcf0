package language

import (
	"math"
	"slices"

	"downlock/detect/readings"
)

// testFlight is an environment of a few sampled parameters, one each second.
type testFlight struct {
	speed, height  *readings.Line          // kt, ft
	flap           *readings.Held[float64] // deg
	lever          *readings.Held[uint8]
	horn, switched *readings.Held[uint8]
}

const flightEnd = 20.0

var (
	leverStates    = []string{"UP", "OFF", "DOWN"}
	floorTable     = [][2]float64{{190, 500}, {250, 1000}}
	testVocabulary = &Vocabulary{
		Names: map[string]Type{
			"speed":   {Kind: Number, Unit: "kt"},
			"height":  {Kind: Number, Unit: "ft"},
			"flap":    {Kind: Number, Unit: "deg", Held: true},
			"lever":   {Kind: State, States: leverStates},
			"horn":    {Kind: Condition},
			"switch":  {Kind: Condition},
			"limit":   {Kind: Number, Unit: "kt", Fixed: true},
			"tyres":   {Kind: Number, Unit: "kt"}, // may change, and does not on this flight
			"absent":  {Kind: Number, Unit: "ft", Fixed: true},
			"lacking": {Kind: Number, Unit: "s", Fixed: true},
			"touch":   {Kind: Moments},
		},
		Tables: map[string]Table{"floor": {From: "kt", To: "ft"}, "empty": {From: "kt", To: "ft"}},
	}
)

const testLimit = 220.0

func (testFlight) Window() readings.Span   { return readings.Span{Start: 0, End: flightEnd} }
func (f testFlight) whole() readings.Spans { return readings.Spans{f.Window()} }
func (testFlight) Moments(string) []readings.Moment {
	return []readings.Moment{{Nominal: 15, Earliest: 14.75, Latest: 15, Certain: true}}
}

func (f testFlight) Condition(name string) readings.Condition {
	h := f.horn
	if name == "switch" {
		h = f.switched
	}
	return h.Condition(func(v uint8) bool { return v == 1 }, f.whole())
}

func (f testFlight) State(_, state string) readings.Condition {
	return f.lever.Condition(func(v uint8) bool { return leverStates[v] == state }, f.whole())
}

func (f testFlight) Steps(name string, d readings.Direction) ([]readings.Moment, readings.Spans) {
	if name == "flap" {
		return readings.Steps(f.flap, d, f.whole())
	}
	if name == "lever" {
		return readings.Steps(f.lever, d, f.whole())
	}
	return nil, f.whole() // the others are worked out
}

func (f testFlight) Number(name string, within readings.Spans) readings.Number {
	switch name {
	case "flap":
		return f.flap.Number(func(v float64) float64 { return v }, within)
	case "height":
		return f.height.Number(within)
	}
	return f.speed.Number(within)
}

func (f testFlight) Envelope(name string) (readings.Envelope, bool) {
	const each = 1.5
	switch name {
	case "flap":
		return f.flap.Envelope(func(v float64) float64 { return v }, f.Window(), each), true
	case "height":
		return f.height.Envelope(f.Window(), each), true
	}
	return f.speed.Envelope(f.Window(), each), true
}

func (f testFlight) Compare(name string, r readings.Relation, constant float64) readings.Condition {
	switch name {
	case "flap":
		return readings.Compare(f.Number(name, f.whole()), r, readings.Constant(constant, f.whole()), f.whole())
	case "height":
		return f.height.Compare(r, constant, f.whole())
	}
	return f.speed.Compare(r, constant, f.whole())
}

func (testFlight) Fixed(name string) (float64, bool) {
	return testLimit, name == "limit" || name == "tyres"
}
func (testFlight) Table(name string) [][2]float64 {
	if name == "floor" {
		return floorTable
	}
	return nil
}

// truth is a nominal reading at one time.
type truth3 int

const (
	no truth3 = iota
	yes
	unknown
)

func truthOf(b bool) truth3 {
	if b {
		return yes
	}
	return no
}

// Kleene's tables, written out.
func (a truth3) and(b truth3) truth3 {
	switch {
	case a == no || b == no:
		return no
	case a == yes && b == yes:
		return yes
	}
	return unknown
}

func (a truth3) not() truth3 {
	switch a {
	case yes:
		return no
	case no:
		return yes
	}
	return unknown
}

// lastSample is the index of the last of times at or before t, with the first
// one held back and the last one on for a second; ok is false past a gap.
func lastSample(times []float64, t float64) (k int, ok bool) {
	if len(times) == 0 || t < times[0]-1 {
		return 0, false
	}
	k, found := slices.BinarySearch(times, t)
	if !found {
		k--
	}
	if k < 0 {
		return 0, true
	}
	if t < times[k]+1 {
		return k, true
	}
	return k, k+1 < len(times) && times[k+1]-times[k] <= 3
}

// lineAt interpolates by hand.
func lineAt(l *readings.Line, t float64) float64 {
	k, ok := lastSample(l.Times, t)
	switch {
	case !ok:
		return math.NaN()
	case t < l.Times[k] || k+1 == len(l.Times) || l.Times[k+1]-l.Times[k] > 3:
		return l.Values[k]
	}
	part := (t - l.Times[k]) / (l.Times[k+1] - l.Times[k])
	return l.Values[k]*(1-part) + l.Values[k+1]*part
}
