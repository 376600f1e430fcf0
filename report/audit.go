package report

import (
	"slices"
	"strings"

	"downlock/detect"
)

// auditPart is one warning held against its criteria. Counts and seconds are
// those of the nominal reading; both are 0 where it was not evaluable.
type auditPart struct {
	Warning          string          `json:"warning"`
	Title            string          `json:"title"`
	Coverage         string          `json:"coverage"`
	Missing          []string        `json:"missing"`
	Due              int             `json:"times_due"`
	Sounded          int             `json:"times_sounded"`
	DueSeconds       number          `json:"due_seconds"`
	SoundedSeconds   number          `json:"sounded_seconds"`
	AgreementSeconds number          `json:"agreement_seconds"`
	UnknownSeconds   number          `json:"unknown_seconds"`
	Findings         []findingPart   `json:"findings"`
	Soundings        []soundingPart  `json:"soundings"`
	SwitchUses       []switchUsePart `json:"switch_uses,omitempty"`
}

// soundingPart is one stretch in which the warning sounds. Events are those it is about,
// by id.
type soundingPart struct {
	Certainty string   `json:"certainty"`
	Start     instant  `json:"start"`
	End       instant  `json:"end"`
	Cause     string   `json:"cause"`
	Events    []string `json:"events"`
	About     string   `json:"-"` // the titles of these events
}

// Seconds is how long the sounding lasts.
func (s soundingPart) Seconds() number { return s.End.Nominal - s.Start.Nominal }

// soundingsShown bounds the list of a warning that flickers, on the page.
const soundingsShown = 20

// Shown are the soundings for the page, and Further how many there are beside.
func (a auditPart) Shown() []soundingPart { return a.Soundings[:min(len(a.Soundings), soundingsShown)] }
func (a auditPart) Further() int          { return len(a.Soundings) - len(a.Shown()) }

func soundingParts(result *detect.Result, soundings []detect.Sounding) []soundingPart {
	f := result.Flight
	parts := make([]soundingPart, len(soundings))
	for i, s := range soundings {
		var titles []string
		for _, e := range result.Events {
			if slices.Contains(s.Events, e.ID) {
				titles = append(titles, clean(e.Rule.Title))
			}
		}
		parts[i] = soundingPart{string(s.Certainty), newInstant(s.Start, f.Span, f.Recording.Epoch), newInstant(s.End, f.Span, f.Recording.Epoch),
			string(s.Cause), cleanAll(s.Events), strings.Join(titles, "; ")}
	}
	return parts
}

type findingPart struct {
	Finding   string     `json:"finding"`
	Certainty string     `json:"certainty"`
	Start     instant    `json:"start"`
	End       instant    `json:"end"`
	Delay     *delayPart `json:"delay"` // null but for a late one
}

// delayPart is how long a late warning was quiet, in s.
type delayPart struct {
	Nominal  number `json:"nominal"`
	Shortest number `json:"shortest"`
	Longest  number `json:"longest"`
}

// switchUsePart is one use of the horn cut-out in the air. LockedAfter is
// the time in s until every leg was down and locked, null where that did not happen
// or they were locked already.
type switchUsePart struct {
	Start       instant `json:"start"`
	End         instant `json:"end"`
	Height      *number `json:"height"`
	LockedAfter *number `json:"locked_after"`
}

// Seconds is how long the switch was operated.
func (u switchUsePart) Seconds() number { return u.End.Nominal - u.Start.Nominal }

// Seconds is how long the finding lasts.
func (f findingPart) Seconds() number { return f.End.Nominal - f.Start.Nominal }

func auditParts(result *detect.Result) []auditPart {
	parts := make([]auditPart, len(result.Audits))
	for i, a := range result.Audits {
		parts[i] = auditPart{
			Warning: clean(a.Warning.Name), Title: clean(a.Warning.Title), Coverage: string(a.Coverage), Missing: cleanAll(a.Missing),
			Due: a.Due, Sounded: a.Sounded, DueSeconds: finite(a.DueSeconds, 0), SoundedSeconds: finite(a.SoundedSeconds, 0),
			AgreementSeconds: finite(a.AgreementSeconds, 0), UnknownSeconds: finite(a.UnknownSeconds, 0),
			Findings: findingParts(result.Flight, a.Findings), Soundings: soundingParts(result, a.Soundings), SwitchUses: switchUseParts(result.Flight, a.SwitchUses),
		}
	}
	return parts
}

