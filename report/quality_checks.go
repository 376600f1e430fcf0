package report

import "downlock/detect"

// checkPart is a consistency check of the recording against the profile.
type checkPart struct {
	Check      string   `json:"check"`
	Title      string   `json:"title"`
	Outcome    string   `json:"outcome"`
	Parameters []string `json:"parameters"`
	Evidence   string   `json:"evidence"`
	Hint       string   `json:"hint,omitempty"`
}

// Failed says that the parameters were taken out.
func (c checkPart) Failed() bool { return c.Outcome == string(detect.Failed) }

// observationPart is something odd about one parameter, nothing taken out for it.
type observationPart struct {
	Kind      string    `json:"kind"`
	Parameter string    `json:"parameter"`
	Spans     []stretch `json:"spans"`
	Evidence  string    `json:"evidence"`
}

func checkParts(result *detect.Result) []checkPart {
	parts := make([]checkPart, len(result.Checks))
	for i, c := range result.Checks {
		parts[i] = checkPart{clean(c.ID), clean(c.Title), string(c.Outcome), cleanAll(c.Parameters), clean(c.Evidence), clean(c.Hint)}
	}
	return parts
}

func observationParts(result *detect.Result) []observationPart {
	parts := make([]observationPart, len(result.Observations))
	for i, o := range result.Observations {
		parts[i] = observationPart{string(o.Kind), clean(o.Parameter), stretches(o.Spans, result.Flight.Span), clean(o.Evidence)}
	}
	return parts
}

// FailedChecks lists what looks wrong with the profile, for the top of the page.
func (d *document) FailedChecks() (failed []checkPart) {
	for _, c := range d.Checks {
		if c.Failed() {
			failed = append(failed, c)
		}
	}
	return failed
}

// Affected counts the rules a failed check has made not evaluable.
func (d *document) Affected(check checkPart) int {
	n := 0
	for _, e := range d.Evaluations {
		for _, missing := range e.Missing {
			if e.Not() && namesCheck(missing, check) {
				n++
				break
			}
		}
	}
	return n
}

// namesCheck reports whether a reason is that of a failed check.
func namesCheck(missing string, check checkPart) bool {
	for _, p := range check.Parameters {
		if missing == p+": consistency check failed: "+check.Title {
			return true
		}
	}
	return false
}

// Odd counts the observations but for the end of a range, which every radio
// altitude has.
func (d *document) Odd() int {
	n := 0
	for _, o := range d.Observations {
		if o.Kind != string(detect.EndOfRange) {
			n++
		}
	}
	return n
}

// Unsure lists the parameters of which nothing in the recording shows that the profile
// reads the right column the right way round, in words.
func (d *document) Unsure() (parameters []string) {
	for _, o := range d.Observations {
		if o.Kind == string(detect.Unconfirmed) || o.Kind == string(detect.Unexplained) {
			parameters = append(parameters, words(o.Parameter))
		}
	}
	return parameters
}
