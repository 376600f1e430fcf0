package schemas

import "time"

// EvaluationRow says how far one rule could be evaluated on one flight. A rate
// divides by the opportunities that were evaluated; of those partly evaluated it
// takes the known part. A rate per flight divides by the flights evaluated or
// partly evaluated.
type EvaluationRow struct {
	Recording      string   `parquet:"recording,dict" json:"recording"`
	FlightID       string   `parquet:"flight_id,dict" json:"flight_id"`
	Rule           string   `parquet:"rule,dict" json:"rule"`
	Coverage       string   `parquet:"coverage,dict" json:"coverage"` // evaluated, partly evaluated, not evaluable or no opportunity
	Events         int32    `parquet:"events" json:"events"`
	ScopeSeconds   float64  `parquet:"scope_seconds" json:"scope_seconds"`
	UnknownSeconds float64  `parquet:"unknown_seconds" json:"unknown_seconds"` // of the scope, not covered by samples
	Missing        []string `parquet:"missing,list" json:"missing"`            // why it is not evaluable
	Fallbacks      []string `parquet:"fallbacks,list" json:"fallbacks"`        // what stood in for what
	// Since version 2: the opportunities of the rule in this flight, by how far the
	// samples let each be evaluated; absent in older rows.
	Opportunity            string   `parquet:"opportunity,optional,dict" json:"opportunity"` // its kind: approach, landing, ...
	Opportunities          *int32   `parquet:"opportunities,optional" json:"opportunities"`
	OpportunitiesEvaluated *int32   `parquet:"opportunities_evaluated,optional" json:"opportunities_evaluated"`
	OpportunitiesPartly    *int32   `parquet:"opportunities_partly,optional" json:"opportunities_partly"`
	OpportunitiesNot       *int32   `parquet:"opportunities_not,optional" json:"opportunities_not"`
	OpportunitiesKnown     *float64 `parquet:"opportunities_known,optional" json:"opportunities_known"` // the evaluated ones, and of the partly evaluated the known parts
}

// MeasurementRow is one value kept from one flight, event or not.
type MeasurementRow struct {
	Recording   string `parquet:"recording,dict" json:"recording"`
	FlightID    string `parquet:"flight_id,dict" json:"flight_id"`
	Measurement string `parquet:"measurement,dict" json:"measurement"`
	Unit        string `parquet:"unit,dict" json:"unit"`
	Outcome     string `parquet:"outcome,dict" json:"outcome"` // measured, did not happen, not recorded or not evaluable
	Certainty   string `parquet:"certainty,dict" json:"certainty"`
	Coverage    string `parquet:"coverage,dict" json:"coverage"`
	// Absent unless measured; an absent bound is none.
	Value   *float64 `parquet:"value,optional" json:"value"`
	Lowest  *float64 `parquet:"lowest,optional" json:"lowest"`
	Highest *float64 `parquet:"highest,optional" json:"highest"`

	AtUTC          time.Time `parquet:"at_utc,optional,timestamp(millisecond)" json:"at_utc"`
	AtS            *float64  `parquet:"at_s,optional" json:"at_s"`
	UnknownSeconds float64   `parquet:"unknown_seconds" json:"unknown_seconds"`
	Missing        []string  `parquet:"missing,list" json:"missing"`
	Fallbacks      []string  `parquet:"fallbacks,list" json:"fallbacks"`
}

// AuditRow is one warning of one flight, held against its criteria. The counts
// of findings are of certain and possible ones together.
type AuditRow struct {
	Recording        string   `parquet:"recording,dict" json:"recording"`
	FlightID         string   `parquet:"flight_id,dict" json:"flight_id"`
	Warning          string   `parquet:"warning,dict" json:"warning"`
	Coverage         string   `parquet:"coverage,dict" json:"coverage"`
	Due              int32    `parquet:"due" json:"due"`         // stretches in which it was to sound
	Sounded          int32    `parquet:"sounded" json:"sounded"` // stretches in which it did
	DueSeconds       float64  `parquet:"due_seconds" json:"due_seconds"`
	SoundedSeconds   float64  `parquet:"sounded_seconds" json:"sounded_seconds"`
	AgreementSeconds float64  `parquet:"agreement_seconds" json:"agreement_seconds"` // sounded when it was to
	UnknownSeconds   float64  `parquet:"unknown_seconds" json:"unknown_seconds"`
	Missed           int32    `parquet:"missed" json:"missed"`
	Late             int32    `parquet:"late" json:"late"`
	Nuisance         int32    `parquet:"nuisance" json:"nuisance"`
	Silenced         int32    `parquet:"silenced" json:"silenced"`
	WronglySilenced  int32    `parquet:"wrongly_silenced" json:"wrongly_silenced"`
	SwitchUses       int32    `parquet:"switch_uses" json:"switch_uses"`
	Missing          []string `parquet:"missing,list" json:"missing"`
}
