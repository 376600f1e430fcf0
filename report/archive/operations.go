package archive

import (
	"downlock/detect"
	"downlock/detect/readings"
	"downlock/schemas"
)

func number(n int) *int32 {
	out := int32(n)
	return &out
}

// addOperations counts the opportunities of the flight.
func addOperations(row *schemas.FlightRow, r *detect.Result) {
	counts := map[detect.OpportunityKind]int{}
	for _, o := range r.Opportunities {
		counts[o.Kind]++
	}
	rejected := 0
	for _, roll := range r.Flight.Rolls {
		if roll.Ended == detect.Rejected {
			rejected++
		}
	}
	ground := r.Flight.StaysOnGround
	row.RejectedTakeOffs, row.StaysOnGround = number(rejected), &ground
	for kind, cell := range map[detect.OpportunityKind]**int32{
		detect.OpenTakeOffRoll: &row.TakeOffRolls, detect.OpenLiftOff: &row.LiftOffs, detect.OpenRetraction: &row.GearRetractions,
		detect.OpenExtension: &row.GearExtensions, detect.OpenTouchdown: &row.Touchdowns, detect.OpenLanding: &row.Landings,
		detect.OpenBalkedLanding: &row.BalkedLandings,
	} {
		*cell = number(counts[kind])
	}
}

// knownOpportunities adds up the opportunities of a rule, each with the part of it
// in which samples decide the rule. Of a rule that was not evaluable there is none.
func knownOpportunities(r *detect.Result, e *detect.Evaluation) float64 {
	if e.Chances.Partly == 0 {
		return float64(e.Chances.Evaluated)
	}
	sum := 0.0
	for _, o := range r.Opportunities {
		if o.Kind != e.Rule.Opportunity {
			continue
		}
		missing, length := readings.Spans(e.Unknown).Within(o.Span()), o.Span().Seconds()
		switch {
		case len(missing) == 0:
			sum++
		case length > 0:
			sum += 1 - missing.Seconds()/length
		}
	}
	return sum
}
