package report

import (
	"errors"
	"slices"

	"downlock/schemas"
)

// indexSchema names the form of index.json.
const indexSchema = "downlock index 1"

// FlightPage is the name of a flight's page in its folder.
const FlightPage = "report.html"

// FlightEntry is the entry of one flight in the index of a run.
type FlightEntry struct {
	Folder       string // below the run's folder
	Events       int
	NotEvaluable int // rules

	part  indexFlight
	row   flightRow
	tally flightTally
}

// Failure is an input that gave no report.
type Failure struct {
	Input string // as the user named it
	Err   error
}

// index is index.json.
type index struct {
	Schema       string             `json:"schema"`
	Version      string             `json:"version"`
	Profile      profilePart        `json:"profile"`
	Packs        []packPart         `json:"packs"`
	Totals       indexTotals        `json:"totals"`
	Flights      []indexFlight      `json:"flights"`
	Failures     []failurePart      `json:"failures"`
	Audits       []auditTotal       `json:"audits"`
	Measurements []measurementTotal `json:"measurements"`
	Rules        []ruleTotal        `json:"rules"`
	Cautions     []string           `json:"cautions"`

	rows []flightRow // of the page, as Flights
}

type indexTotals struct {
	Flights  int         `json:"flights"`
	Failures int         `json:"failures"`
	Unsound  int         `json:"flights_with_failed_checks"`
	Skipped  int         `json:"skipped"` // unchanged inputs, not in any count
	Events   eventCounts `json:"events"`
	// Occurrences are causes: the events of one are one occurrence.
	Occurrences int `json:"occurrences"`
	// Operations of every kind, those that never happened too.
	Operations []operationTotal `json:"operations"`
}

type indexFlight struct {
	ID            string         `json:"id"`
	Folder        string         `json:"folder"`
	Recording     string         `json:"recording"`
	Number        int            `json:"number"`
	Aircraft      string         `json:"aircraft"`
	Start         string         `json:"start_utc,omitempty"`
	Month         string         `json:"month,omitempty"`
	LiftOff       *instant       `json:"lift_off"`
	Touchdown     *instant       `json:"touchdown"`
	StaysOnGround bool           `json:"stays_on_ground"`
	Events        eventCounts    `json:"events"`
	Occurrences   int            `json:"occurrences"`
	Evaluations   coverageCounts `json:"evaluations"`
	Audit         auditCounts    `json:"audit"`
	Failed        int            `json:"failed_checks"` // consistency checks of the recording against the profile
}

type failurePart struct {
	Input    string   `json:"input"`
	Problems []string `json:"problems"`
	Hints    []string `json:"hints"`
}

// ruleTotal is one rule over all flights. Flights that could have shown the
// event are those where it was evaluated, wholly or partly. Rates divide by the
// opportunities that were evaluated, or by these flights.
type ruleTotal struct {
	Rule          string            `json:"rule"`
	Title         string            `json:"title"`
	Group         string            `json:"group"`
	Able          int               `json:"flights_able"`
	With          int               `json:"flights_with_event"`
	Events        eventCounts       `json:"events"`
	Evaluations   coverageCounts    `json:"evaluations"`
	Opportunity   string            `json:"opportunity"`
	Opportunities opportunityCounts `json:"opportunities"`
}

func newEntry(folder string, doc *document) FlightEntry {
	return FlightEntry{
		Folder: folder, Events: len(doc.Events), NotEvaluable: doc.Summary.Evaluations.NotEvaluable,
		part: indexFlight{
			ID: doc.Flight.ID, Folder: folder, Recording: doc.Provenance.Input.Name, Number: doc.Flight.Number,
			Aircraft: doc.Provenance.Profile.Aircraft, Start: doc.Flight.StartUTC, Month: doc.Flight.Month,
			LiftOff: doc.Flight.LiftOff, Touchdown: doc.Flight.Touchdown, StaysOnGround: doc.Flight.StaysOnGround,
			Events: doc.Summary.Events, Occurrences: doc.Summary.Occurrences, Evaluations: doc.Summary.Evaluations, Audit: doc.Summary.Audit,
			Failed: len(doc.FailedChecks()),
		},
		row:   newFlightRow(doc),
		tally: newFlightTally(doc),
	}
}

func newIndex(run *Run, flights *Index, failures []Failure) *index {
	idx := &index{
		Schema: indexSchema, Version: clean(run.Version), Profile: newProfilePart(run), Packs: newPackParts(run),
		Totals:  indexTotals{Flights: len(flights.flights), Failures: len(failures), Skipped: run.Skipped, Operations: flights.operationTotals()},
		Flights: append([]indexFlight{}, flights.flights...), Failures: make([]failurePart, len(failures)),
		Audits: flights.audits.list(), Measurements: flights.measurementTotals(), Rules: flights.rules.list(), Cautions: cautions, rows: flights.rows,
	}
	for _, f := range idx.Flights {
		if f.Failed > 0 {
			idx.Totals.Unsound++
		}
		idx.Totals.Events.addAll(f.Events)
		idx.Totals.Occurrences += f.Occurrences
	}
	for i, f := range failures {
		idx.Failures[i] = newFailurePart(f)
	}
	return idx
}

func newFailurePart(f Failure) failurePart {
	part := failurePart{Input: clean(f.Input), Problems: []string{}, Hints: []string{}}
	var many schemas.Problems
	var one *schemas.Problem
	switch {
	case f.Err == nil:
		part.Problems = append(part.Problems, "no report was written")
	case errors.As(f.Err, &many):
	case errors.As(f.Err, &one):
		many = schemas.Problems{one}
	default:
		part.Problems = append(part.Problems, clean(f.Err.Error()))
	}
	for _, p := range many {
		part.Problems = append(part.Problems, clean(p.Error()))
		if hint := clean(p.Hint); hint != "" && !slices.Contains(part.Hints, hint) {
			part.Hints = append(part.Hints, hint)
		}
	}
	return part
}
