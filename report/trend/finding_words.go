package trend

import (
	"fmt"
	"math"

	"downlock/report/trend/statistics"
	"downlock/report/trend/tally"
)

// The words of a finding: its subject and by how much it changed, on how many flights, how
// sure, and the facts beside it.

func (t *Trend) comparisonHeadline(c *comparison) string {
	title := t.title(t.Rules[c.Rule])
	none := math.IsInf(c.Result.Ratio, 1)
	switch {
	case c.Group == nil && none:
		return title + ": none in " + t.before()
	case c.Group == nil:
		return fmt.Sprintf("%s: %s times the rate of %s", title, decimals(c.Result.Ratio), t.before())
	case none:
		return fmt.Sprintf("%s: %s alone, none of %s", title, c.Group.name(), c.Group.Against)
	}
	return fmt.Sprintf("%s: %s has %s times the rate of %s", title, c.Group.name(), decimals(c.Result.Ratio), c.Group.Against)
}

// comparisonDetail says on how many flights.
func (t *Trend) comparisonDetail(c *comparison) string {
	first, second := c.First.in(c.Unit), c.Second.in(c.Unit)
	other := "in " + t.Name(t.Before)
	if c.Group != nil {
		other = "of " + c.Group.Against
	}
	per := t.dividedBy(c.Unit)
	s := fmt.Sprintf("%s on %s in %s, %s per 1,000; %s %s on %s, %s per 1,000.",
		plural(first.Events, t.unitNouns(c.Unit)), evaluatedOn(first.Flights, per), t.Name(t.Recent), decimals(first.Per1000()),
		grouped(float64(second.Events)), other, grouped(math.Round(second.Flights)), decimals(second.Per1000()))
	if per == byOpportunities {
		s += fmt.Sprintf(" Per 1,000 flights evaluated: %s and %s.", decimals(c.First.perFlight().Per1000()), decimals(c.Second.perFlight().Per1000()))
	}
	return s
}

// evaluatedOn says on how many a rate rests: 380 opportunities, 380 flights evaluated.
func evaluatedOn(n float64, per string) string {
	s := grouped(math.Round(n)) + " " + per
	if per == byFlights {
		s += " evaluated"
	}
	return s
}

// comparisonSureness says between which ratios it is, and what chance does.
func (t *Trend) comparisonSureness(c *comparison) string {
	return fmt.Sprintf("%s (95 %% interval). %s", timesBetween(c.Result.Interval), t.sureness(c.Result.P, c.Corrected))
}

func timesBetween(i statistics.Interval) string {
	switch {
	case math.IsInf(i.High, 1):
		return fmt.Sprintf("At least %s times", decimals(i.Low))
	case i.Low == 0:
		return fmt.Sprintf("At most %s times", decimals(i.High))
	}
	return fmt.Sprintf("Between %s and %s times", decimals(i.Low), decimals(i.High))
}

// comparisonBeside returns severities and the state of the group before.
func (t *Trend) comparisonBeside(c *comparison) string {
	s := ""
	if c.First.Events > 0 {
		s = fmt.Sprintf("Severity: %d high, %d medium, %d low.", c.First.Severity[tally.High], c.First.Severity[tally.Medium], c.First.Severity[tally.Low])
	}
	if c.Group != nil && c.Earlier.in(c.Unit).Flights > 0 {
		earlier := c.Earlier.in(c.Unit)
		s += fmt.Sprintf(" Its own rate in %s: %s per 1,000 (%s).", t.Name(t.Before), decimals(earlier.Per1000()), plural(earlier.Events, t.unitNouns(c.Unit)))
	}
	return s
}

// sureness says how often chance would bring as much. Holm's corrected p value
// bounds the chance of that much anywhere among all comparisons; Benjamini and
// Hochberg's the share of false ones among all that are as clear.
func (t *Trend) sureness(p, corrected float64) string {
	numbers := fmt.Sprintf("(p %s alone, %s corrected)", chance(p), chance(corrected))
	if corrected > 0.5 {
		return fmt.Sprintf("Among %s comparisons chance brings as much %s.", grouped(float64(t.Tests)), numbers)
	}
	if t.Correction == BenjaminiHochberg {
		return fmt.Sprintf("Of the lines as clear as this among %s comparisons, %s false %s.", grouped(float64(t.Tests)), outOf(corrected, "line", "is", "are"), numbers)
	}
	return fmt.Sprintf("If nothing differed, at most %s show as much anywhere among %s comparisons %s.", outOf(corrected, "archive", "would", "would"), grouped(float64(t.Tests)), numbers)
}

