package detect

// Phase is a phase of flight of the CAST/ICAO common taxonomy.
type Phase string

const (
	Standing      Phase = "standing"
	Taxi          Phase = "taxi"
	TakeOff       Phase = "take-off"
	InitialClimb  Phase = "initial climb"
	EnRoute       Phase = "en route"
	ApproachPhase Phase = "approach"
	Landing       Phase = "landing"
	UnknownPhase  Phase = "unknown"
)
