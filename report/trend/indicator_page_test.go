package trend

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"downlock/report/trend/tally"
)

// Whole quarters and years alone, by the calendar: of December 2029 to February 2032 the
// quarters from January 2030 on, without the one begun, and two years. Two events a month.
func TestWholePeriods(t *testing.T) {
	t.Parallel()
	counted := one(make([][2]int, 27)...)
	for i := range counted.Months {
		counted.Months[i].Name = fmt.Sprintf("%d-%02d", 2029+(i+11)/12, (i+11)%12+1)
		counted.Months[i].Events = []tally.Event{{Flight: fmt.Sprint(i), Severity: tally.High}, {Flight: fmt.Sprint(i, "b"), Stratum: 1}}
	}
	tr, err := New(counted, Options{Level: 0.05, Correction: Holm, Months: 3})
	if err != nil {
		t.Fatal(err)
	}
	for period, want := range map[string]string{
		aQuarter: "2030 Q1 6/570/570 2030 Q2 6/570/570 2030 Q3 6/570/570 2030 Q4 6/570/570 2031 Q1 6/570/570 2031 Q2 6/570/570 2031 Q3 6/570/570 2031 Q4 6/570/570",
		aYear:    "2030 24/2280/2280 2031 24/2280/2280",
	} {
		var got []string
		for _, p := range tr.pointsOf(&Indicator{Rule: "gear-late", Period: period}) {
			got = append(got, fmt.Sprintf("%s %d/%v/%v", p.Name, p.Events, p.Open, p.Able))
			if math.Abs(p.Value-2/0.19) > 1e-9 {
				t.Errorf("%s: %v", p.Name, p.Value)
			}
		}
		if text := strings.Join(got, " "); text != want {
			t.Errorf("%s: %s, want %s", period, text, want)
		}
	}
	for i := range counted.Months {
		counted.Months[i].Cells[0][0].Opportunities = 1910 // with B's 90 2,000, on 190 flights
	}
	if tr, err = New(counted, Options{Level: 0.05, Correction: Holm, Months: 3}); err != nil {
		t.Fatal(err)
	}
	for in, want := range map[*Indicator]Point{
		{Rule: "gear-late"}:                                    {Events: 2, Able: 190, Open: 2000, Value: 1},
		{Rule: "gear-late", Per: byFlights}:                    {Events: 2, Able: 190, Open: 190, Value: 2 / 0.19},
		{Rule: "gear-late", Severity: []string{"high"}}:        {Events: 1, Able: 190, Open: 2000, Value: 0.5},
		{Rule: "gear-late", Severity: []string{"low", "high"}}: {Events: 2, Able: 190, Open: 2000, Value: 1},
	} {
		if p := tr.ratePoint(in, Period{3, 3}); p != want {
			t.Errorf("%+v: %+v", in, p)
		}
	}
	if p := tr.ratePoint(&Indicator{rule: -1}, Period{0, 0}); !math.IsNaN(p.Value) || p.Events != 0 || p.Open != 0 {
		t.Errorf("of a rule the archive does not have: %+v", p)
	}
}

// What an indicator leaves out.
func TestIndicatorDefaults(t *testing.T) {
	t.Parallel()
	tr := &Trend{Tally: &tally.Tally{Measured: []tally.Measured{{Name: "m_o", Unit: "s"}}}, catalogue: catalogue{titles: map[string]string{"r": "Title"}}}
	beyond := 3.0
	for _, c := range []struct {
		in   Indicator
		want string
	}{
		{Indicator{Rule: "r"}, "Title, month 12 of 12, events per 1,000 opportunities"},
		{Indicator{Rule: "r", Period: aQuarter, Per: byFlights}, "Title, quarter 4 of 8, events per 1,000 flights"},
		{Indicator{Rule: "r", Title: "Own", Period: aYear, Severity: []string{"low", "high"}}, "Own, year 1 of 5, events of low or high severity per 1,000 opportunities"},
		{Indicator{Rule: "r", Current: 1, Preceding: 2}, "Title, month 1 of 2, events per 1,000 opportunities"},
		{Indicator{Measurement: "m_o"}, "m o, month 12 of 12, s, quantile 0.5"},
		{Indicator{Measurement: "m_o", Beyond: &beyond}, "m o, month 12 of 12, % of values"},
		{Indicator{Measurement: "none", measured: -1, Quantile: &beyond}, "none, month 12 of 12, , quantile 3"},
	} {
		in := c.in
		in.complete(tr)
		got := fmt.Sprintf("%s, %s %d of %d, %s", in.Title, in.Period, in.Current, in.Preceding, in.unit(tr))
		if in.Quantile != nil {
			got += fmt.Sprintf(", quantile %v", *in.Quantile)
		}
		if got != c.want {
			t.Errorf("%+v: %q, want %q", c.in, got, c.want)
		}
	}
}

