package tally_test

import (
	"errors"
	"fmt"
	"maps"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/parquet-go/parquet-go"

	"downlock/report/trend/fleet"
	"downlock/report/trend/tally"
	"downlock/schemas"
)

var small = fleet.Fleet{Seed: 4, Flights: 3000, Months: 24, First: "2031-02", Aircraft: 6, Rules: 12, Circuits: 5}

// written is an archive of the small fleet.
func written(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	if err := small.Write(dir); err != nil {
		t.Fatal(err)
	}
	return dir
}

func rowsOf[T any](t *testing.T, dir, table, month string) []T {
	t.Helper()
	rows, err := parquet.ReadFile[T](filepath.Join(dir, "tables", table, "month="+month, "part.parquet"))
	if err != nil {
		t.Fatal(err)
	}
	return rows
}

// Against whole rows, read one after the other and counted with maps.
func TestReadAgainstRows(t *testing.T) {
	t.Parallel()
	dir := written(t)
	for name, o := range map[string]tally.Options{
		"all": {Archive: dir, By: []string{"aircraft"}}, "certain": {Archive: dir, CertainOnly: true},
		"some": {Archive: dir, From: "2031-08", To: "2032-03", By: []string{"begins_in_air", "number"}},
	} {
		got, err := tally.Read(o)
		if err != nil {
			t.Fatal(err)
		}
		if want := 24; name != "some" && len(got.Months) != want || name == "some" && len(got.Months) != 8 {
			t.Errorf("%s: %d months", name, len(got.Months))
		}
		for _, m := range got.Months {
			checkMonth(t, name, dir, o, got, &m)
		}
		if got.Orphans != 0 || got.Undated != 0 || len(got.Distant) != 0 {
			t.Errorf("%s: %d orphans, %d undated, distant %v", name, got.Orphans, got.Undated, got.Distant)
		}
	}
}

func checkMonth(t *testing.T, name, dir string, o tally.Options, got *tally.Tally, m *tally.Month) {
	t.Helper()
	group := map[string]string{} // of a flight
	flights := map[string]int{}
	for _, f := range rowsOf[schemas.FlightRow](t, dir, schemas.FlightsTable, m.Name) {
		values := map[string]string{"aircraft": f.Aircraft, "registration": f.Registration, "begins_in_air": "false", "number": "1"}
		var key []string
		for _, c := range got.Columns {
			key = append(key, values[c])
		}
		group[f.FlightID] = strings.Join(key, "|")
		flights[group[f.FlightID]]++
	}
	type place struct{ rule, group string }
	cells := map[place]tally.Cell{}
	for _, e := range rowsOf[schemas.EvaluationRow](t, dir, schemas.EvaluationsTable, m.Name) {
		c := cells[place{e.Rule, group[e.FlightID]}]
		switch e.Coverage {
		case "evaluated":
			c.Evaluated++
		case "partly evaluated":
			c.Partly++
			c.Known += 1 - e.UnknownSeconds/e.ScopeSeconds
		case "not evaluable":
			c.NotEvaluable++
		}
		if e.Coverage != "not evaluable" {
			c.Opportunities += *e.OpportunitiesKnown
		}
		cells[place{e.Rule, group[e.FlightID]}] = c
	}
	counted := 0
	for _, e := range rowsOf[schemas.EventRow](t, dir, schemas.EventsTable, m.Name) {
		if !o.CertainOnly || e.Certainty == "certain" {
			ours := m.Events[counted]
			if ours.Flight != e.FlightID || got.Rules[ours.Rule] != e.Rule || ours.Severity.String() != e.Severity || ours.Certain != (e.Certainty == "certain") || ours.Phase != e.Phase ||
				strings.Join(got.Strata[ours.Stratum], "|") != group[e.FlightID] {
				t.Fatalf("%s, %s: event %+v, want %+v", name, m.Name, ours, e)
			}
			counted++
		}
	}
	if counted != len(m.Events) {
		t.Errorf("%s, %s: %d events, want %d", name, m.Name, len(m.Events), counted)
	}
	values := map[place]*valuesOf{}
	for _, v := range rowsOf[schemas.MeasurementRow](t, dir, schemas.MeasurementsTable, m.Name) {
		if v.Value != nil {
			at := place{v.Measurement, group[v.FlightID]}
			if values[at] == nil {
				values[at] = &valuesOf{byFlight: map[string][]float64{}}
			}
			values[at].add(v.FlightID, *v.Value)
		}
	}
	for s, stratum := range got.Strata {
		key := strings.Join(stratum, "|")
		if m.Flights[s] != flights[key] {
			t.Errorf("%s, %s, %s: %d flights, want %d", name, m.Name, key, m.Flights[s], flights[key])
		}
		for r, rule := range got.Rules {
			want := cells[place{rule, key}]
			if c := m.Cells[r][s]; c.Evaluated != want.Evaluated || c.Partly != want.Partly || c.NotEvaluable != want.NotEvaluable || math.Abs(c.Known-want.Known) > 1e-9 || math.Abs(c.Opportunities-want.Opportunities) > 1e-6 {
				t.Errorf("%s, %s, %s, %s: %+v, want %+v", name, m.Name, rule, key, c, want)
			}
		}
		for n, measured := range got.Measured {
			want := values[place{measured.Name, key}]
			if want == nil {
				want = &valuesOf{}
			}
			if !want.same(m.Values[n][s]) {
				t.Errorf("%s, %s, %s, %s: got %+v, want %+v", name, m.Name, measured.Name, key, m.Values[n][s], want)
			}
		}
	}
	checkAudits(t, dir, got, m)
}

