package detect_test

// wrong is something that is not right yet in a row of ordinary operations or in a
// recording: fault is part of the lines that say so, why the reason.
type wrong struct{ name, fault, why string }

// knownWrong shrinks as things are put right.
var knownWrong = []wrong{
	{"row 2", "beginning of an approach", levelFromADescent},
	{"row 3", "takeoff-warning-nuisance", criterionOfLiftOff},
	{"row 3", "sounded in time", criterionOfLiftOff},
	{"row 5", "approach : 1, want 0", "level flight in the circuit, where the recording ends, is taken for an approach"},
	{"row 7", "gear cycle", "nothing speaks of it"},
	{"row 7", "beginning of an approach", levelFromADescent},
	{"row 9", "tested on the stand", "nothing speaks of it"},
	{"row 13", "lever-lock-released-early", "joins stretches 3 s apart before it asks for 2 s"},
	{"row 18", "touchdown", "radio altitude below 10 ft is taken for the ground, right to within 5 s"},
	{"row 20", "slow-leg-up", "a leg that had locked up is not slow"},
	{"row 21", "gear stayed down", "nothing speaks of it"},
	{"row 22", "alternate-extension", "a cause from the doors alone"},
	{"row 23", "beginning of an approach", levelFromADescent},
	{"row 24", "beginning of an approach", levelFromADescent},
	{"row 24", "throttle-retarded-gear-not-locked", limitedBySeverity},
	{"row 24", "warning-inhibited", limitedBySeverity},
	{"row 25", "maintenance", "nothing speaks of it"},
}

const (
	criterionOfLiftOff = "takeoff_warning_due of the shipped profiles asks for a lift-off within 120 s"
	limitedBySeverity  = "3000 ft is its lowest severity's limit and not its own"
	levelFromADescent  = "a level segment is left when it is 30 ft from its first sample, which may be 100 ft above it, in the descent before"
)
