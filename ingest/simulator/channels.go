package simulator

import (
	"math"
	"math/rand/v2"
	"strings"
)

// channel is one recorded parameter: how often, from which moment of the second
// on, and what.
type channel struct {
	column    string
	parameter string // canonical name
	unit      string
	perSecond float64
	offset    float64 // s
	decimals  int
	number    func(f *Flight, t float64) float64
	text      func(f *Flight, t float64) string // in place of number
}

func truth(b bool) float64 {
	if b {
		return 1
	}
	return 0
}

// channels is the recording layout of the shipped profile. Offsets spread the
// parameters over the second, as a recorder's frame does.
func (f *Flight) channels() []channel {
	all := f.airChannels()
	for leg, name := range f.Profile.Legs {
		all = append(all, legChannels(leg, name)...)
	}
	all = append(all, controlChannels()...)
	all = append(all, warningChannels()...)
	if f.Scenario.Faults.NoStruts {
		kept := all[:0]
		for _, c := range all {
			if !strings.HasSuffix(c.parameter, "strut_compressed") {
				kept = append(kept, c)
			}
		}
		all = kept
	}
	return all
}

// radioCeiling is where the radio altimeter's reading stops, ft.
const radioCeiling = 2500

func (f *Flight) airChannels() []channel {
	noise := rand.New(rand.NewPCG(f.Scenario.Seed, 1))
	return []channel{
		{"airspeed", "computed_airspeed", "kt", 1, 0, 1, (*Flight).Airspeed, nil},
		{"ground speed", "ground_speed", "kt", 1, 0.25, 0, (*Flight).GroundSpeed, nil},
		{"pressure altitude", "pressure_altitude", "ft", 1, 0.125, 0, (*Flight).Altitude, nil},
		{"radio height", "radio_altitude", "ft", 2, 0.25, 0, func(f *Flight, t float64) float64 { return math.Min(f.Height(t), radioCeiling) }, nil},
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
	offset := 0.125 * float64(leg)
	return []channel{
		{name + " down-locked", name + "_gear_down_locked", "", 1, offset + 0.25, 0, func(f *Flight, t float64) float64 { return truth(f.Down(leg, t)) }, nil},
		{name + " up-locked", name + "_gear_up_locked", "", 1, offset + 0.625, 0, func(f *Flight, t float64) float64 { return truth(f.Up(leg, t)) }, nil},
		{name + " strut", name + "_strut_compressed", "", 4, math.Mod(offset, 0.25), 0, func(f *Flight, t float64) float64 { return truth(f.Compressed(leg, t)) }, nil},
	}
}

func controlChannels() []channel {
	return []channel{
		{"gear lever", "gear_lever", "", 1, 0.625, 0, nil, func(f *Flight, t float64) string {
			return [...]string{"UP", "OFF", "DOWN"}[int(f.setting(GearLever, t))]
		}},
		{"lever lock released", "gear_lever_lock_released", "", 1, 0.75, 0, func(f *Flight, t float64) float64 { return truth(f.InAir(t)) }, nil},
		{"lever lock override", "gear_lever_lock_override", "", 1, 0.875, 0, setting(LeverLockOverride), nil},
		{"alternate extension", "alternate_extension_selected", "", 1, 0.125, 0, setting(AlternateExtension), nil},
		{"gear doors", "gear_door_closed", "", 1, 0.5, 0, nil, func(f *Flight, t float64) string {
			if f.DoorsClosed(t) {
				return "CLOSED"
			}
			return "OPEN"
		}},
		{"nose wheel angle", "nose_wheel_angle", "deg", 1, 0.25, 0, (*Flight).noseWheel, nil},
		{"flap handle", "flap_handle", "deg", 1, 0.5, 0, setting(FlapHandle), nil},
		{"flap angle", "flap_angle", "deg", 2, 0.375, 1, func(f *Flight, t float64) float64 { return f.flap.at(t) }, nil},
		{"throttle 1", "throttle_angle_1", "deg", 2, 0.125, 1, func(f *Flight, t float64) float64 { return f.throttle[0].at(t) }, nil},
		{"throttle 2", "throttle_angle_2", "deg", 2, 0.25, 1, func(f *Flight, t float64) float64 { return f.throttle[1].at(t) }, nil},
		{"N1 1", "engine_n1_1", "%", 1, 0.625, 1, func(f *Flight, t float64) float64 { return f.fanSpeed(0, t) }, nil},
		{"N1 2", "engine_n1_2", "%", 1, 0.75, 1, func(f *Flight, t float64) float64 { return f.fanSpeed(1, t) }, nil},
		{"speedbrake", "speedbrake_handle", "deg", 1, 0.875, 0, func(f *Flight, t float64) float64 { return f.speedbrake.at(t) }, nil},
		{"speedbrake armed", "speedbrake_armed", "", 1, 0, 0, setting(SpeedbrakeArmed), nil},
		{"parking brake", "parking_brake", "", 1, 0.125, 0, nil, func(f *Flight, t float64) string {
			if f.setting(ParkingBrake, t) == 1 {
				return "SET"
			}
			return "RELEASED"
		}},
		{"trim", "stabilizer_trim", "deg", 1, 0.375, 1, func(f *Flight, t float64) float64 { return 4 - f.flap.at(t)/20 }, nil},
	}
}

func warningChannels() []channel {
	return []channel{
		{"gear horn", "gear_horn", "", 2, 0, 0, func(f *Flight, t float64) float64 { return truth(f.Horn(t)) }, nil},
		{"horn isolation switch", "gear_horn_cutout", "", 2, 0.125, 0, setting(HornCutout), nil},
		{"too low gear", "gpws_too_low_gear", "", 1, 0.75, 0, func(f *Flight, t float64) float64 { return truth(f.TooLowGear(t)) }, nil},
		{"take-off warning", "takeoff_configuration_warning", "", 1, 0.875, 0, func(f *Flight, t float64) float64 { return truth(f.TakeOffWarning(t)) }, nil},
		{"hydraulic A low", "hydraulic_pressure_low_a", "", 1, 0.25, 0, func(*Flight, float64) float64 { return 0 }, nil},
		{"hydraulic B low", "hydraulic_pressure_low_b", "", 1, 0.5, 0, func(*Flight, float64) float64 { return 0 }, nil},
	}
}

func setting(c Control) func(*Flight, float64) float64 {
	return func(f *Flight, t float64) float64 { return f.setting(c, t) }
}