// valuesOf are the values of a measurement in order, and by flight in the order of
// the first of each.
type valuesOf struct {
	all      []float64
	flights  []string
	byFlight map[string][]float64
}

func (v *valuesOf) add(flight string, value float64) {
	if v.byFlight[flight] == nil {
		v.flights = append(v.flights, flight)
	}
	v.all, v.byFlight[flight] = append(v.all, value), append(v.byFlight[flight], value)
}

func (v *valuesOf) same(s tally.Sample) bool {
	if len(v.all) == len(v.flights) { // one a flight
		return slices.Equal(s.Values, v.all) && s.Flights == nil
	}
	byNumber := make([][]float64, len(v.flights))
	for i, value := range s.Values {
		byNumber[s.Flights[i]] = append(byNumber[s.Flights[i]], value)
	}
	for i, flight := range v.flights {
		if !slices.Equal(byNumber[i], v.byFlight[flight]) {
			return false
		}
	}
	return slices.Equal(s.Values, v.all) && len(s.Flights) == len(s.Values)
}

// measurementsBefore are measurements as they were before one was made in each
// opportunity.
type measurementsBefore struct {
	Recording   string   `parquet:"recording,dict"`
	FlightID    string   `parquet:"flight_id,dict"`
	Measurement string   `parquet:"measurement,dict"`
	Unit        string   `parquet:"unit,dict"`
	Value       *float64 `parquet:"value,optional"`
}

