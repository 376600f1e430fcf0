package simulator

import "math"

// The functions below make the accompanying parameters look realistic. Only the
// vertical speed, the nose wheel and the fan speed affect a truth.

const (
	feetPerKnotSecond = 1852.0 / 3600 / 0.3048
	gravity           = 9.80665 / 0.3048 // ft/s², standard gravity
)

// verticalSpeed is the slope of the altitude, ft/min.
func (f *Flight) verticalSpeed(t float64) float64 {
	const step = 0.01
	return 60 * (f.Altitude(t+step) - f.Altitude(t-step)) / (2 * step)
}

// normalAcceleration returns the acceleration in g from the curve of the altitude,
// with the jolt of each touchdown.
func (f *Flight) normalAcceleration(t float64) float64 {
	const step = 1.0
	curve := (f.Altitude(t+step) - 2*f.Altitude(t) + f.Altitude(t-step)) / (step * step)
	g := 1 + math.Max(-0.3, math.Min(0.3, curve/gravity))
	for _, l := range f.loads() {
		if t >= l.At {
			g += l.Peak * math.Exp(-(t-l.At)/0.3)
		}
	}
	return g
}

// loads returns those of the scenario, or else the usual jolt of each touchdown.
func (f *Flight) loads() []Load {
	if f.Scenario.Loads != nil {
		return f.Scenario.Loads
	}
	var usual []Load
	for _, a := range f.Scenario.Airborne {
		usual = append(usual, Load{a.Touchdown, 0.25})
	}
	return usual
}

// roughness is the variation of the normal acceleration about its mean, g.
func (f *Flight) roughness(t float64) float64 {
	if f.Airspeed(t) < 1 {
		return 0
	}
	return 0.008
}

// pitch follows the flight path and the angle of attack. It is level on the ground.
func (f *Flight) pitch(t float64) float64 {
	share := 0.0
	for _, a := range f.Scenario.Airborne {
		rising := math.Max(0, math.Min(1, (t-a.LiftOff+3)/5))
		falling := math.Max(0, math.Min(1, (a.Touchdown+4-t)/4))
		share = math.Max(share, math.Min(rising, falling))
	}
	speed := math.Max(f.GroundSpeed(t)*feetPerKnotSecond*60, 1)
	path := math.Atan(f.verticalSpeed(t)/speed) * 180 / math.Pi
	attack := 5 * math.Pow(165/math.Max(f.Airspeed(t), 120), 2)
	return share * (path + attack)
}

// roll is a pair of gentle turns early in each flight.
func (f *Flight) roll(t float64) float64 {
	for _, a := range f.Scenario.Airborne {
		since := t - a.LiftOff
		if since > 60 && since < 90 {
			return 15 * math.Sin((since-60)/15*math.Pi)
		}
	}
	return 0
}

// noseWheel turns while the aircraft taxies and is straight at speed.
func (f *Flight) noseWheel(t float64) float64 {
	speed := f.Airspeed(t)
	if speed < 1 || speed > 20 {
		return 0
	}
	return 20 * math.Sin(t/4)
}

// fanSpeed is N1 in percent: it follows the throttle over the last 3 seconds.
func (f *Flight) fanSpeed(engine int, t float64) float64 {
	mean := 0.0
	for _, back := range []float64{0, 1, 2, 3} {
		mean += f.throttle[engine].at(t-back) / 4
	}
	return 22 + 1.6*math.Abs(mean) // reverse thrust is thrust as well
}

// position follows a straight track by the distance covered.
func (f *Flight) position(t float64) Place {
	from, to := f.Scenario.From, f.Scenario.To
	x := f.distance.fraction(t)
	if f.Scenario.Return {
		x = 1 - math.Abs(2*x-1)
	}
	return Place{from.Latitude + x*(to.Latitude-from.Latitude), from.Longitude + x*(to.Longitude-from.Longitude)}
}