// outOf writes a probability as so many things in so many.
func outOf(p float64, thing, one, many string) string {
	switch {
	case p < 1e-6:
		return "one " + thing + " in a million " + one
	case p < 0.01:
		n := 1 / p
		digit := math.Pow(10, math.Floor(math.Log10(n))-1)
		return fmt.Sprintf("one %s in %s %s", thing, grouped(math.Floor(n/digit)*digit), one)
	case math.Ceil(100*p) == 1:
		return "one " + thing + " in 100 " + one
	}
	return fmt.Sprintf("%.0f %ss in 100 %s", math.Ceil(100*p), thing, many)
}

func (t *Trend) shiftHeadline(s *shift) string {
	m := t.Measured[s.Measurement]
	by := s.First.Median - s.Second.Median
	direction := "higher"
	if by < 0 {
		direction = "lower"
	}
	who, than := "all flights", "in "+t.before()
	if s.Group != nil {
		who = s.Group.name()
		if !s.Periods {
			than = "that of " + t.allOfKind(s)
		}
	}
	return fmt.Sprintf("%s: median of %s %s %s than %s", t.title(m.Name), who, quantity(math.Abs(by), m.Unit), direction, than)
}

// allOfKind names the flights a group is held against.
func (t *Trend) allOfKind(s *shift) string {
	if s.Group.Column == tally.RegistrationColumn {
		return "all aircraft of its type"
	}
	return "all flights"
}

func (t *Trend) shiftDetail(s *shift) string {
	m := t.Measured[s.Measurement]
	other := t.Name(t.Before)
	if s.Group != nil && !s.Periods {
		other = t.allOfKind(s)
	}
	return fmt.Sprintf("Median %s on %s in %s, half of them from %s to %s; %s: %s on %s.",
		quantity(s.First.Median, m.Unit), s.First.on(), t.Name(t.Recent), decimals(s.First.Lower), decimals(s.First.Upper),
		other, quantity(s.Second.Median, m.Unit), s.Second.on())
}

// on says what a spread is of: 380 flights, or 1,140 values of 380 flights.
func (s spread) on() string {
	flights := plural(s.Flights, "flights")
	if !s.Several() {
		return flights
	}
	return plural(s.N, "values") + " of " + flights
}

func (t *Trend) shiftSureness(s *shift) string {
	pairs := "pairs"
	if s.First.Several() || s.Second.Several() {
		pairs = "pairs of flights, each by the median of its values"
	}
	return fmt.Sprintf("Higher than one of the rest in %s of 100 %s; %s %% are above %s, where 5 %% would be usual. %s",
		decimals(100*s.Result.Above), pairs, decimals(100*s.Beyond), quantity(s.Second.P95, t.Measured[s.Measurement].Unit), t.sureness(s.Result.P, s.Corrected))
}

func (t *Trend) shiftBeside(s *shift) string {
	if s.Group == nil || s.Periods || s.Earlier.N == 0 {
		return ""
	}
	return fmt.Sprintf("Its own median in %s: %s on %s.", t.Name(t.Before), quantity(s.Earlier.Median, t.Measured[s.Measurement].Unit), s.Earlier.on())
}

func (t *Trend) seasonFinding(s season) Finding {
	return Finding{Subject: t.Rules[s.Rule], P: s.Corrected, Strength: s.Swing, Anchor: anchor("rule", s.Rule),
		Headline: fmt.Sprintf("%s: seasonal, highest in %s", t.title(t.Rules[s.Rule]), calendarNames[s.Peak]),
		Detail:   fmt.Sprintf("At the peak the rate is about %s times what it would be without a season; half a year later it is that rate divided by the same factor.", decimals(s.Swing)),
		Sureness: t.sureness(s.P, s.Corrected),
		Beside: fmt.Sprintf("Apart from the season, the rate changes by a factor of %s a year (95 %% interval %s to %s).",
			decimals(s.DriftPerYear), decimals(s.Drift.Low), decimals(s.Drift.High))}
}