func TestLowerIsWorse(t *testing.T) {
	t.Parallel()
	// Mean 3/0.19 and deviation 1/0.19, so the levels are at 2, 1 and no events. That few are
	// a small number, which counts for nothing on this side.
	for _, c := range []struct {
		current []int
		alert   string
	}{{[]int{0, 0}, "two points"}, {[]int{1, 1, 1}, "three points"}, {[]int{1, 1}, ""}, {[]int{0}, ""}, {[]int{9}, ""}} {
		s := status(t, ", worse: lower", c.current...)
		if !strings.HasPrefix(s.Alert, c.alert) || (s.Alert == "") != (c.alert == "") || s.Small {
			t.Errorf("%v: %q, small %v", c.current, s.Alert, s.Small)
		}
		for k, want := range []float64{2 / 0.19, 1 / 0.19, 0} {
			if math.Abs(s.Levels[k]-want) > 1e-9 {
				t.Errorf("level %d at %v, want %v", k+1, s.Levels[k], want)
			}
		}
	}
	for extra, want := range map[string]bool{", target: 10": true, ", target: 16": false} { // three events are 15.789
		if s := status(t, ", worse: lower"+extra, 3); s.TargetMet != want {
			t.Errorf("%s: met %v", extra, s.TargetMet)
		}
	}
	if s := status(t, "", 4, 4, 4); len(s.Earlier) != 0 || s.Small || s.AlertFrom() != s.Levels[2] {
		t.Errorf("%+v", s)
	}
	if s := status(t, ", alert_level: 26", 5, 4, 5, 2); len(s.Earlier) != 2 || s.Earlier[0] != "2030-07" || s.AlertFrom() != 26 {
		t.Errorf("earlier alerts %v from %v", s.Earlier, s.AlertFrom())
	}
}

