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

// fourAircraft is a tally of four months on three aircraft of one type and one of another, each
// on 100 flights a month, with so many events of each rule in a month before and a recent one.
func fourAircraft(rules map[string][2][4]int) *tally.Tally {
	t := &tally.Tally{Titles: map[string]string{}, Columns: []string{"aircraft", "registration"},
		Strata: [][]string{{"TH-120", "A"}, {"TH-120", "B"}, {"TH-120", "C"}, {"TH-440", "D"}}}
	for name := range rules {
		t.Rules = append(t.Rules, name)
	}
	slices.Sort(t.Rules)
	for i := range 4 {
		m := tally.Month{Name: fmt.Sprintf("2030-%02d", i+1), Flights: []int{100, 100, 100, 100}}
		for r, name := range t.Rules {
			m.Cells = append(m.Cells, slices.Repeat([]tally.Cell{{Evaluated: 100, Opportunities: 100}}, 4))
			for s, n := range rules[name][i/2] {
				for k := range n {
					e := tally.Event{Rule: r, Stratum: s, Flight: fmt.Sprint(m.Name, name, s, k)}
					if k == n-1 {
						e.Severity, e.Certain = tally.High, true
					}
					m.Events = append(m.Events, e)
				}
			}
		}
		t.Months = append(t.Months, m)
	}
	return t
}

// The intervals are Clopper and Pearson's, worked out by bisection of binomial sums: 46 against
// 8 on as many, 40 against 4 on twice as many, 6 and 6, 4 and 2 on half, 8 against 80, 7 against none.
// Six against none are a ratio of 1.18 at least, too little to be listed.
func TestRankedFindings(t *testing.T) {
	t.Parallel()
	counted := fourAircraft(map[string][2][4]int{
		"bad":    {{1, 1, 1, 1}, {20, 1, 1, 1}},
		"better": {{10, 10, 10, 10}, {1, 1, 1, 1}},
		"six":    {{}, {1, 1, 1, 0}}, "seven": {{}, {1, 1, 1, 0}},
	})
	seven := slices.Index(counted.Rules, "seven")
	counted.Months[3].Events = append(counted.Months[3].Events, tally.Event{Rule: seven, Stratum: 3, Flight: "the seventh"})
	tr, err := New(counted, Options{Level: 0.01, Correction: Holm})
	if err != nil {
		t.Fatal(err)
	}
	lines := func(list []Finding) (out []string) {
		for _, f := range list {
			out = append(out, fmt.Sprintf("%s; %.5g; %s; %d and %d", f.Headline, f.Strength, f.Rests, len(f.Flights), f.More))
		}
		return out
	}
	for what, c := range map[string]struct{ got, want []string }{
		"stands out": {lines(tr.Findings), []string{
			"bad: aircraft A has 20 times the rate of the other aircraft of type TH-120; 7.2299; ; 20 and 20",
			"bad: 5.75 times the rate of the period before; 1; aircraft A; 20 and 26",
			"bad: type TH-120 has 7.33 times the rate of all other flights; 1; aircraft A; 20 and 24"}},
		"better": {lines(tr.Improvements), []string{
			"better: 0.1 times the rate of the period before; 4.838; ; 0 and 0", // 1/0.206696
			"bad: type TH-440 has 0.136 times the rate of all other flights; 1; aircraft A; 0 and 0",
			"bad: aircraft B has 0.0952 times the rate of the other aircraft of type TH-120; 1; aircraft A; 0 and 0",
			"bad: aircraft C has 0.0952 times the rate of the other aircraft of type TH-120; 1; aircraft A; 0 and 0"}},
	} {
		if !slices.Equal(c.got, c.want) {
			t.Errorf("%s:\n%s\nwant\n%s", what, strings.Join(c.got, "\n"), strings.Join(c.want, "\n"))
		}
	}
	var doubtful []string
	for _, f := range tr.Doubtful {
		if f.Column == "" {
			doubtful = append(doubtful, fmt.Sprintf("%s; %.5g", f.Headline, f.Strength))
		}
	}
	if want := []string{"seven: none in the period before; 1.4413"}; !slices.Equal(doubtful, want) {
		t.Errorf("doubtful are %v, want %v", doubtful, want)
	}
	fleet, a := tr.Findings[1], tr.Findings[0]
	for what, c := range map[string]struct{ got, want string }{
		"detail": {fleet.Detail, "46 events on 800 opportunities in 2030-03 to 2030-04, 57.5 per 1,000; 8 in 2030-01 to 2030-02 on 800, 10 per 1,000. Per 1,000 flights evaluated: 57.5 and 10."},
		// In each month the last event of each aircraft is high.
		"beside":      {fleet.Beside, "Severity: 8 high, 0 medium, 38 low. Without aircraft A the ratio is 1 (0.267 to 3.74)."},
		"of the type": {tr.Findings[2].Beside, "Severity: 6 high, 0 medium, 38 low. Its own rate in 2030-01 to 2030-02: 10 per 1,000 (6 events). Without aircraft A the ratio is 1 (0.143 to 11.1)."},
		"of A":        {a.Beside, "Severity: 2 high, 0 medium, 38 low. Its own rate in 2030-01 to 2030-02: 10 per 1,000 (2 events)."},
		"anchors":     {fleet.Anchor + " " + tr.Improvements[0].Anchor, "rule-1 rule-2"},
		"of":          {a.Column + " " + a.Value + " " + fleet.Column + fleet.Value, "registration A "},
	} {
		if c.got != c.want {
			t.Errorf("%s: %q, want %q", what, c.got, c.want)
		}
	}
	if !strings.HasPrefix(fleet.Sureness, "Between 2.69 and 14.1 times (95 % interval). ") {
		t.Error(fleet.Sureness)
	}
	// The high ones of April before those of March, then the low ones.
	var first []string
	for _, f := range fleet.Flights[:9] {
		first = append(first, f.Month+" "+f.Severity+" "+f.Certainty)
	}
	if want := slices.Concat(slices.Repeat([]string{"2030-04 high certain"}, 4), slices.Repeat([]string{"2030-03 high certain"}, 4), []string{"2030-04 low possible"}); !slices.Equal(first, want) {
		t.Errorf("behind it are %v", first)
	}
	if f := a.Flights[1]; f.ID != "2030-03bad0 19" {
		t.Errorf("behind A is %+v", f)
	}
}

