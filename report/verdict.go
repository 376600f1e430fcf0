package report

import "downlock/detect"

// Verdict is what review found out about an event, as a report shows it.
type Verdict struct {
	Finding  string `json:"verdict"` // valid, false or follow-up
	Cause    string `json:"cause,omitempty"`
	Comment  string `json:"comment,omitempty"`
	By       string `json:"by"`
	At       string `json:"at_utc"`
	Outdated bool   `json:"outdated"` // the event has changed since
}

// verdictOf returns the verdict on an event, nil where there is none.
func verdictOf(run *Run, f *detect.Flight, e *detect.Event) *Verdict {
	if run.Verdict == nil {
		return nil
	}
	v := run.Verdict(f, e)
	if v == nil {
		return nil
	}
	return &Verdict{clean(v.Finding), clean(v.Cause), clean(v.Comment), clean(v.By), clean(v.At), v.Outdated}
}

// Short words the verdict for a table.
func (v *Verdict) Short() string {
	switch {
	case v == nil:
		return ""
	case v.Outdated:
		return v.Finding + " (outdated)"
	}
	return v.Finding
}
