package simulator

import "math"

// forever120 is a stay in the air with neither end recorded.
var forever120 = Airborne{math.Inf(-1), math.Inf(1)}

// takeOffOnsets are the rules about the take-off. Thrust is set from 68.5 s on, and
// two seconds make an event.
func takeOffOnsets() []onset {
	const thrust = 68.5
	return []onset{
		{"takeoff-flap", leave(20, nil, func(s *script, x float64) {
			s.do(40, FlapHandle, 0)
			s.do(thrust+x, FlapHandle, 5)
		}), 3.8, 0.8, ""},
		{"takeoff-speedbrake", leave(20, nil, func(s *script, x float64) { s.do(50, Speedbrake, x) }), 6, 4, ""},
		{"takeoff-parking-brake", leave(20, nil, func(s *script, x float64) {
			s.do(64, ParkingBrake, 1)
			s.do(thrust+x, ParkingBrake, 0)
		}), 3.8, 0.8, ""},
		{"takeoff-trim", leave(20, nil, func(s *script, x float64) { s.do(30, Trim, x) }), 7.3, 6.7, ""},
		// The aircraft passes 400 ft about 15.5 s after lift-off.
		{"flap-retracted-early", leave(40, func(d *departure, x float64) { d.flapUp = x }, nil), 14.2, 17, ""},
		{"takeoff-warning-missed", leave(20, nil, func(s *script, x float64) {
			s.do(64, ParkingBrake, 1)
			s.do(thrust+x, ParkingBrake, 0)
			s.force("take-off warning", 60, lift, 0)
		}), 5.5, 1.5, ""},
		{"takeoff-warning-late", leave(20, nil, func(s *script, x float64) {
			s.do(40, FlapHandle, 0)
			s.force("take-off warning", 60, thrust+x, 0)
		}), 5.5, 1.2, ""},
		{"takeoff-warning-nuisance", leave(20, nil, func(s *script, x float64) {
			s.do(64, ParkingBrake, 1)
			s.do(75.45, ParkingBrake, 0)
			s.force("take-off warning", 75, 75.45+x, 1)
		}), 4.6, 1.2, ""},
	}
}

// healthOnsets are the rules about the gear's own times, read from switches. These are
// sampled once a second, the struts four times.
func healthOnsets() []onset {
	slow := func(leg int, times func(x float64) (extend, retract float64)) func(*script, float64) {
		return func(s *script, x float64) {
			extend, retract := times(x)
			s.Faults.Slow = []SlowLeg{{leg, extend, retract}}
		}
	}
	noseDown := arrive(200, nil, slow(legNose, func(x float64) (float64, float64) { return x - 0.9, 7.1 }))
	lateSwitch := func(c Control) func(float64) Scenario {
		return arrive(200, nil, func(s *script, x float64) { s.do(touch-x, c, 1) })
	}
	return []onset{
		{"extension-slow", noseDown, 13.2, 10.8, ""},
		{"slow-leg", noseDown, 8 + 4.2, 8 + 1.8, ""}, // the left leg is first, after 8 s
		{"lever-position-disagree", noseDown, 21.2, 18.8, ""},
		{"retraction-slow", leave(45, nil, slow(legNose, func(x float64) (float64, float64) { return 6.4, x - 0.9 })), 13.4, 10.6, ""},
		{"slow-leg-up", leave(45, nil, slow(legLeft, func(x float64) (float64, float64) { return 6.9, x - 1.1 })), 8 + 4.2, 8 + 1.8, ""}, // the nose leg is first
		// The leg takes 0.24 s to lock again.
		{"up-lock-lost", arrive(360, nil, func(s *script, x float64) {
			s.End = touch - 250
			s.Airborne[0] = forever120
			s.Faults.Sag = &Sag{legRight, touch - 300, touch - 300 + x - 0.24}
		}), 3.3, 0.9, ""},
		{"doors-left-open", leave(45, nil, func(s *script, x float64) { s.force("gear doors", lift+13, lift+4.3+9.1+x, 0) }), 9.3, 6.7, ""},
		{"alternate-extension", arrive(200, nil, func(s *script, x float64) {
			s.force("gear doors", touch-182, touch-190+8.4+x, 0)
			s.force("hydraulic A low", 0, s.End, 1)
		}), 9.3, 6.7, ""},
		{"alternate-extension-selected", lateSwitch(AlternateExtension), 1.2, -1.2, ""},
		{"emergency-pressure", lateSwitch(EmergencyPressure), 1.2, -1.2, "th440"},
		{"strut-switches-disagree", leave(45, nil, func(s *script, x float64) { s.force("right strut", 25, 25+x, 0) }), 4.4, 3.6, ""},
		// Six changes, x apart: within five seconds or not.
		{"strut-switch-chatter", leave(45, nil, func(s *script, x float64) { s.Faults.Forced = chatter("left strut", 44, x, 6, 0) }), 0.9, 1.1, ""},
	}
}

