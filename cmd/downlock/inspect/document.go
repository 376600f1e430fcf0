package inspect

import (
	"encoding/json"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"unicode/utf16"

	"downlock/detect"
	"downlock/ingest"
	"downlock/ingest/survey"
	"downlock/schemas"
)

// inspectSchema names the form of the JSON. The number rises when a field changes its
// meaning or goes away.
const inspectSchema = "downlock inspection 1"

// inspectDocument is the output of inspect --json. The text for people is made from it
// too.
type inspectDocument struct {
	Schema  string          `json:"schema"`
	Version string          `json:"version"`
	Caution string          `json:"caution"`
	Files   []inspectedFile `json:"files"`
	Failed  []failedFile    `json:"failed"`
}

type failedFile struct {
	Path  string `json:"path"`
	Cause string `json:"cause"`
}

// inspectedFile is one export: its survey, and the parts that flags ask for.
type inspectedFile struct {
	Path        string              `json:"path"`
	Survey      *survey.Survey      `json:"survey"`
	Mapping     *mappingPart        `json:"mapping,omitempty"`
	Suggestions []survey.Suggestion `json:"suggestions,omitempty"`
	Draft       string              `json:"draft,omitempty"`
}

// mappingPart is the export held against a profile.
type mappingPart struct {
	Flights    int             `json:"flights"`
	Note       string          `json:"note,omitempty"` // why there is no flight
	Parameters []foundPart     `json:"parameters"`
	Absent     []absentColumns `json:"absent"`
	Unmapped   []string        `json:"unmapped"` // columns the profile does not use
	Rules      []rulePart      `json:"rules"`
	Checks     []checkPart     `json:"checks"`
	Open       []group         `json:"open_decisions,omitempty"`
}

// foundPart is a parameter that was found. Intervals are in seconds. 14 CFR part 121
// appendix M allows LongestInterval, which is 0 where the appendix has no row. Confirmed
// is false where nobody has held that figure against the published text.
type foundPart struct {
	Parameter       string  `json:"parameter"`
	Column          string  `json:"column"`
	Samples         int     `json:"samples"`
	Dropped         int     `json:"dropped"`
	Interval        float64 `json:"interval"`
	LongestInterval float64 `json:"longest_interval"`
	Confirmed       bool    `json:"longest_interval_confirmed"`
	Slow            bool    `json:"slow"`
}

type absentColumns struct {
	Parameter string   `json:"parameter"`
	Columns   []string `json:"columns"`
}

// rulePart is a rule and the names it lacks. Evaluable is true where at least one
// flight could show an event. NoOpportunity is true where no flight could, and at least
// one lacks the manoeuvre that the rule is about.
type rulePart struct {
	Rule          string   `json:"rule"`
	Title         string   `json:"title"`
	Evaluable     bool     `json:"evaluable"`
	NoOpportunity bool     `json:"no_opportunity"`
	Missing       []string `json:"missing"`
	Fallbacks     []string `json:"fallbacks"`
}

// checkPart is a consistency check of the recording against the profile.
type checkPart struct {
	Check      string   `json:"check"`
	Title      string   `json:"title"`
	Outcome    string   `json:"outcome"`
	Parameters []string `json:"parameters"`
	Evidence   string   `json:"evidence"`
	Hint       string   `json:"hint,omitempty"`
}

func newMapping(d *detect.Detector, r *ingest.Recording, s *survey.Survey) *mappingPart {
	m := &mappingPart{Parameters: []foundPart{}, Absent: []absentColumns{}, Unmapped: []string{}, Rules: []rulePart{}, Checks: []checkPart{}}
	used := map[string]bool{}
	for _, one := range slices.Concat(r.Series, r.Alternatives) {
		used[one.Column] = true
		for _, column := range one.Samples {
			used[column] = true
		}
	}
	for _, one := range r.Series {
		p := one.Parameter
		m.Parameters = append(m.Parameters, foundPart{
			Parameter: p.Name, Column: one.Column, Samples: one.Len(), Dropped: one.Dropped.Total(),
			Interval: math.Round(one.Interval*1e6) / 1e6, LongestInterval: p.LongestInterval, Confirmed: p.Read,
			Slow: p.LongestInterval > 0 && one.Interval > p.LongestInterval*1.01, // one per cent is left to jitter of sample times
		})
	}
	for _, a := range r.Absent {
		m.Absent = append(m.Absent, absentColumns{a.Parameter, a.Columns})
	}
	for _, c := range s.Columns {
		if !used[c.Name] {
			m.Unmapped = append(m.Unmapped, c.Name)
		}
	}
	results := d.Detect(r)
	m.Flights = len(results)
	if len(results) == 0 {
		note, err := d.WhyNoFlight(r)
		if err != nil {
			note = err.Error()
		}
		m.Note = note + "; so it is not known which rules can be evaluated"
	}
	m.Rules = ruleParts(results)
	for _, c := range d.Check(r) {
		m.Checks = append(m.Checks, checkPart{c.ID, c.Title, string(c.Outcome), append([]string{}, c.Parameters...), c.Evidence, c.Hint})
	}
	return m
}

// ruleParts joins the evaluations of the flights. A rule is evaluable when it is
// evaluable in one of them.
func ruleParts(results []*detect.Result) []rulePart {
	parts := []rulePart{}
	for n, result := range results {
		for i, e := range result.Evaluations {
			if n == 0 {
				parts = append(parts, rulePart{Rule: e.Rule.ID, Title: e.Rule.Title, Missing: []string{}, Fallbacks: []string{}})
			}
			p := &parts[i]
			p.Evaluable = p.Evaluable || e.Coverage == detect.Evaluated || e.Coverage == detect.PartlyEvaluated
			p.NoOpportunity = !p.Evaluable && (p.NoOpportunity || e.Coverage == detect.NoOpportunity)
			p.Missing, p.Fallbacks = joined(p.Missing, e.Missing), joined(p.Fallbacks, e.Fallbacks)
		}
	}
	return parts
}

// joined returns the words and those of more that are not among them.
func joined(words, more []string) []string {
	for _, w := range more {
		if !slices.Contains(words, w) {
			words = append(words, w)
		}
	}
	return words
}

// encode writes the document as JSON. Characters that do not show are written as escapes:
// the texts stay as they are in the file.
func (d *inspectDocument) encode(to io.Writer) error {
	text, err := json.MarshalIndent(d, "", " ")
	if err != nil {
		return err
	}
	var b strings.Builder
	for _, r := range string(text) + "\n" {
		switch {
		case r == '\n' || !schemas.Hidden(r):
			b.WriteRune(r)
		case r > 0xffff:
			high, low := utf16.EncodeRune(r)
			fmt.Fprintf(&b, `\u%04x\u%04x`, high, low)
		default:
			fmt.Fprintf(&b, `\u%04x`, r)
		}
	}
	_, err = io.WriteString(to, b.String())
	return err
}