// What a comparison is on too few, and what is no comparison at all.
func TestSmallComparisons(t *testing.T) {
	t.Parallel()
	of := func(events int, open float64) count {
		return count{Cell: tally.Cell{Evaluated: 100}, Events: events, Open: open}
	}
	for _, c := range []struct {
		first, second count
		tested, small bool
	}{
		{of(5, 100), of(0, 100), true, false}, {of(4, 100), of(0, 100), false, true}, {of(4, 100), of(1, 100), true, true}, {of(4, 10), of(9, 100), true, true},
		{of(1, 100), of(5, 100), true, false}, {of(1, 100), of(4, 100), true, true}, {of(5, 0), of(5, 100), false, true}, {of(5, 100), of(5, 0), false, false}, {of(5, 100), of(5, 100), true, false},
	} {
		made := comparison{First: c.first, Second: c.second}
		made.Result = statistics.Compare(c.first.rate(), c.second.rate(), Confidence)
		if math.IsNaN(made.Result.Ratio) {
			made.Result.Ratio = math.Inf(1)
		}
		if made.tested() != c.tested || c.tested && made.small() != c.small {
			t.Errorf("%d on %v and %d on %v: tested %v, small %v", c.first.Events, c.first.Open, c.second.Events, c.second.Open, made.tested(), made.small())
		}
	}
}

