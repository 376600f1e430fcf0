package schemas

import "time"

// The archive keeps five tables. The SHA-256 of the recording's content, in hex, is the key of a
// row and always the first column; flight_id leads to the flight. Times ending in _s
// are seconds on the recording's axis. Times ending in _utc are null where the date is
// not recorded or is withheld. Numbers are rounded to three decimals.
//
// A table's number rises when a column is added. A column may only be added at the end
// and must be optional; a column whose meaning changes gets a new name. Parts written
// years ago therefore stay readable (DEVELOPERS.md, "Tables").
const (
	FlightsTable      = "flights"
	EventsTable       = "events"
	EvaluationsTable  = "evaluations"
	MeasurementsTable = "measurements"
	AuditsTable       = "audits"
)

// TableVersions holds the present version number of each table.
var TableVersions = map[string]int{
	FlightsTable: 4, EventsTable: 2, EvaluationsTable: 2, MeasurementsTable: 2, AuditsTable: 1,
}

// FlightRow is one flight, or a recording without a flight in which a take-off was
// rejected.
type FlightRow struct {
	Recording     string   `parquet:"recording,dict" json:"recording"`
	RecordingName string   `parquet:"recording_name" json:"recording_name"` // base name of an input that holds it, the first in alphabetical order
	FlightID      string   `parquet:"flight_id" json:"flight_id"`
	Number        int32    `parquet:"number" json:"number"` // within the recording, from 1
	Aircraft      string   `parquet:"aircraft,dict" json:"aircraft"`
	ProfileSHA256 string   `parquet:"profile_sha256,dict" json:"profile_sha256"`
	Packs         []string `parquet:"packs,list" json:"packs"` // name and SHA-256 of each rule pack
	Version       string   `parquet:"version,dict" json:"version"`

	StartUTC    time.Time `parquet:"start_utc,optional,timestamp(millisecond)" json:"start_utc"`
	StartS      float64   `parquet:"start_s" json:"start_s"`
	EndS        float64   `parquet:"end_s" json:"end_s"`
	BeginsInAir bool      `parquet:"begins_in_air" json:"begins_in_air"`
	EndsInAir   bool      `parquet:"ends_in_air" json:"ends_in_air"`
	// First lift-off and last touchdown; null where not recorded.
	LiftOffUTC         time.Time `parquet:"lift_off_utc,optional,timestamp(millisecond)" json:"lift_off_utc"`
	LiftOffS           *float64  `parquet:"lift_off_s,optional" json:"lift_off_s"`
	LiftOffEarliestS   *float64  `parquet:"lift_off_earliest_s,optional" json:"lift_off_earliest_s"`
	LiftOffLatestS     *float64  `parquet:"lift_off_latest_s,optional" json:"lift_off_latest_s"`
	TouchdownUTC       time.Time `parquet:"touchdown_utc,optional,timestamp(millisecond)" json:"touchdown_utc"`
	TouchdownS         *float64  `parquet:"touchdown_s,optional" json:"touchdown_s"`
	TouchdownEarliestS *float64  `parquet:"touchdown_earliest_s,optional" json:"touchdown_earliest_s"`
	TouchdownLatestS   *float64  `parquet:"touchdown_latest_s,optional" json:"touchdown_latest_s"`
	Approaches         int32     `parquet:"approaches" json:"approaches"`
	GoArounds          int32     `parquet:"go_arounds" json:"go_arounds"`
	TouchAndGoes       int32     `parquet:"touch_and_goes" json:"touch_and_goes"`

	// Since version 2: the aircraft's registration from the profile or the command
	// line; a token where identity is withheld.
	Registration string `parquet:"registration,optional,dict" json:"registration"`
	// Since version 3: aerodromes of the first lift-off and the last touchdown, by
	// code or else by position, as in N46.1 W027.9; a token where identity is
	// withheld.
	DepartureAerodrome string `parquet:"departure_aerodrome,optional,dict" json:"departure_aerodrome"`
	ArrivalAerodrome   string `parquet:"arrival_aerodrome,optional,dict" json:"arrival_aerodrome"`
	// Since version 4: counts of the flight's parts that rules look at, besides
	// approaches, go-arounds and touch-and-goes; null in older rows.
	TakeOffRolls     *int32 `parquet:"take_off_rolls,optional" json:"take_off_rolls"` // including rejected ones
	RejectedTakeOffs *int32 `parquet:"rejected_take_offs,optional" json:"rejected_take_offs"`
	LiftOffs         *int32 `parquet:"lift_offs,optional" json:"lift_offs"`
	GearRetractions  *int32 `parquet:"gear_retractions,optional" json:"gear_retractions"`
	GearExtensions   *int32 `parquet:"gear_extensions,optional" json:"gear_extensions"`
	Touchdowns       *int32 `parquet:"touchdowns,optional" json:"touchdowns"`
	Landings         *int32 `parquet:"landings,optional" json:"landings"`
	BalkedLandings   *int32 `parquet:"balked_landings,optional" json:"balked_landings"`
	StaysOnGround    *bool  `parquet:"stays_on_ground,optional" json:"stays_on_ground"` // the recording holds no flight
}

// EventRow is one event.
type EventRow struct {
	Recording string `parquet:"recording,dict" json:"recording"`
	FlightID  string `parquet:"flight_id,dict" json:"flight_id"`
	EventID   string `parquet:"event_id" json:"event_id"`
	Rule      string `parquet:"rule,dict" json:"rule"`
	Title     string `parquet:"title,dict" json:"title"`
	Group     string `parquet:"rule_group,dict" json:"rule_group"`
	Severity  string `parquet:"severity,dict" json:"severity"`   // low, medium or high
	Certainty string `parquet:"certainty,dict" json:"certainty"` // certain or possible
	Phase     string `parquet:"phase,dict" json:"phase"`         // phase of flight at the start
	Moment    bool   `parquet:"moment" json:"moment"`            // a moment, not a stretch of time

	StartUTC       time.Time `parquet:"start_utc,optional,timestamp(millisecond)" json:"start_utc"`
	StartS         float64   `parquet:"start_s" json:"start_s"`
	StartEarliestS float64   `parquet:"start_earliest_s" json:"start_earliest_s"`
	StartLatestS   float64   `parquet:"start_latest_s" json:"start_latest_s"`
	EndUTC         time.Time `parquet:"end_utc,optional,timestamp(millisecond)" json:"end_utc"`
	EndS           float64   `parquet:"end_s" json:"end_s"`
	EndEarliestS   float64   `parquet:"end_earliest_s" json:"end_earliest_s"`
	EndLatestS     float64   `parquet:"end_latest_s" json:"end_latest_s"`

	Measures []MeasureValue `parquet:"measures,list" json:"measures"`

	// OccurrenceID is shared by the events of one cause: the id of the first of them.
	OccurrenceID string `parquet:"occurrence_id,optional,dict" json:"occurrence_id"`
}

// MeasureValue is a value a rule keeps of its event. Value is null where the
// parameter was not recorded at that time.
type MeasureValue struct {
	Name  string   `parquet:"name,dict" json:"name"`
	Unit  string   `parquet:"unit,dict" json:"unit"`
	Value *float64 `parquet:"value,optional" json:"value"`
}