// Values from before measurements were made in each opportunity are one a flight, and
// told: of a month that has not the column, and of rows that a merge has carried
// over.
func TestReadMeasurementsFromBefore(t *testing.T) {
	t.Parallel()
	dir := written(t)
	part := func(month string) string {
		return filepath.Join(dir, "tables", schemas.MeasurementsTable, "month="+month, "part.parquet")
	}
	var before []measurementsBefore
	kept := map[string]bool{}
	for _, m := range rowsOf[schemas.MeasurementRow](t, dir, schemas.MeasurementsTable, "2031-06") {
		if key := m.FlightID + m.Measurement; m.Value != nil && !kept[key] {
			kept[key] = true
			before = append(before, measurementsBefore{m.Recording, m.FlightID, m.Measurement, m.Unit, m.Value})
		}
	}
	if err := parquet.WriteFile(part("2031-06"), before); err != nil {
		t.Fatal(err)
	}
	rows := rowsOf[schemas.MeasurementRow](t, dir, schemas.MeasurementsTable, "2031-07")
	carried, all := 0, len(before)
	for i := range rows {
		if i%7 == 0 {
			rows[i].Opportunity, rows[i].OpportunityNumber = "", nil
		}
		if rows[i].Value != nil {
			all++
			if i%7 == 0 {
				carried++
			}
		}
	}
	if err := parquet.WriteFile(part("2031-07"), rows); err != nil {
		t.Fatal(err)
	}
	got, err := tally.Read(tally.Options{Archive: dir, From: "2031-06", To: "2031-07"})
	if err != nil {
		t.Fatal(err)
	}
	if got.OneAFlight != len(before)+carried || got.Values != all || carried == 0 {
		t.Errorf("%d of %d values are one a flight, want %d of %d", got.OneAFlight, got.Values, len(before)+carried, all)
	}
	several := 0
	for n := range got.Measured {
		for s := range got.Strata {
			if got.Months[0].Values[n][s].Flights != nil {
				t.Errorf("%s: a flight of the month before has several values", got.Measured[n].Name)
			}
			if got.Months[1].Values[n][s].Flights != nil {
				several++
			}
		}
	}
	if several == 0 {
		t.Error("no flight of the month after has several values")
	}
}

// By hand: nine events of one unlocked leg and two others in three flights.
func TestReadOccurrencesByHand(t *testing.T) {
	t.Parallel()
	dir := written(t)
	events := filepath.Join(dir, "tables", schemas.EventsTable, "month=2031-06", "part.parquet")
	flights := rowsOf[schemas.FlightRow](t, dir, schemas.FlightsTable, "2031-06")
	row := func(flight int, id, occurrence, rule, severity string) schemas.EventRow {
		return schemas.EventRow{FlightID: flights[flight].FlightID, EventID: id, OccurrenceID: occurrence, Rule: rule, Severity: severity, Certainty: "certain"}
	}
	var rows []schemas.EventRow
	for i, severity := range []string{"low", "medium", "high", "high", "low", "medium", "low", "low", "high"} {
		rows = append(rows, row(0, fmt.Sprint("E", i), "E0", fmt.Sprint("leg-", i), severity))
	}
	rows = append(rows, row(1, "E9", "E9", "alone", "low"), row(2, "E10", "", "before", "low"))
	if err := parquet.WriteFile(events, rows); err != nil {
		t.Fatal(err)
	}
	for occurrences, want := range map[bool][]string{
		true:  {"leg-2 high", "alone low", "before low"}, // the first of the most severe
		false: {"leg-0 low", "leg-1 medium", "leg-2 high", "leg-3 high", "leg-4 low", "leg-5 medium", "leg-6 low", "leg-7 low", "leg-8 high", "alone low", "before low"},
	} {
		got, err := tally.Read(tally.Options{Archive: dir, From: "2031-06", To: "2031-06", Occurrences: occurrences})
		if err != nil {
			t.Fatal(err)
		}
		var counted []string
		for _, e := range got.Months[0].Events {
			counted = append(counted, got.Rules[e.Rule]+" "+e.Severity.String())
		}
		if !slices.Equal(counted, want) {
			t.Errorf("occurrences %v: %q count, want %q", occurrences, counted, want)
		}
		if occurrences && (got.Beside != 8 || got.Joined != 10 || got.Alone != 1) {
			t.Errorf("%d beside, %d joined, %d alone; want 8, 10, 1", got.Beside, got.Joined, got.Alone)
		}
	}
	// A possible event leads no occurrence where certain ones alone count.
	rows[2].Certainty = "possible"
	if err := parquet.WriteFile(events, rows); err != nil {
		t.Fatal(err)
	}
	got, err := tally.Read(tally.Options{Archive: dir, From: "2031-06", To: "2031-06", Occurrences: true, CertainOnly: true})
	if err != nil {
		t.Fatal(err)
	}
	if first := got.Rules[got.Months[0].Events[0].Rule]; first != "leg-3" {
		t.Errorf("%s leads, want leg-3", first)
	}
}

