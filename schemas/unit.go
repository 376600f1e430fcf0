package schemas

import (
	"fmt"
	"math"
	"sort"
	"strings"
)

// unit places a unit in its dimension. A value in the dimension's base unit is value
// × scale.
type unit struct {
	dimension string
	scale     float64
}

// units lists every unit an export may use. Factors are the exact definitions:
// international foot 0.3048 m, nautical mile 1852 m, avoirdupois pound
// 0.45359237 kg, standard gravity 9.80665 m/s².
var units = map[string]unit{
	"1":      {"number", 1},
	"%":      {"percent", 1},
	"kt":     {"speed", 1852.0 / 3600},
	"m/s":    {"speed", 1},
	"km/h":   {"speed", 1 / 3.6},
	"mph":    {"speed", 1609.344 / 3600},
	"ft/s":   {"speed", 0.3048},
	"ft/min": {"speed", 0.3048 / 60},
	"ft":     {"length", 0.3048},
	"m":      {"length", 1},
	"km":     {"length", 1000},
	"FL":     {"length", 30.48},
	"deg":    {"angle", math.Pi / 180},
	"rad":    {"angle", 1},
	"g":      {"acceleration", 9.80665},
	"m/s2":   {"acceleration", 1},
	"kg":     {"mass", 1},
	"t":      {"mass", 1000},
	"lb":     {"mass", 0.45359237},
	"klb":    {"mass", 453.59237},
	"degC":   {"temperature", 1},
	"s":      {"time", 1},
	"min":    {"time", 60},
	"ms":     {"time", 0.001},
}

// spellings maps the spellings of exports, in lower case, to the names in units.
var spellings = map[string]string{
	"knots": "kt", "knot": "kt", "kts": "kt", "kn": "kt",
	"feet": "ft", "foot": "ft", "meters": "m", "metres": "m", "meter": "m", "metre": "m",
	"degrees": "deg", "degree": "deg", "°": "deg", "degs": "deg", "radians": "rad",
	"fpm": "ft/min", "ft/mn": "ft/min", "feet/min": "ft/min", "fps": "ft/s", "ft/sec": "ft/s", "m/sec": "m/s",
	"percent": "%", "pct": "%", "per cent": "%", "%rpm": "%",
	"gs": "g", "m/s^2": "m/s2", "m/s²": "m/s2",
	"lbs": "lb", "pounds": "lb", "kgs": "kg", "tons": "t", "tonnes": "t", "tonne": "t",
	"°c": "degC", "deg c": "degC", "celsius": "degC", "c": "degC",
	"sec": "s", "secs": "s", "seconds": "s", "second": "s", "msec": "ms", "minutes": "min",
	"kph": "km/h", "kmh": "km/h", "fl": "FL", "mach": "1", "none": "1", "-": "1",
}

// UnitName returns the name used here for a spelling in an export or profile ("Knots"
// is "kt"); ok is false for an unknown unit.
func UnitName(spelling string) (name string, ok bool) {
	s := strings.TrimSpace(spelling)
	if _, ok := units[s]; ok {
		return s, true
	}
	lower := strings.ToLower(s)
	if _, ok := units[lower]; ok {
		return lower, true
	}
	name, ok = spellings[lower]
	return name, ok
}

// UnitFactor returns the factor that turns a value in the unit from into one in the
// unit to. It returns an error when a unit is unknown or the two measure different
// quantities: it never guesses.
func UnitFactor(from, to string) (float64, error) {
	fromName, ok := UnitName(from)
	if !ok {
		return 0, fmt.Errorf("unknown unit %q; known units: %s", from, strings.Join(UnitNames(), " "))
	}
	toName, ok := UnitName(to)
	if !ok {
		return 0, fmt.Errorf("unknown unit %q; known units: %s", to, strings.Join(UnitNames(), " "))
	}
	a, b := units[fromName], units[toName]
	if a.dimension != b.dimension {
		return 0, fmt.Errorf("%s is a %s and cannot become %s, a %s", fromName, a.dimension, toName, b.dimension)
	}
	if fromName == toName {
		return 1, nil
	}
	return a.scale / b.scale, nil
}

func UnitNames() []string {
	names := make([]string, 0, len(units))
	for name := range units {
		names = append(names, name)
	}
	sort.Strings(names)
	return names
}
