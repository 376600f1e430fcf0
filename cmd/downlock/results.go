package main

import (
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"downlock/report"
)

// resultLines writes a line per flight for scripts: tab-separated, a line of
// headings first, in the order of the inputs.
type resultLines struct {
	to  io.Writer
	out string
	err error // the first one
}

func newResultLines(to io.Writer, out string) *resultLines {
	r := &resultLines{to: to, out: out}
	r.line("input", "flight", "high", "medium", "low", "possible", "rules_not_evaluable", "report")
	return r
}

func (r *resultLines) line(cells ...string) {
	if r.err != nil {
		return
	}
	for i, c := range cells {
		cells[i] = strings.ReplaceAll(printable(c), "\n", " ")
	}
	_, r.err = fmt.Fprintln(r.to, strings.Join(cells, "\t"))
}

func (r *resultLines) write(o outcome) {
	for _, e := range o.entries {
		r.line(o.input, fmt.Sprint(e.Number), fmt.Sprint(e.High()), fmt.Sprint(e.Medium()), fmt.Sprint(e.Low()), fmt.Sprint(e.Possible()),
			fmt.Sprint(e.NotEvaluable), filepath.Join(r.out, e.Folder, report.FlightPage))
	}
}
