package archive

import (
	"math"
	"strings"
	"time"

	"downlock/detect"
	"downlock/schemas"
)

// flightRows is one flight as rows of the five tables.
type flightRows struct {
	Month        string
	Flight       schemas.FlightRow
	Events       []schemas.EventRow
	Evaluations  []schemas.EvaluationRow
	Measurements []schemas.MeasurementRow
	Audits       []schemas.AuditRow
}

// unknownMonth is where flights without a date go.
const unknownMonth = "unknown"

// newFlightRows states a result as rows.
func newFlightRows(run *Run, r *detect.Result) flightRows {
	rows := flightRows{Month: unknownMonth, Flight: flightRow(run, r)}
	if start := rows.Flight.StartUTC; !start.IsZero() {
		rows.Month = start.Format("2006-01")
	} else if month := r.Flight.Month; month != "" {
		rows.Month = month
	}
	for i := range r.Events {
		rows.Events = append(rows.Events, EventRow(r.Flight, &r.Events[i]))
	}
	for i := range r.Evaluations {
		rows.Evaluations = append(rows.Evaluations, evaluationRow(r, &r.Evaluations[i]))
	}
	for i := range r.Measurements {
		rows.Measurements = append(rows.Measurements, measurementRow(r.Flight, &r.Measurements[i]))
	}
	for i := range r.Audits {
		rows.Audits = append(rows.Audits, auditRow(r.Flight, &r.Audits[i]))
	}
	return rows
}

func flightRow(run *Run, r *detect.Result) schemas.FlightRow {
	f := r.Flight
	row := schemas.FlightRow{
		Recording: f.Recording.Content(), RecordingName: text(f.Recording.Name), FlightID: f.ID, Number: int32(f.Number),
		Aircraft: text(run.Profile.Aircraft), ProfileSHA256: run.Profile.SHA256, Packs: packNames(run), Version: run.Version,
		StartUTC: utc(f, f.Span.Start), StartS: rounded(f.Span.Start), EndS: rounded(f.Span.End),
		BeginsInAir: f.BeginsInAir, EndsInAir: f.EndsInAir,
		Approaches: int32(len(f.Approaches)), GoArounds: int32(len(f.GoArounds)), TouchAndGoes: int32(len(f.TouchedDown(detect.TouchAndGo))),
		Registration: text(run.Profile.Registration), DepartureAerodrome: text(f.Departure), ArrivalAerodrome: text(f.Arrival),
	}
	addOperations(&row, r)
	if t := f.LiftOff; t != nil {
		row.LiftOffUTC, row.LiftOffS = utc(f, t.Nominal), known(t.Nominal)
		row.LiftOffEarliestS, row.LiftOffLatestS = known(within(f, t.Earliest)), known(within(f, t.Latest))
	}
	if t := f.Touchdown; t != nil {
		row.TouchdownUTC, row.TouchdownS = utc(f, t.Nominal), known(t.Nominal)
		row.TouchdownEarliestS, row.TouchdownLatestS = known(within(f, t.Earliest)), known(within(f, t.Latest))
	}
	return row
}

// packNames lists the rule packs of a run, each with its hash.
func packNames(run *Run) []string {
	names := make([]string, len(run.Packs))
	for i, p := range run.Packs {
		names[i] = text(p.Name) + " " + p.SHA256
	}
	return names
}

// EventRow states an event as a row of the events table.
func EventRow(f *detect.Flight, e *detect.Event) schemas.EventRow {
	row := schemas.EventRow{
		Recording: f.Recording.Content(), FlightID: f.ID, EventID: e.ID,
		Rule: text(e.Rule.ID), Title: text(e.Rule.Title), Group: text(e.Rule.Group),
		Severity: string(e.Severity), Certainty: string(e.Certainty), Phase: e.Phase, Moment: e.Moment,
		StartUTC: utc(f, e.Start.Nominal), StartS: rounded(e.Start.Nominal),
		StartEarliestS: rounded(within(f, e.Start.Earliest)), StartLatestS: rounded(within(f, e.Start.Latest)),
		EndUTC: utc(f, e.End.Nominal), EndS: rounded(e.End.Nominal),
		EndEarliestS: rounded(within(f, e.End.Earliest)), EndLatestS: rounded(within(f, e.End.Latest)),
		OccurrenceID: e.Occurrence,
	}
	for _, m := range e.Measures {
		v := schemas.MeasureValue{Name: text(m.Name), Unit: text(m.Unit)}
		if m.Known {
			v.Value = known(m.Value)
		}
		row.Measures = append(row.Measures, v)
	}
	return row
}

