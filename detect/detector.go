// Package detect finds flights in a recording, and in each flight the events its
// rules define. A Recording of package ingest and a profile go in; out comes one
// Result per flight: events with their certainty and the bounds of their times,
// how far each rule could be evaluated, and the audits of the warnings.
//
// Times are seconds on the recording's axis, heights feet above the aerodrome,
// airspeeds knots. The package reads no export and writes no report. Rules are
// data (packs/builtin.yaml, and packs of the user on top), their expressions are
// package language's, and what certain and possible mean is in package readings.
package detect

import (
	"cmp"
	"errors"
	"fmt"
	"iter"
	"slices"
	"strings"

	"downlock/detect/language"
	"downlock/detect/readings"
	"downlock/detect/samples"
	"downlock/detect/soundness"
	"downlock/ingest"
	"downlock/schemas"
)

// Detector applies a set of rules to the recordings of one profile. It holds no
// state of a recording and may be used by several goroutines.
type Detector struct {
	profile  *schemas.Profile
	rules    *RuleSet
	criteria criteria
	trusting bool
}

// TrustProfile takes for granted that the profile reads every parameter rightly. Series
// written by hand are too short to show it.
func (d *Detector) TrustProfile() { d.trusting = true }

// New prepares a detector. The error is schemas.Problems in the profile's own
// expressions.
func New(profile *schemas.Profile, rules *RuleSet) (*Detector, error) {
	d := &Detector{profile: profile, rules: rules, criteria: criteria{}}
	found := checkProfileOwn(profile, rules)
	words := withoutCriteria(profile.Own)
	for _, c := range schemas.Criteria() {
		text := profile.Criteria[c.Name]
		if text == "" {
			text = c.Default
		}
		if text != "" {
			x, err := language.Compile(text, words, language.Condition)
			var mistake *language.Error
			if errors.As(err, &mistake) {
				found = append(found, profile.Document().TextProblem("/criteria/"+c.Name, mistake.Offset, mistake.Cause, mistake.Hint))
			}
			d.criteria[c.Name] = x
		}
		words.Names[c.Name] = language.Type{Kind: language.Condition} // for those after it
	}
	if len(found) > 0 {
		return nil, found
	}
	return d, nil
}

// Detect finds the flights of a recording and everything in them. A recording
// in which the aircraft neither leaves the ground nor begins a take-off has no result.
func (d *Detector) Detect(r *ingest.Recording) []*Result {
	var results []*Result
	for result := range d.Results(r) {
		results = append(results, result)
	}
	return results
}

// Results is Detect flight by flight, in order of time. Of a packed recording the
// samples of the flight at hand are unpacked alone, and each Result holds those of
// its own: whoever goes on to the next should let go of it. Flights, events and
// checks are those of the whole all the same. Stretches of a file whose time does not
// run on are recordings by themselves; their flights are counted through the file. The
// error, the last that comes, is
// a schemas.Problem of a flight with too many samples.
func (d *Detector) Results(r *ingest.Recording) iter.Seq2[*Result, error] {
	return func(yield func(*Result, error) bool) {
		for f, err := range d.flights(r) {
			if err != nil {
				yield(nil, err)
				return
			}
			if !yield(d.flight(f), nil) {
				return
			}
		}
	}
}

// flights finds the flights of every stretch of a file.
func (d *Detector) flights(r *ingest.Recording) iter.Seq2[*Flight, error] {
	return func(yield func(*Flight, error) bool) {
		found := 0
		for _, stretch := range r.Stretches() {
			last := found
			signals, checks := checkedSignals(stretch, d.profile)
			for f, err := range findFlights(signals, d.profile, d.criteria) {
				if err == nil {
					f.checks = checks
					last = found + f.Number
					f.Number, f.ID, f.Month = last, flightID(stretch, last), stretch.Month
				}
				if !yield(f, err) || err != nil {
					return
				}
			}
			found = last
		}
	}
}

func (d *Detector) flight(f *Flight) *Result {
	env := newTracks(f, d.criteria)
	env.own = d.rules.Own
	result := &Result{Flight: f, Tracks: env, Opportunities: opportunities(env), Checks: f.checks, Observations: observations(f)}
	audits := map[string]*Audit{}
	for _, w := range d.rules.Warnings {
		a := audit(env, w)
		audits[w.Name] = a
		result.Audits = append(result.Audits, *a)
	}
	for _, rule := range d.rules.Rules {
		events, evaluation := evaluate(env, rule, audits, ofKind(result.Opportunities, rule.Opportunity))
		result.Events = append(result.Events, events...)
		result.Evaluations = append(result.Evaluations, evaluation)
	}
	if !d.trusting {
		doubtful(result, env)
	}
	result.Measurements = measurements(env, d.rules.Measurements, result.Opportunities)
	slices.SortStableFunc(result.Events, func(a, b Event) int { return cmp.Compare(a.Start.Nominal, b.Start.Nominal) }) // then by rule, as they come
	result.Occurrences = d.rules.occurrences(result.Events)
	d.rules.nameCauses(result.Audits, result.Events)
	return result
}

