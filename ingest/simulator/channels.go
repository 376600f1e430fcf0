package simulator

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
)

// channel is one recorded parameter: its rate, its place in the second and its value.
type channel struct {
	column    string
	parameter string // canonical name
	unit      string
	perSecond float64
	offset    float64 // s
	decimals  int
	value     func(f *Flight, t float64) float64
	words     []string // the export's texts for 0, 1, ...; nil: the number
}

func truth(b bool) float64 {
	if b {
		return 1
	}
	return 0
}

// state makes the value of a channel from a condition.
func state(is func(f *Flight, t float64) bool) func(*Flight, float64) float64 {
	return func(f *Flight, t float64) float64 { return truth(is(f, t)) }
}

func setting(c Control) func(*Flight, float64) float64 {
	return func(f *Flight, t float64) float64 { return f.setting(c, t) }
}

func never(*Flight, float64) float64 { return 0 }

// channels is the recording layout of the shipped profiles. Offsets spread the
// parameters over the second, as a recorder's frame does.
func (f *Flight) channels() []channel {
	all := f.airChannels()
	for leg, name := range f.Profile.Legs {
		all = append(all, legChannels(leg, name)...)
	}
	all = append(all, controlChannels()...)
	for engine := range f.Profile.Engines {
		all = append(all, engineChannels(engine)...)
	}
	all = append(all, warningChannels()...)
	all = append(all, f.systemChannels()...)
	for i := range all {
		if s, ok := f.Scenario.Sampling[all[i].column]; ok {
			all[i].perSecond, all[i].offset = s.PerSecond, s.Offset
		}
	}
	return all
}

// recorded reports whether the export has a column.
func (f *Flight) recorded(column string) bool {
	return !slices.Contains(f.Scenario.Faults.NotRecorded, column)
}

// radioCeiling is the highest reading of the radio altimeter, ft.
const radioCeiling = 2500

func (f *Flight) airChannels() []channel {
	noise := rand.New(rand.NewPCG(f.Scenario.Seed, 1))
	return []channel{
		{"airspeed", "computed_airspeed", "kt", 1, 0, 1, (*Flight).Airspeed, nil},
		{"ground speed", "ground_speed", "kt", 1, 0.25, 0, (*Flight).GroundSpeed, nil},
		{"pressure altitude", "pressure_altitude", "ft", 1, 0.125, 0, (*Flight).Altitude, nil},
		{"radio height", "radio_altitude", "ft", 2, 0.25, 0, func(f *Flight, t float64) float64 { return math.Min(f.RadioHeight(t), radioCeiling) }, nil},
		{"vertical speed", "vertical_speed", "ft/min", 1, 0.375, -1, (*Flight).verticalSpeed, nil},
		{"pitch", "pitch_attitude", "deg", 1, 0.5, 1, (*Flight).pitch, nil},
		{"roll", "roll_attitude", "deg", 1, 0.625, 1, (*Flight).roll, nil},
		{"normal acceleration", "normal_acceleration", "g", 8, 0, 2, func(f *Flight, t float64) float64 {
			return f.normalAcceleration(t) + f.roughness(t)*noise.NormFloat64()
		}, nil},
		{"latitude", "latitude", "deg", 0.25, 0.75, 4, func(f *Flight, t float64) float64 { return f.position(t).Latitude }, nil},
		{"longitude", "longitude", "deg", 0.25, 0.875, 4, func(f *Flight, t float64) float64 { return f.position(t).Longitude }, nil},
		{"gross weight", "gross_weight", "t", 0.25, 1.5, 2, func(f *Flight, t float64) float64 { return 52 - 0.0009*(t-f.Scenario.Start) }, nil},
	}
}

func legChannels(leg int, name string) []channel {
	words := strings.ReplaceAll(name, "_", " ")
	offset := math.Mod(0.125*float64(leg), 0.5)
	return []channel{
		{words + " down-locked", name + "_gear_down_locked", "", 1, offset + 0.25, 0, state(func(f *Flight, t float64) bool { return f.Down(leg, t) }), nil},
		{words + " up-locked", name + "_gear_up_locked", "", 1, math.Mod(offset+0.625, 1), 0, state(func(f *Flight, t float64) bool { return f.Up(leg, t) }), nil},
		{words + " strut", name + "_strut_compressed", "", 4, math.Mod(offset, 0.25), 0, state(func(f *Flight, t float64) bool { return f.Compressed(leg, t) }), nil},
	}
}