func TestIndicatorViews(t *testing.T) {
	t.Parallel()
	counted := one([2]int{1, 0}, [2]int{5, 0}, [2]int{1, 0}, [2]int{4, 0})
	counted.Measured = []tally.Measured{{Name: "of-ours", Unit: "s"}}
	for m := range counted.Months {
		counted.Months[m].Values = [][]tally.Sample{{upTo(1, 3), {}}}
	}
	tr, err := New(counted, Options{Level: 0.05, Correction: Holm, Months: 1, Archive: "a", RunMonth: "2030-04"})
	if err != nil {
		t.Fatal(err)
	}
	// The rule and the measurement an indicator names are those of the archive, whatever their place.
	counted.Rules = append(counted.Rules, "of-our-own")
	for m := range counted.Months {
		counted.Months[m].Cells = append(counted.Months[m].Cells, counted.Months[m].Cells[0])
		counted.Months[m].Values = append(counted.Months[m].Values, []tally.Sample{upTo(7, 9), {}})
		counted.Months[m].Events = append(counted.Months[m].Events, tally.Event{Rule: 1, Flight: "f"}, tally.Event{Rule: 1, Flight: "g"})
	}
	counted.Measured = append(counted.Measured, tally.Measured{Name: "of-ours-too", Unit: "s"})
	second, err := New(counted, Options{Level: 0.05, Correction: Holm, Months: 1})
	if err != nil {
		t.Fatal(err)
	}
	in, err := second.parseIndicators("spi.yaml", []byte("schema: downlock indicators 1\nindicators:\n  - {id: a, rule: of-our-own}\n  - {id: b, measurement: of-ours-too}\n  - {id: c, rule: too-low-gear}\n"))
	if err != nil {
		t.Fatal(err)
	}
	if all := second.Judge(in); all[0].Latest().Events != 2 || all[1].Latest().Value != 8 || !math.IsNaN(all[2].Latest().Value) {
		t.Errorf("%+v", all)
	}
	points := []Point{{"2030-01", 5, 3, 190, 190}, {"2030-02", 4, 1234, 190.4, 1000.4}}
	rule := Indicator{Rule: "gear-late", Period: aMonth}
	ofOurs := Indicator{Measurement: "of-ours", rule: -1}
	not := points[1]
	for _, c := range []struct {
		name        string
		s           Status
		read        bool
		page, count string
		words, word string
	}{
		{"a month", Status{Indicator: rule, Points: points}, false, "flights/gear-late.html#2030-02", `<a href="flights/gear-late.html#2030-02">1,234</a> on 1,000 opportunities`, "", "no alert"},
		{"a quarter", Status{Indicator: Indicator{Rule: "gear-late", Period: aQuarter, Per: byFlights}, Points: points, Alert: "x"}, false, "flights/gear-late.html", `<a href="flights/gear-late.html">1,234</a> on 1,000 flights`, "Alert: x", "alert"},
		{"without a point", Status{Indicator: rule, NotEnough: "few"}, false, "flights/gear-late.html", "0 on 0 opportunities", "few", "not enough data"},
		{"small", Status{Indicator: rule, Points: points, Small: true, Earlier: []string{"2030-01", "2030-02"}, NotOver: &not}, false, "flights/gear-late.html#2030-02", `<a href="flights/gear-late.html#2030-02">1,234</a> on 1,000 opportunities`,
			"beyond a level, on fewer than 5 events: no alarm; 2030-02 is not over and is not counted; earlier alerts: 2030-01, 2030-02", "small number"},
		{"a measurement", Status{Indicator: ofOurs, Points: points}, true, "flights/measurement-of-ours.html", `1,000 values of <a href="flights/measurement-of-ours.html">190</a> flights`, "", "no alert"},
		{"one value a flight", Status{Indicator: ofOurs, Points: points[:1]}, false, "", "190 flights", "", "no alert"},
		{"none", Status{Indicator: Indicator{Measurement: "none", rule: -1, measured: -1}, Points: points[:1]}, true, "", "190 flights", "", "no alert"},
	} {
		tr.measured = nil
		if c.read {
			tr.measured = make([]measured, 1)
		}
		half := 0.5
		c.s.Quantile = &half
		v := tr.viewOf(c.s)
		if v.Page != c.page || string(v.Count()) != c.count || v.Words() != c.words || v.Word() != c.word {
			t.Errorf("%s: page %q, count %q, words %q, %q", c.name, v.Page, v.Count(), v.Words(), v.Word())
		}
	}
	share := 9.0
	nothing := Status{Indicator: Indicator{Measurement: "of-ours", Beyond: &share, rule: -1}, Points: []Point{{Name: "2030-01", Able: 1000, Open: 1000}}}
	if got := tr.viewOf(nothing).Words(); got != "none in 1,000 values: at most 0.369 % (95 % interval)" {
		t.Error(got)
	}
	target := 3.0
	rows := indicatorRows([]Status{
		{Indicator: Indicator{ID: "i", Title: "T"}, Unit: "u", Before: 1, Mean: 2, SD: 1, TargetAt: &target, Alert: "x", Points: points},
		{Indicator: Indicator{ID: "j"}, NotEnough: "few", Points: points[:1]},
	})
	if r := rows[1]; len(rows) != 3 || rows[0].Current || !r.Current || r.Indicator != "i" || r.Title != "T" || r.Unit != "u" || r.Period != "2030-02" || *r.Value != 4 || r.Events != 1234 || r.Able != 190.4 || r.Open != 1000.4 ||
		*r.Mean != 2 || *r.SD != 1 || *r.Target != 3 || r.Status != "alert" || r.Alert != "x" || rows[2].Mean != nil || rows[2].SD != nil || rows[2].Status != "not enough data" {
		t.Errorf("rows %+v", rows)
	}
}

