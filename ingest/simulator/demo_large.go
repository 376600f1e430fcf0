package simulator

import "time"

// largeFlights lists the demonstration flights of the larger type, the TH-440.
func largeFlights() []entry {
	return []entry{
		{"tarnholm-41.csv.zst", "nothing to report", outward(day(time.July, 8, 5, 30), nil).done(), wideZstd, false},
		{"tarnholm-42.csv.gz", "gear selected up with a truck not tilted and the body gear not aligned, the lever lock overridden", notTilted(), wide, false},
		{"tarnholm-43.arrow.zst", "gear extended by emergency pressure", stored(), arrow, false},
	}
}

// notTilted holds one truck and the body-gear steering out of place for 12 s after
// lift-off. The lever lock correctly stays in and is overridden.
func notTilted() Scenario {
	const at = usualLiftOff
	s := leaving(day(time.July, 9, 12, 20), 40, 30, nil)
	s.Faults.Forced = []Force{{"right truck tilted", at, at + 12, 0}, {"body gear aligned", at - 5, at + 12, 0}, {"lever lock released", at - 5, at + 12, 0}}
	s.do(at+2.6, LeverLockOverride, 1)
	s.do(at+6.2, LeverLockOverride, 0)
	return s.done()
}

func stored() Scenario {
	s := arriving(day(time.July, 10, 20, 45), 200, nil)
	s.do(usualTouchdown-188, EmergencyPressure, 1)
	s.do(usualTouchdown-172, EmergencyPressure, 0)
	s.Faults.Forced = []Force{{"hydraulic A low", 0, s.End, 1}, {"hydraulic B low", 0, s.End, 1}}
	return s.done()
}