func TestWordsOfFindings(t *testing.T) {
	t.Parallel()
	tr := &Trend{Tally: &tally.Tally{Months: []tally.Month{{Name: "2030-01"}, {Name: "2030-02"}}, Rules: []string{"r"}, Measured: []tally.Measured{{Name: "m_o", Unit: "s"}}},
		Tests: 1234, Before: Period{0, 0}, Recent: Period{1, 1}}
	falseOnes := *tr
	falseOnes.Correction = BenjaminiHochberg
	aircraft, base := &group{Column: tally.RegistrationColumn, Value: "A"}, &group{Column: "departure_aerodrome", Value: "TARN"}
	s := shift{First: spread{1140, 380, 1, 2, 3, 4, 5}, Second: spread{500, 500, 6, 7, 8.5, 9, 10}, Beyond: 0.25, Earlier: spread{N: 7, Flights: 7, Median: 2.5}, Corrected: 0.02}
	s.Result.Above, s.Result.P = 0.7, 0.01
	with := func(change func(*shift)) *shift {
		s := s
		change(&s)
		return &s
	}
	single := with(func(s *shift) { s.Group, s.First.Flights, s.First.Median = aircraft, 1140, 9 })
	ofBase, periods := with(func(s *shift) { s.Group = base }), with(func(s *shift) { s.Group, s.Periods = aircraft, true })
	season := tr.seasonFinding(season{0, statistics.Season{P: 0.01, Peak: 7, Swing: 1.5, DriftPerYear: 1.1, Drift: statistics.Interval{Low: 0.9, High: 1.3}}, 0.6})
	none := math.Inf(1)
	for _, c := range []struct{ got, want string }{
		{tr.sureness(0.01, 0.6), "Among 1,234 comparisons chance brings as much (p 0.01 alone, 0.6 corrected)."},
		{tr.sureness(0.01, 0.5), "If nothing differed, at most 50 archives in 100 would show as much anywhere among 1,234 comparisons (p 0.01 alone, 0.5 corrected)."},
		{falseOnes.sureness(1e-7, 0.02), "Of the lines as clear as this among 1,234 comparisons, 2 lines in 100 are false (p below 0.000001 alone, 0.02 corrected)."},
		{chance(0.9996) + " " + chance(0.01234) + " " + chance(1e-6), "1 0.012 1e-06"},
		{tr.shiftHeadline(&s), "m o: median of all flights 5.5 s lower than in the period before"},
		{tr.shiftHeadline(single), "m o: median of aircraft A 0.5 s higher than that of all aircraft of its type"},
		{tr.shiftHeadline(ofBase), "m o: median of departure aerodrome TARN 5.5 s lower than that of all flights"},
		{tr.shiftHeadline(periods), "m o: median of aircraft A 5.5 s lower than in the period before"},
		{tr.shiftDetail(&s), "Median 3 s on 1,140 values of 380 flights in 2030-02, half of them from 2 to 4; 2030-01: 8.5 s on 500 flights."},
		{tr.shiftDetail(single), "Median 9 s on 1,140 flights in 2030-02, half of them from 2 to 4; all aircraft of its type: 8.5 s on 500 flights."},
		{tr.shiftDetail(periods), "Median 3 s on 1,140 values of 380 flights in 2030-02, half of them from 2 to 4; 2030-01: 8.5 s on 500 flights."},
		{tr.shiftSureness(&s), "Higher than one of the rest in 70 of 100 pairs of flights, each by the median of its values; 25 % are above 10 s, where 5 % would be usual. " + tr.sureness(0.01, 0.02)},
		{tr.shiftSureness(single), "Higher than one of the rest in 70 of 100 pairs; 25 % are above 10 s, where 5 % would be usual. " + tr.sureness(0.01, 0.02)},
		{tr.shiftBeside(single), "Its own median in 2030-01: 2.5 s on 7 flights."},
		{tr.shiftBeside(&s) + tr.shiftBeside(periods) + tr.shiftBeside(with(func(s *shift) { s.Group, s.Earlier.N = aircraft, 0 })), ""},
		{tr.comparisonBeside(&comparison{}), ""},
		{tr.comparisonBeside(&comparison{Group: base, First: count{Events: 1, Severity: [tally.Severities]int{tally.Medium: 1}}}), "Severity: 0 high, 1 medium, 0 low."},
		{tr.comparisonHeadline(&comparison{Result: statistics.Comparison{Ratio: none}, Group: &group{Column: tally.TypeColumn, Value: "TH-120", Against: "all other flights"}}), "r: type TH-120 alone, none of all other flights"},
		{season.Headline + " | " + season.Detail, "r: seasonal, highest in July | At the peak the rate is about 1.5 times what it would be without a season; half a year later it is that rate divided by the same factor."},
		{season.Beside, "Apart from the season, the rate changes by a factor of 1.1 a year (95 % interval 0.9 to 1.3)."},
		{joined([]string{"A"}) + "; " + joined([]string{"A", "B"}) + "; " + joined([]string{"A", "B", "C"}), "A; A and B; A and 2 more"},
	} {
		if c.got != c.want {
			t.Errorf("got  %q\nwant %q", c.got, c.want)
		}
	}
}

// Seven medians are too few for fences. Of eight, 1 to 7 and one above, the quartiles are 2 and 6, so
// the outer fence lies at 6 + 3·4; with one below they are 1 and 5, and it lies at 1 - 3·4.
func TestFarOutAircraft(t *testing.T) {
	t.Parallel()
	for other, want := range map[float64]bool{18: false, 18.5: true, -11: false, -11.5: true, 4: false} {
		var all []shift
		of := func(kind string, median float64, n int) {
			all = append(all, shift{Group: &group{Column: tally.RegistrationColumn, Against: kind}, First: spread{N: n, Flights: n, Median: median}})
		}
		for m := 1.0; m <= 7; m++ {
			of("TH-120", m, 20)
			of("TH-440", m, 20)
		}
		of("TH-120", other, 20)
		of("TH-440", other, 0) // not measured
		all = append(all, shift{First: spread{N: 9}}, shift{Group: all[0].Group, Periods: true, First: spread{N: 9, Median: 99}})
		markOutside(all)
		for i, s := range all {
			outside := i%2 == 1 && i < 14 || i == 15 || i == 14 && want // those of the other type are seven
			if s.Outside != outside {
				t.Errorf("%v: number %d is outside %v", other, i, s.Outside)
			}
		}
	}
}

func TestNoteworthy(t *testing.T) {
	t.Parallel()
	g := &group{}
	for _, c := range []struct {
		above, by float64
		s         shift
		want      bool
	}{
		{0.56, 1, shift{}, true}, {0.559, 1, shift{}, false}, {0.44, -1, shift{}, true}, {0.56, -1, shift{}, false}, {0.44, 1, shift{}, false}, {0.56, 0, shift{}, true},
		{0.64, 1, shift{Group: g, Outside: true}, true}, {0.639, 1, shift{Group: g, Outside: true}, false}, {0.64, 1, shift{Group: g}, false}, {0.64, 1, shift{Group: g, Periods: true}, true},
	} {
		c.s.Result.Above, c.s.First.Median = c.above, c.by
		if c.s.noteworthy() != c.want {
			t.Errorf("%+v: want %v", c.s, c.want)
		}
	}
}