// The SQL of an indicator has the parts its kind asks for; that it gives the same figures is for
// DuckDB to say.
func TestIndicatorSQL(t *testing.T) {
	t.Parallel()
	quantile, beyond := 0.95, 1.5
	base := tally.Tally{Months: []tally.Month{{Name: "2030-01"}, {Name: "2030-12"}}}
	old := base
	old.Uncounted = 1
	for _, c := range []struct {
		tally     tally.Tally
		o         Options
		in        Indicator
		with, not []string
	}{
		{base, Options{}, Indicator{Rule: "it's", Period: aMonth}, []string{"SELECT month AS point, sum", "rule = 'it''s'", ", flights_able, opportunities,", "/ nullif(opportunities, 0)", "month BETWEEN '2030-01' AND '2030-12'"}, []string{"severity", "certainty", "verdict"}},
		{base, Options{}, Indicator{Rule: "r", Period: aQuarter, Per: byFlights}, []string{"left(month, 4) || ' Q' || ((CAST(right(month, 2) AS INTEGER) + 2) // 3) AS point", ", flights_able, opportunities,", "/ nullif(flights_able, 0)"}, nil},
		{old, Options{}, Indicator{Rule: "r", Period: aYear, Severity: []string{"low", "high"}}, []string{"left(month, 4) AS point", "severity IN ('low', 'high')", "/ nullif(flights_able, 0)"}, []string{"opportunities"}},
		{base, Options{CertainOnly: true, Reviewed: true, Archive: "a"}, Indicator{Rule: "r"}, []string{"certainty = 'certain'", "read_parquet('a/tables/verdicts/part.parquet')"}, []string{"QUALIFY"}},
		{base, Options{Occurrences: true}, Indicator{Rule: "r"}, []string{"count(*) AS occurrences"}, []string{"QUALIFY"}}, // none names its occurrence
		{base, Options{}, Indicator{Measurement: "m", Quantile: &quantile}, []string{"quantile_disc(value, 0.95) AS value", "measurement = 'm'"}, []string{"avg("}},
		{base, Options{}, Indicator{Measurement: "m", Beyond: &beyond}, []string{"100 * avg(CASE WHEN value > 1.5 THEN 1.0 ELSE 0 END) AS value"}, []string{"quantile_disc"}},
	} {
		tr := &Trend{Tally: &c.tally, Options: c.o}
		text := tr.indicatorSQL(&c.in)
		for _, part := range c.with {
			if !strings.Contains(text, part) {
				t.Errorf("%+v: no %q in\n%s", c.in, part, text)
			}
		}
		for _, part := range c.not {
			if strings.Contains(text, part) {
				t.Errorf("%+v: %q in\n%s", c.in, part, text)
			}
		}
	}
	joined := base
	joined.Joined, joined.Columns = 1, []string{"aircraft", "registration"}
	tr := &Trend{Tally: &joined, Options: Options{Occurrences: true, AirframePattern: "x(.*)"}}
	if got := tr.indicatorSQL(&Indicator{Rule: "r"}); !strings.Contains(got, "QUALIFY") {
		t.Errorf("no occurrence is chosen in\n%s", got)
	}
	var names []string
	for _, q := range tr.Queries() {
		names = append(names, q.Name)
	}
	if got := strings.Join(names, ", "); got != "totals, rates, measurements, audits, groups aircraft, measurements aircraft, groups registration, measurements registration" {
		t.Errorf("queries %s", got)
	}
	if one, other := tr.columnSQL("registration"), tr.columnSQL(`a"b`); one != "coalesce(nullif(registration, ''), regexp_extract(recording_name, 'x(.*)', 1))" || other != `CAST("a""b" AS VARCHAR)` {
		t.Errorf("columns are %s and %s", one, other)
	}
	if tr.AirframePattern = ""; tr.columnSQL("registration") != `CAST("registration" AS VARCHAR)` {
		t.Errorf("without a pattern the column is %s", tr.columnSQL("registration"))
	}
}
