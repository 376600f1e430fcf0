package report

import (
	"cmp"
	"math"

	"downlock/detect"
)

type flightPart struct {
	ID            string         `json:"id"`
	Number        int            `json:"number"`
	Span          stretch        `json:"span"`
	Epoch         string         `json:"epoch,omitempty"`     // UTC at second 0
	StartUTC      string         `json:"start_utc,omitempty"` // of Span
	Month         string         `json:"month,omitempty"`     // YYYY-MM of the start; alone where the date is withheld
	Departure     string         `json:"departure_aerodrome,omitempty"`
	Arrival       string         `json:"arrival_aerodrome,omitempty"`
	StaysOnGround bool           `json:"stays_on_ground"`
	BeginsInAir   bool           `json:"begins_in_air"`
	EndsInAir     bool           `json:"ends_in_air"`
	LiftOff       *instant       `json:"lift_off"`
	Touchdown     *instant       `json:"touchdown"`
	TouchAndGoes  []instant      `json:"touch_and_goes"`
	GoArounds     []instant      `json:"go_arounds"`
	Approaches    []approachPart `json:"approaches"`
	Phases        []phasePart    `json:"phases"`
	Notes         []string       `json:"notes"`
}

// Recorded says which part of the flight the recording holds.
func (f flightPart) Recorded() string {
	switch {
	case f.StaysOnGround:
		return "on the ground only"
	case f.BeginsInAir && f.EndsInAir:
		return "in the air only"
	case f.BeginsInAir:
		return "from the air on"
	case f.EndsInAir:
		return "up to the air"
	}
	return "whole flight"
}

// approachPart is one approach: nominally a stretch, and the bounds of its ends.
type approachPart struct {
	stretch
	Begins  instant `json:"begins"`
	Ends    instant `json:"ends"`
	Outcome string  `json:"outcome"`
}

type phasePart struct {
	stretch
	Begins instant `json:"begins"`
	Ends   instant `json:"ends"`
	Phase  string  `json:"phase"`
}

func newFlightPart(f *detect.Flight) flightPart {
	epoch := f.Recording.Epoch
	start := clock(epoch, f.Span.Start)
	part := flightPart{
		ID: clean(f.ID), Number: f.Number,
		Span:          stretches([]detect.Span{f.Span}, f.Span)[0],
		Epoch:         clock(epoch, 0),
		StartUTC:      start,
		Month:         cmp.Or(f.Month, monthOf(start)),
		StaysOnGround: f.StaysOnGround, BeginsInAir: f.BeginsInAir, EndsInAir: f.EndsInAir,
		Departure: clean(f.Departure), Arrival: clean(f.Arrival),
		LiftOff: optionalInstant(f, f.LiftOff), Touchdown: optionalInstant(f, f.Touchdown),
		TouchAndGoes: instants(f, f.TouchedDown(detect.TouchAndGo)), GoArounds: instants(f, f.LowestPoints()),
		Approaches: make([]approachPart, len(f.Approaches)),
		Phases:     make([]phasePart, len(f.Phases)),
		Notes:      cleanAll(f.Notes),
	}
	for i, a := range f.Approaches {
		part.Approaches[i] = approachPart{stretches([]detect.Span{a.Span}, f.Span)[0],
			newInstant(a.Begins, f.Span, epoch), newInstant(a.Ends, f.Span, epoch), clean(string(a.Outcome))}
	}
	for i, p := range f.Phases {
		part.Phases[i] = phasePart{stretches([]detect.Span{p.Span}, f.Span)[0],
			newInstant(p.Begins, f.Span, epoch), newInstant(p.Ends, f.Span, epoch), string(p.Phase)}
	}
	return part
}

func optionalInstant(f *detect.Flight, t *detect.Time) *instant {
	if t == nil {
		return nil
	}
	at := newInstant(*t, f.Span, f.Recording.Epoch)
	return &at
}

func instants(f *detect.Flight, times []detect.Time) []instant {
	out := make([]instant, len(times))
	for i, t := range times {
		out[i] = newInstant(t, f.Span, f.Recording.Epoch)
	}
	return out
}