// eventBefore is an event as it was before occurrences were noted.
type eventBefore struct {
	FlightID  string `parquet:"flight_id,dict"`
	EventID   string `parquet:"event_id"`
	Rule      string `parquet:"rule,dict"`
	Title     string `parquet:"title,dict"`
	Severity  string `parquet:"severity,dict"`
	Certainty string `parquet:"certainty,dict"`
	Phase     string `parquet:"phase,dict"`
}

// Against whole rows, in random archives: of the events of an occurrence that count one
// is left, the first of the most severe, and says how many are beside it. Those of a
// month from before occurrences were noted all are.
func TestReadOccurrences(t *testing.T) {
	t.Parallel()
	const before = "2031-05"
	for seed := range uint64(3) {
		dir := t.TempDir()
		if err := (fleet.Fleet{Seed: seed, Flights: 3000, Months: 24, First: "2031-02", Aircraft: 6, Rules: 12, Causes: 2}).Write(dir); err != nil {
			t.Fatal(err)
		}
		var old []eventBefore
		for _, e := range rowsOf[schemas.EventRow](t, dir, schemas.EventsTable, before) {
			old = append(old, eventBefore{e.FlightID, e.EventID, e.Rule, e.Title, e.Severity, e.Certainty, e.Phase})
		}
		if err := parquet.WriteFile(filepath.Join(dir, "tables", schemas.EventsTable, "month="+before, "part.parquet"), old); err != nil {
			t.Fatal(err)
		}
		for _, o := range []tally.Options{{}, {CertainOnly: true}, {Rejected: func(id string) bool { return id[len(id)-1] < '6' }}} {
			o.Archive, o.Occurrences = dir, true
			got, err := tally.Read(o)
			if err != nil {
				t.Fatal(err)
			}
			beside := 0
			for _, m := range got.Months {
				rows := rowsOf[schemas.EventRow](t, dir, schemas.EventsTable, m.Name)
				want := onceEach(slices.DeleteFunc(rows, func(e schemas.EventRow) bool {
					return o.CertainOnly && e.Certainty != "certain" || o.Rejected != nil && o.Rejected(e.EventID)
				}))
				for i, e := range m.Events {
					beside += int(e.Further)
					line := fmt.Sprint(e.Flight, got.Rules[e.Rule], e.Severity.String(), e.Certain, e.Phase, e.Further)
					if i >= len(want) || line != want[i] {
						t.Fatalf("seed %d, %s: event %d is %s", seed, m.Name, i, line)
					}
				}
				if len(m.Events) != len(want) || m.Name == before && (got.Alone != len(want) || len(want) == 0) {
					t.Errorf("seed %d, %s: %d events count, want %d; %d from before", seed, m.Name, len(m.Events), len(want), got.Alone)
				}
			}
			if got.Beside != beside || beside < 50 {
				t.Errorf("seed %d: %d beside another, %d by event: too few to tell", seed, got.Beside, beside)
			}
		}
	}
}

// onceEach lists the events that count where each occurrence counts once, by looking
// through all of them for each.
func onceEach(rows []schemas.EventRow) (lines []string) {
	rank := map[string]int{"low": 0, "medium": 1, "high": 2}
	done := map[string]bool{}
	for i, first := range rows {
		if first.OccurrenceID != "" && done[first.OccurrenceID] {
			continue
		}
		done[first.OccurrenceID] = true
		leading, further := first, 0
		for _, e := range rows[i+1:] {
			if first.OccurrenceID != "" && e.OccurrenceID == first.OccurrenceID {
				further++
				if rank[e.Severity] > rank[leading.Severity] {
					leading = e
				}
			}
		}
		lines = append(lines, fmt.Sprint(leading.FlightID, leading.Rule, leading.Severity, leading.Certainty == "certain", leading.Phase, further))
	}
	return lines
}

