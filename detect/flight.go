package detect

import (
	"downlock/detect/readings"
	"downlock/detect/samples"
	"downlock/ingest"
	"downlock/schemas"
)

// Flight is one flight, or the part of one a recording holds.
type Flight struct {
	ID        string // stable: from the recording's bytes and the flight's place in it
	Number    int    // from 1, within the recording
	Recording *ingest.Recording
	Profile   *schemas.Profile
	Span      Span // the part of the recording that belongs to it
	// Month, YYYY-MM, is the one its start was in where the date is withheld from
	// results and its month is not, or that of a recording whose day is known alone; else "". The first is not set by Detect.
	Month string
	// Departure and Arrival are the aerodromes of the first lift-off and the last
	// touchdown, "" where they are not known. Not set by Detect.
	Departure, Arrival string

	StaysOnGround bool  // the aircraft does not leave the ground: a take-off was rejected, or the recording ends in its roll
	BeginsInAir   bool  // no lift-off was recorded
	EndsInAir     bool  // no landing was recorded
	LiftOff       *Time // the first one; nil when the recording begins in the air
	Touchdown     *Time // the last one; nil when the recording ends in the air
	Rolls         []TakeOffRoll
	Touchdowns    []Touchdown // in the recording, the last one included
	GoArounds     []GoAround
	Approaches    []Approach
	Phases        []PhaseSpan // in order, without holes
	Notes         []string    // fallbacks used to find all this, in plain words

	signals    *samples.Set
	checks     []Check
	air        []stay
	airborne   readings.Condition               // over the whole recording
	height     readings.Spliced                 // ft above the aerodrome, over Span
	heightIn   readings.Envelope                // see heightEnvelope
	passed     map[comparison][]readings.Moment // see crossings
	liftOffs   []readings.Moment
	touchdowns []readings.Moment // as Touchdowns

	perhapsStanding readings.Spans // where a taxi may stand still
	// perhapsGoArounds are those whose descent or climb the recording does not hold.
	perhapsGoArounds []GoAround
}

// Approach is one approach. Span is the nominal one; Begins and Ends bound its
// two ends.
type Approach struct {
	Span         Span
	Begins, Ends Time
	Outcome      ApproachOutcome
}

// ApproachOutcome is how an approach ends.
type ApproachOutcome string

const (
	EndsInLanding       ApproachOutcome = "landing"
	EndsInTouchAndGo    ApproachOutcome = "touch-and-go"
	EndsInBalkedLanding ApproachOutcome = "balked landing"
	EndsInGoAround      ApproachOutcome = "go-around"
	EndsInTouchdown     ApproachOutcome = "touchdown" // and then the recording ends
	EndsWithFlight      ApproachOutcome = "recording ends"
)

// PhaseSpan is one stretch in a phase of flight. Span is the nominal one; Begins
// and Ends bound its two ends. Where Begins may be later than Ends, the phase may
// not have come at all.
type PhaseSpan struct {
	Phase        Phase
	Span         Span
	Begins, Ends Time
}
