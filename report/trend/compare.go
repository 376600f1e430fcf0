package trend

import (
	"downlock/report/trend/statistics"
)

// comparison is one rule held against itself: the recent period against the one
// before, or a group of flights against the rest in the recent period.
type comparison struct {
	Rule          int
	Group         *group // nil for the periods
	Unit          unit
	First, Second count // first: recent, or the group
	Earlier       count // of a group: the group itself in the period before
	Result        statistics.Comparison
	Corrected     float64
}

// tested says whether the comparison is one of the family: with fewer events on
// both sides together, which the comparison takes as given, nothing could come
// of it.
func (c *comparison) tested() bool {
	return c.First.in(c.Unit).Events+c.Second.in(c.Unit).Events >= Fewest && c.First.in(c.Unit).Flights > 0 && c.Second.in(c.Unit).Flights > 0
}

// small says that the side that stands out rests on too few events.
func (c *comparison) small() bool {
	more := c.First
	if c.Result.Ratio < 1 {
		more = c.Second
	}
	return more.in(c.Unit).Events < Fewest
}

// compareRates makes all comparisons of events.
func (t *Trend) compareRates() {
	groups := t.groups()
	for r := range t.Rules {
		recent, before := t.of(r, t.Recent, nil), t.of(r, t.Before, nil)
		both := recent
		both.add(before)
		t.addComparison(comparison{Rule: r, Unit: both.unit(), First: recent, Second: before})
		for i := range groups {
			g := &groups[i]
			t.addComparison(comparison{Rule: r, Group: g, Unit: both.unit(), First: t.of(r, t.Recent, g.strata),
				Second: t.of(r, t.Recent, g.rest), Earlier: t.of(r, t.Before, g.strata)})
		}
	}
}

func (t *Trend) addComparison(c comparison) {
	c.Corrected = 1
	c.Result = statistics.Compare(c.First.in(c.Unit), c.Second.in(c.Unit), Confidence)
	t.comparisons = append(t.comparisons, c)
}

// season is the wave of one rule over the year.
type season struct {
	Rule int
	statistics.Season
	Corrected float64
}

// findSeasons looks for a season in every rule whose events do not come in
// clumps; the likelihood takes them for independent.
func (t *Trend) findSeasons() {
	for r := range t.Rules {
		rates := make([]statistics.Rate, t.over())
		var all count
		for m, c := range t.monthly[r][:t.over()] {
			rates[m] = c.rate()
			all.add(c)
		}
		first := calendarMonth(t.Tally.Months[0].Name)
		if all.unit() != ofEvents || first == 0 {
			continue
		}
		if s, ok := statistics.FitSeason(rates, first); ok {
			t.seasons = append(t.seasons, season{r, s, 1})
		}
	}
}