func checkAudits(t *testing.T, dir string, got *tally.Tally, m *tally.Month) {
	t.Helper()
	want := map[string]tally.Audit{}
	for _, a := range rowsOf[schemas.AuditRow](t, dir, schemas.AuditsTable, m.Name) {
		w := want[a.Warning]
		w.Flights, w.Due, w.Sounded = w.Flights+1, w.Due+int(a.Due), w.Sounded+int(a.Sounded)
		w.DueSeconds, w.SoundedSeconds, w.AgreementSeconds = w.DueSeconds+a.DueSeconds, w.SoundedSeconds+a.SoundedSeconds, w.AgreementSeconds+a.AgreementSeconds
		want[a.Warning] = w
	}
	for i, warning := range got.Warnings {
		if m.Audits[i] != want[warning] || want[warning].Flights == 0 {
			t.Errorf("%s, %s: %+v, want %+v", m.Name, warning, m.Audits[i], want[warning])
		}
	}
}

// An airframe is found in the recording's name where the registration is
// missing, review takes events out, and recordings are named.
func TestReadOptions(t *testing.T) {
	t.Parallel()
	dir := written(t)
	const month = "2032-01"
	path := filepath.Join(dir, "tables", schemas.FlightsTable, "month="+month, "part.parquet")
	rows := rowsOf[schemas.FlightRow](t, dir, schemas.FlightsTable, month)
	for i := range rows {
		rows[i].Registration = ""
	}
	if err := parquet.WriteFile(path, rows); err != nil {
		t.Fatal(err)
	}
	events := rowsOf[schemas.EventRow](t, dir, schemas.EventsTable, month)
	bad := events[0].EventID
	got, err := tally.Read(tally.Options{Archive: dir, Airframe: regexp.MustCompile(fleet.AirframePattern), Recordings: true,
		Rejected: func(id string) bool { return id == bad }})
	if err != nil {
		t.Fatal(err)
	}
	if len(got.Strata) != small.Aircraft || got.Strata[0][0] != "TARN-01" {
		t.Errorf("aircraft %v", got.Strata)
	}
	if got.False != 1 {
		t.Errorf("%d events left out, want 1", got.False)
	}
	for _, row := range rows {
		if r, ok := got.Recordings[row.FlightID]; ok && (r.Name != row.RecordingName || r.SHA256 != row.Recording || r.Number != 1) {
			t.Errorf("recording %+v of %+v", r, row)
		}
	}
	if len(got.Recordings) == 0 {
		t.Error("no recordings")
	}
	without, err := tally.Read(tally.Options{Archive: dir, From: month, To: month})
	if err != nil || len(without.Strata) != 1 || without.Strata[0][0] != "" {
		t.Errorf("without a pattern: %v %v", without.Strata, err)
	}
}