func controlChannels() []channel {
	return []channel{
		{"gear lever", "gear_lever", "", 1, 0.625, 0, setting(GearLever), []string{"UP", "OFF", "DOWN"}},
		{"lever lock released", "gear_lever_lock_released", "", 1, 0.75, 0, state((*Flight).LeverLockReleased), nil},
		{"lever lock override", "gear_lever_lock_override", "", 1, 0.875, 0, setting(LeverLockOverride), nil},
		{"gear doors", "gear_door_closed", "", 1, 0.5, 0, state((*Flight).DoorsClosed), []string{"OPEN", "CLOSED"}},
		{"nose wheel angle", "nose_wheel_angle", "deg", 1, 0.25, 0, (*Flight).noseWheel, nil},
		{"flap handle", "flap_handle", "deg", 1, 0.5, 0, setting(FlapHandle), nil},
		{"flap angle", "flap_angle", "deg", 2, 0.375, 1, func(f *Flight, t float64) float64 { return f.flap.at(t) }, nil},
		{"speedbrake", "speedbrake_handle", "deg", 1, 0.875, 0, func(f *Flight, t float64) float64 { return f.speedbrake.at(t) }, nil},
		{"speedbrake armed", "speedbrake_armed", "", 1, 0, 0, setting(SpeedbrakeArmed), nil},
		{"parking brake", "parking_brake", "", 1, 0.125, 0, setting(ParkingBrake), []string{"RELEASED", "SET"}},
		{"trim", "stabiliser_trim", "deg", 1, 0.375, 1, func(f *Flight, t float64) float64 { return f.trim.at(t) }, nil},
	}
}

func engineChannels(engine int) []channel {
	n := engine + 1
	offset := 0.125 * float64(engine)
	return []channel{
		{fmt.Sprintf("throttle %d", n), fmt.Sprintf("throttle_angle_%d", n), "deg", 2, math.Mod(offset+0.125, 0.5), 1, func(f *Flight, t float64) float64 { return f.throttle[engine].at(t) }, nil},
		{fmt.Sprintf("N1 %d", n), fmt.Sprintf("engine_n1_%d", n), "%", 1, math.Mod(offset+0.625, 1), 1, func(f *Flight, t float64) float64 { return f.fanSpeed(engine, t) }, nil},
	}
}

func warningChannels() []channel {
	return []channel{
		{"gear horn", "gear_horn", "", 2, 0, 0, state((*Flight).Horn), nil},
		{"horn isolation switch", "gear_horn_cutout", "", 2, 0.125, 0, setting(HornCutout), nil},
		{"too low gear", "gpws_too_low_gear", "", 1, 0.75, 0, state((*Flight).TooLowGear), nil},
		{"too low flaps", "gpws_too_low_flaps", "", 1, 0.5, 0, state((*Flight).TooLowFlaps), nil},
		{"too low terrain", "gpws_too_low_terrain", "", 1, 0.25, 0, state((*Flight).TooLowTerrain), nil},
		{"take-off warning", "takeoff_configuration_warning", "", 1, 0.875, 0, state((*Flight).TakeOffWarning), nil},
		{"hydraulic A low", "hydraulic_pressure_low_a", "", 1, 0.25, 0, never, nil},
		{"hydraulic B low", "hydraulic_pressure_low_b", "", 1, 0.5, 0, never, nil},
	}
}

// systemChannels are the channels of systems that some types do not have.
func (f *Flight) systemChannels() []channel {
	var all []channel
	if f.Scenario.AlertsByHeight {
		all = append(all, operationsChannels()...)
	}
	if f.Profile.HasSystem("alternate_extension") {
		all = append(all, channel{"alternate extension", "alternate_extension_selected", "", 1, 0.125, 0, setting(AlternateExtension), nil})
	}
	if f.Profile.HasSystem("emergency_pressure") {
		all = append(all, channel{"emergency gear pressure", "emergency_gear_pressure", "", 1, 0.125, 0, setting(EmergencyPressure), nil})
	}
	if f.Profile.HasSystem("truck_tilt") {
		all = append(all,
			channel{"left truck tilted", "left_truck_tilted", "", 2, 0, 0, state((*Flight).Tilted), nil},
			channel{"right truck tilted", "right_truck_tilted", "", 2, 0.25, 0, state((*Flight).Tilted), nil})
	}
	if f.Profile.HasSystem("body_gear_steering") {
		all = append(all, channel{"body gear aligned", "body_gear_aligned", "", 2, 0.375, 0, state((*Flight).BodyGearAligned), nil})
	}
	return all
}

// operationsChannels are the channels recorded only on the flights of ordinary
// operations.
func operationsChannels() []channel {
	return []channel{
		{"flap override", "gpws_flap_override", "", 1, 0.375, 0, setting(FlapOverride), nil},
		{"take-off warning silenced", "takeoff_warning_silenced", "", 1, 0.5, 0, setting(WarningSilenced), nil},
		{"ground spoilers", "ground_spoilers_extended", "", 2, 0.25, 0, state(func(f *Flight, t float64) bool {
			return f.speedbrake.at(t) > groundSpoilersFrom
		}), nil},
	}
}

// groundSpoilersFrom (deg) is the handle angle above which the ground spoilers
// extend.
const groundSpoilersFrom = 40

// reads returns the value a column shows at a time, with faults, before rounding.
func (f *Flight) reads(column string, t float64) float64 {
	if v, is := f.forced(column, t); is {
		return v
	}
	return f.columns[column].value(f, t)
}
