package schemas

import "time"

// EvaluationRow says how far one rule could be evaluated on one flight. A rate
// divides by the evaluated opportunities, plus the known part of the partly evaluated
// ones. A rate per flight divides by the flights evaluated or partly evaluated.
type EvaluationRow struct {
	Recording      string   `parquet:"recording,dict" json:"recording"`
	FlightID       string   `parquet:"flight_id,dict" json:"flight_id"`
	Rule           string   `parquet:"rule,dict" json:"rule"`
	Coverage       string   `parquet:"coverage,dict" json:"coverage"` // evaluated, partly evaluated, not evaluable or no opportunity
	Events         int32    `parquet:"events" json:"events"`
	ScopeSeconds   float64  `parquet:"scope_seconds" json:"scope_seconds"`
	UnknownSeconds float64  `parquet:"unknown_seconds" json:"unknown_seconds"` // of the scope, not covered by samples
	Missing        []string `parquet:"missing,list" json:"missing"`            // why the rule is not evaluable
	Fallbacks      []string `parquet:"fallbacks,list" json:"fallbacks"`        // substitutes for unrecorded parameters
	// Since version 2: the opportunities of the rule in this flight, by how far the
	// samples let each be evaluated; null in older rows.
	Opportunity            string   `parquet:"opportunity,optional,dict" json:"opportunity"` // its kind: approach, landing, ...
	Opportunities          *int32   `parquet:"opportunities,optional" json:"opportunities"`
	OpportunitiesEvaluated *int32   `parquet:"opportunities_evaluated,optional" json:"opportunities_evaluated"`
	OpportunitiesPartly    *int32   `parquet:"opportunities_partly,optional" json:"opportunities_partly"`
	OpportunitiesNot       *int32   `parquet:"opportunities_not,optional" json:"opportunities_not"`
	OpportunitiesKnown     *float64 `parquet:"opportunities_known,optional" json:"opportunities_known"` // the evaluated ones plus the known parts of the partly evaluated ones
}

// MeasurementRow is one value kept from one flight, or from one opportunity in it,
// event or not.
type MeasurementRow struct {
	Recording   string `parquet:"recording,dict" json:"recording"`
	FlightID    string `parquet:"flight_id,dict" json:"flight_id"`
	Measurement string `parquet:"measurement,dict" json:"measurement"`
	Unit        string `parquet:"unit,dict" json:"unit"`
	Outcome     string `parquet:"outcome,dict" json:"outcome"` // measured, did not happen, not recorded or not evaluable
	Certainty   string `parquet:"certainty,dict" json:"certainty"`
	Coverage    string `parquet:"coverage,dict" json:"coverage"`
	// Null unless measured; a null bound means no bound.
	Value   *float64 `parquet:"value,optional" json:"value"`
	Lowest  *float64 `parquet:"lowest,optional" json:"lowest"`
	Highest *float64 `parquet:"highest,optional" json:"highest"`

	AtUTC          time.Time `parquet:"at_utc,optional,timestamp(millisecond)" json:"at_utc"`
	AtS            *float64  `parquet:"at_s,optional" json:"at_s"`
	UnknownSeconds float64   `parquet:"unknown_seconds" json:"unknown_seconds"`
	Missing        []string  `parquet:"missing,list" json:"missing"`
	Fallbacks      []string  `parquet:"fallbacks,list" json:"fallbacks"`
	// Since version 2: the kind of opportunity it is measured in each of, flight where
	// it is of the flight; its number in the flight, from 1, and its nominal ends, null
	// where it is of the flight, where there was none, and outside of all. In older
	// rows all are null, and a flight has one row for each measurement.
	Opportunity        string   `parquet:"opportunity,optional,dict" json:"opportunity"`
	OpportunityNumber  *int32   `parquet:"opportunity_number,optional" json:"opportunity_number"`
	OpportunityBeginsS *float64 `parquet:"opportunity_begins_s,optional" json:"opportunity_begins_s"`
	OpportunityEndsS   *float64 `parquet:"opportunity_ends_s,optional" json:"opportunity_ends_s"`
}

// AuditRow is one warning of one flight, checked against its criteria. The counts of
// findings include certain and possible ones.
type AuditRow struct {
	Recording        string   `parquet:"recording,dict" json:"recording"`
	FlightID         string   `parquet:"flight_id,dict" json:"flight_id"`
	Warning          string   `parquet:"warning,dict" json:"warning"`
	Coverage         string   `parquet:"coverage,dict" json:"coverage"`
	Due              int32    `parquet:"due" json:"due"`         // stretches in which the warning was required
	Sounded          int32    `parquet:"sounded" json:"sounded"` // stretches in which it sounded
	DueSeconds       float64  `parquet:"due_seconds" json:"due_seconds"`
	SoundedSeconds   float64  `parquet:"sounded_seconds" json:"sounded_seconds"`
	AgreementSeconds float64  `parquet:"agreement_seconds" json:"agreement_seconds"` // sounded while required
	UnknownSeconds   float64  `parquet:"unknown_seconds" json:"unknown_seconds"`
	Missed           int32    `parquet:"missed" json:"missed"`
	Late             int32    `parquet:"late" json:"late"`
	Nuisance         int32    `parquet:"nuisance" json:"nuisance"`
	Silenced         int32    `parquet:"silenced" json:"silenced"`
	WronglySilenced  int32    `parquet:"wrongly_silenced" json:"wrongly_silenced"`
	SwitchUses       int32    `parquet:"switch_uses" json:"switch_uses"`
	Missing          []string `parquet:"missing,list" json:"missing"`
}
