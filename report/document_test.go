package report

import (
	"bytes"
	"encoding/json"
	"strings"
	"testing"
	"time"

	"downlock/schemas"
	"downlock/schemas/schematest"
)

// valid holds JSON against one of the shipped schemas.
func valid(t testing.TB, schema string, data []byte) error {
	t.Helper()
	return schematest.Validate(schema, data)
}

func fixtureJSON(t testing.TB) []byte {
	t.Helper()
	data, err := encodeJSON(newDocument(fixtureRun(t), fixtureResult(t)))
	if err != nil {
		t.Fatal(err)
	}
	return data
}

func TestReportFollowsSchema(t *testing.T) {
	t.Parallel()
	if err := valid(t, schemas.ReportSchema, fixtureJSON(t)); err != nil {
		t.Error(err)
	}
	data, err := encodeJSON(newDocument(fixtureRun(t), hostileResult(t)))
	if err != nil {
		t.Fatal(err)
	}
	if err := valid(t, schemas.ReportSchema, data); err != nil {
		t.Error(err)
	}
	undated := fixtureResult(t)
	undated.Flight.Recording.Epoch = time.Time{}
	undated.Flight.Touchdown = nil
	if data, err = encodeJSON(newDocument(fixtureRun(t), undated)); err != nil {
		t.Fatal(err)
	}
	if err := valid(t, schemas.ReportSchema, data); err != nil {
		t.Error(err)
	}
}

// Each change makes a report the schema must refuse.
func TestSchemaRefusesBrokenReports(t *testing.T) {
	t.Parallel()
	object := func(v any) map[string]any { return v.(map[string]any) }
	event := func(r map[string]any) map[string]any { return object(r["events"].([]any)[0]) }
	changes := map[string]func(r map[string]any){
		"severity of no level":   func(r map[string]any) { event(r)["severity"] = "severe" },
		"certainty of no kind":   func(r map[string]any) { event(r)["certainty"] = "likely" },
		"event without id":       func(r map[string]any) { delete(event(r), "id") },
		"event without bounds":   func(r map[string]any) { delete(object(event(r)["start"]), "earliest") },
		"time as text":           func(r map[string]any) { object(event(r)["start"])["nominal"] = "60" },
		"field nobody knows":     func(r map[string]any) { r["comment"] = "fine" },
		"field in an event":      func(r map[string]any) { event(r)["crew"] = "A" },
		"no summary":             func(r map[string]any) { delete(r, "summary") },
		"no cautions":            func(r map[string]any) { delete(r, "cautions") },
		"another version":        func(r map[string]any) { r["schema"] = "downlock report 2" },
		"short hash":             func(r map[string]any) { object(object(r["provenance"])["profile"])["sha256"] = "ab" },
		"negative count":         func(r map[string]any) { object(object(r["summary"])["evaluations"])["evaluated"] = -1 },
		"coverage of no kind":    func(r map[string]any) { object(r["evaluations"].([]any)[0])["coverage"] = "done" },
		"phase of no taxonomy":   func(r map[string]any) { object(object(r["flight"])["phases"].([]any)[0])["phase"] = "climb" },
		"touchdown left out":     func(r map[string]any) { delete(object(r["flight"]), "touchdown") },
		"parameters not a list":  func(r map[string]any) { r["parameters"] = map[string]any{} },
		"measure without a unit": func(r map[string]any) { delete(object(event(r)["measures"].([]any)[0]), "unit") },
	}
	for name, change := range changes {
		var r map[string]any
		if err := json.Unmarshal(fixtureJSON(t), &r); err != nil {
			t.Fatal(err)
		}
		change(r)
		data, err := json.Marshal(r)
		if err != nil {
			t.Fatal(err)
		}
		if valid(t, schemas.ReportSchema, data) == nil {
			t.Errorf("%s: the schema allows it", name)
		}
	}
}

