package simulator

import "strings"

// Rules lists the ids of the rules the truth covers. The built-in pack may have more.
// Each rule of the list has a demonstration flight and boundary flights. A flight of
// a type without a system has no event about that system.
func Rules() []string {
	return strings.Fields(`
		gear-up-before-strut-extension gear-locked-down-after-up lever-lock-released-early lever-lock-overridden
		truck-not-tilted body-gear-not-aligned nose-wheel-not-centred gear-up-before-positive-climb
		return-with-gear-down lever-cycled

		landing-flap-gear-not-locked throttle-retarded-gear-not-locked warning-inhibited gear-late gear-late-visual
		landing-flap-late landing-flap-late-visual gear-not-locked-at-touchdown too-low-gear too-low-flaps
		configuration-change-low reduced-flap-landing speedbrake-with-landing-flap speedbrake-low
		speedbrake-not-armed

		gear-extension-speed gear-retraction-speed gear-transit-speed gear-extended-speed flap-placard-speed gear-altitude
		flap-altitude

		takeoff-flap takeoff-speedbrake takeoff-parking-brake takeoff-trim flap-retracted-early

		go-around-gear-left-down go-around-retraction-early go-around-gear-never-extended

		extension-slow retraction-slow slow-leg slow-leg-up lever-position-disagree up-lock-lost doors-left-open
		alternate-extension alternate-extension-selected emergency-pressure strut-switches-disagree
		strut-switch-chatter

		gear-horn-missed gear-horn-late gear-horn-nuisance gear-horn-silenced gear-horn-wrongly-silenced
		too-low-gear-alert-missed too-low-gear-alert-late too-low-gear-alert-nuisance
		too-low-flaps-alert-missed too-low-flaps-alert-late too-low-flaps-alert-nuisance
		takeoff-warning-missed takeoff-warning-late takeoff-warning-nuisance`)
}
