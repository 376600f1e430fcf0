package report

import (
	"encoding/json"
	"time"

	"downlock/detect"
)

// reportSchema names the form of report.json; the number rises when a field
// changes its meaning or goes away.
const reportSchema = "downlock report 1"

// document is report.json. The pages are made from it too, so that they cannot
// say something else.
type document struct {
	Schema       string            `json:"schema"`
	Provenance   provenance        `json:"provenance"`
	Flight       flightPart        `json:"flight"`
	Summary      summary           `json:"summary"`
	Operations   []operationPart   `json:"operations"`
	Parameters   []parameterPart   `json:"parameters"`
	Absent       []absentPart      `json:"absent"`
	Events       []eventPart       `json:"events"`
	Audits       []auditPart       `json:"audits"`
	Measurements []measurementPart `json:"measurements"`
	Evaluations  []evaluationPart  `json:"evaluations"`
	Checks       []checkPart       `json:"checks"`
	Observations []observationPart `json:"observations"`
	Cautions     []string          `json:"cautions"`
}

type provenance struct {
	Version string      `json:"version"`
	Input   inputPart   `json:"input"`
	Profile profilePart `json:"profile"`
	Packs   []packPart  `json:"packs"`
}

type inputPart struct {
	Name   string   `json:"name"`
	Bytes  int64    `json:"bytes"`
	SHA256 string   `json:"sha256"`
	Format string   `json:"format"`
	Notes  []string `json:"notes"`
	// Repairs are the first of Notes: repairs of time that does not run on.
	Repairs []string `json:"repairs"`
}

// FurtherNotes are the notes but for the repairs.
func (p inputPart) FurtherNotes() []string { return p.Notes[min(len(p.Repairs), len(p.Notes)):] }

type profilePart struct {
	Aircraft     string `json:"aircraft"`
	Registration string `json:"registration,omitempty"`
	Title        string `json:"title"`
	File         string `json:"file"`
	SHA256       string `json:"sha256"`
}

type packPart struct {
	Name   string `json:"name"`
	SHA256 string `json:"sha256"`
}

// instant is a moment as well as the samples tell it, in seconds; UTC is that
// of the nominal time, empty where the recording has no date.
type instant struct {
	Nominal  number `json:"nominal"`
	Earliest number `json:"earliest"`
	Latest   number `json:"latest"`
	UTC      string `json:"utc,omitempty"`
}

// stretch is a span of time in seconds.
type stretch struct {
	Start number `json:"start"`
	End   number `json:"end"`
}

// newDocument states a result as report.json does.
func newDocument(run *Run, result *detect.Result) *document {
	doc := &document{
		Schema:       reportSchema,
		Provenance:   newProvenance(run, result),
		Flight:       newFlightPart(result.Flight),
		Operations:   operationParts(result),
		Parameters:   parameterParts(result.Tracks),
		Absent:       absentParts(result.Flight),
		Events:       eventParts(run, result),
		Audits:       auditParts(result),
		Measurements: measurementParts(result),
		Checks:       checkParts(result),
		Observations: observationParts(result),
		Cautions:     cautions,
	}
	doc.Evaluations = evaluationParts(result)
	doc.Summary = newSummary(doc)
	return doc
}

func newProvenance(run *Run, result *detect.Result) provenance {
	rec := result.Recording()
	p := provenance{
		Version: clean(run.Version),
		Input:   inputPart{clean(rec.Name), rec.Bytes, rec.SHA256, clean(rec.Format), cleanAll(rec.Notes), cleanAll(rec.Repairs)},
		Profile: newProfilePart(run),
		Packs:   newPackParts(run),
	}
	return p
}

func newProfilePart(run *Run) profilePart {
	p := run.Profile
	return profilePart{clean(p.Aircraft), clean(p.Registration), clean(p.Title), clean(p.File), p.SHA256}
}

func newPackParts(run *Run) []packPart {
	packs := make([]packPart, len(run.Packs))
	for i, p := range run.Packs {
		packs[i] = packPart{clean(p.Name), p.SHA256}
	}
	return packs
}

// newInstant puts a bound that the samples leave open at the end of the flight.
func newInstant(t detect.Time, within detect.Span, epoch time.Time) instant {
	nominal := finite(t.Nominal, within.Start)
	return instant{nominal, finite(t.Earliest, within.Start), finite(t.Latest, within.End), clock(epoch, float64(nominal))}
}

func stretches(spans []detect.Span, within detect.Span) []stretch {
	out := make([]stretch, len(spans))
	for i, s := range spans {
		out[i] = stretch{finite(s.Start, within.Start), finite(s.End, within.End)}
	}
	return out
}

// encodeJSON writes a document indented, with a line end.
func encodeJSON(doc any) ([]byte, error) {
	data, err := json.Marshal(doc)
	if err != nil {
		return nil, err
	}
	return append(indented(data), '\n'), nil
}
