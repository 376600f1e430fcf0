package trend

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"downlock/report/trend/statistics"
	"downlock/report/trend/tally"
)

func titlesOf(charts []rateChart) string {
	var out []string
	for _, c := range charts {
		out = append(out, fmt.Sprintf("%s %s %d/%v", c.Rule, c.Anchor, c.Events, c.Open))
	}
	return strings.Join(out, ", ")
}

// Ten rules of the user's own on the eleven months of drawn: what is charted, what is only
// named, and why.
func TestPageSortsRules(t *testing.T) {
	t.Parallel()
	const usual = 4
	rules := []struct {
		name   string
		events [11]int
		change func(cell *tally.Cell)
	}{
		{"steady", [11]int{usual, usual, usual, 0, usual, usual, usual, usual, usual, usual, 2}, nil},
		{"peak", [11]int{usual, usual, usual, 0, usual, usual, usual, 13, usual, usual, 40}, nil},
		{"five", [11]int{0, 1, 0, 0, 1, 0, 1, 0, 1, 1, 0}, nil},
		{"four", [11]int{0, 1, 0, 0, 1, 0, 1, 0, 0, 1, 0}, nil},
		{"silent", [11]int{}, nil},
		{"never", [11]int{}, func(c *tally.Cell) { *c = tally.Cell{NotEvaluable: 500} }},
		{"no-chance", [11]int{}, func(c *tally.Cell) { *c = tally.Cell{NoOpportunity: 500} }},
		{"fall", [11]int{16, 16, 16, 0, 16, 16, 16, 16, 3, 16, 8}, nil},
		// Expected are 0.5 a month; 4 and 5 events are both beyond 0.5 + 3·0.707 = 2.6.
		{"few-peak", [11]int{1, 0, 1, 0, 0, 1, 0, 4, 0, 0, 0}, nil},
		{"low-peak", [11]int{1, 0, 1, 0, 0, 1, 0, 0, 5, 0, 0}, nil},
	}
	counted := drawn([11]int{}, [11]int{})
	counted.Rules = nil
	for i := range counted.Months {
		m := &counted.Months[i]
		cell := m.Cells[0][0]
		m.Cells = nil
		for r, rule := range rules {
			c := cell
			if rule.change != nil && i != 3 {
				rule.change(&c)
			}
			m.Cells = append(m.Cells, []tally.Cell{c})
			for k := range rule.events[i] {
				m.Events = append(m.Events, tally.Event{Rule: r, Flight: fmt.Sprint(rule.name, m.Name, k)})
			}
		}
	}
	for _, rule := range rules {
		counted.Rules = append(counted.Rules, rule.name)
	}
	tr, err := New(counted, Options{Level: 0.05, Correction: Holm, Months: 3, RunMonth: "2031-04"})
	if err != nil {
		t.Fatal(err)
	}
	tr.Findings, tr.Improvements, tr.Doubtful = []Finding{{Subject: "four"}}, []Finding{{Subject: "fall"}}, nil
	p := tr.newPage()
	if len(p.RateGroups) != 2 || p.RateGroups[0].Name != "Rules named above" || p.RateGroups[1].Name != "All other rules" {
		t.Fatalf("%d groups", len(p.RateGroups))
	}
	// Opportunities: nine months of 1,000 and one of 500.
	for what, c := range map[string]struct{ got, want string }{
		"named":                  {titlesOf(p.RateGroups[0].Charts), "four rule-4 4/9500, fall rule-8 139/9500"},
		"others":                 {titlesOf(p.RateGroups[1].Charts), "steady rule-1 38/9500, peak rule-2 85/9500, five rule-3 5/9500, few-peak rule-9 7/9500, low-peak rule-10 8/9500"},
		"few":                    {titlesOf(p.Few), ""},
		"silent":                 {titlesOf(p.Silent), "silent rule-5 0/9500"},
		"never":                  {titlesOf(p.Never), "never rule-6 0/0"},
		"no chance":              {titlesOf(p.NoChance), "no-chance rule-7 0/0"},
		"few in the last months": {titlesOf(p.FewSignals), "few-peak rule-9 4/9500"},
	} {
		if c.got != c.want {
			t.Errorf("%s: %s, want %s", what, c.got, c.want)
		}
	}
	if c := p.RateGroups[1].Charts[0]; c.PerFlight() != 8 || c.Able != 4750 || math.Abs(p.Silent[0].AtMost-3.6889/9.5) > 1e-4 { // 38 on 4,750 flights
		t.Errorf("%v per 1,000 flights of %v, at most %v", c.PerFlight(), c.Able, p.Silent[0].AtMost)
	}
	var signals []string
	for _, s := range p.Signals {
		signals = append(signals, fmt.Sprintf("%s in %s: %s (%s) %.4g for %.4g %v %d", s.Rule, s.Months, s.What, s.Kinds, s.Rate, s.Before, s.Higher, s.rateChart.Events))
	}
	// Peak: 21 events in three months are 7 per 1,000. Its average, 5.8, 5.44 and 5.152, has limits 2.962
	// times 0.2·2·sqrt(1 + 0.64 + ...) = 2.962 · 0.667 at most, 5.97. Low: 35 events.
	// low-peak has 0.5 per 1,000: 0.5·0.64 + ... to 1.32 and the limit 0.5 + 2.962·0.2·0.707·1.665 = 1.197; a month on 1.157.
	want := []string{
		"peak in 2031-01: one point beyond three sigma (one point beyond three sigma) 7 for 4 true 21",
		"fall in 2031-02: one point beyond three sigma (one point beyond three sigma) 11.67 for 16 false 35",
		"low-peak in 2031-02: one point beyond three sigma; moving average outside its limits (one point beyond three sigma|moving average outside its limits) 1.667 for 0.5 true 5",
	}
	if !slices.Equal(signals, want) {
		t.Errorf("signals\n%s\nwant\n%s", strings.Join(signals, "\n"), strings.Join(want, "\n"))
	}
	var heads, marks []string
	for _, h := range p.Months {
		heads = append(heads, fmt.Sprintf("%s %s %v %v", h.Month, h.Short, h.New, h.NotOver))
	}
	if len(heads) != 11 || heads[6] != "2030-12 30-12 false false" || heads[7] != "2031-01 31-01 true false" || heads[9] != "2031-03 31-03 false false" || heads[10] != "2031-04 31-04 false true" {
		t.Errorf("heads %v", heads)
	}
	for _, row := range p.Rows {
		for m, c := range row.Cells {
			if c.New != (m == 7) || c.NotOver != (m == 10) || c.Month != p.Months[m].Month || c.Short != p.Months[m].Short {
				t.Errorf("%s, month %d: %+v", row.Rule, m, c)
			}
			if c.High || c.Low {
				marks = append(marks, fmt.Sprintf("%s %s %d %v", row.Rule, c.Month, c.Events, c.High))
			}
		}
	}
	if want := []string{"peak 2031-01 13 true", "fall 2031-02 3 false", "low-peak 2031-02 5 true"}; !slices.Equal(marks, want) {
		t.Errorf("marked are %v, want %v", marks, want)
	}
	if r := p.Rows[1]; r.Rule != "peak" || r.Anchor != "rule-2" || r.Group != "Other" || r.Events != 85 || r.Cells[10].Able != 250 {
		t.Errorf("%+v", r)
	}
}

