// Package simulator makes recordings whose truth is known. An aircraft of one of the
// shipped profiles' invented types flies along chosen curves and is sampled as a
// recorder samples. The input is a Scenario. The output is a Flight, whose every
// quantity is a function of continuous time, its Table for package export, and its
// Truth. The Truth holds the events that really happened, worked out from the
// functions and not from the samples.
//
// It makes demonstration and test data and is no model of flight: speed and height
// follow given curves, without forces. Times are seconds on the recording's axis,
// speeds knots, heights feet, angles degrees. Everything is repeatable: the only
// noise comes from a seeded generator.
package simulator

import (
	"errors"
	"fmt"
	"math"
	"time"

	"downlock/schemas"
)

// Positions of the gear lever, as values of an Action.
const (
	LeverUp   = 0
	LeverOff  = 1
	LeverDown = 2
)

// Control is a control the crew moves.
type Control int

const (
	GearLever          Control = iota // LeverUp, LeverOff or LeverDown
	FlapHandle                        // detent, deg
	Throttle1                         // lever angle, deg; Throttle2 to 4 follow
	Throttle2                         //
	Throttle3                         //
	Throttle4                         //
	HornCutout                        // 1 operated
	LeverLockOverride                 // 1 operated
	AlternateExtension                // 1 selected
	EmergencyPressure                 // 1 used
	Speedbrake                        // handle angle, deg
	SpeedbrakeArmed                   // 1 armed
	ParkingBrake                      // 1 set
	Trim                              // stabiliser trim, deg
	FlapOverride                      // 1 operated: the alerts do not ask for landing flap
	WarningSilenced                   // 1 held: the take-off warning is silenced by hand
	controls
)

// Action is one movement of a control: from At on it is set to Value.
type Action struct {
	At      float64
	Control Control
	Value   float64
}

// Airborne is the time between a lift-off (last main strut extended) and a touchdown
// (first main strut compressed); infinite where not recorded.
type Airborne struct{ LiftOff, Touchdown float64 }

// Scenario is the complete description of a recording.
type Scenario struct {
	Name       string
	Seed       uint64
	Epoch      time.Time // UTC at time 0; zero: the export has no date
	Start, End float64   // the recorded time
	Height     []Knot    // of the wheels above the ground, ft
	Terrain    []Knot    // elevation of the ground below, ft
	Speed      []Knot    // computed airspeed, kt
	Airborne   []Airborne
	OnGround   bool      // nothing flies
	GoArounds  []float64 // lowest points of approaches given up in the air
	Actions    []Action  // in order of time; a control is at 0 before its first action
	From, To   Place
	Return     bool // From to To and back to From
	Faults     Faults
	Ridges     []Ridge
	Loads      []Load // in place of the usual jolt of each touchdown
	// AlertsByHeight: the alerts near the ground arm by height, give way in landing
	// configuration and choose their words by airspeed. The take-off warning arms
	// below 40 kt and stops when the nose strut extends or by hand. Without it the
	// alerts arm by time, and the warning lasts to lift-off.
	AlertsByHeight bool
	// Sampling replaces the layout's usual sampling of a column.
	Sampling map[string]Sampling
}

// Sampling is the rate of a column and its place in the second, s.
type Sampling struct{ PerSecond, Offset float64 }

// Place is a position, degrees north and east.
type Place struct{ Latitude, Longitude float64 }

// Flight is a scenario as functions of continuous time.
type Flight struct {
	Scenario Scenario
	Profile  *schemas.Profile

	height, terrain, speed curve
	distance               cumulative
	settings               [controls]steps
	flap, speedbrake, trim line
	throttle               []line
	legs                   []line // position of each leg, 0 up-locked to 1 down-locked
	columns                map[string]channel
	followed               map[string]known // facts already worked out

	alertsArmed, takeOffArmed steps // with AlertsByHeight
}

