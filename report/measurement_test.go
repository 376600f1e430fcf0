package report

import (
	"encoding/json"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"testing"

	"downlock/detect"
	"downlock/schemas"
)

// circuits is the fixture with the airspeed of three touchdowns, of which the second
// is not recorded, the height of flap set on two of three approaches, and a gear
// height measured outside of the only extension found.
func circuits(t testing.TB) *detect.Result {
	r := fixtureResult(t)
	rule := func(id, title, unit string, kind detect.OpportunityKind) *detect.MeasurementRule {
		return &detect.MeasurementRule{ID: id, Title: title, Group: "Circuits", Definition: title + " each time.", Unit: unit, Pack: "p", Opportunity: kind}
	}
	airspeed, flap := rule("touchdown-airspeed", "Airspeed down", "kt", detect.OpenTouchdown), rule("flap", "Flap set", "ft", detect.OpenApproach)
	spread := rule("spread", "Spread", "s", detect.OpenExtension)
	measured := func(rule *detect.MeasurementRule, number int, value float64) detect.Measurement {
		at := exactly(float64(40*number + 10))
		return detect.Measurement{Rule: rule, Opportunity: number, Begins: exactly(float64(40 * number)), Ends: exactly(float64(40*number + 20)),
			Outcome: detect.Measured, Certainty: detect.Certain, Value: value, Lowest: value - 1, Highest: value + 1.2, At: &at}
	}
	without := func(rule *detect.MeasurementRule, number int, outcome detect.Outcome, certainty detect.Certainty) detect.Measurement {
		m := measured(rule, number, 0)
		m.Outcome, m.Certainty, m.Value, m.Lowest, m.Highest, m.At = outcome, certainty, 0, 0, 0, nil
		return m
	}
	possible := measured(flap, 3, 890)
	possible.Certainty = detect.Possible
	r.Measurements = []detect.Measurement{
		measured(airspeed, 1, 131), without(airspeed, 2, detect.NotRecorded, detect.Certain), measured(airspeed, 3, 128),
		measured(flap, 1, 1012), without(flap, 2, detect.DidNotHappen, detect.Certain), possible,
		measured(spread, 1, 2), without(spread, 0, detect.DidNotHappen, detect.Possible),
	}
	return r
}

func TestMeasurementsOfSeveral(t *testing.T) {
	t.Parallel()
	doc := newDocument(fixtureRun(t), circuits(t))
	data, err := encodeJSON(doc)
	if err != nil {
		t.Fatal(err)
	}
	if err := valid(t, schemas.ReportSchema, data); err != nil {
		t.Error(err)
	}
	var back struct {
		Measurements []struct {
			Opportunity string                     `json:"opportunity"`
			Number      *int                       `json:"opportunity_number"`
			Start       *struct{ Nominal float64 } `json:"opportunity_begins"`
			End         *struct{ Nominal float64 } `json:"opportunity_ends"`
			Value       *float64
		}
	}
	if err := json.Unmarshal(data, &back); err != nil {
		t.Fatal(err)
	}
	third, beside := back.Measurements[2], back.Measurements[7]
	if third.Opportunity != "touchdown" || *third.Number != 3 || third.Start.Nominal != 120 || third.End.Nominal != 140 || *third.Value != 128 {
		t.Errorf("the third touchdown: %+v", third)
	}
	if beside.Opportunity != "gear extension" || beside.Number != nil || beside.Start != nil || beside.End != nil {
		t.Errorf("outside of the extension: %+v", beside)
	}
	lines := strings.Split(string(encodeCSV(measurementColumns, measurementRows(doc))), "\r\n")
	for i, want := range map[int]string{1: ",touchdown,1,40,60", 2: ",touchdown,2,80,100", 6: ",approach,3,120,140", 8: ",gear extension,,,"} {
		if !strings.HasSuffix(lines[i], want+caution) {
			t.Errorf("line %d of measurements.csv ends otherwise than in %s: %s", i+1, want, lines[i])
		}
	}
}

// The page has a row for each measurement, with every value in it and why there is
// none.
func TestMeasurementsOfSeveralOnThePage(t *testing.T) {
	t.Parallel()
	p := parsePage(t, renderPage(t, circuits(t)))
	text := p.text
	for _, want := range []string{
		"Airspeed down each touchdown, in kt Airspeed down each time. 131 130 to 132.2 no. 1, 10:00:50.0 value not recorded no. 2 128 127 to 129.2 no. 3, 10:02:10.0",
		"Flap set each approach, in ft Flap set each time. 1012 1011 to 1014 no. 1, 10:00:50.0 did not happen no. 2 890 889 to 892 no. 3, 10:02:10.0 possible",
		"Spread each gear extension, in s Spread each time. 2 1 to 3.2 no. 1, 10:00:50.0 perhaps more, not recorded beside these",
	} {
		if !strings.Contains(text, want) {
			t.Errorf("the page does not say %q", want)
		}
	}
}

// The index counts flights by the best that became of a measurement, and all values.
func TestIndexOfSeveral(t *testing.T) {
	t.Parallel()
	var x Index
	for range 2 {
		x.Add(newEntry("f", newDocument(fixtureRun(t), circuits(t))))
	}
	totals := x.measurementTotals()
	i := slices.IndexFunc(totals, func(m measurementTotal) bool { return m.Measurement == "touchdown-airspeed" })
	if len(totals) != 3 || i < 0 {
		t.Fatalf("%d measurements, touchdown-airspeed in place %s", len(totals), strconv.Itoa(i))
	}
	m := totals[i]
	// By hand: 131 and 128 kt on each of two flights, their median between the two.
	if want := (outcomeCounts{Measured: 2}); m.Flights != want || m.Values != 4 || *m.Smallest != 128 || *m.Median != 129.5 || *m.Largest != 131 {
		t.Errorf("%+v, %v %v %v", m, *m.Smallest, *m.Median, *m.Largest)
	}
	if got := newSummary(newDocument(fixtureRun(t), circuits(t))).Measurements; !reflect.DeepEqual(got, outcomeCounts{Measured: 5, DidNotHappen: 2, NotRecorded: 1}) {
		t.Errorf("the flight's own counts: %+v", got)
	}
}
