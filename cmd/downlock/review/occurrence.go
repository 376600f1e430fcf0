package review

import (
	"slices"

	"downlock/cmd/downlock/command"
	"downlock/report/archive"
	"downlock/schemas"
)

// eachOccurrence calls use with the events of an archive, those of one occurrence
// together and the most severe first. It holds the events of one flight at a time.
func eachOccurrence(dir, month string, use func(month string, e *schemas.EventRow) error) error {
	var flight []schemas.EventRow // whose events follow each other in the table
	of := ""                      // the month of the flight
	flush := func() error {
		for len(flight) > 0 {
			id := occurrenceOf(&flight[0])
			var together []schemas.EventRow
			for i := range flight {
				if occurrenceOf(&flight[i]) == id {
					together = append(together, flight[i])
				}
			}
			slices.SortStableFunc(together, func(a, b schemas.EventRow) int { return rank(&b) - rank(&a) })
			for i := range together {
				if err := use(of, &together[i]); err != nil {
					return err
				}
			}
			flight = slices.DeleteFunc(flight, func(e schemas.EventRow) bool { return occurrenceOf(&e) == id })
		}
		return nil
	}
	err := archive.Events(dir, month, func(month string, e *schemas.EventRow) error {
		if len(flight) > 0 && e.FlightID != flight[0].FlightID {
			if err := flush(); err != nil {
				return err
			}
		}
		flight, of = append(flight, *e), month
		return nil
	})
	if err != nil {
		return err
	}
	return flush()
}

// occurrenceOf is the occurrence of an event: its own where it was written before
// occurrences were noted.
func occurrenceOf(e *schemas.EventRow) string {
	if e.OccurrenceID == "" {
		return e.EventID
	}
	return e.OccurrenceID
}

func rank(e *schemas.EventRow) int { return slices.Index(command.Severities, e.Severity) }

// beside lists the other events of the occurrence of an event.
func (o *reviewOptions) beside(found *foundEvent) (events []schemas.EventRow, err error) {
	err = eachOccurrence(o.archive, found.month, func(_ string, e *schemas.EventRow) error {
		same := e.FlightID == found.event.FlightID && occurrenceOf(e) == occurrenceOf(&found.event)
		if same && e.EventID != found.event.EventID {
			events = append(events, *e)
		}
		return nil
	})
	return events, err
}
