package simulator

// Words of the What of a Due that no rule reports. Those of testdata/operations begin
// in the same way.
const (
	Partly       = "evaluated as far as it is recorded" // of the rule named
	saysTerrain  = "terrain below: radio altitude dips and comes back, pressure altitude does not"
	saysQuality  = "data quality: radio altitude against pressure altitude"
	saysBalked   = "balked landing"
	saysTest     = "warning tested on the stand"
	saysSounded  = "the take-off configuration warning sounded in time"
	saysRejected = "rejected take-off with its highest speed"
	saysCycle    = "gear cycle with its speeds"
	saysLoad     = "highest load about the touchdown"
	saysPinned   = "gear stayed down"
	saysJacks    = "maintenance on the ground"
	saysUTC      = "UTC"
	saysOverride = "reduced-flap landing with the flap override on"
)

// operations are the rows of the table of ordinary operations, in its order.
func operations() []operation {
	return []operation{
		{title: "go-around from 30 to 250 ft, flap back at once, gear at a positive rate", fly: (*pilot).lowGoAround},
		{title: "descent at speed, gear up, over rising ground into the gear envelope", fly: (*pilot).intoTheEnvelope},
		{title: "rejected take-off, the configuration warning sounding", fly: (*pilot).rejectedTakeOff},
		{title: "configuration warning that stops at rotation or by hand", fly: (*pilot).warningStops},
		{title: "recording that begins or ends in the air", fly: (*pilot).partRecorded},
		{title: "ridge below the circuit or the approach", fly: (*pilot).overARidge},
		{title: "gear extended for drag and raised again", fly: (*pilot).gearForDrag},
		{title: "retraction speed passed while the legs travel", fly: (*pilot).fastInTransit},
		{title: "warnings tested on the stand", fly: (*pilot).testsOnTheStand},
		{title: "five touch-and-goes and a full stop", fly: (*pilot).sixCircuits},
		{title: "balked landing", fly: (*pilot).balkedLanding},
		{title: "gate missed, then a go-around", fly: (*pilot).gateMissed},
		{title: "firm touchdown and a bounce with the ground spoilers out", fly: (*pilot).firmTouchdown},
		{title: "engine out after take-off", fly: (*pilot).engineOut},
		{title: "landing with intermediate flap, flap override on", fly: (*pilot).overriddenFlap},
		{title: "flap handle through two detents in one movement", fly: (*pilot).throughADetent},
		{title: "radio altimeter out and wrong for several samples", fly: (*pilot).radioFaults},
		{title: "soft flare, no strut switch recorded", fly: (*pilot).softFlare},
		{title: "up-lock of one leg not recorded", fly: (*pilot).oneLockMissing},
		{title: "up-lock lost in the cruise, or never reached", fly: (*pilot).lockLost},
		{title: "ferry flight with the gear pinned down", fly: (*pilot).ferry},
		{title: "alternate extension practised, or a door left open", fly: (*pilot).alternateInTraining},
		{title: "circling approach, landing flap at 700 ft", fly: (*pilot).circlingApproach},
		{title: "idle descent with intermediate flap above 3,000 ft", fly: (*pilot).idleDescent},
		{title: "gear swung on jacks", fly: (*pilot).onJacks},
		{title: "reverse levers as negative throttle angles", fly: (*pilot).reverseLevers},
		{title: "clock and date in different rows", fly: (*pilot).clockApart, apart: true},
		{title: "six sectors with clock resets", fly: (*pilot).sixSectors},
	}
}
