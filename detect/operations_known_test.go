package detect_test

// wrong is something that is not right yet in a row of ordinary operations or in a
// recording: fault is part of the lines that say so, why the reason.
type wrong struct{ name, fault, why string }

// knownWrong shrinks as things are put right.
var knownWrong = []wrong{
	{"row 1", "too-low-gear", alertsDoNotGiveWay},
	{"row 1", "too-low-flaps", alertsDoNotGiveWay},
	{"row 1", "go-around-retraction-early", flapIsProcedure},
	{"row 3", "takeoff-flap", "asks for a lift-off within 120 s"},
	{"row 4", "takeoff-warning-missed", "nothing knows of a warning silenced by hand: the switch is no parameter"},
	{"row 5", "approach : 1, want 0", "level flight in the circuit, where the recording ends, is taken for an approach"},
	{"row 6", "terrain below", "nothing speaks of it"},
	{"row 7", "gear-up-before-positive-climb", "not tied to a lift-off or a go-around"},
	{"row 7", "gear cycle", "nothing speaks of it"},
	{"row 8", "exceeded in transit", "no rule looks at the speed in transit"},
	{"row 9", "-nuisance", "a test on the stand is taken for a nuisance"},
	{"row 9", "tested on the stand", "nothing speaks of it"},
	{"row 10", "speedbrake-not-armed", "counts touch-and-goes"},
	{"row 10", "takeoff-flap", "counts the landing flap that is being reset on the roll"},
	{"row 11", "flap-retracted-early", "counts the landing flap coming back after a balked landing"},
	{"row 12", "landing-flap-late-visual", "gates ask for a touchdown"},
	{"row 12", "gear-late-visual", "gates ask for a touchdown"},
	{"row 12", "go-around-retraction-early", flapIsProcedure},
	{"row 13", "lever-lock-released-early", "joins stretches 3 s apart before it asks for 2 s"},
	{"row 13", "highest load", "touchdown-acceleration begins at the strut switch"},
	{"row 14", "throttle-retarded-gear-not-locked", "not tied to an approach"},
	{"row 15", "too-low-flaps", "nothing knows of the flap override: the switch is no parameter"},
	{"row 16", "one movement", "configuration-change-low counts detents passed"},
	{"row 17", "too-low-gear", "radio altitudes that are wrong for several samples are believed"},
	{"row 17", "data quality", "nothing speaks of it"},
	{"row 18", "touchdown", "radio altitude below 10 ft is taken for the ground, right to within 5 s"},
	{"row 19", "is not evaluable", "one leg without an up-lock leaves nothing of the others"},
	{"row 20", "up-lock-lost", "unknown where no alternate extension is recorded"},
	{"row 20", "slow-leg-up", "a leg that had locked up is not slow"},
	{"row 21", "gear stayed down", "nothing speaks of it"},
	{"row 22", "alternate-extension", "a cause from the doors alone"},
	{"row 24", "throttle-retarded-gear-not-locked", limitedBySeverity},
	{"row 24", "warning-inhibited", limitedBySeverity},
	{"row 25", "maintenance", "nothing speaks of it"},
	{"row 27", "UTC", "clock and date must stand in one row"},
	{"row 28", "", "samples are put in order of time, whatever the clock does: one flight of all"},
	{"op-1", "too-low-gear", alertsDoNotGiveWay},
	{"op-1", "too-low-flaps", alertsDoNotGiveWay},
	{"op-1", "go-around-retraction-early", flapIsProcedure},
	{"op-3", "speedbrake-not-armed", "counts touch-and-goes"},
	{"op-4", "flap-retracted-early", "counts the landing flap coming back after a balked landing"},
	{"op-5", "too-low-gear", "radio altitudes that are wrong for several samples are believed"},
	{"op-5", "data quality", "nothing speaks of it"},
	{"op-5", "terrain below", "nothing speaks of it"},
	{"op-6", "landing-flap-late-visual", "gates ask for a touchdown"},
	{"op-6", "go-around-retraction-early", flapIsProcedure},
}

const (
	alertsDoNotGiveWay = "the rule arms by time and does not give way in landing configuration"
	flapIsProcedure    = "flap back one step at once is how a go-around is flown"
	limitedBySeverity  = "3000 ft is its lowest severity's limit and not its own"
)