// The rates at which surfaces and levers follow the crew's settings. They are slow,
// so a straight line between two samples stays within the accuracies of the shipped
// profiles.
const (
	flapRate       = 1.5 // deg/s
	throttleRate   = 10  // deg/s
	speedbrakeRate = 10  // deg/s
	trimRate       = 0.3 // deg/s
)

// New builds the flight of a scenario for the aircraft of a profile.
func New(s Scenario, p *schemas.Profile) (*Flight, error) {
	f := &Flight{Scenario: s, Profile: p, columns: map[string]channel{}, followed: map[string]known{}}
	var errs []error
	for _, c := range []struct {
		name  string
		knots []Knot
		to    *curve
	}{{"height", s.Height, &f.height}, {"terrain", s.Terrain, &f.terrain}, {"speed", s.Speed, &f.speed}} {
		made, err := newCurve(c.knots)
		if err != nil {
			errs = append(errs, fmt.Errorf("%s: %s: %w", s.Name, c.name, err))
		}
		*c.to = made
	}
	for i := 1; i < len(s.Actions); i++ {
		if s.Actions[i].At < s.Actions[i-1].At {
			errs = append(errs, fmt.Errorf("%s: action %d comes before the one above it", s.Name, i))
		}
	}
	if len(s.Airborne) == 0 && !s.OnGround {
		errs = append(errs, fmt.Errorf("%s: nothing is flown", s.Name))
	}
	if err := errors.Join(errs...); err != nil {
		return nil, err
	}
	f.set()
	for _, c := range f.channels() {
		f.columns[c.column] = c
	}
	f.distance = accumulate(f.GroundSpeed, s.Start, s.End)
	for _, force := range s.Faults.Forced {
		if _, ok := f.columns[force.Column]; !ok {
			errs = append(errs, fmt.Errorf("%s: no column %q to force", s.Name, force.Column))
		}
	}
	return f, errors.Join(errs...)
}

// set works out the motions that follow from the crew's actions.
func (f *Flight) set() {
	for _, a := range f.Scenario.Actions {
		f.settings[a.Control] = append(f.settings[a.Control], Knot{a.At, a.Value})
	}
	for c, settings := range f.settings {
		if len(settings) == 0 || settings[0].At > f.Scenario.Start {
			f.settings[c] = append(steps{{f.Scenario.Start, 0}}, settings...)
		}
	}
	f.flap = f.settings[FlapHandle].followed(0, flapRate, flapRate)
	f.speedbrake = f.settings[Speedbrake].followed(0, speedbrakeRate, speedbrakeRate)
	f.trim = f.settings[Trim].followed(0, trimRate, trimRate)
	for engine := range f.Profile.Engines {
		f.throttle = append(f.throttle, f.settings[Throttle1+Control(engine)].followed(0, throttleRate, throttleRate))
	}
	f.legs = f.legMotion()
	if f.Scenario.AlertsByHeight {
		f.alertsArmed, f.takeOffArmed = f.armSteps()
	}
}

// Height of the wheels above the ground, ft.
func (f *Flight) Height(t float64) float64 { return math.Max(0, f.height.at(t)) }

// Altitude is the pressure altitude, ft. The day is a standard one, so it is also the
// height above sea level.
func (f *Flight) Altitude(t float64) float64 { return f.Height(t) + f.terrain.at(t) }

// Airspeed is the computed airspeed, kt.
func (f *Flight) Airspeed(t float64) float64 { return math.Max(0, f.speed.at(t)) }

// GroundSpeed is the speed over the ground without wind, kt: true airspeed
// grows by about 1.6 % in 1000 ft (from memory).
func (f *Flight) GroundSpeed(t float64) float64 {
	return f.Airspeed(t) * (1 + 16e-6*f.Altitude(t))
}

// setting returns the crew's setting of a control.
func (f *Flight) setting(c Control, t float64) float64 { return f.settings[c].at(t) }