type eventPart struct {
	ID         string        `json:"id"`
	Occurrence string        `json:"occurrence"` // what comes of one cause shares it: the id of its first event
	Rule       string        `json:"rule"`
	Title      string        `json:"title"`
	Meaning    string        `json:"meaning"`
	Severity   string        `json:"severity"`
	Certainty  string        `json:"certainty"`
	Phase      string        `json:"phase"`
	Moment     bool          `json:"moment"`
	Start      instant       `json:"start"`
	End        instant       `json:"end"`
	Certain    []stretch     `json:"certain"`
	Possible   []stretch     `json:"possible"`
	Measures   []measurePart `json:"measures"`
	Basis      string        `json:"basis"`
	Caution    string        `json:"caution,omitempty"`
	Verdict    *Verdict      `json:"verdict,omitempty"`
}

// measurePart has no value where the parameter was not recorded.
type measurePart struct {
	Name  string  `json:"name"`
	Unit  string  `json:"unit"`
	Value *number `json:"value"`
}

func eventParts(run *Run, result *detect.Result) []eventPart {
	parts := make([]eventPart, len(result.Events))
	f := result.Flight
	for i, e := range result.Events {
		parts[i] = eventPart{
			ID: clean(e.ID), Occurrence: clean(e.Occurrence), Rule: clean(e.Rule.ID), Title: clean(e.Rule.Title), Meaning: clean(e.Rule.Meaning),
			Severity: string(e.Severity), Certainty: string(e.Certainty), Phase: clean(e.Phase), Moment: e.Moment,
			Start: newInstant(e.Start, f.Span, f.Recording.Epoch), End: newInstant(e.End, f.Span, f.Recording.Epoch),
			Certain: stretches(e.Sure, f.Span), Possible: stretches(e.Maybe, f.Span),
			Measures: measureParts(e.Measures),
			Basis:    clean(e.Rule.Basis), Caution: clean(e.Rule.Caution),
			Verdict: verdictOf(run, f, &result.Events[i]),
		}
	}
	return parts
}

func measureParts(measures []detect.Measure) []measurePart {
	parts := make([]measurePart, len(measures))
	for i, m := range measures {
		parts[i] = measurePart{Name: clean(m.Name), Unit: clean(m.Unit)}
		if m.Known && !math.IsNaN(m.Value) && !math.IsInf(m.Value, 0) {
			v := number(m.Value)
			parts[i].Value = &v
		}
	}
	return parts
}

type evaluationPart struct {
	Rule           string     `json:"rule"`
	Title          string     `json:"title"`
	Group          string     `json:"group"`
	Pack           string     `json:"pack"`
	Systems        []string   `json:"systems"`
	Audit          *ruleAudit `json:"audit"`
	Coverage       string     `json:"coverage"`
	Missing        []string   `json:"missing"`
	Unknown        []stretch  `json:"unknown"`
	UnknownSeconds number     `json:"unknown_seconds"`
	ScopeSeconds   number     `json:"scope_seconds"`
	Fallbacks      []string   `json:"fallbacks"`
	Events         int        `json:"events"`
	// Opportunity is the kind of chance a flight must contain for the rule to show anything.
	Opportunity   string            `json:"opportunity"`
	Opportunities opportunityCounts `json:"opportunities"`
}

// ruleAudit names the warning and the kind of finding a rule makes events of;
// null for a rule with a condition of its own.
type ruleAudit struct {
	Warning string `json:"warning"`
	Finding string `json:"finding"`
}

func evaluationParts(result *detect.Result) []evaluationPart {
	parts := make([]evaluationPart, len(result.Evaluations))
	for i, e := range result.Evaluations {
		parts[i] = evaluationPart{
			Rule: clean(e.Rule.ID), Title: clean(e.Rule.Title), Group: clean(e.Rule.Group), Pack: clean(e.Rule.Pack),
			Coverage: string(e.Coverage), Missing: cleanAll(e.Missing), Unknown: stretches(e.Unknown, result.Flight.Span),
			UnknownSeconds: finite(e.UnknownSeconds, 0), ScopeSeconds: finite(e.ScopeSeconds, 0),
			Fallbacks: cleanAll(e.Fallbacks), Events: e.Events, Systems: cleanAll(e.Rule.Systems),
			Opportunity: clean(string(e.Rule.Opportunity)), Opportunities: opportunityCounts(e.Chances),
		}
		if a := e.Rule.Audit; a != nil {
			parts[i].Audit = &ruleAudit{clean(a.Warning), clean(string(a.Finding))}
		}
	}
	return parts
}
