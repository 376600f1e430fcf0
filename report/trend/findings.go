package trend

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"downlock/report/trend/tally"
)

// Finding is one line of the ranked list.
type Finding struct {
	Headline string   `json:"headline"`
	Detail   string   `json:"detail"`
	Subject  string   `json:"subject"` // id of the rule or measurement
	Column   string   `json:"column,omitempty"`
	Value    string   `json:"value,omitempty"`
	P        float64  `json:"p_corrected"`
	Small    bool     `json:"small_number,omitempty"`
	Rests    string   `json:"rests_on,omitempty"` // aircraft without which it would not stand out
	Strength float64  `json:"strength"`           // that the list is ranked by
	Flights  []Flight `json:"-"`                  // behind it: the most severe and newest first
	More     int      `json:"-"`                  // that the list leaves out
	Anchor   string   `json:"-"`                  // of the chart it belongs to

	comparison *comparison // of rates; nil for other findings
}

// Flight is a flight behind a number.
type Flight struct{ ID, Month, Severity, Certainty, Report string }

// mostFlights bounds the flights listed with a finding.
const mostFlights = 20

// rank sorts what was found into the four lists. Strength is the smallest ratio
// the interval allows, and for a measurement the odds that one value of it is
// above one of the rest, so that what is surely much comes first.
func (t *Trend) rank() {
	for i := range t.comparisons {
		t.rankComparison(&t.comparisons[i])
	}
	told := map[[2]string]bool{} // measurement and group that have a line
	for _, periods := range []bool{false, true} {
		for i := range t.shifts {
			if t.shifts[i].Periods == periods {
				t.rankShift(&t.shifts[i], told)
			}
		}
	}
	for _, s := range t.seasons {
		if s.Corrected < t.Level {
			t.Seasonal = append(t.Seasonal, t.seasonFinding(s))
		}
	}
	t.explain()
	for _, list := range []*[]Finding{&t.Findings, &t.Improvements, &t.Doubtful, &t.Seasonal} {
		slices.SortStableFunc(*list, func(a, b Finding) int { return cmp.Compare(b.Strength, a.Strength) })
	}
	t.Doubtful = t.Doubtful[:min(len(t.Doubtful), mostDoubtful)]
}

// The doubtful are listed up to so many, and from a ratio on that is surely above
// this when looked at alone.
const (
	mostDoubtful = 12
	doubtfulFrom = 1.2
)

func (t *Trend) rankComparison(c *comparison) {
	worse := c.Result.Ratio > 1
	f := Finding{Subject: t.Rules[c.Rule], P: c.Corrected, Small: c.small(), Strength: c.Result.Interval.Low, Anchor: anchor("rule", c.Rule)}
	if !worse {
		f.Strength = 1 / c.Result.Interval.High
	}
	if c.Group != nil {
		f.Column, f.Value = c.Group.Column, c.Group.Value
	}
	sure := c.Corrected < t.Level && c.tested() && !f.Small
	alone := c.Result.P < 0.05 && worse && f.Strength > doubtfulFrom
	if !sure && !alone {
		return
	}
	f.Headline, f.Detail, f.comparison = t.comparisonHeadline(c), t.comparisonDetail(c), c
	if worse {
		f.Flights, f.More = t.flightsBehind(c.Rule, c.Group)
	}
	switch {
	case !sure:
		t.Doubtful = append(t.Doubtful, f)
	case worse:
		t.Findings = append(t.Findings, f)
	default:
		t.Improvements = append(t.Improvements, f)
	}
}

func (t *Trend) comparisonHeadline(c *comparison) string {
	title := t.title(t.Rules[c.Rule])
	if c.Group == nil {
		if math.IsInf(c.Result.Ratio, 1) {
			return title + ": none in the period before"
		}
		return fmt.Sprintf("%s: %s times the rate of the period before", title, decimals(c.Result.Ratio))
	}
	if math.IsInf(c.Result.Ratio, 1) {
		return fmt.Sprintf("%s: %s alone, none of %s", title, c.Group.name(), c.Group.Against)
	}
	return fmt.Sprintf("%s: %s has %s times the rate of %s", title, c.Group.name(), decimals(c.Result.Ratio), c.Group.Against)
}

func (t *Trend) comparisonDetail(c *comparison) string {
	first, second := c.First.in(c.Unit), c.Second.in(c.Unit)
	side := func(where string, k int, able, per1000 float64) string {
		return fmt.Sprintf("%s %s on %s flights able to show it (%s per 1,000)", grouped(float64(k)), where, grouped(math.Round(able)), decimals(per1000))
	}
	now, then := string(c.Unit)+" in "+t.Name(t.Recent), "in "+t.Name(t.Before)
	if c.Group != nil {
		then = "of " + c.Group.Against
	}
	s := side(now, first.Events, first.Flights, first.Per1000()) + " against " + side(then, second.Events, second.Flights, second.Per1000()) +
		fmt.Sprintf("; ratio %s, 95 %% interval %s to %s; %s", decimals(c.Result.Ratio), decimals(c.Result.Interval.Low), decimals(c.Result.Interval.High), t.sureness(c.Result.P, c.Corrected))
	if c.First.Events > 0 {
		s += fmt.Sprintf("; %d of high, %d of medium, %d of low severity", c.First.Severity[tally.High], c.First.Severity[tally.Medium], c.First.Severity[tally.Low])
	}
	if c.Group != nil && c.Earlier.Able() > 0 {
		earlier := c.Earlier.in(c.Unit)
		s += fmt.Sprintf("; its own rate in %s was %s per 1,000 (%s)", t.Name(t.Before), decimals(earlier.Per1000()), plural(earlier.Events, string(c.Unit)))
	}
	return s + "."
}