// TestReportSays checks figures worked out by hand from the fixture.
func TestReportSays(t *testing.T) {
	t.Parallel()
	text := string(fixtureJSON(t))
	compact := new(bytes.Buffer)
	if err := json.Compact(compact, []byte(text)); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{
		// 10:00:00 and 60 s
		`"start":{"nominal":60,"earliest":59.5,"latest":60.5,"utc":"2031-05-04T10:01:00.000Z"}`,
		// a bound that is not finite ends with the flight, at 200 s
		`"start":{"nominal":80,"earliest":79,"latest":200,`, `"end":{"nominal":82,"earliest":80,"latest":200,`,
		`"certain":[{"start":60.5,"end":67.25}],"possible":[{"start":59.5,"end":68.25}]`,
		// 1635.00049 rounded to three decimals; not recorded; not a number
		`{"name":"lowest_height","unit":"ft","value":1635}`, `{"name":"pitch","unit":"deg","value":null}`, `{"name":"ratio","unit":"1","value":null}`,
		`"summary":{"events":{"high":{"certain":1,"possible":0},"medium":{"certain":1,"possible":0},"low":{"certain":0,"possible":1}},` +
			`"occurrences":2,"evaluations":{"evaluated":1,"partly_evaluated":1,"not_evaluable":1,"no_opportunity":1},` +
			`"audit":{"audited":2,"exercised":1,"in_agreement":1,"not_evaluable":1,"findings":{"missed":0,"late":1,"nuisance":0,"silenced":1,"wrongly_silenced":0}},` +
			`"measurements":{"measured":3,"did_not_happen":1,"not_recorded":1,"not_evaluable":1}}`,
		`"warning":"gear_horn","title":"Gear warning horn","coverage":"partly evaluated","missing":[],"times_due":2,"times_sounded":1,` +
			`"due_seconds":12.5,"sounded_seconds":5,"agreement_seconds":4.25,"unknown_seconds":10,` +
			`"findings":[{"finding":"late","certainty":"certain",`, // in order of time
		`"delay":{"nominal":4,"shortest":3,"longest":5}`,
		`"height":1200,"locked_after":null`, `"height":null,"locked_after":28`,
		`"unit":"ft","outcome":"measured","certainty":"certain","coverage":"evaluated","value":1800.4,"lowest":1798.4,"highest":1822.1,"at":{"nominal":60.5,"earliest":59.5,"latest":60.5,`,
		`"coverage":"partly evaluated","value":1,"lowest":1,"highest":null,"at":null,"unknown_seconds":3,`,
		`"outcome":"did not happen","certainty":"certain","coverage":"evaluated","value":null,"lowest":null,"highest":null,"at":null,`,
		`"outcome":"not evaluable","certainty":"certain","coverage":"not evaluable","value":null,"lowest":null,"highest":null,"at":null,"unknown_seconds":0,"missing":["gross_weight is not recorded"]`,
		`"lift_off":null`, `"touchdown":{"nominal":150,"earliest":149.5,"latest":150,"utc":"2031-05-04T10:02:30.000Z"}`,
		// 1 Hz from 0.25 s to 199.25 s is 200 samples, less the 10 of 100.25 to 109.25 s; from 99.25 to 110.25 s is 11 s
		`"parameter":"left_gear_down_locked","column":"left_gear_down_locked","kind":"discrete","samples":190,"interval":1,"longest_interval":4,` +
			`"longest_interval_confirmed":true,"accuracy":null,"gaps":1,"longest_gap":11,`,
		`"operations":[{"kind":"flight",`,
		`{"kind":"approach","begins":{"nominal":10,"earliest":10,"latest":10,"utc":"2031-05-04T10:00:10.000Z"},` +
			`"ends":{"nominal":150,"earliest":149.5,"latest":150,"utc":"2031-05-04T10:02:30.000Z"},"ended":"landing","at":null,"measures":[]}`,
		`"at":{"nominal":150,"earliest":149.5,"latest":150,"utc":"2031-05-04T10:02:30.000Z"},"measures":[]},{"kind":"landing",`,
		`"stays_on_ground":false,"begins_in_air":true`,
		`"opportunity":"approach","opportunities":{"all":1,"evaluated":0,"partly":1,"not":0}`,
		`"opportunity":"go-around","opportunities":{"all":0,"evaluated":0,"partly":0,"not":0}`,
		`"dropped":{"range":2,"spike":1,"token":4}`,
		`"absent":[{"parameter":"gear_up_locked","columns":["UP LOCK","UPLK"]}]`,
	} {
		if !strings.Contains(compact.String(), want) {
			t.Errorf("report.json does not say %s", want)
		}
	}
}

func TestNumbers(t *testing.T) {
	t.Parallel()
	for x, want := range map[float64]string{
		0: "0", -0.0001: "0", 1: "1", 100: "100", 0.0005: "0.001", 1.2345: "1.234", -12.5: "-12.5", 1e21: "1000000000000000000000",
	} {
		if got := number(x).String(); got != want {
			t.Errorf("%g is written %s, not %s", x, got, want)
		}
	}
}

func TestClean(t *testing.T) {
	t.Parallel()
	for in, want := range map[string]string{
		"gear lever": "gear lever", "a\x00b\nc": "a\ufffdb\ufffdc", "a\xffb": "a\ufffdb", "a\u202eb": "a\ufffdb", "Fähre 7": "Fähre 7",
	} {
		if got := clean(in); got != want {
			t.Errorf("%q is cleaned to %q, not %q", in, got, want)
		}
	}
}
