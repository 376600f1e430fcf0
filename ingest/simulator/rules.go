package simulator

// spanRule is a rule whose events are the stretches in which a condition holds.
type spanRule struct {
	id        string
	condition condition
	undecided bool // report what the samples leave undecided, too
}

// Rules lists the ids of the rules the truth speaks of: of others it neither
// confirms nor denies an event.
func Rules() []string {
	return []string{"landing-flap-gear-not-locked", "throttle-retarded-gear-not-locked", "warning-inhibited",
		"gear-up-before-strut-extension", "too-low-gear", "gear-not-locked-at-touchdown", "gear-late", "gear-late-visual",
		"landing-flap-late", "landing-flap-late-visual", "gear-extension-speed", "gear-retraction-speed",
		"gear-extended-speed", "flap-placard-speed", "gear-locked-down-after-up"}
}

// Margins beyond the accuracies of the shipped profile: 1 kt, 2 ft.
const (
	speedMargin  = 1
	heightMargin = 2
)

func (f *Flight) spanRules() []spanRule {
	return []spanRule{
		{"landing-flap-gear-not-locked", condition{f.flapClass("landing"), f.notLocked(), f.mainExtended("left"), f.mainExtended("right")}, false},
		{"throttle-retarded-gear-not-locked", condition{f.flapClass("intermediate"), f.throttleRetarded(), f.notLocked(), f.mainExtended("left"), f.mainExtended("right")}, false},
		{"warning-inhibited", condition{f.cutoutOperated(), f.notLocked(), f.mainExtended("left"), f.mainExtended("right")}, false},
		{"gear-up-before-strut-extension", condition{f.leverUp(), f.mainCompressed()}, true},
		{"too-low-gear", condition{f.belowFloor(), f.notLocked()}, false},
		{"gear-extended-speed", condition{f.fasterThan(f.Profile.Values["gear_extended_speed"]), f.notUpLocked()}, false},
		{"flap-placard-speed", condition{f.abovePlacard()}, false},
	}
}

func (f *Flight) flapClass(class string) part {
	return part{steady("flap handle", func(t float64) bool { return f.flapIs(class, t) })}
}

func (f *Flight) notFlapClass(class string) part {
	return part{steady("flap handle", func(t float64) bool { return !f.flapIs(class, t) })}
}

func (f *Flight) leverUp() part {
	return part{steady("gear lever", func(t float64) bool { return f.setting(GearLever, t) == LeverUp })}
}

func (f *Flight) cutoutOperated() part {
	return part{steady("horn isolation switch", func(t float64) bool { return f.setting(HornCutout, t) == 1 })}
}

// notLocked is that any leg is not down and locked.
func (f *Flight) notLocked() (p part) {
	for leg, name := range f.Profile.Legs {
		p = append(p, steady(name+" down-locked", func(t float64) bool { return !f.Down(leg, t) }))
	}
	return p
}

// notUpLocked is that any leg is not up and locked.
func (f *Flight) notUpLocked() (p part) {
	for leg, name := range f.Profile.Legs {
		p = append(p, steady(name+" up-locked", func(t float64) bool { return !f.Up(leg, t) }))
	}
	return p
}

// mainCompressed is that any main strut is compressed.
func (f *Flight) mainCompressed() (p part) {
	for leg, name := range f.Profile.Legs {
		if name != "nose" {
			p = append(p, steady(name+" strut", func(t float64) bool { return f.Compressed(leg, t) }))
		}
	}
	return p
}

func (f *Flight) mainExtended(name string) (p part) {
	for leg, n := range f.Profile.Legs {
		if n == name {
			p = append(p, steady(name+" strut", func(t float64) bool { return !f.Compressed(leg, t) }))
		}
	}
	return p
}

func (f *Flight) throttleRetarded() part {
	return part{
		steady("throttle 1", func(t float64) bool { return f.retarded(0, t) }),
		steady("throttle 2", func(t float64) bool { return f.retarded(1, t) }),
	}
}

func (f *Flight) fasterThan(limit float64) part {
	return part{{"airspeed", func(t, margin float64) bool { return f.Airspeed(t) > limit+margin*speedMargin }}}
}

// abovePlacard is that the airspeed is above the placard of the flap handle's
// detent; around a movement of the handle the slower column decides.
func (f *Flight) abovePlacard() part {
	return part{{"airspeed", func(t, margin float64) bool {
		placard := f.detent(t).Placard
		return placard > 0 && f.Airspeed(t) > placard+margin*speedMargin
	}}}
}

// belowFloor is that the height is between the cut-off and the too-low-gear
// floor while the alert is armed. The floor rises 25/3 ft per kt at most.
func (f *Flight) belowFloor() part {
	cutOff := f.Profile.Values["too_low_gear_cut_off"]
	return part{{"airspeed", func(t, margin float64) bool {
		h := f.Height(t)
		return f.armed(t) && h > cutOff+margin*heightMargin && h < f.floor(f.Airspeed(t)-margin*speedMargin)-margin*heightMargin
	}}}
}