// sureness says how sure a difference is.
func (t *Trend) sureness(p, corrected float64) string {
	return fmt.Sprintf("p %s, %s after correction for %s comparisons", chance(p), chance(corrected), grouped(float64(t.Tests)))
}

func (t *Trend) rankShift(s *shift, told map[[2]string]bool) {
	key := [2]string{t.Measured[s.Measurement].Name, ""}
	f := Finding{Subject: key[0], P: s.Corrected, Strength: s.effect() / max(1-s.effect(), 1e-3), Anchor: anchor("measurement", s.Measurement)}
	if s.Group != nil {
		f.Column, f.Value = s.Group.Column, s.Group.Value
		key[1] = s.Group.kind() + "\x00" + s.Group.Value
	}
	if told[key] || !s.tested() || s.Corrected >= t.Level || !s.noteworthy() {
		return
	}
	told[key] = true
	f.Headline, f.Detail = t.shiftHeadline(s), t.shiftDetail(s)
	t.Findings = append(t.Findings, f)
}

func (t *Trend) shiftHeadline(s *shift) string {
	m := t.Measured[s.Measurement]
	by := s.First.Median - s.Second.Median
	direction := "higher"
	if by < 0 {
		direction = "lower"
	}
	who, than := "all flights", "in the period before"
	if s.Group != nil {
		who = s.Group.name()
		if !s.Periods {
			than = "than usual"
		}
	}
	return fmt.Sprintf("%s: median of %s %s %s %s", t.title(m.Name), who, quantity(math.Abs(by), m.Unit), direction, than)
}

func (t *Trend) shiftDetail(s *shift) string {
	m := t.Measured[s.Measurement]
	then := "all of its kind"
	if s.Group != nil && s.Group.Column == tally.RegistrationColumn {
		then = "all aircraft of its type"
	}
	if s.Periods {
		then = t.Name(t.Before)
	}
	text := fmt.Sprintf("%s on %s flights in %s, quarter to three quarters %s to %s, against %s on %s flights of %s; a value is above one of the rest with a chance of %s %%; %s %% are beyond %s, which 5 %% are of %s; %s",
		quantity(s.First.Median, m.Unit), grouped(float64(s.First.N)), t.Name(t.Recent), decimals(s.First.Lower), decimals(s.First.Upper),
		quantity(s.Second.Median, m.Unit), grouped(float64(s.Second.N)), then, decimals(100*s.Result.Above), decimals(100*s.Beyond), quantity(s.Second.P95, m.Unit), then,
		t.sureness(s.Result.P, s.Corrected))
	if s.Group != nil && !s.Periods && s.Earlier.N > 0 {
		text += fmt.Sprintf("; its own median in %s was %s on %s flights", t.Name(t.Before), quantity(s.Earlier.Median, m.Unit), grouped(float64(s.Earlier.N)))
	}
	return text + "."
}

func (t *Trend) seasonFinding(s season) Finding {
	return Finding{Subject: t.Rules[s.Rule], P: s.Corrected, Strength: s.Swing, Anchor: anchor("rule", s.Rule),
		Headline: fmt.Sprintf("%s: comes with the season, most in %s", t.title(t.Rules[s.Rule]), calendarNames[s.Peak]),
		Detail: fmt.Sprintf("about %s times the rate without a season at the peak, one over that half a year later; the season taken out, the rate changes by a factor of %s a year, 95 %% interval %s to %s; %s.",
			decimals(s.Swing), decimals(s.DriftPerYear), decimals(s.Drift.Low), decimals(s.Drift.High), t.sureness(s.P, s.Corrected))}
}

// flightsBehind lists flights with the events of a rule in the recent period.
func (t *Trend) flightsBehind(rule int, g *group) (list []Flight, more int) {
	var events []tally.Event
	var months []string
	for m := t.Recent.First; m <= t.Recent.Last; m++ {
		for _, e := range t.Tally.Months[m].Events {
			if e.Rule == rule && (g == nil || slices.Contains(g.strata, e.Stratum)) {
				events, months = append(events, e), append(months, t.Tally.Months[m].Name)
			}
		}
	}
	order := make([]int, len(events))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		return cmp.Or(cmp.Compare(events[b].Severity, events[a].Severity), cmp.Compare(months[b], months[a]))
	})
	for _, i := range order[:min(len(order), mostFlights)] {
		list = append(list, t.flight(events[i], months[i]))
	}
	return list, len(events) - len(list)
}

func (t *Trend) flight(e tally.Event, month string) Flight {
	certainty := "possible"
	if e.Certain {
		certainty = "certain"
	}
	return Flight{e.Flight, month, e.Severity.String(), certainty, t.Reports[e.Flight]}
}
