package fleet

// ruleNames are the rules of a fleet, in an order of its own, so that a rule added
// to the built-in pack does not change which one is wrong.
var ruleNames = []string{
	"gear-up-before-strut-extension", "gear-locked-down-after-up", "lever-lock-released-early", "lever-lock-overridden",
	"truck-not-tilted", "body-gear-not-aligned", "nose-wheel-not-centred", "gear-up-before-positive-climb",
	"return-with-gear-down", "lever-cycled", "landing-flap-gear-not-locked", "throttle-retarded-gear-not-locked",
	"warning-inhibited", "gear-late", "gear-late-visual", "landing-flap-late", "landing-flap-late-visual",
	"gear-not-locked-at-touchdown", "too-low-gear", "too-low-flaps", "configuration-change-low", "reduced-flap-landing",
	"speedbrake-with-landing-flap", "speedbrake-low", "speedbrake-not-armed", "gear-extension-speed",
	"gear-retraction-speed", "gear-extended-speed", "flap-placard-speed", "gear-altitude", "flap-altitude",
	"takeoff-flap", "takeoff-speedbrake", "takeoff-parking-brake", "takeoff-trim", "flap-retracted-early",
	"go-around-gear-left-down", "go-around-retraction-early", "go-around-gear-never-extended", "extension-slow",
	"retraction-slow", "slow-leg", "slow-leg-up", "lever-position-disagree", "up-lock-lost",
}