func evaluationRow(r *detect.Result, e *detect.Evaluation) schemas.EvaluationRow {
	f, c := r.Flight, e.Chances
	return schemas.EvaluationRow{
		Recording: f.Recording.Content(), FlightID: f.ID, Rule: text(e.Rule.ID), Coverage: string(e.Coverage), Events: int32(e.Events),
		ScopeSeconds: rounded(e.ScopeSeconds), UnknownSeconds: rounded(e.UnknownSeconds),
		Missing: texts(e.Missing), Fallbacks: texts(e.Fallbacks),
		Opportunity: string(e.Rule.Opportunity), Opportunities: number(c.All), OpportunitiesEvaluated: number(c.Evaluated),
		OpportunitiesPartly: number(c.Partly), OpportunitiesNot: number(c.Not), OpportunitiesKnown: known(knownOpportunities(r, e)),
	}
}

func measurementRow(f *detect.Flight, m *detect.Measurement) schemas.MeasurementRow {
	row := schemas.MeasurementRow{
		Recording: f.Recording.Content(), FlightID: f.ID, Measurement: text(m.Rule.ID), Unit: text(m.Rule.Unit),
		Outcome: string(m.Outcome), Certainty: string(m.Certainty), Coverage: string(m.Coverage()),
		UnknownSeconds: rounded(m.UnknownSeconds), Missing: texts(m.Missing), Fallbacks: texts(m.Fallbacks),
		Opportunity: string(m.Rule.Opportunity),
	}
	if m.Opportunity > 0 {
		row.OpportunityNumber = number(m.Opportunity)
		row.OpportunityBeginsS, row.OpportunityEndsS = known(m.Begins.Nominal), known(m.Ends.Nominal)
	}
	if m.Outcome == detect.Measured {
		row.Value, row.Lowest, row.Highest = known(m.Value), known(m.Lowest), known(m.Highest)
	}
	if m.At != nil {
		row.AtUTC, row.AtS = utc(f, m.At.Nominal), known(m.At.Nominal)
	}
	return row
}

func auditRow(f *detect.Flight, a *detect.Audit) schemas.AuditRow {
	row := schemas.AuditRow{
		Recording: f.Recording.Content(), FlightID: f.ID, Warning: text(a.Warning.Name), Coverage: string(a.Coverage),
		Due: int32(a.Due), Sounded: int32(a.Sounded), DueSeconds: rounded(a.DueSeconds), SoundedSeconds: rounded(a.SoundedSeconds),
		AgreementSeconds: rounded(a.AgreementSeconds), UnknownSeconds: rounded(a.UnknownSeconds),
		SwitchUses: int32(len(a.SwitchUses)), Missing: texts(a.Missing),
	}
	counts := map[detect.Finding]*int32{detect.Missed: &row.Missed, detect.Late: &row.Late, detect.Nuisance: &row.Nuisance,
		detect.Silenced: &row.Silenced, detect.WronglySilenced: &row.WronglySilenced}
	for _, finding := range a.Findings {
		if n := counts[finding.Finding]; n != nil {
			*n++
		}
	}
	return row
}

// rounded keeps three decimals: recorders resolve less, and more would differ
// between machines. A number that is not finite becomes 0; see known.
func rounded(x float64) float64 {
	if v := known(x); v != nil {
		return *v
	}
	return 0
}

// known is rounded, absent where the number is not finite.
func known(x float64) *float64 {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return nil
	}
	if math.Abs(x) < 1e12 { // beyond, there are no decimals to round
		x = math.Round(x*1000)/1000 + 0 // + 0 makes a zero of a negative one
	}
	return &x
}

// within puts a bound that the samples leave open at the end of the flight.
func within(f *detect.Flight, t float64) float64 {
	switch {
	case math.IsInf(t, -1):
		return f.Span.Start
	case math.IsInf(t, 1):
		return f.Span.End
	}
	return t
}

// utc is the time of day at t seconds, the zero time without a date.
func utc(f *detect.Flight, t float64) time.Time {
	if f.Recording.Epoch.IsZero() || math.IsNaN(t) || math.Abs(t) > 1e9 {
		return time.Time{}
	}
	at := f.Recording.Epoch.UTC().Add(time.Duration(math.Round(t*1000)) * time.Millisecond)
	if at.Year() < 1 || at.Year() > 9999 {
		return time.Time{}
	}
	return at.Truncate(time.Millisecond)
}

// text makes a text that may come from a file valid.
func text(s string) string { return strings.ToValidUTF8(s, "\uFFFD") }

func texts(list []string) []string {
	out := make([]string, len(list))
	for i, s := range list {
		out[i] = text(s)
	}
	return out
}
