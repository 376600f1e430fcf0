package report

import "downlock/detect"

// summary is the counts an analyst asks for first.
type summary struct {
	Events       eventCounts    `json:"events"`
	Occurrences  int            `json:"occurrences"` // the events of one cause are one
	Evaluations  coverageCounts `json:"evaluations"`
	Audit        auditCounts    `json:"audit"`
	Measurements outcomeCounts  `json:"measurements"`
}

type eventCounts struct {
	High   certaintyCounts `json:"high"`
	Medium certaintyCounts `json:"medium"`
	Low    certaintyCounts `json:"low"`
}

type certaintyCounts struct {
	Certain  int `json:"certain"`
	Possible int `json:"possible"`
}

// Total counts both.
func (c certaintyCounts) Total() int { return c.Certain + c.Possible }

// Total counts events of every severity.
func (e eventCounts) Total() int { return e.High.Total() + e.Medium.Total() + e.Low.Total() }

// of returns the counts of a severity; low for one that is none of the three.
func (e *eventCounts) of(severity string) *certaintyCounts {
	switch detect.Severity(severity) {
	case detect.High:
		return &e.High
	case detect.Medium:
		return &e.Medium
	}
	return &e.Low
}

func (e *eventCounts) add(severity, certainty string) {
	c := e.of(severity)
	if detect.Certainty(certainty) == detect.Certain {
		c.Certain++
	} else {
		c.Possible++
	}
}

func (e *eventCounts) addAll(other eventCounts) {
	for _, s := range []detect.Severity{detect.High, detect.Medium, detect.Low} {
		mine, theirs := e.of(string(s)), other.of(string(s))
		mine.Certain += theirs.Certain
		mine.Possible += theirs.Possible
	}
}

type coverageCounts struct {
	Evaluated       int `json:"evaluated"`
	PartlyEvaluated int `json:"partly_evaluated"`
	NotEvaluable    int `json:"not_evaluable"`
	NoOpportunity   int `json:"no_opportunity"`
}

// Total counts the rules asked.
func (c coverageCounts) Total() int {
	return c.Evaluated + c.PartlyEvaluated + c.NotEvaluable + c.NoOpportunity
}

func (c *coverageCounts) add(coverage string) {
	switch detect.Coverage(coverage) {
	case detect.Evaluated:
		c.Evaluated++
	case detect.PartlyEvaluated:
		c.PartlyEvaluated++
	case detect.NoOpportunity:
		c.NoOpportunity++
	default:
		c.NotEvaluable++
	}
}

func (c *coverageCounts) addAll(other coverageCounts) {
	c.Evaluated += other.Evaluated
	c.PartlyEvaluated += other.PartlyEvaluated
	c.NotEvaluable += other.NotEvaluable
	c.NoOpportunity += other.NoOpportunity
}

// outcomeCounts counts measurements by what became of them: each value of a flight,
// or flights.
type outcomeCounts struct {
	Measured     int `json:"measured"`
	DidNotHappen int `json:"did_not_happen"`
	NotRecorded  int `json:"not_recorded"`
	NotEvaluable int `json:"not_evaluable"`
}

func (c *outcomeCounts) add(outcome string) {
	switch detect.Outcome(outcome) {
	case detect.Measured:
		c.Measured++
	case detect.DidNotHappen:
		c.DidNotHappen++
	case detect.NotRecorded:
		c.NotRecorded++
	default:
		c.NotEvaluable++
	}
}

func newSummary(doc *document) summary {
	var s summary
	causes := map[string]bool{}
	for _, e := range doc.Events {
		s.Events.add(e.Severity, e.Certainty)
		causes[e.Occurrence] = true
	}
	s.Occurrences = len(causes)
	for _, e := range doc.Evaluations {
		s.Evaluations.add(e.Coverage)
	}
	for _, a := range doc.Audits {
		s.Audit.add(a)
	}
	for _, m := range doc.Measurements {
		s.Measurements.add(m.Outcome)
	}
	return s
}

// cautions are shown in every report.
var cautions = []string{
	"These results support a flight data monitoring programme. They are not an airworthiness decision, not a maintenance release and not a finding about any person.",
	"Limits come from the operator's approved flight manual, maintenance manual and procedures, through the profile. The profiles shipped with downlock are invented examples and fit no real aircraft.",
	"If a limit was exceeded, an inspection may be required. Licensed staff decide, under the maintenance manual, whether it is and what it consists of.",
	"Local regulation and the operator's confidentiality agreement govern who may see data that identifies a flight or its crew.",
	"Nothing is known about what the recorder did not sample. A possible event need not have happened; a rule that was not evaluable says nothing about the flight.",
}
