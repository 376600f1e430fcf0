package trend

import (
	"fmt"
	"io"
	"os"
	"path/filepath"

	"downlock/cmd/downlock/command"
	"downlock/report"
	"downlock/report/trend"
	"downlock/report/trend/tally"
)

// reportLinks finds the reports of the flights with events. It returns the links to
// them from the output folder, by flight.
func (o *trendOptions) reportLinks(t *tally.Tally) map[string]string {
	links := map[string]string{}
	base := relative(o.out, o.reports)
	for flight, r := range t.Recordings {
		for _, folder := range report.FlightFolders(r.Name, r.SHA256, r.Number) {
			if _, err := os.Stat(filepath.Join(o.reports, folder, report.FlightPage)); err == nil {
				links[flight] = base + "/" + folder + "/" + report.FlightPage
			}
		}
	}
	return links
}

// relative returns the path from one folder to another, with slashes.
func relative(from, to string) string {
	a, err1 := filepath.Abs(from)
	b, err2 := filepath.Abs(to)
	if way, err := filepath.Rel(a, b); err1 == nil && err2 == nil && err == nil {
		return filepath.ToSlash(way)
	}
	return filepath.ToSlash(to)
}

// writeFindings writes a line for each finding, after a line of headings.
func writeFindings(stdout io.Writer, t *trend.Trend) error {
	if _, err := fmt.Fprintln(stdout, "list\tsubject\tcolumn\tvalue\tp_corrected\tfinding"); err != nil {
		return err
	}
	for _, list := range []struct {
		name     string
		findings []trend.Finding
	}{{"stands out", t.Findings}, {"better", t.Improvements}, {"season", t.Seasonal}} {
		for _, f := range list.findings {
			_, err := fmt.Fprintf(stdout, "%s\t%s\t%s\t%s\t%.3g\t%s\n", list.name, command.Printable(f.Subject), f.Column, command.Printable(f.Value), f.P, command.Printable(f.Headline))
			if err != nil {
				return err
			}
		}
	}
	return nil
}