func findingParts(f *detect.Flight, findings []detect.AuditFinding) []findingPart {
	parts := make([]findingPart, len(findings))
	for i, x := range findings {
		parts[i] = findingPart{Finding: string(x.Finding), Certainty: string(x.Certainty),
			Start: newInstant(x.Start, f.Span, f.Recording.Epoch), End: newInstant(x.End, f.Span, f.Recording.Epoch)}
		if x.Finding == detect.Late {
			parts[i].Delay = &delayPart{finite(x.Delay.Nominal, 0), finite(x.Delay.Earliest, 0), finite(x.Delay.Latest, x.Delay.Nominal)}
		}
	}
	slices.SortStableFunc(parts, func(a, b findingPart) int {
		switch {
		case a.Start.Nominal < b.Start.Nominal:
			return -1
		case a.Start.Nominal > b.Start.Nominal:
			return 1
		}
		return 0
	})
	return parts
}

func switchUseParts(f *detect.Flight, uses []detect.SwitchUse) []switchUsePart {
	var parts []switchUsePart
	for _, u := range uses {
		part := switchUsePart{Start: newInstant(u.Start, f.Span, f.Recording.Epoch), End: newInstant(u.End, f.Span, f.Recording.Epoch)}
		if u.HeightKnown {
			part.Height = known(u.Height)
		}
		if u.Locked {
			part.LockedAfter = known(u.LockedAfter)
		}
		parts = append(parts, part)
	}
	return parts
}

// Audited says whether there was enough recorded to hold the warning against
// its criteria.
func (a auditPart) Audited() bool { return a.Coverage != string(detect.NotEvaluable) }

// Agrees says whether the warning followed its criteria, as far as
// recorded. A warning silenced where the switch may silence it does.
func (a auditPart) Agrees() bool {
	return a.Audited() && !slices.ContainsFunc(a.Findings, func(f findingPart) bool { return f.Finding != string(detect.Silenced) })
}

// auditCounts sums audits up: of a flight per warning, of a run per warning and
// flight.
type auditCounts struct {
	Audited      int           `json:"audited"`
	Exercised    int           `json:"exercised"` // due, or sounded, at all
	InAgreement  int           `json:"in_agreement"`
	NotEvaluable int           `json:"not_evaluable"`
	Findings     findingCounts `json:"findings"`
}

type findingCounts struct {
	Missed          int `json:"missed"`
	Late            int `json:"late"`
	Nuisance        int `json:"nuisance"`
	Silenced        int `json:"silenced"`
	WronglySilenced int `json:"wrongly_silenced"`
}

func (c *auditCounts) add(a auditPart) {
	if !a.Audited() {
		c.NotEvaluable++
		return
	}
	c.Audited++
	if a.Due+a.Sounded > 0 || !a.Agrees() {
		c.Exercised++
	}
	if a.Agrees() {
		c.InAgreement++
	}
	for _, f := range a.Findings {
		*c.Findings.of(f.Finding)++
	}
}

// Agreed counts the warnings that were exercised and did as their criteria ask, Apart
// those that did not, Idle those that had nothing to do.
func (c auditCounts) Agreed() int { return c.Exercised - c.Apart() }
func (c auditCounts) Apart() int  { return c.Audited - c.InAgreement }
func (c auditCounts) Idle() int   { return c.Audited - c.Exercised }

func (c *auditCounts) addAll(other auditCounts) {
	c.Audited += other.Audited
	c.Exercised += other.Exercised
	c.InAgreement += other.InAgreement
	c.NotEvaluable += other.NotEvaluable
	for _, f := range []detect.Finding{detect.Missed, detect.Late, detect.Nuisance, detect.Silenced, detect.WronglySilenced} {
		*c.Findings.of(string(f)) += *other.Findings.of(string(f))
	}
}

func (c *findingCounts) of(finding string) *int {
	switch detect.Finding(finding) {
	case detect.Missed:
		return &c.Missed
	case detect.Late:
		return &c.Late
	case detect.Nuisance:
		return &c.Nuisance
	case detect.Silenced:
		return &c.Silenced
	}
	return &c.WronglySilenced
}

// Total counts findings of every kind.
func (c findingCounts) Total() int {
	return c.Missed + c.Late + c.Nuisance + c.Silenced + c.WronglySilenced
}

// Words lists the kinds found: 1 missed, 2 late.
func (c findingCounts) Words() string {
	var found []string
	for _, kind := range []detect.Finding{detect.Missed, detect.Late, detect.Nuisance, detect.Silenced, detect.WronglySilenced} {
		if n := *c.of(string(kind)); n > 0 {
			found = append(found, number(n).String()+" "+string(kind))
		}
	}
	return strings.Join(found, ", ")
}
