package report

// FlightPage is the name of a flight's page in its folder.
const FlightPage = flightHTML

// High counts the flight's events of high severity, certain and possible.
func (e FlightEntry) High() int { return e.part.Events.High.Total() }

// Medium counts those of medium severity.
func (e FlightEntry) Medium() int { return e.part.Events.Medium.Total() }

// Low counts those of low severity.
func (e FlightEntry) Low() int { return e.part.Events.Low.Total() }

// Possible counts the events of any severity that are only possible.
func (e FlightEntry) Possible() int {
	c := e.part.Events
	return c.High.Possible + c.Medium.Possible + c.Low.Possible
}
