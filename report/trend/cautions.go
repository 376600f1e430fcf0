package trend

import "downlock/report"

// cautions are shown on every page and stated in every document: those of all reports, and
// what trends need beside.
func cautions() []string {
	return append(report.Cautions(),
		"A group that stands out calls for a look at its flights, not for a conclusion: routes, seasons, recorders and profiles differ, too.",
		"The tests take flights for independent. An aircraft with one fault that shows on every flight is one fault.")
}
