package report

import (
	"math"
	"strconv"
	"strings"
	"time"
	"unicode"

	"downlock/schemas"
)

// number is a finite number written with at most three decimals: recorders
// resolve less, and more would differ between machines.
type number float64

// MarshalJSON writes the number, without a sign for zero.
func (n number) MarshalJSON() ([]byte, error) { return []byte(n.String()), nil }

func (n number) String() string { return decimals(float64(n), 3) }

// decimals writes x with at most n decimals and no trailing zeros.
func decimals(x float64, n int) string {
	s := strconv.FormatFloat(x, 'f', n, 64)
	if strings.IndexByte(s, '.') >= 0 {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	if s == "-0" {
		return "0"
	}
	return s
}

// finite returns x, or the fallback where x is not a number or not finite.
func finite(x, fallback float64) number {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		x = fallback
	}
	return number(x)
}

// clean replaces characters a reader cannot see and those that could mislead one, and
// broken UTF-8.
func clean(s string) string {
	return strings.Map(func(r rune) rune {
		if schemas.Hidden(r) {
			return unicode.ReplacementChar
		}
		return r
	}, s)
}

func cleanAll(list []string) []string {
	out := make([]string, len(list))
	for i, s := range list {
		out[i] = clean(s)
	}
	return out
}

// clock returns the UTC at t seconds of a dated recording, to the millisecond;
// empty for one without a date and for times no calendar has.
func clock(epoch time.Time, t float64) string {
	if epoch.IsZero() || math.Abs(t) > 1e9 {
		return ""
	}
	return utc(epoch, t).Format("2006-01-02T15:04:05.000Z")
}

// monthOf cuts the month, YYYY-MM, out of a time clock gave; empty without one.
func monthOf(clock string) string {
	if len(clock) != len("2006-01-02T15:04:05.000Z") { // a year of four digits
		return ""
	}
	return clock[:len("2006-01")]
}

func utc(epoch time.Time, t float64) time.Time {
	return epoch.UTC().Add(time.Duration(math.Round(t*1000)) * time.Millisecond)
}

// count words a number of things: 1 sample, 2 samples.
func count(n int, thing string) string { return strconv.Itoa(n) + " " + plural(n, thing) }

// plural is the noun for so many of a thing.
func plural(n int, thing string) string {
	switch {
	case n == 1:
		return thing
	case strings.HasSuffix(thing, "ch"):
		return thing + "es"
	}
	return thing + "s"
}

// shortName is a parameter's name in front of a chart, where words that go
// without saying are left out.
func shortName(parameter string) string { return words(shortener.Replace(parameter)) }

var shortener = strings.NewReplacer(
	"computed_airspeed", "airspeed", "takeoff_configuration_warning", "take-off warning",
	"hydraulic_pressure_low", "hydraulic low", "_extension_selected", " extension",
	"thrust_reverser", "reverser", "gear_lever_lock", "lever lock", "_strut_compressed", " strut", "_gear_door_closed", " door closed",
	"_gear_down_locked", " down-locked", "_gear_up_locked", " up-locked", "emergency_gear", "emergency",
)

// words makes a canonical parameter name readable: nose gear down locked.
func words(parameter string) string { return strings.ReplaceAll(parameter, "_", " ") }
