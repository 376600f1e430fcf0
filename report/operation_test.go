package report

import (
	"strings"
	"testing"

	"downlock/detect"
	"downlock/schemas"
)

// groundResult is the fixture as a recording without a flight: a take-off rejected
// at 84 kt, 60 s of it; worked out by hand.
func groundResult(t *testing.T) *detect.Result {
	r := fixtureResult(t)
	roll := detect.TakeOffRoll{Begins: detect.Time{Nominal: 20, Earliest: 19, Latest: 20}, Ends: detect.Time{Nominal: 80, Earliest: 79, Latest: 80}, Ended: detect.Rejected, HighestSpeed: 84.3, Known: true}
	f := r.Flight
	f.StaysOnGround, f.BeginsInAir, f.Touchdown, f.Touchdowns, f.Approaches = true, false, nil, nil, nil
	f.Rolls = []detect.TakeOffRoll{roll}
	r.Opportunities = []detect.Opportunity{
		{Kind: detect.OpenFlight, Begins: exactly(0), Ends: exactly(200)},
		{Kind: detect.OpenTakeOffRoll, Begins: roll.Begins, Ends: roll.Ends, Ended: "rejected"},
		{Kind: detect.OpenGround, Begins: exactly(0), Ends: exactly(200)},
	}
	return r
}

func TestFlightThatStaysOnTheGround(t *testing.T) {
	t.Parallel()
	r := groundResult(t)
	p := parsePage(t, renderPage(t, r))
	for _, want := range []string{
		"lift-off none touchdown none", "take-off rejected take-off at 84 kt ; the recording contains no flight",
		"Operations rejected take-off at 84 kt; the recording contains no flight.",
		"take-off roll 10:00:20.0 UTC, 20 s (between 19 and 20 s) rejected highest speed 84 kt",
	} {
		if !strings.Contains(p.text, want) {
			t.Errorf("the page does not say %q", want)
		}
	}
	doc := newDocument(fixtureRun(t), r)
	data, err := encodeJSON(doc)
	if err != nil {
		t.Fatal(err)
	}
	if err := valid(t, schemas.ReportSchema, data); err != nil {
		t.Error(err)
	}
	for _, want := range []string{`"stays_on_ground": true`, `"name": "highest_speed"`, `"value": 84.3`} {
		if !strings.Contains(string(data), want) {
			t.Errorf("report.json does not say %s", want)
		}
	}
	if got := doc.Flight.Recorded(); got != "on the ground only" {
		t.Errorf("recorded %q", got)
	}
	for ended, want := range map[detect.RollEnd]string{detect.Rejected: "rejected take-off at 84 kt", detect.InLiftOff: "", detect.RollsOn: "recording ends in a take-off roll at 84 kt"} {
		r.Opportunities[1].Ended = string(ended)
		if got := newDocument(fixtureRun(t), r).WithoutLiftOff(); got != want {
			t.Errorf("%s: %q, want %q", ended, got, want)
		}
	}
}

// Moments and figures go to the operation they belong to, whatever else lies
// between: two go-arounds, of the second no height; a touch-and-go and a landing.
func TestOperationDetails(t *testing.T) {
	t.Parallel()
	r := fixtureResult(t)
	f := r.Flight
	f.GoArounds = []detect.GoAround{{Begins: exactly(20), Lowest: exactly(22), Ends: exactly(30), Height: 140.4, Known: true},
		{Begins: exactly(60), Lowest: exactly(63), Ends: exactly(70)}}
	f.Touchdowns = []detect.Touchdown{{Time: exactly(100), Landed: detect.TouchAndGo}, {Time: exactly(150), Landed: detect.FullStop}}
	at := func(kind detect.OpportunityKind, begins float64) detect.Opportunity {
		return detect.Opportunity{Kind: kind, Begins: exactly(begins), Ends: exactly(begins + 5)}
	}
	r.Opportunities = []detect.Opportunity{at(detect.OpenGoAround, 20), at(detect.OpenGoAround, 60), at(detect.OpenTouchdown, 80), at(detect.OpenTouchdown, 120),
		at(detect.OpenLanding, 120), at(detect.OpenTouchAndGo, 80)}
	parts := operationParts(r)
	for i, want := range []float64{22, 63, 100, 150, 150, 100} {
		if parts[i].At == nil || float64(parts[i].At.Nominal) != want {
			t.Errorf("%s %d is at %v, want %g", parts[i].Kind, i, parts[i].At, want)
		}
	}
	if first, second := parts[0].Measures[0], parts[1].Measures[0]; *first.Value != 140.4 || second.Value != nil {
		t.Errorf("lowest heights are %v and %v", first, second)
	}
	rows := operationRows(parts)
	if len(rows) != 4 || rows[2].Kind != "touchdown" || rows[3].At.Nominal != 150 {
		t.Errorf("rows are %+v", rows)
	}
}
