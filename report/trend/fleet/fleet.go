// Package fleet makes the flights of an invented fleet, as counts or as the
// tables of an archive, with known rates and known things wrong: one event that
// drifts, one that comes with the season, one aircraft that has too many of a
// third and a gear leg that grows slow. Tests hold the trends against what was
// put in, and measure how long an archive of a million flights takes.
//
// The operator, its aircraft and every flight are invented. The same Fleet gives
// the same bytes.
package fleet

import (
	"fmt"
	"math"
	"math/rand/v2"
	"sync"
	"time"

	"downlock/detect"
)

// Fleet says what to make.
type Fleet struct {
	Seed     uint64
	Flights  int
	Months   int    // at least 24
	First    string // month YYYY-MM
	Aircraft int
	Rules    int
	Nothing  bool // nothing is wrong: every rate stays as it is
	// Circuits: one flight in so many is of circuits, with six lift-offs and touchdowns,
	// whose values are more alike than those of different flights; 0: none is.
	Circuits int
	// Causes: one event in so many has up to eight others beside it that come of the same
	// cause; 0: each event is an occurrence of its own.
	Causes int
}

// Million is the archive large operators reach in years: 1 million flights and
// 45 rules.
var Million = Fleet{Seed: 1, Flights: 1_000_000, Months: 60, First: "2021-01", Aircraft: 60, Rules: 45}

// Truth holds the faults put in.
type Truth struct {
	DriftRule, SeasonRule, AircraftRule string
	Aircraft                            string // the one with too many of AircraftRule
	SlowLeg                             string // measurement that grows on it
}

// What is wrong, and how much.
const (
	driftMonths  = 18  // before the end, in which the rate of the drifting rule rises steadily
	driftFactor  = 3.0 // reached at the end
	seasonSwing  = 1.5 // of the seasonal rule in January
	badMonths    = 12  // before the end, in which the bad aircraft is bad
	badFactor    = 9.0
	slowPerMonth = 0.12 // s that the leg grows slower by
)

// measured are the measurements made, in each of what: their mean and spread.
var measured = []struct {
	name, unit   string
	mean, spread float64
	of           detect.OpportunityKind
}{
	{"lift-off-airspeed", "kt", 142, 6, detect.OpenLiftOff}, {"gear-up-time", "s", 4.1, 0.9, detect.OpenLiftOff}, {"gear-up-height", "ft", 120, 35, detect.OpenRetraction},
	{"retraction-time", "s", 8.4, 0.35, detect.OpenRetraction}, {"retraction-time-left", "s", 8.0, 0.35, detect.OpenRetraction}, {"retraction-time-right", "s", 8.1, 0.35, detect.OpenRetraction},
	{"touchdown-airspeed", "kt", 131, 5, detect.OpenTouchdown}, {"touchdown-acceleration", "g", 1.35, 0.12, detect.OpenTouchdown},
}

// The values of a flight of circuits: how many, and the share of their variance that
// they have in common.
const (
	circuits = 6
	inCommon = 0.8
)

// values makes the values of a measurement on one flight.
func (f Fleet) values(source *rand.Rand, n int, mean float64) []float64 {
	m := measured[n]
	if f.Circuits == 0 || source.IntN(f.Circuits) > 0 {
		return []float64{thousandths(mean + m.spread*source.NormFloat64())}
	}
	common := math.Sqrt(inCommon) * source.NormFloat64()
	out := make([]float64, circuits)
	for i := range out {
		out[i] = thousandths(mean + m.spread*(common+math.Sqrt(1-inCommon)*source.NormFloat64()))
	}
	return out
}

const slowLeg = 4 // in measured

var warnings = []string{"gear_horn", "gpws_too_low_gear"}

// airframe is the name of an aircraft; its type is the second for every third.
func (f Fleet) airframe(i int) string { return fmt.Sprintf("TARN-%02d", i+1) }

func (f Fleet) aircraftType(i int) string {
	if i%3 == 2 {
		return "TH-440"
	}
	return "TH-120"
}

// partlyShare is the share of flights on which a rule is known in part.
const partlyShare = 1.0 / 30

