package simulator

// lift and touch are the usual lift-off and touchdown, s.
const (
	lift  = usualLiftOff
	touch = usualTouchdown
)

// selectionOnsets are the rules about the gear lever and its lock. The lever is
// sampled once a second, the struts four times a second.
func selectionOnsets() []onset {
	gearUp := func(d *departure, x float64) { d.gearUp = x }
	stuck := func(s *script, x float64) {
		s.force("right down-locked", lift, lift+4.3+x, 1)
	}
	return []onset{
		{"gear-up-before-strut-extension", leave(30, gearUp, nil), -0.05, 0.4, ""},
		{"gear-locked-down-after-up", leave(30, nil, stuck), 5.2, 2.8, ""},
		{"lever-lock-released-early", leave(20, nil, func(s *script, x float64) {
			s.force("lever lock released", 80.8, 80.8+x, 1)
		}), 3.1, 1.9, ""}, // two seconds make an event
		{"lever-lock-overridden", leave(20, nil, func(s *script, x float64) {
			s.do(lift+x, LeverLockOverride, 1)
		}), -1, 0.3, ""},
		// A truck tilts 0.8 s after lift-off, and its switch is sampled twice a second.
		{"truck-not-tilted", leave(30, gearUp, nil), 0.4, 1.5, "th440"},
		{"body-gear-not-aligned", leave(30, nil, func(s *script, x float64) {
			s.force("body gear aligned", lift-5, lift+4.3+x, 0)
		}), 0.2, -0.7, "th440"},
		// The angle is recorded in whole degrees.
		{"nose-wheel-not-centred", leave(30, nil, func(s *script, x float64) {
			s.force("nose wheel angle", lift, lift+20, x)
		}), 3.6, 2.6, ""},
		// A climb of x ft/s from 4 to 20 s after lift-off.
		{"gear-up-before-positive-climb", leave(30, func(d *departure, x float64) { d.gearUp = 12 }, func(s *script, x float64) {
			s.Height = []Knot{{0, 0}, {lift, 0}, {lift + 4, 8}, {lift + 12, 8 + 8*x}, {lift + 20, 8 + 16*x}, {lift + 40, 800}}
		}), 50.0 / 60, 150.0 / 60, ""},
		// The stay begins at L+4.3; the return time is an hour.
		{"return-with-gear-down", func(x float64) Scenario {
			s := outward(boundaryDay, func(d *departure, a *arrival) { *a = usualArrival(lift + 4.3 + x) })
			s.force("right down-locked", lift, lift+4.3+10, 1)
			return s.done()
		}, 3598.5, 3601.5, ""},
		{"lever-cycled", leave(60, func(d *departure, x float64) { d.leverOff = 0 }, func(s *script, x float64) { s.do(lift+4.3+x, GearLever, LeverDown) }), 28.8, 31.2, ""},
		{"go-around-gear-left-down", circle(func(_ *arrival, c *climbAway, x float64) { c.gearUp = x }, nil), 33.5, 26.5, ""},
		{"go-around-retraction-early", circle(func(_ *arrival, c *climbAway, x float64) { c.gearUp = x }, nil), -1.3, 1.5, ""},
		{"go-around-gear-never-extended", circle(func(a *arrival, _ *climbAway, x float64) { a.gearDown, a.flap30 = 0, 0 }, func(s *script, x float64) { s.lowestAt(x) }), 994, 1006, ""},
	}
}