// Months that are missing between others are there without flights; months
// before years without any are left out and named; flights whose rows are
// missing are counted.
func TestReadCalendar(t *testing.T) {
	t.Parallel()
	dir := written(t)
	for _, table := range slices.Sorted(maps.Keys(schemas.TableVersions)) {
		folder := filepath.Join(dir, "tables", table)
		if err := os.RemoveAll(filepath.Join(folder, "month=2031-05")); err != nil {
			t.Fatal(err)
		}
		for from, to := range map[string]string{"2031-02": "1980-01", "2031-03": "unknown"} {
			if err := os.Rename(filepath.Join(folder, "month="+from), filepath.Join(folder, "month="+to)); err != nil {
				t.Fatal(err)
			}
		}
	}
	flights := rowsOf[schemas.FlightRow](t, dir, schemas.FlightsTable, "2031-06")
	gone := flights[0].FlightID
	if err := parquet.WriteFile(filepath.Join(dir, "tables", schemas.FlightsTable, "month=2031-06", "part.parquet"), flights[1:]); err != nil {
		t.Fatal(err)
	}
	orphans := 0
	count := func(id string) {
		if id == gone {
			orphans++
		}
	}
	for _, e := range rowsOf[schemas.EvaluationRow](t, dir, schemas.EvaluationsTable, "2031-06") {
		count(e.FlightID)
	}
	for _, e := range rowsOf[schemas.EventRow](t, dir, schemas.EventsTable, "2031-06") {
		count(e.FlightID)
	}
	for _, e := range rowsOf[schemas.MeasurementRow](t, dir, schemas.MeasurementsTable, "2031-06") {
		count(e.FlightID)
	}
	for _, e := range rowsOf[schemas.AuditRow](t, dir, schemas.AuditsTable, "2031-06") {
		count(e.FlightID)
	}
	got, err := tally.Read(tally.Options{Archive: dir})
	if err != nil {
		t.Fatal(err)
	}
	if got.Months[0].Name != "2031-04" || got.Months[1].Name != "2031-05" || len(got.Months) != 22 || slices.Max(got.Months[1].Flights) != 0 {
		t.Errorf("months from %s, %d", got.Months[0].Name, len(got.Months))
	}
	if !slices.Equal(got.Distant, []string{"1980-01"}) || got.Undated == 0 || got.Orphans != orphans {
		t.Errorf("distant %v, %d undated, %d orphans, want %d", got.Distant, got.Undated, got.Orphans, orphans)
	}
}

// evaluationsBefore are evaluations as they were before opportunities were counted.
type evaluationsBefore struct {
	Recording      string  `parquet:"recording,dict"`
	FlightID       string  `parquet:"flight_id,dict"`
	Rule           string  `parquet:"rule,dict"`
	Coverage       string  `parquet:"coverage,dict"`
	ScopeSeconds   float64 `parquet:"scope_seconds"`
	UnknownSeconds float64 `parquet:"unknown_seconds"`
}

// Flights from before opportunities were counted are told: of a month that has not
// the columns, and of single rows that a merge has carried over. A flight without an
// opportunity is not one that was not evaluable, and adds to nothing.
func TestReadOpportunities(t *testing.T) {
	t.Parallel()
	dir := written(t)
	part := func(month string) string {
		return filepath.Join(dir, "tables", schemas.EvaluationsTable, "month="+month, "part.parquet")
	}
	able := func(coverage string) bool { return coverage == "evaluated" || coverage == "partly evaluated" }
	var before []evaluationsBefore
	uncounted := 0
	for _, e := range rowsOf[schemas.EvaluationRow](t, dir, schemas.EvaluationsTable, "2031-06") {
		before = append(before, evaluationsBefore{e.Recording, e.FlightID, e.Rule, e.Coverage, e.ScopeSeconds, e.UnknownSeconds})
		if able(e.Coverage) {
			uncounted++
		}
	}
	if err := parquet.WriteFile(part("2031-06"), before); err != nil {
		t.Fatal(err)
	}
	rows := rowsOf[schemas.EvaluationRow](t, dir, schemas.EvaluationsTable, "2031-07")
	carried, none := 0, 0
	sum := map[string]float64{}
	for i := range rows {
		switch row := &rows[i]; {
		case !able(row.Coverage):
		case i%7 == 0:
			row.Opportunities, row.OpportunitiesEvaluated, row.OpportunitiesPartly, row.OpportunitiesNot, row.OpportunitiesKnown = nil, nil, nil, nil, nil
			carried++
		case i%7 == 1:
			row.Coverage = "no opportunity"
			none++
		default:
			sum[row.Rule] += *row.OpportunitiesKnown
		}
	}
	if err := parquet.WriteFile(part("2031-07"), rows); err != nil {
		t.Fatal(err)
	}
	got, err := tally.Read(tally.Options{Archive: dir, From: "2031-06", To: "2031-07"})
	if err != nil {
		t.Fatal(err)
	}
	if got.Uncounted != uncounted+carried || carried == 0 {
		t.Errorf("%d uncounted, want %d and %d", got.Uncounted, uncounted, carried)
	}
	without := 0
	for r, rule := range got.Rules {
		var old, all tally.Cell
		for s := range got.Strata {
			old.Add(got.Months[0].Cells[r][s])
			all.Add(got.Months[1].Cells[r][s])
		}
		without += int(all.NoOpportunity)
		if old.Opportunities != 0 || math.Abs(all.Opportunities-sum[rule]) > 1e-6 {
			t.Errorf("%s: %v opportunities in a month without, %v in the next, want %v", rule, old.Opportunities, all.Opportunities, sum[rule])
		}
	}
	if without != none || none == 0 {
		t.Errorf("%d flights without an opportunity, want %d", without, none)
	}
}

