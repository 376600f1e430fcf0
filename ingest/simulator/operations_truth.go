package simulator

// OperationsTruth holds the statements a report must and must not make of a recording
// of ordinary operations. Its shape is that of the truth files of
// testdata/operations. Times are seconds of the recording, heights feet, speeds
// knots.
type OperationsTruth struct {
	Recording     string        `json:"recording"`
	Description   string        `json:"description"`
	Seconds       float64       `json:"duration_s"`
	Must          []Due         `json:"must_be_reported"`
	MustNot       []Barred      `json:"must_not_be_reported"`
	NoOpportunity []string      `json:"no_opportunity_for"`
	Opportunities Opportunities `json:"opportunities"`
	Facts         Facts         `json:"facts"`
}

// Due is a statement a report must make, touching the window between Start and End.
// What describes it in words. Rule is the rule that makes it, or nil where none does.
type Due struct {
	What      string   `json:"what"`
	Rule      *string  `json:"rule_today"`
	Start     float64  `json:"start_s"`
	End       float64  `json:"end_s"`
	Value     *float64 `json:"value,omitempty"`
	Tolerance float64  `json:"tolerance,omitempty"`
	Count     int      `json:"count,omitempty"` // exactly so many; 0: one or more
	// SeverityBelow is the lowest severity that is too high.
	SeverityBelow string `json:"severity_below,omitempty"`
}

// Barred is a statement a report must not make: events of a rule, or any finding
// about a kind of opportunity. Without a window it applies to the whole recording.
type Barred struct {
	Rule  string   `json:"rule_today,omitempty"`
	Kind  string   `json:"kind,omitempty"`
	Start *float64 `json:"start_s,omitempty"`
	End   *float64 `json:"end_s,omitempty"`
}

// Opportunities counts the chances a recording gives rules to show something.
type Opportunities struct {
	TakeOffRolls     int `json:"take_off_rolls"`
	RejectedTakeOffs int `json:"rejected_take_offs"`
	LiftOffs         int `json:"lift_offs"`
	GearRetractions  int `json:"gear_retractions"`
	GearExtensions   int `json:"gear_extensions"`
	Approaches       int `json:"approaches"`
	GoArounds        int `json:"go_arounds"`
	Touchdowns       int `json:"touchdowns"`
	Landings         int `json:"landings"`
	TouchAndGoes     int `json:"touch_and_goes"`
	BalkedLandings   int `json:"balked_landings"`
}

// Facts are the true events and their times.
type Facts struct {
	Flights     *int            `json:"flights,omitempty"` // nil: one
	BeginsInAir bool            `json:"begins_in_air"`
	EndsInAir   bool            `json:"ends_in_air"`
	LiftOffs    []LiftOffFact   `json:"lift_offs"`
	Touchdowns  []TouchdownFact `json:"touchdowns"`
	Rolls       []RollFact      `json:"take_off_rolls"`
	Approaches  []ApproachFact  `json:"approaches"`
	GoArounds   []GoAroundFact  `json:"go_arounds"`
}

// LiftOffFact is the moment the last main strut extends.
type LiftOffFact struct {
	At float64 `json:"s"`
}

// TouchdownFact is the moment the first main strut is compressed, its outcome, and
// the highest load around the contacts.
type TouchdownFact struct {
	At          float64  `json:"s"`
	EndsAs      string   `json:"ends_as"`
	HighestLoad *float64 `json:"highest_load_g,omitempty"`
}

// RollFact is a take-off roll, from the setting of the thrust.
type RollFact struct {
	Thrust  float64 `json:"thrust_s"`
	End     float64 `json:"end_s"`
	EndsAs  string  `json:"ends_as"`
	Highest float64 `json:"highest_airspeed_kt"`
}

// ApproachFact is an approach from the end of the level flight before it.
type ApproachFact struct {
	Start   float64 `json:"start_s"`
	End     float64 `json:"end_s"`
	Outcome string  `json:"outcome"`
}

// GoAroundFact is a go-around from the crew's first act.
type GoAroundFact struct {
	Start        float64 `json:"start_s"`
	Lowest       float64 `json:"lowest_s"`
	LowestHeight float64 `json:"lowest_radio_altitude_ft"`
}