// approachOnsets are the rules about an approach. The gear is down and locked 8.4 s
// after DOWN; locks and flap handle are sampled once a second. The aircraft passes
// 1000 ft 80 s before touchdown, 800 ft 63.9 s and 500 ft 41.2 s before it.
func approachOnsets() []onset {
	gear := func(a *arrival, x float64) { a.gearDown = x + 8.4 }
	flap := func(a *arrival, x float64) { a.flap30 = x }
	return []onset{
		{"landing-flap-gear-not-locked", arrive(200, func(a *arrival, x float64) {
			a.gearDown, a.flap30 = 150, 150-8.4+x
		}, nil), 1.3, -1.2, ""},
		{"throttle-retarded-gear-not-locked", arrive(260, func(a *arrival, x float64) {
			earlyFlap(nil, a)
			a.idle = 0
		}, func(s *script, x float64) { s.throttles(touch-330, x) }), 8, 12, ""},
		{"warning-inhibited", arrive(200, nil, func(s *script, x float64) {
			s.do(touch-190+8.4-x, HornCutout, 1)
			s.do(touch-190+20, HornCutout, 0)
		}), 1.2, -1.2, ""},
		{"gear-late", arrive(130, gear, nil), 78.8, 81.6, ""},
		{"gear-late-visual", arrive(130, gear, nil), 39.9, 42.7, ""},
		{"landing-flap-late", arrive(130, flap, nil), 78.8, 81.4, ""},
		{"landing-flap-late-visual", arrive(130, flap, nil), 39.9, 42.5, ""},
		{"gear-not-locked-at-touchdown", arrive(130, gear, nil), -1.2, 1.4, ""},
		{"configuration-change-low", arrive(130, flap, nil), 39.9, 42.4, ""},
		{"reduced-flap-landing", arrive(130, func(a *arrival, x float64) { a.flap30 = 0 }, func(s *script, x float64) { s.do(touch-x, FlapHandle, 30) }), -1.2, 1.2, ""},
		{"speedbrake-not-armed", arrive(130, func(a *arrival, x float64) { a.armed = x }, nil), 62.7, 65.1, ""},
		{"speedbrake-with-landing-flap", arrive(130, nil, func(s *script, x float64) {
			s.do(touch-110, Speedbrake, x)
			s.do(touch-100, Speedbrake, 0)
		}), 6, 4, ""},
		// The handle passes 5 deg 1.5 s after it leaves 20; two seconds make an event.
		{"speedbrake-low", arrive(130, nil, func(s *script, x float64) {
			s.do(touch-100, Speedbrake, 20)
			s.do(touch-63.9-1.5+x, Speedbrake, 0)
		}), 3.5, 1, ""},
	}
}

// lowOnsets are the rules about the floors: 500 ft with the gear up, 245 ft without
// landing flap. The radio altitude is accurate to 2 ft.
func lowOnsets() []onset {
	return []onset{
		{"too-low-gear", circle(func(a *arrival, _ *climbAway, x float64) { a.gearDown, a.flap30 = 0, 0 }, func(s *script, x float64) { s.lowestAt(x) }), 494, 506, ""},
		{"too-low-flaps", circle(func(a *arrival, _ *climbAway, x float64) { a.flap30 = 0 }, func(s *script, x float64) { s.lowestAt(x) }), 239, 251, ""},
	}
}

// limitOnsets are the rules about speeds, accurate to 1 kt, and altitudes, accurate
// to 10 ft.
func limitOnsets() []onset {
	high := func(s *script, x float64) Scenario {
		s.Scenario = Scenario{Epoch: boundaryDay, End: 100, From: ostrey, To: fenmark}
		s.Terrain = []Knot{{0, ostreyElevation}}
		s.Height, s.Speed = []Knot{{0, 19400}, {40, x - ostreyElevation}, {60, x - ostreyElevation}, {100, 19400}}, []Knot{{0, 205}}
		s.Airborne = []Airborne{forever120}
		s.do(0, Trim, 4)
		s.throttles(0, 30)
		return s.done()
	}
	return []onset{
		{"gear-extension-speed", arrive(340, func(a *arrival, x float64) {
			a.gearDown, a.speed = 318, []Knot{{-345, x}, {-300, x}, {-250, 207}, {-215, 190}}
		}, nil), 251.5, 248.5, ""},
		{"gear-retraction-speed", leave(145, func(d *departure, x float64) {
			d.gearUp, d.leverOff, d.climbSpeed = 118, 140, []Knot{{100, x}, {125, x}, {150, 248}}
		}, nil), 231.5, 228.5, ""},
		// The speed is below the limit at UP; while the gear travels it exceeds the
		// limit or not.
		{"gear-transit-speed", leave(145, func(d *departure, x float64) {
			d.gearUp, d.leverOff, d.climbSpeed = 118, 140, []Knot{{100, 218}, {117, 222}, {121, x}, {125, x}, {150, 240}}
		}, nil), 231.5, 228.5, ""},
		{"gear-extended-speed", arrive(345, func(a *arrival, x float64) {
			a.gearDown, a.flap1, a.flap5 = 318, 239, 237
			a.speed = []Knot{{-345, 244}, {-312, 246}, {-290, x}, {-280, x}, {-245, 225}, {-215, 200}}
		}, nil), 281.5, 278.5, ""},
		{"flap-placard-speed", arrive(290, func(a *arrival, x float64) {
			a.speed = []Knot{{-330, x}, {-262, x}, {-250, 222}, {-215, 190}}
		}, nil), 241.5, 238.5, ""},
		{"gear-altitude", func(x float64) Scenario {
			s := &script{}
			high(s, x)
			s.do(0, GearLever, LeverDown)
			return s.done()
		}, 20015, 19985, ""},
		{"flap-altitude", func(x float64) Scenario {
			s := &script{}
			high(s, x)
			s.do(0, FlapHandle, 1)
			return s.done()
		}, 20015, 19985, ""},
	}
}