// hornOnsets are the findings about the gear horn. The horn and its cut-out switch
// are sampled twice a second, locks and flap once. The delay of 2 s must be exceeded
// for every history between the samples.
func hornOnsets() []onset {
	const flap = touch - 140
	late := func(a *arrival, _ float64) { a.gearDown = 118 }
	silent := func(cutout bool) func(*script, float64) {
		return func(s *script, x float64) {
			s.force("gear horn", flap-5, flap+x, 0)
			if cutout {
				s.do(flap-5, HornCutout, 1)
				s.do(flap+x, HornCutout, 0)
			}
		}
	}
	return []onset{
		{"gear-horn-missed", arrive(200, func(a *arrival, x float64) { a.gearDown, a.flap30 = 150, 150-8.4+x }, func(s *script, x float64) { s.force("gear horn", 0, touch, 0) }), 4.6, 1.8, ""},
		{"gear-horn-late", arrive(200, late, silent(false)), 4.6, 1.4, ""},
		{"gear-horn-wrongly-silenced", arrive(200, late, silent(true)), 4.6, 1.4, ""},
		{"gear-horn-nuisance", arrive(200, func(a *arrival, x float64) { a.gearDown = 118 }, func(s *script, x float64) { s.force("gear horn", touch-110, touch-118+8.4+x, 1) }), 4.2, 1.2, ""},
		{"gear-horn-silenced", arrive(280, func(a *arrival, x float64) { earlyFlap(nil, a) }, func(s *script, x float64) {
			s.do(touch-224, HornCutout, 1)
			s.do(touch-224+x, HornCutout, 0)
		}), 3.6, 1.2, ""},
	}
}

// alertOnsets are the findings about the alerts near the ground, sampled once a
// second. The aircraft passes the floors 41.2 s and 23.6 s before touchdown.
func alertOnsets() []onset {
	const gearFloor, flapFloor = touch - 41.17, touch - 23.57
	return []onset{
		{"too-low-gear-alert-missed", arrive(130, func(a *arrival, x float64) { a.gearDown = touch - (gearFloor + x - 8.4) }, func(s *script, x float64) { s.force("too low gear", 0, touch, 0) }), 4.8, 1.2, ""},
		{"too-low-gear-alert-late", arrive(130, func(a *arrival, x float64) { a.gearDown = 34 }, func(s *script, x float64) { s.force("too low gear", 0, gearFloor+x, 0) }), 4.8, 1.2, ""},
		{"too-low-gear-alert-nuisance", arrive(130, func(a *arrival, x float64) { a.gearDown = 34 }, func(s *script, x float64) { s.force("too low gear", touch-30, touch-34+8.4+x, 1) }), 4.6, 1.2, ""},
		{"too-low-flaps-alert-missed", arrive(130, func(a *arrival, x float64) { a.flap30 = touch - (flapFloor + x) }, func(s *script, x float64) { s.force("too low flaps", 0, touch, 0) }), 4.8, 1.6, ""},
		{"too-low-flaps-alert-late", arrive(130, func(a *arrival, x float64) { a.flap30 = 6 }, func(s *script, x float64) { s.force("too low flaps", 0, flapFloor+x, 0) }), 4.8, 1.2, ""},
		{"too-low-flaps-alert-nuisance", arrive(130, func(a *arrival, x float64) { a.flap30 = 14 }, func(s *script, x float64) { s.force("too low flaps", touch-16, touch-14+x, 1) }), 4.6, 1.2, ""},
	}
}
