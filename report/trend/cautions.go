package trend

import "downlock/report"

// cautions are shown on every page and stated in every document: those of all reports, and
// what trends need beside.
func cautions() []string {
	return append(report.Cautions(),
		"If a group stands out, look at its flights before you conclude anything: routes, seasons, recorders and profiles differ, too.",
		"The tests assume that flights are independent. One fault of one aircraft that shows on every flight is still one fault.")
}
