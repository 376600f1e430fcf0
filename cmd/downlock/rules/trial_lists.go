package rules

import (
	"fmt"
	"math"
	"strings"
	"time"

	"downlock/detect/readings"
)

// trialLines is the number of spans or moments that are shown of one list.
const trialLines = 6

// momentLines returns a line for each moment: its time, its bounds and its certainty.
func (w *trialText) momentLines(moments []readings.Moment) []string {
	if len(moments) == 0 {
		return []string{"none"}
	}
	var lines []string
	for _, m := range moments {
		within := fmt.Sprintf("between %.3f and %.3f s", m.Earliest, m.Latest)
		switch {
		case !m.InNominal():
			lines = append(lines, "perhaps, "+within)
		case m.Certain:
			lines = append(lines, fmt.Sprintf("%.3f s%s, %s", m.Nominal, w.clock("  ", m.Nominal, m.Nominal), within))
		default:
			lines = append(lines, fmt.Sprintf("%.3f s%s, %s, not certain", m.Nominal, w.clock("  ", m.Nominal, m.Nominal), within))
		}
	}
	return lines
}

func (w *trialText) spansOr(s readings.Spans) []string {
	if len(s) == 0 {
		return []string{"nowhere"}
	}
	return w.spans(s)
}

// spans returns a line for each of the first spans, and one for the rest.
func (w *trialText) spans(s readings.Spans) []string {
	var lines []string
	for i, x := range s {
		if x == w.trial.Window {
			return []string{"throughout"}
		}
		if i == trialLines-1 && len(s) > trialLines {
			return append(lines, fmt.Sprintf("and %d more until %.3f s, %.3f s together", len(s)-i, s[len(s)-1].End, s[i:].Seconds()))
		}
		lines = append(lines, fmt.Sprintf("%.3f to %.3f s%s", x.Start, x.End, w.clock("  ", x.Start, x.End)))
	}
	return lines
}

// list writes a word and lines beside it. It shortens long lists.
func (w *trialText) list(indent int, word string, lines []string) {
	if len(lines) > trialLines {
		more := fmt.Sprintf("and %d more", len(lines)-trialLines+1)
		lines = append(lines[:trialLines-1:trialLines-1], more)
	}
	for _, line := range lines {
		fmt.Fprintf(w.to, "%*s%-8s  %s\n", indent, "", word, line)
		word = ""
	}
}

// clock returns the UTC time of day of one or two times, "" where it is not known.
func (w *trialText) clock(before string, from, to float64) string {
	epoch := w.trial.Flight.Recording.Epoch
	if epoch.IsZero() {
		return ""
	}
	at := func(t float64) string {
		return epoch.Add(time.Duration(math.Round(t*1e3)) * time.Millisecond).UTC().Format("15:04:05.000")
	}
	if from == to {
		return before + at(from)
	}
	return before + at(from) + " to " + at(to)
}

// number returns a value with up to three decimals.
func number(v float64) string {
	if math.IsInf(v, 1) {
		return "no limit"
	}
	return strings.TrimSuffix(strings.TrimRight(fmt.Sprintf("%.3f", v), "0"), ".")
}

func withUnit(v float64, unit string) string {
	if math.IsInf(v, 0) {
		unit = ""
	}
	return strings.TrimSpace(number(v) + " " + unit)
}
