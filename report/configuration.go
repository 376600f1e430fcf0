package report

import (
	"strconv"
	"strings"

	"downlock/detect"
	"downlock/ingest"
	"downlock/schemas"
)

// legSeries is a leg's locks as recorded; either may be nil.
type legSeries struct {
	name     string
	down, up *ingest.Series
}

// recordedLegs lists the legs with a lock recorded, then the combined
// indication of all legs.
func recordedLegs(f *detect.Flight) []legSeries {
	var legs []legSeries
	add := func(prefix, name string) {
		leg := legSeries{name, f.Recording.Lookup(prefix + "gear_down_locked"), f.Recording.Lookup(prefix + "gear_up_locked")}
		if leg.down != nil || leg.up != nil {
			legs = append(legs, leg)
		}
	}
	for _, leg := range f.Profile.Legs {
		add(leg+"_", words(leg)+" leg")
	}
	add("", "all legs")
	return legs
}

func (l legSeries) runs(span detect.Span) []run {
	var down, up []run
	if l.down != nil {
		down = codeRuns(l.down, span)
	}
	if l.up != nil {
		up = codeRuns(l.up, span)
	}
	return legRuns(down, up)
}

// throttles lists the recorded series of the parameter the profile judges the
// throttles by, one per engine.
func throttles(f *detect.Flight) []*ingest.Series {
	var found []*ingest.Series
	for n := 1; n <= f.Profile.Engines; n++ {
		if s := f.Recording.Lookup(f.Profile.Throttle.Parameter + "_" + strconv.Itoa(n)); s != nil {
			found = append(found, s)
		}
	}
	return found
}

// flapSeries is the recorded parameter that tells the flap setting, by the
// profile's preference; nil when none is.
func flapSeries(f *detect.Flight) *ingest.Series {
	for _, name := range f.Profile.Flaps.Parameters {
		if s := f.Recording.Lookup(name); s != nil {
			return s
		}
	}
	return nil
}

// flapBoxes names the detents and shades them: the further out, the darker.
func flapBoxes(runs []run, flaps schemas.Flaps) []box {
	boxes := make([]box, 0, len(runs))
	for _, r := range runs {
		if r.value >= len(flaps.Detents) {
			continue
		}
		class := "off"
		if steps := len(flaps.Detents) - 1; r.value > 0 {
			class = "flap" + strconv.Itoa(1+(r.value-1)*3/max(steps-1, 1))
		}
		boxes = append(boxes, box{r.start, r.end, class, clean(flaps.Detents[r.value].Name)})
	}
	return boxes
}

// heightProfile is the height drawn in charts, in feet.
type heightProfile struct {
	name, unit     string
	times, values  []float64
	gap            float64 // s
	aboveAerodrome bool    // measured from the aerodromes, not as recorded
}

// flightHeight gives the height to draw: that above the aerodrome, or where
// detect has none, radio or pressure altitude as recorded.
func flightHeight(f *detect.Flight) heightProfile {
	var recorded heightProfile
	gap := 0.0
	for _, name := range []string{"radio_altitude", "pressure_altitude"} {
		if s := f.Recording.Lookup(name); s != nil && s.Len() > 0 {
			gap = max(gap, s.Gap)
			if recorded.times == nil {
				recorded = heightProfile{words(name), "ft", s.TimeValues(), s.Numbers(), s.Gap, false}
			}
		}
	}
	if times, heights := f.Height(); len(times) > 0 {
		return heightProfile{"height above", "aerodrome, ft", times, heights, gap, true}
	}
	return recorded
}

// ruleText is everything in which a rule names what it reads.
func ruleText(rule *detect.Rule) string {
	texts := []string{rule.When, rule.At, rule.ContinuesWhile}
	texts = append(append(texts, rule.Requires...), rule.Trace...)
	return strings.Join(texts, " ")
}

// usedParameters lists the recorded parameters a rule names, in vocabulary
// order.
func usedParameters(rule *detect.Rule, rec *ingest.Recording) []*ingest.Series {
	named := map[string]bool{}
	for _, word := range strings.FieldsFunc(ruleText(rule), func(r rune) bool {
		return !(r == '_' || r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9')
	}) {
		named[word] = true
	}
	var used []*ingest.Series
	for _, s := range rec.Series {
		if named[s.Parameter.Name] {
			used = append(used, s)
		}
	}
	return used
}
