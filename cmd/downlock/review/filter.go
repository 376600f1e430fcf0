package review

import (
	"slices"
	"strings"

	"downlock/cmd/downlock/command"
	"downlock/report/archive"
	"downlock/report/review"
	"downlock/schemas"
)

// filter says which events are meant, in the words of the desk's worklist. It holds each
// event by itself against them. Empty fields ask for nothing.
type filter struct {
	rule, severity, certainty, aircraft, aerodrome string
	month, from, to                                string // YYYY-MM, or unknown, which is after all
	state                                          string
	all                                            bool // the same as the state all
}

// filterFlags are the flags of a filter.
var filterFlags = []string{"rule", "severity", "certainty", "aircraft", "aerodrome", "month", "from", "to", "state", "all"}

// States of a review, as the desk names them. Open is what somebody has to look at.
const (
	stateOpen     = "open"
	stateNew      = "not looked at"
	stateOutdated = "outdated"
	stateAll      = "all"
)

var states = []string{stateOpen, stateNew, string(review.FollowUp), stateOutdated, string(review.Valid), string(review.False), stateAll}

// mistake returns a mistake in a filter and a hint, "" when there is none.
func (f *filter) mistake() (wrong, hint string) {
	switch {
	case f.severity != "" && !slices.Contains(command.Severities, f.severity):
		return "--severity " + command.Quote(f.severity) + " is not a severity", "use low, medium or high"
	case f.certainty != "" && f.certainty != "certain" && f.certainty != "possible":
		return "--certainty " + command.Quote(f.certainty) + " is not a certainty", "use certain or possible"
	case !slices.Contains(states, f.state):
		return "--state " + command.Quote(f.state) + " is not a state", "use " + strings.Join(states, ", ")
	case f.all && f.state != stateOpen && f.state != stateAll:
		return "--all and --state do not go together", ""
	}
	for _, m := range []struct{ flag, text string }{{"month", f.month}, {"from", f.from}, {"to", f.to}} {
		if m.text != "" && m.text != "unknown" && !isMonth(m.text) {
			return "--" + m.flag + " " + command.Quote(m.text) + " is not a month", "write it as 2031-06, or unknown for flights without a date"
		}
	}
	if f.all {
		f.state = stateAll
	}
	return "", ""
}

// wantsMonth reports whether a month is asked for.
func (f *filter) wantsMonth(month string) bool {
	return (f.month == "" || month == f.month) && (f.from == "" || month >= f.from) && (f.to == "" || month <= f.to)
}

// wants holds an event and its flight against the filter, but for the state.
func (f *filter) wants(e *schemas.EventRow, flight *schemas.FlightRow) bool {
	is := func(asked string, values ...string) bool { return asked == "" || slices.Contains(values, asked) }
	return is(f.rule, e.Rule) && is(f.severity, e.Severity) && is(f.certainty, e.Certainty) &&
		is(f.aircraft, flight.Registration, flight.Aircraft) && is(f.aerodrome, flight.DepartureAerodrome, flight.ArrivalAerodrome)
}

// stands reports whether the review of an event is in the state.
func (f *filter) stands(v review.Verdict, seen bool, e *schemas.EventRow) bool {
	switch f.state {
	case stateAll:
		return true
	case stateOpen:
		return !seen || v.Open(*e)
	case stateNew:
		return !seen
	case stateOutdated:
		return seen && v.Outdated(*e)
	}
	return seen && string(v.Finding) == f.state
}

// each hands out the events of an archive that a filter wants, whatever their state, with
// their flights: those of one occurrence together, the most severe first. It holds the
// flights of one month at a time.
func (f *filter) each(dir string, use func(month string, e *schemas.EventRow, flight *schemas.FlightRow) error) error {
	parts, err := archive.Parts(dir, schemas.EventsTable)
	if err != nil {
		return err
	}
	for _, p := range parts {
		if !f.wantsMonth(p.Month) {
			continue
		}
		flights := map[string]schemas.FlightRow{}
		err := archive.Flights(dir, p.Month, func(_ string, row *schemas.FlightRow) error {
			flights[row.FlightID] = *row
			return nil
		})
		if err != nil {
			return err
		}
		err = eachOccurrence(dir, p.Month, func(month string, e *schemas.EventRow) error {
			flight := flights[e.FlightID]
			if !f.wants(e, &flight) {
				return nil
			}
			return use(month, e, &flight)
		})
		if err != nil {
			return err
		}
	}
	return nil
}