// without says whether a rule is not evaluable on an aircraft: the larger type
// does without every ninth.
func (f Fleet) without(rule, aircraft int) bool {
	return rule%9 == 8 && f.aircraftType(aircraft) == "TH-440"
}

// aerodromes are where flights begin and end, as positions.
const aerodromes = 6

func aerodrome(i int) string { return fmt.Sprintf("N46.%d W027.%d", i, 9-i) }

// AirframePattern finds the individual aircraft in the recording names made here.
const AirframePattern = `^(TARN-\d+)-`

// Places of the rules something is wrong with, and of the aircraft.
func (f Fleet) driftRule() int   { return f.Rules / 5 }
func (f Fleet) seasonRule() int  { return f.Rules / 2 }
func (f Fleet) badRule() int     { return 3 * f.Rules / 4 }
func (f Fleet) badAircraft() int { return f.Aircraft / 4 }

var builtIn = sync.OnceValues(func() (*detect.RuleSet, error) { return detect.LoadRules() })

// rules returns the first of the fleet's rules, as the built-in pack has them.
func (f Fleet) rules() ([]*detect.Rule, error) {
	set, err := builtIn()
	if err != nil {
		return nil, err
	}
	if len(ruleNames) < f.Rules {
		return nil, fmt.Errorf("there are only %d rules", len(ruleNames))
	}
	rules := make([]*detect.Rule, f.Rules)
	for i, name := range ruleNames[:f.Rules] {
		if rules[i] = set.Rule(name); rules[i] == nil {
			return nil, fmt.Errorf("there is no rule %s any more", name)
		}
	}
	return rules, nil
}

// Truth returns the faults of the fleet.
func (f Fleet) Truth() (Truth, error) {
	rules, err := f.rules()
	if err != nil || f.Nothing {
		return Truth{}, err
	}
	return Truth{rules[f.driftRule()].ID, rules[f.seasonRule()].ID, rules[f.badRule()].ID, f.airframe(f.badAircraft()), measured[slowLeg].name}, nil
}

// baseRates are the events per flight of each rule when nothing is wrong: from
// 0.2 to 8 per thousand.
func (f Fleet) baseRates() []float64 {
	source := rand.New(rand.NewPCG(f.Seed, 77))
	rates := make([]float64, f.Rules)
	for i := range rates {
		rates[i] = 0.0002 * math.Pow(40, source.Float64())
	}
	for _, wrong := range []int{f.driftRule(), f.seasonRule(), f.badRule()} {
		rates[wrong] = 0.004
	}
	return rates
}

// factor multiplies the base rate.
func (f Fleet) factor(rule, month, aircraft int) float64 {
	left := f.Months - 1 - month // months after this one
	switch {
	case f.Nothing:
	case rule == f.driftRule() && left < driftMonths:
		return 1 + (driftFactor-1)*float64(driftMonths-left)/driftMonths
	case rule == f.seasonRule():
		calendar := int(f.month(month).Month())
		return math.Pow(seasonSwing, math.Cos(2*math.Pi*float64(calendar-1)/12))
	case rule == f.badRule() && aircraft == f.badAircraft() && left < badMonths:
		return badFactor
	}
	return 1
}

// slower is how much longer the slow leg takes, in s.
func (f Fleet) slower(measurement, month, aircraft int) float64 {
	if f.Nothing || measurement != slowLeg || aircraft != f.badAircraft() {
		return 0
	}
	return slowPerMonth * float64(max(0, badMonths-(f.Months-1-month)))
}

func (f Fleet) month(i int) time.Time {
	first, _ := time.Parse("2006-01", f.First)
	return first.AddDate(0, i, 0)
}

// flightsIn is the number of flights in a month: a tenth more in summer, so that
// a rate per month and a count per month differ.
func (f Fleet) flightsIn(month int) int {
	calendar := float64(f.month(month).Month())
	return int(math.Round(float64(f.Flights) / float64(f.Months) * (1 - 0.1*math.Cos(2*math.Pi*(calendar-1)/12))))
}

func (f Fleet) source(month int) *rand.Rand { return rand.New(rand.NewPCG(f.Seed, uint64(1000+month))) }
