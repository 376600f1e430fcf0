package scan

import (
	"cmp"
	"fmt"
	"slices"

	"downlock/cmd/downlock/command"
	"downlock/detect"
)

// mostWorst is how many occurrences the terminal shows: the rest is for the index.
const mostWorst = 5

// occurrence is what the terminal shows of an occurrence: its most severe event.
type occurrence struct {
	severity  detect.Severity
	certainty detect.Certainty
	title     string
	where     string
}

// worstOf returns the most severe occurrences of a flight, at most as many as the
// terminal shows.
func worstOf(r *detect.Result) (worst []occurrence) {
	for _, o := range r.Occurrences {
		e := r.Events[o.Events[0]]
		worst = append(worst, occurrence{severity: e.Severity, certainty: e.Certainty, title: e.Rule.Title})
	}
	return mostSevere(worst)
}

// mostSevere returns the most severe occurrences, those that are certain first, else in
// the order they came in.
func mostSevere(all []occurrence) []occurrence {
	slices.SortStableFunc(all, func(a, b occurrence) int {
		return cmp.Or(severityRank(b.severity)-severityRank(a.severity), certainRank(b.certainty)-certainRank(a.certainty))
	})
	return all[:min(len(all), mostWorst)]
}

func severityRank(s detect.Severity) int { return slices.Index(command.Severities, string(s)) }

func certainRank(c detect.Certainty) int {
	if c == detect.Certain {
		return 1
	}
	return 0
}

// addWorst keeps the most severe occurrences of the run.
func (t *runTotals) addWorst(input string, flights []flightLine) {
	for _, f := range flights {
		for _, o := range f.worst {
			if o.where = f.Page; o.where == "" {
				o.where = fmt.Sprintf("%s, flight %d", input, f.Number)
			}
			t.worst = append(t.worst, o)
		}
		t.worst = mostSevere(t.worst)
	}
}

// begin says what the run is about to do.
func (s *scan) begin() {
	text := fmt.Sprintf("reading %s with the profile for %s", command.Count(len(s.inputs), "input"), s.report.Profile.Aircraft)
	if s.options.out != "" {
		text += "; reports go to " + s.options.out
	}
	if s.archive != nil {
		text += "; findings go to the archive " + s.options.archive
	}
	s.say.Note(text)
}

// sayWorst shows the most severe occurrences of the run.
func (s *scan) sayWorst(t *runTotals) {
	if len(t.worst) == 0 || s.options.log != "" { // a log has no tables
		return
	}
	s.say.Note(fmt.Sprintf("the most severe of %s, each with its report or flight:", command.Count(t.occurrences, "occurrence")))
	wide := 0
	for _, o := range t.worst {
		wide = max(wide, len([]rune(o.title)))
	}
	for _, o := range t.worst {
		s.say.Detail(fmt.Sprintf("%-6s  %-8s  %-*s  %s", o.severity, o.certainty, wide, o.title, o.where))
	}
}
