package scan

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"downlock/report"
)

// resume takes over what earlier runs on the archive did not report: their lines come
// first, and their flights and events count in this run. Of a run that told its findings
// and whose exit code could not say so, --fail-on alone still counts the events.
func (s *scan) resume(t *runTotals, lines *resultLines) {
	if s.archive == nil {
		return
	}
	var untold []inputReport
	for _, u := range s.archive.EarlierRuns() {
		var in inputReport
		if err := json.Unmarshal(u.Report, &in); err != nil {
			s.say.Warning(fmt.Sprintf("%s: an earlier run left findings there that it did not report, in a form that this version does not know: see the tables", s.options.archive))
			continue
		}
		if !u.Told {
			untold = append(untold, in)
			continue
		}
		for _, f := range in.Flights {
			for severity, n := range f.Events {
				t.late[severity] += n
			}
		}
	}
	slices.SortStableFunc(untold, func(a, b inputReport) int { return strings.Compare(a.Input, b.Input) })
	for _, in := range untold {
		t.resumed++
		t.addFlights(in.Flights, s.resumedEntries(in))
		lines.write(in)
	}
}

// resumedEntries reads the entries for the index of the flights of an input, where the
// earlier run wrote their reports into the folder of this one.
func (s *scan) resumedEntries(in inputReport) (entries []report.FlightEntry) {
	if s.options.out == "" {
		return nil
	}
	for _, f := range in.Flights {
		entry, err := report.ReadEntry(s.options.out, f.Folder, f.ID)
		if f.Folder == "" || err != nil {
			s.say.Warning(fmt.Sprintf("%s: flight %d, found by a run that was interrupted, has no report in %s; --rescan writes it", in.Input, f.Number, s.options.out))
			continue
		}
		entries = append(entries, entry)
	}
	return entries
}