// What cannot be read or grouped by is a problem with a file and a hint, never a
// panic.
func TestReadProblems(t *testing.T) {
	t.Parallel()
	dir := written(t)
	problem := func(what string, o tally.Options, cause string) {
		t.Helper()
		_, err := tally.Read(o)
		var p *schemas.Problem
		if !errors.As(err, &p) || !strings.Contains(p.Cause, cause) || p.Hint == "" {
			t.Errorf("%s: %v", what, err)
		}
	}
	problem("no archive", tally.Options{Archive: t.TempDir()}, "is not an archive")
	problem("no month", tally.Options{Archive: dir, From: "2050-01"}, "no flight with a date")
	problem("no column", tally.Options{Archive: dir, By: []string{"pilot"}}, `grouped by "pilot"`)
	problem("a list", tally.Options{Archive: dir, By: []string{"packs"}}, "grouped by")
	problem("a time", tally.Options{Archive: dir, By: []string{"start_utc"}}, "grouped by")
	path := filepath.Join(dir, "tables", schemas.EvaluationsTable, "month=2031-09", "part.parquet")
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	for _, at := range []int{0, 3, 40, len(data) / 3, len(data) / 2, len(data) - 300, len(data) - 40, len(data) - 6} {
		damaged := slices.Clone(data)
		for i := at; i < min(at+8, len(data)); i++ {
			damaged[i] ^= 0xa5
		}
		if err := os.WriteFile(path, damaged, 0o600); err != nil {
			t.Fatal(err)
		}
		if _, err := tally.Read(tally.Options{Archive: dir}); err != nil {
			var p *schemas.Problem
			if !errors.As(err, &p) || p.File != path {
				t.Errorf("damaged at %d: %v", at, err)
			}
		}
	}
	if err := os.WriteFile(path, data[:len(data)/2], 0o600); err != nil {
		t.Fatal(err)
	}
	problem("cut off", tally.Options{Archive: dir}, "damaged")
}

// 12,000 flights in 24 months, each a group, and 45 rules are 13 million counts:
// too many, and half of the months are not.
func TestReadTooManyGroups(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("writes half a million rows")
	}
	dir := t.TempDir()
	if err := (fleet.Fleet{Seed: 1, Flights: 12_000, Months: 24, First: "2031-02", Aircraft: 2, Rules: 45}).Write(dir); err != nil {
		t.Fatal(err)
	}
	_, err := tally.Read(tally.Options{Archive: dir, By: []string{"flight_id"}})
	var p *schemas.Problem
	if !errors.As(err, &p) || !strings.Contains(p.Cause, "are too many") || p.Hint == "" {
		t.Errorf("all of them: %v", err)
	}
	if _, err := tally.Read(tally.Options{Archive: dir, By: []string{"flight_id"}, From: "2032-02"}); err != nil {
		t.Errorf("half of them: %v", err)
	}
}
