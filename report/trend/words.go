package trend

import (
	"math"
	"strconv"
	"strings"
	"time"

	"downlock/report/trend/tally"
)

var calendarNames = [...]string{"", "January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November", "December"}

// calendarMonth is 1 to 12 of YYYY-MM, 0 when it is none.
func calendarMonth(name string) int {
	at, err := time.Parse("2006-01", name)
	if err != nil {
		return 0
	}
	return int(at.Month())
}

// anchor is a place on the page.
func anchor(kind string, number int) string { return kind + "-" + strconv.Itoa(number+1) }

// decimals writes a number with three digits that count, as many as anyone reads.
func decimals(x float64) string {
	switch {
	case math.IsNaN(x):
		return "–"
	case math.IsInf(x, 0):
		return "∞"
	case x == 0:
		return "0"
	}
	digits := max(0, 2-int(math.Floor(math.Log10(math.Abs(x)))))
	s := strconv.FormatFloat(x, 'f', min(digits, 6), 64)
	if strings.ContainsRune(s, '.') {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	if !strings.ContainsRune(s, '.') {
		v, _ := strconv.ParseFloat(s, 64)
		return grouped(v)
	}
	return s
}

// grouped writes a whole number in groups of three digits.
func grouped(x float64) string {
	s := strconv.FormatFloat(math.Abs(x), 'f', 0, 64)
	for i := len(s) - 3; i > 0; i -= 3 {
		s = s[:i] + "," + s[i:]
	}
	if x < 0 && s != "0" {
		return "−" + s
	}
	return s
}

// chance writes a probability.
func chance(p float64) string {
	switch {
	case p < 1e-6:
		return "below 0.000001"
	case p > 0.9995:
		return "1"
	}
	return strconv.FormatFloat(p, 'g', 2, 64)
}

func quantity(x float64, unit string) string {
	if unit == "1" || unit == "" {
		return decimals(x)
	}
	return decimals(x) + " " + unit
}

// Nouns names the things counted: every event, or each occurrence once.
func (t *Trend) Nouns() string {
	if t.Occurrences {
		return "occurrences"
	}
	return "events"
}

// Noun is one of them.
func (t *Trend) Noun() string { return inPlural(1, t.Nouns()) }

// unitNouns is what comparisons of a rule count, in words.
func (t *Trend) unitNouns(u unit) string {
	if u == ofFlights {
		return "flights with an " + t.Noun()
	}
	return t.Nouns()
}

// capital begins a sentence.
func capital(s string) string { return strings.ToUpper(s[:1]) + s[1:] }

// plural writes a number with "event" or what else is counted, given in plural.
func plural(n int, nouns string) string { return grouped(float64(n)) + " " + inPlural(n, nouns) }

var singulars = strings.NewReplacer("events", "event", "occurrences", "occurrence", "flights", "flight", "evaluations", "evaluation", "values", "value",
	"opportunities", "opportunity", "rows", "row", "indicators", "indicator")

// inPlural is the noun alone.
func inPlural(n int, nouns string) string {
	if n == 1 {
		return singulars.Replace(nouns)
	}
	return nouns
}

// onAxis writes a tick of an axis with as many decimals as its steps need.
func onAxis(value, step float64) string {
	if math.Abs(value) < step/2 {
		value = 0 // and not minus nothing
	}
	digits := max(0, int(math.Ceil(-math.Log10(step)-1e-9)))
	if digits == 0 {
		return grouped(value)
	}
	return strings.Replace(strconv.FormatFloat(value, 'f', digits, 64), "-", "−", 1)
}

// name says which flights a group is.
func (g *group) name() string {
	switch g.Column {
	case tally.TypeColumn:
		return "type " + g.Value
	case tally.RegistrationColumn:
		return "aircraft " + g.Value
	}
	return strings.ReplaceAll(g.Column, "_", " ") + " " + g.Value
}
