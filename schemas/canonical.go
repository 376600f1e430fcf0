package schemas

import "time"

// A file of canonical columns is Parquet or Arrow in long form: a row of CanonicalRow
// for each valid sample, by stretch, parameter, source and time. What a row cannot say
// is a Canonical, as JSON under CanonicalKey in the metadata of the file.
const (
	CanonicalKey    = "downlock.columns"
	CanonicalSchema = "downlock columns 1"
)

// Where the accuracy of a sample comes from.
const (
	AccuracyStated    = "stated"    // by the profile
	AccuracyEstimated = "estimated" // from the samples around
)

// CanonicalRow is one sample of one parameter.
type CanonicalRow struct {
	Stretch    int32     `parquet:"stretch"`                                  // from 1: time does not run on from one to the next
	Flight     int32     `parquet:"flight,optional"`                          // from 1, through the file; null outside flights
	Parameter  string    `parquet:"parameter,dict"`                           // canonical name
	SourceRank int32     `parquet:"source_rank"`                              // 1: the source that rules read; 2 and on: further ones, to compare
	Unit       string    `parquet:"unit,optional,dict"`                       // of value and accuracy; null for discretes and states
	TimeS      float64   `parquet:"time_s"`                                   // on the recording's own axis
	TimeUTC    time.Time `parquet:"time_utc,optional,timestamp(microsecond)"` // null where the recording has no date
	Value      float64   `parquet:"value"`                                    // a discrete: 0 or 1; a state: its place among the states, from 0
	State      string    `parquet:"state,optional,dict"`                      // of a discrete (true, false) or a state; else null
	Accuracy   float64   `parquet:"accuracy,optional"`                        // ±; null where it is not known
	AccuracyIs string    `parquet:"accuracy_is,optional,dict"`                // stated or estimated
	Distrusted string    `parquet:"distrusted,optional,dict"`                 // the reason why no rule uses the sample; else null
}

// Canonical says what the rows of a file of canonical columns come from and what was
// understood of them. Times and intervals are in seconds.
type Canonical struct {
	Schema    string             `json:"schema"`
	Version   string             `json:"version"` // of downlock
	Input     CanonicalInput     `json:"input"`
	Profile   CanonicalProfile   `json:"profile"`
	Cautions  []string           `json:"cautions"`
	Stretches []CanonicalStretch `json:"stretches"`
}

// CanonicalInput is the export the columns come from.
type CanonicalInput struct {
	Name   string `json:"name"`
	SHA256 string `json:"sha256"`
	Format string `json:"format"`
}

// CanonicalProfile is the profile the export was read with; SHA256 is "" where it is
// withheld.
type CanonicalProfile struct {
	Title        string `json:"title"`
	Aircraft     string `json:"aircraft"`
	Registration string `json:"registration,omitempty"`
	SHA256       string `json:"sha256,omitempty"`
}

// CanonicalStretch is a stretch of the recording whose time runs on.
type CanonicalStretch struct {
	Epoch      time.Time            `json:"epoch_utc,omitzero"` // UTC at time 0
	Month      string               `json:"month,omitempty"`
	StartS     float64              `json:"start_s"`
	EndS       float64              `json:"end_s"`
	Repairs    []string             `json:"repairs"` // the first of the notes
	Notes      []string             `json:"notes"`
	Flights    []CanonicalFlight    `json:"flights"`
	Failed     []CanonicalCheck     `json:"failed_checks"`
	Absent     []CanonicalAbsent    `json:"absent"`
	Parameters []CanonicalParameter `json:"parameters"` // in the order of the rows
}

// CanonicalFlight is where a flight lies.
type CanonicalFlight struct {
	Number int     `json:"flight"`
	StartS float64 `json:"start_s"`
	EndS   float64 `json:"end_s"`
}

// CanonicalCheck is a consistency check of the recording that failed: its parameters are
// distrusted.
type CanonicalCheck struct {
	Title      string   `json:"title"`
	Parameters []string `json:"parameters"`
	Evidence   string   `json:"evidence"`
	Hint       string   `json:"hint"`
}

// CanonicalAbsent is a parameter the profile maps to columns the export does not have.
type CanonicalAbsent struct {
	Parameter string   `json:"parameter"`
	Columns   []string `json:"columns"`
}

// CanonicalParameter is one source of a parameter.
type CanonicalParameter struct {
	Parameter     string   `json:"parameter"`
	SourceRank    int      `json:"source_rank"`
	Kind          Kind     `json:"kind"`
	Unit          string   `json:"unit,omitempty"`
	States        []string `json:"states,omitempty"`
	Meaning       string   `json:"meaning"`
	Column        string   `json:"column"` // of the export
	Samples       int      `json:"samples"`
	IntervalS     float64  `json:"interval_s"` // median; 0: fewer than two samples
	LongestS      float64  `json:"longest_interval_s"`
	GapS          float64  `json:"gap_s"` // samples further apart are unrelated
	Accuracy      float64  `json:"accuracy"`
	AccuracyIs    string   `json:"accuracy_is,omitempty"` // estimated: one figure for all samples; the rows have their own
	Evidence      string   `json:"accuracy_evidence,omitempty"`
	TimeAccuracyS float64  `json:"time_accuracy_s"`
	OutOfRange    int      `json:"samples_out_of_range"` // left out
	Spikes        int      `json:"samples_spikes"`       // left out
	Invalid       int      `json:"samples_invalid"`      // left out: tokens that say "no valid value"
	Distrusted    string   `json:"distrusted,omitempty"`
}