// The table has two years: of 26 months the last 24, and their events.
func TestTableOfTwoYears(t *testing.T) {
	t.Parallel()
	months := make([][2]int, 26)
	for i := range months {
		months[i] = [2]int{i, 0} // 2 to 25 are 24 · 13.5
	}
	tr, err := New(one(months...), Options{Level: 0.05, Correction: Holm, Months: 3})
	if err != nil {
		t.Fatal(err)
	}
	p := &page{Trend: tr}
	p.addMonths()
	if len(p.Months) != 24 || p.Months[0].Month != "2030-03" || len(p.Rows[0].Cells) != 24 || p.Rows[0].Events != 324 || p.Rows[0].Cells[0].Events != 2 {
		t.Errorf("%d months from %+v, %d events", len(p.Months), p.Months[0], p.Rows[0].Events)
	}
}

// A limit is not beyond itself, and five events are enough on either side.
func TestBeyondLimits(t *testing.T) {
	t.Parallel()
	chart := statistics.RateChart{Centre: 0.005, Points: []statistics.ChartPoint{{Rate: 0.006, Low: 0.002, High: 0.005}}}
	for _, c := range []struct {
		events    int
		open      float64
		rate      float64
		high, low bool
	}{
		{5, 100, 0.006, true, false}, {4, 100, 0.006, false, false}, {5, 100, 0.005, false, false}, {5, 100, 0.002, false, false},
		{5, 100, 0.001, false, true}, {4, 1000, 0.001, false, true}, {4, 999, 0.001, false, false}, // 5 are to be expected on 1,000
	} {
		chart.Points[0].Rate = c.rate
		if high, low := beyond(count{Events: c.events, Open: c.open}, chart, 0); high != c.high || low != c.low {
			t.Errorf("%+v: above %v, below %v", c, high, low)
		}
	}
}

func TestRateInWords(t *testing.T) {
	t.Parallel()
	c := count{Cell: tally.Cell{Evaluated: 500, Opportunities: 1000}, Open: 1000, Events: 10}
	tr := &Trend{Tally: &tally.Tally{}}
	for _, s := range []struct {
		change    func(*count)
		uncounted int
		want      string
	}{
		{func(*count) {}, 0, "10 events on 1,000 opportunities: 10 per 1,000 (4.8 to 18.4); 20 per 1,000 flights"},
		{func(c *count) { c.Open = 500 }, 1, "10 events on 500 flights evaluated: 20 per 1,000 (9.59 to 36.8)"},
		{func(c *count) { *c = count{} }, 0, "the rule was evaluated on no flight"},
		{func(c *count) { c.NoOpportunity, c.Partly = 1, 2 }, 0, "10 events on 1,000 opportunities: 10 per 1,000 (4.8 to 18.4); 20 per 1,000 flights; 1 flight without an opportunity; 2 flights partly evaluated"},
	} {
		c, tr := c, *tr
		tally := *tr.Tally
		tr.Tally, tally.Uncounted = &tally, s.uncounted
		s.change(&c)
		if got := tr.rateInWords(c); got != s.want {
			t.Errorf("got %q, want %q", got, s.want)
		}
	}
}