// lackingSystems says which of the systems the type does not have.
func lackingSystems(p *schemas.Profile, systems []string) (missing []string) {
	for _, system := range systems {
		if !p.HasSystem(system) {
			missing = append(missing, noSystem+strings.ReplaceAll(system, "_", " "))
		}
	}
	return missing
}

// evaluate applies one rule to one flight.
func evaluate(env *Tracks, rule *Rule, audits map[string]*Audit, open []Opportunity) ([]Event, Evaluation) {
	env = env.assuming(rule.Optional)
	evaluation := Evaluation{Rule: rule, Coverage: Evaluated, ScopeSeconds: env.flight.Span.Seconds()}
	evaluation.Missing = lackingSystems(env.flight.Profile, rule.Systems)
	if len(evaluation.Missing) == 0 { // a type without the system records nothing of it either
		evaluation.Missing, evaluation.Fallbacks = env.needs(rule.Requires)
		if rule.Audit != nil {
			evaluation.Missing = audits[rule.Audit.Warning].Missing
		}
	}
	if len(evaluation.Missing) > 0 {
		evaluation.Coverage, evaluation.Chances = NotEvaluable, Chances{All: len(open), Not: len(open)}
		if len(open) == 0 && env.tells(rule.Opportunity) && len(lackingSystems(env.flight.Profile, rule.Systems)) == 0 {
			evaluation.Coverage, evaluation.Missing = NoOpportunity, nil
		}
		return nil, evaluation
	}
	var events []Event
	var unknown readings.Spans
	if rule.Audit != nil {
		a := audits[rule.Audit.Warning]
		events, unknown = auditEvents(env, rule, a), a.unknown
	} else if rule.at != nil {
		events, unknown = momentEvents(env, rule)
	} else {
		events, unknown = spanEvents(env, rule)
	}
	told := env.tells(rule.Opportunity)
	if told {
		unknown = readings.Intersect(unknown, spansOf(open))
	}
	if len(unknown) == 0 && leavesOut(evaluation.Fallbacks) {
		evaluation.Coverage, evaluation.Partial = PartlyEvaluated, true
	}
	if len(unknown) > 0 {
		evaluation.Coverage = PartlyEvaluated
		evaluation.Unknown = unknown
		evaluation.UnknownSeconds = unknown.Seconds()
	}
	evaluation.Events, evaluation.Chances = len(events), chances(open, unknown)
	if evaluation.Partial {
		evaluation.Chances = Chances{All: len(open), Partly: len(open)}
	}
	if len(open) == 0 && len(events) == 0 && told {
		evaluation.Coverage, evaluation.Partial = NoOpportunity, false
	}
	return events, evaluation
}

// leavesOut says that part of the aircraft was not looked at.
func leavesOut(fallbacks []string) bool {
	return slices.ContainsFunc(fallbacks, func(f string) bool { return strings.HasSuffix(f, partlyNote) })
}

// WhyNoFlight explains a recording that Detect found no flight in: a note where
// the aircraft never leaves the ground, a problem where that cannot be told.
func (d *Detector) WhyNoFlight(r *ingest.Recording) (note string, err error) {
	signals, checks := checkedSignals(r, d.profile)
	for _, c := range checks {
		if c.Outcome == Failed {
			note += "; consistency check failed: " + c.Evidence + "; " + c.Hint
		}
	}
	if _, _, ok := airborneCondition(signals, d.profile); !ok {
		return "", &schemas.Problem{File: r.Name, Cause: "no parameter in it tells air from ground",
			Hint: "map a main strut switch, weight_on_wheels, radio_altitude or computed_airspeed in the profile" + note}
	}
	if lifted := onJacks(signals, d.profile); len(lifted) > 0 {
		note = fmt.Sprintf("; maintenance on the ground: for %.0f s the struts are extended and the aircraft does not move, as on jacks", lifted.Seconds()) + note
	}
	return "no flight in it: the aircraft does not leave the ground for long enough" + note, nil
}

// Check holds a recording against the profile, whether or not there is a flight
// in it.
func (d *Detector) Check(r *ingest.Recording) []Check {
	_, checks := checkedSignals(r, d.profile)
	return checks
}

// checkedSignals are the samples of a recording, less those that failed a check.
func checkedSignals(r *ingest.Recording, profile *schemas.Profile) (*samples.Set, []Check) {
	s := samples.New(r)
	checks := soundness.CrossCheck(s, profile)
	s.EstimateAccuracies()
	return s, checks
}
