package soundness

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"downlock/detect/readings"
	"downlock/detect/samples"
	"downlock/schemas"
)

// Flaps move for some seconds and then rest, at a detent unless they jam: common
// practice.
const (
	leastRest     = 10.0 // s in one place
	restWaver     = 0.5  // deg; a resolution of the angle, no movement
	leastExtended = 60.0 // s at rest beyond the first detent
	onDetent      = 0.25 // at most this share of it at detents, and that by chance
)

// flapRests lists where a flap parameter rests beyond the first detent, by at
// least beyond degrees.
func flapRests(s *samples.Set, name string, first, beyond float64) []readings.Rest {
	at, values := s.Samples(name)
	rests := at.Rests(values, s.Window[0], leastRest, restWaver)
	return slices.DeleteFunc(rests, func(r readings.Rest) bool { return r.Value-first <= beyond })
}

// flapChecks hold what tells the flap setting against the profile's detents, and
// the handle against the angle.
func flapChecks(s *samples.Set, profile *schemas.Profile) []Check {
	detents := flapDetents(s, profile)
	return []Check{detents, flapHandleAgainstAngle(s, detents)}
}

// flapDetents finds a flap parameter that rests at no detent of the profile: its
// unit or scale is wrong, or the detents are those of another type. Flaps that
// jam stay in one place; two places and more are no jam.
func flapDetents(s *samples.Set, profile *schemas.Profile) Check {
	c := Check{ID: "flap-detents", Title: "flap settings against the profile's detents", Outcome: NotPossible, Parameters: []string{}}
	var names []string
	for _, name := range profile.Flaps.Parameters {
		if s.Has(name) {
			names = append(names, name)
		}
	}
	detents := profile.Flaps.Detents
	if len(names) == 0 || len(detents) < 2 {
		c.Evidence = "no flap parameter is recorded, or the profile gives no detents"
		return c
	}
	c.Parameters = names
	var wrong, evidence []string
	enough := false
	for _, name := range names {
		near := max(profile.Flaps.Tolerance, s.Series(name).Accuracy, restWaver)
		all, on := 0.0, 0.0
		var places []float64
		for _, r := range flapRests(s, name, detents[0].Angle, near) {
			all += r.Span.Seconds()
			if slices.ContainsFunc(detents, func(d schemas.Detent) bool { return math.Abs(d.Angle-r.Value) <= near }) {
				on += r.Span.Seconds()
			}
			if !slices.ContainsFunc(places, func(p float64) bool { return math.Abs(p-r.Value) <= 2*near }) {
				places = append(places, r.Value)
			}
		}
		enough = enough || all >= leastExtended
		evidence = append(evidence, fmt.Sprintf("%s rests at %s for %.0f s, for %s of it at a detent", name, degrees(places), all, percent(on/max(all, 1))))
		if all >= leastExtended && on <= onDetent*all && len(places) > 1 {
			wrong = append(wrong, name)
		}
	}
	var angles []float64
	for _, d := range detents {
		angles = append(angles, d.Angle)
	}
	c.Evidence = strings.Join(evidence, "; ") + "; the detents are at " + degrees(angles)
	switch {
	case len(wrong) > 0:
		c.Outcome, c.Parameters = Failed, wrong
		c.Hint = fmt.Sprintf("check unit and scale of %s (degrees, or per cent of the travel), and the angles of the detents under flaps", strings.Join(wrong, " and "))
	case enough:
		c.Outcome = Passed
	default:
		c.Evidence += fmt.Sprintf("; at least %.0f s beyond the first are needed", leastExtended)
	}
	return c
}

// flapHandleAgainstAngle finds flaps that always rest at the same multiple of
// where the handle is: one of the two has the wrong unit. A type whose handle
// shows numbers of its own has no such multiple.
func flapHandleAgainstAngle(s *samples.Set, detents Check) Check {
	c := Check{ID: "flap-handle-against-angle", Title: "flap handle against flap angle", Outcome: NotPossible, Parameters: []string{"flap_handle", "flap_angle"}}
	angle := s.Line("flap_angle")
	if !s.Has("flap_handle") || angle == nil {
		c.Parameters, c.Evidence = []string{}, "flap handle and flap angle are not both recorded"
		return c
	}
	const travel = 30.0 // s after which flaps have followed the handle
	var places, ratios []float64
	for _, r := range flapRests(s, "flap_handle", 0, restWaver) {
		if r.Span.Seconds() < travel+leastRest {
			continue
		}
		if a, ok := angle.Mean(r.Span.End-leastRest, r.Span.End); ok {
			ratios = append(ratios, a/r.Value)
			if !slices.Contains(places, r.Value) {
				places = append(places, r.Value)
			}
		}
	}
	if len(places) < 2 {
		c.Evidence = fmt.Sprintf("the handle stays for %.0f s or more at %d settings; at least two are needed", travel+leastRest, len(places))
		return c
	}
	found := newRatio(ratios)
	low, high := ratios[0], ratios[len(ratios)-1] // newRatio has sorted them
	c.Evidence = fmt.Sprintf("the angle rests at %.3g to %.3g times the handle's, at %s of it", low, high, degrees(places))
	c.Outcome = Passed
	const off = 1.25 // more than rigging and accuracy
	if low > 0 && high/low <= off && (found.middle >= off || found.middle <= 1/off) {
		c.Outcome, c.Hint = Failed, "check the units and scales of flap_handle and flap_angle: one of them is in degrees and the other is not"
		if detents.Outcome == Failed {
			c.Parameters = detents.Parameters // the one that is at no detent
		}
	}
	return c
}

// degrees lists angles.
func degrees(angles []float64) string {
	if len(angles) == 0 {
		return "no place"
	}
	sorted := slices.Sorted(slices.Values(angles))
	words := make([]string, len(sorted))
	for i, a := range sorted {
		words[i] = strconv.FormatFloat(math.Round(a*10)/10, 'f', -1, 64)
	}
	return strings.Join(words, ", ") + " deg"
}
