package simulator

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// fact follows a condition that one column shows at each of its samples. For a
// number, a margin of 1 asks for more than the stated accuracy, -1 accepts less, and
// 0 takes the true value.
func (f *Flight) fact(name, column string, holds func(t, margin float64) bool) known {
	if k, ok := f.followed[name]; ok {
		return k
	}
	really := follow(func(t float64) bool { return holds(t, 0) }, f.Scenario.Start, f.Scenario.End)
	k := known{really: f.unbounded(really)}
	if !f.recorded(column) { // substitutes are handled elsewhere
		k.surely, k.never = k.really, k.really.outside()
	} else {
		times := f.columns[column].times(f.Scenario.Start, f.Scenario.End)
		k.surely = f.shown(times, func(t float64) bool { return holds(t, 1) })
		k.never = f.shown(times, func(t float64) bool { return !holds(t, -1) })
	}
	f.followed[name] = k
	return k
}

// shown returns the stretches in which neighbouring samples both show the condition.
func (f *Flight) shown(times []float64, shows func(t float64) bool) stretches {
	var out stretches
	going := false
	for i, t := range times {
		is := shows(t)
		switch {
		case is && going:
			out[len(out)-1].end = t
		case is:
			out = append(out, stretch{t, t})
		}
		if n := len(out) - 1; is && i == 0 {
			out[n].start = f.Scenario.Start
		} else if is && i == len(times)-1 {
			out[n].end = f.Scenario.End
		}
		going = is
	}
	return f.unbounded(out)
}

// unbounded extends each stretch at an end of the recording to infinity.
func (f *Flight) unbounded(s stretches) stretches {
	for i := range s {
		if s[i].start <= f.Scenario.Start {
			s[i].start = math.Inf(-1)
		}
		if s[i].end >= f.Scenario.End {
			s[i].end = math.Inf(1)
		}
	}
	return s
}

// on holds where a column reads the value.
func (f *Flight) on(column string, value float64) known {
	return f.fact(fmt.Sprintf("%s is %g", column, value), column, func(t, _ float64) bool { return f.reads(column, t) == value })
}

// accuracy returns the accuracy the profile states for a column, in the canonical
// unit.
func (f *Flight) accuracy(column string) float64 {
	for _, sources := range f.Profile.Columns {
		for _, s := range sources {
			if s.Column == column {
				return s.Accuracy
			}
		}
	}
	return 0
}

func (f *Flight) above(column string, limit float64) known {
	accuracy := f.accuracy(column)
	return f.fact(fmt.Sprintf("%s above %g", column, limit), column, func(t, margin float64) bool {
		return f.reads(column, t) > limit+margin*accuracy
	})
}

func (f *Flight) below(column string, limit float64) known {
	accuracy := f.accuracy(column)
	return f.fact(fmt.Sprintf("%s below %g", column, limit), column, func(t, margin float64) bool {
		return f.reads(column, t) < limit-margin*accuracy
	})
}

// lower holds where the height above the aerodrome is below a level. The level must
// be under the ceiling of the radio altimeter.
func (f *Flight) lower(height float64) known { return f.below("radio height", height) }

func (f *Flight) lever(position float64) known { return f.on("gear lever", position) }

// eachLeg returns one column of each leg, or only of the main legs.
func (f *Flight) eachLeg(suffix string, main bool) (out []known) {
	for _, name := range f.Profile.Legs {
		if name != "nose" || !main {
			out = append(out, f.on(strings.ReplaceAll(name, "_", " ")+" "+suffix, 1))
		}
	}
	return out
}

func (f *Flight) anyDown() known        { return oneOf(f.eachLeg("down-locked", false)) }
func (f *Flight) anyUp() known          { return oneOf(f.eachLeg("up-locked", false)) }
func (f *Flight) mainCompressed() known { return oneOf(f.eachLeg("strut", true)) }
func (f *Flight) airborne() known       { return not(f.mainCompressed()) }

func (f *Flight) allDown() known {
	ks := f.eachLeg("down-locked", false)
	return all(ks[0], ks[1:]...)
}

func (f *Flight) allUp() known {
	ks := f.eachLeg("up-locked", false)
	return all(ks[0], ks[1:]...)
}

// inDetent holds where the flap handle is in a detent or, where the handle is not
// recorded, where the surface has reached it and not the next one.
func (f *Flight) inDetent(i int) known {
	detents := f.Profile.Flaps.Detents
	if f.recorded("flap handle") {
		return f.on("flap handle", detents[i].Angle)
	}
	reached := f.above("flap angle", f.detentFrom(i))
	if i+1 < len(detents) {
		reached = all(reached, not(f.above("flap angle", f.detentFrom(i+1))))
	}
	return reached
}

// flapClass holds where the flap is in a detent of a class.
func (f *Flight) flapClass(class string) known {
	var ks []known
	for i, d := range f.Profile.Flaps.Detents {
		if slices.Contains(d.Classes, class) {
			ks = append(ks, f.inDetent(i))
		}
	}
	return oneOf(ks)
}

// abovePlacard holds where the airspeed is above the placard of the detent the flap is in,
// or of one the surface has reached.
func (f *Flight) abovePlacard() known {
	var ks []known
	for i, d := range f.Profile.Flaps.Detents {
		if d.Placard > 0 {
			out := oneOf([]known{f.inDetent(i), f.above("flap angle", f.detentFrom(i))})
			ks = append(ks, all(out, f.above("airspeed", d.Placard)))
		}
	}
	return oneOf(ks)
}

// detentFrom is the smallest angle at which a detent above the first counts as
// reached.
func (f *Flight) detentFrom(i int) float64 {
	detents := f.Profile.Flaps.Detents
	if i == 0 {
		return math.Inf(-1)
	}
	return max(detents[i].Angle-f.Profile.Flaps.Tolerance, (detents[i].Angle+detents[i-1].Angle)/2)
}

// throttleRetarded holds where a throttle is below the profile's angle.
func (f *Flight) throttleRetarded() known {
	var ks []known
	for engine := range f.throttle {
		ks = append(ks, f.below(fmt.Sprintf("throttle %d", engine+1), f.Profile.Throttle.RetardedBelow))
	}
	return oneOf(ks)
}

// thrust holds where take-off thrust is set on every engine.
func (f *Flight) thrust() known {
	k := f.above("N1 1", takeOffThrust)
	for engine := range f.throttle {
		k = all(k, f.above(fmt.Sprintf("N1 %d", engine+1), takeOffThrust))
	}
	return k
}

// leverLockDue holds where the lever lock may let UP be selected.
func (f *Flight) leverLockDue() known {
	k := f.airborne()
	if f.Profile.HasSystem("truck_tilt") {
		k = all(k, f.on("left truck tilted", 1), f.on("right truck tilted", 1))
	}
	if f.Profile.HasSystem("body_gear_steering") {
		k = all(k, f.on("body gear aligned", 1))
	}
	return k
}

// belowFloor holds where the height is between the cut-off and the floor of an alert
// and the alerts are armed. The floor rises with the airspeed, so its margin is that
// of the airspeed.
func (f *Flight) belowFloor(table, cutOff string) known {
	lowest := f.Profile.Values[cutOff]
	speed, height := f.accuracy("airspeed"), f.accuracy("radio height")
	between := f.fact(table, "airspeed", func(t, margin float64) bool {
		h := f.reads("radio height", t)
		return h > lowest+margin*height && h < f.floor(table, f.reads("airspeed", t)-margin*speed)-margin*height
	})
	return all(held(f.airborne(), f.Profile.Values["too_low_gear_arming_time"]), between)
}

// changes lists the moments at which a control's column makes one of the wanted
// changes.
func (f *Flight) changes(c Control, column string, wanted func(from, to float64) bool) (out []moment) {
	channel := f.columns[column]
	settings := f.settings[c]
	for i := 1; i < len(settings); i++ {
		at := settings[i].At
		if at > f.Scenario.Start && at < f.Scenario.End && settings[i].Value != settings[i-1].Value && wanted(settings[i-1].Value, settings[i].Value) {
			out = append(out, moment{at, channel.before(at), channel.after(at)})
		}
	}
	return out
}

func (f *Flight) flapSteps(wanted func(from, to float64) bool) []moment {
	return f.changes(FlapHandle, "flap handle", wanted)
}

func anyStep(_, _ float64) bool        { return true }
func retraction(from, to float64) bool { return to < from }

// before and after return the sample times on either side of a moment, or the moment
// itself if it has a sample.
func (c channel) before(t float64) float64 {
	return c.offset + math.Floor((t-c.offset)*c.perSecond)/c.perSecond
}

func (c channel) after(t float64) float64 {
	return c.offset + math.Ceil((t-c.offset)*c.perSecond)/c.perSecond
}

// liftOffs and touchdowns are the recorded ones of the scenario, seen through the
// strut switches.
func (f *Flight) liftOffs() []moment {
	return f.close(begins(f.airborne()), func(a Airborne) float64 { return a.LiftOff })
}
func (f *Flight) touchdowns() []moment {
	return f.close(begins(f.mainCompressed()), func(a Airborne) float64 { return a.Touchdown })
}

func (f *Flight) close(ms []moment, of func(Airborne) float64) (out []moment) {
	for _, a := range f.Scenario.Airborne {
		for _, m := range ms {
			if math.Abs(m.at-of(a)) < 0.1 {
				out = append(out, m)
			}
		}
	}
	return out
}

func (f *Flight) goArounds() (out []moment) {
	for _, at := range f.Scenario.GoArounds {
		out = append(out, moment{at, at - 3, at + 3}) // the height hardly changes around its lowest point
	}
	return out
}
