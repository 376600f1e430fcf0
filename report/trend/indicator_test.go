package trend

import (
	"errors"
	"math"
	"strings"
	"testing"

	"downlock/report/trend/tally"
	"downlock/schemas"
)

// Six months of 190 able flights with 2, 4, 2, 4, 2, 4 events: mean 3/0.19 =
// 15.789 per thousand, standard deviation (of all six) 1/0.19 = 5.263, so the
// levels are at 4, 5 and 6 events; worked by hand.
func status(t *testing.T, extra string, current ...int) Status {
	t.Helper()
	events := [][2]int{{2, 0}, {4, 0}, {2, 0}, {4, 0}, {2, 0}, {4, 0}}
	for _, n := range current {
		events = append(events, [2]int{n, 0})
	}
	tr, err := New(one(events...), Options{Level: 0.05, Correction: Holm, Months: 1})
	if err != nil {
		t.Fatal(err)
	}
	in, err := tr.parseIndicators("spi.yaml", []byte("schema: downlock indicators 1\nindicators:\n  - {id: late, rule: gear-late, preceding: 6, current: "+string(rune('0'+len(current)))+extra+"}\n"))
	if err != nil {
		t.Fatal(err)
	}
	return tr.Judge(in)[0]
}

func TestAlertLevels(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name    string
		current []int
		alert   string
	}{
		{"as before", []int{2, 3, 4}, ""},
		{"on the third level", []int{6}, ""},
		{"beyond the third", []int{7}, "three standard deviations"},
		{"one beyond the second", []int{3, 6}, ""},
		{"two beyond the second", []int{6, 6}, "two standard deviations"},
		{"two beyond the first", []int{5, 5}, ""},
		{"three beyond the first", []int{5, 5, 5}, "one standard deviation"},
		{"three, the newest back", []int{5, 5, 5, 3}, ""},
	} {
		s := status(t, "", c.current...)
		if (s.Alert == "") != (c.alert == "") || !strings.Contains(s.Alert, c.alert) {
			t.Errorf("%s: got %q, want %q", c.name, s.Alert, c.alert)
		}
		for k, want := range []float64{4 / 0.19, 5 / 0.19, 6 / 0.19} {
			if math.Abs(s.Levels[k]-want) > 1e-9 {
				t.Errorf("%s: level %d at %v, want %v", c.name, k+1, s.Levels[k], want)
			}
		}
	}
	if s := status(t, "", 5, 5, 5, 3); len(s.Earlier) != 1 {
		t.Errorf("earlier alerts %v, want one", s.Earlier)
	}
}

// By the built-in rules gear-late is always low, gear-late-visual high, or medium where
// the approach is given up, and too-low-gear anything. In the archive events of gear-late
// are high. Nothing is known of a rule that is not built in.
func TestSeverityNoEventHas(t *testing.T) {
	t.Parallel()
	tally := one([2]int{1, 0}, [2]int{1, 0}, [2]int{1, 0}, [2]int{1, 0})
	tally.Rules = append(tally.Rules, "of-our-own")
	for i := range tally.Months {
		tally.Months[i].Cells = append(tally.Months[i].Cells, tally.Months[i].Cells[0])
	}
	tr, err := New(tally, Options{Level: 0.05, Correction: Holm, Months: 1})
	if err != nil {
		t.Fatal(err)
	}
	for text, column := range map[string]int{ // of the entry that is refused; 0: none
		"gear-late, severity: [low]": 0, "gear-late, severity: [high]": 0, "gear-late, severity: [low, medium]": 49,
		"gear-late-visual, severity: [medium, high]": 0, "gear-late-visual, severity: [low]": 51,
		"too-low-gear, severity: [low, medium, high]": 0, "of-our-own, severity: [medium]": 0,
	} {
		_, err := tr.parseIndicators("spi.yaml", []byte("schema: downlock indicators 1\nindicators:\n  - {id: late, rule: "+text+"}\n"))
		var problems schemas.Problems
		switch {
		case column == 0 && err != nil:
			t.Errorf("%s: %v", text, err)
		case column > 0 && (!errors.As(err, &problems) || len(problems) != 1 || problems[0].Line != 3 || problems[0].Column != column || !strings.Contains(problems[0].Cause, "severity")):
			t.Errorf("%s: got %v, want it refused at 3:%d", text, err, column)
		}
	}
}

func TestTargets(t *testing.T) {
	t.Parallel()
	for extra, want := range map[string]bool{
		", target: 16": true, ", target: 15": false, // three events are 15.789
		", target_change: 0": true, ", target_change: -5": false, ", target_change: 5": true,
	} {
		if s := status(t, extra, 3, 3); s.TargetMet != want || s.TargetAt == nil {
			t.Errorf("%s: met %v", extra, s.TargetMet)
		}
	}
	if s := status(t, ", alert_level: 26", 5, 5); s.Alert != "a point beyond the level set" {
		t.Errorf("a level of one's own: %q", s.Alert)
	}
	// 40 lies above the third of the computed levels, 31.6: eight events, 42.1, are beyond
	// both, seven, 36.8, beyond the computed one alone.
	for events, alert := range map[int]string{7: "", 8: "a point beyond the level set"} {
		if s := status(t, ", alert_level: 40", events); s.Alert != alert {
			t.Errorf("%d events against a level of one's own in place of the others: %q, want %q", events, s.Alert, alert)
		}
	}
	if s := status(t, ", alert_level: 40", 6, 6); s.Alert != "" {
		t.Errorf("two beyond the second level, which the one set has replaced: %q", s.Alert)
	}
	// One point before is too few to compute a level from, and enough for one that is set.
	if s := status(t, ", period: quarter, alert_level: 1", 5, 5, 5); s.Alert != "a point beyond the level set" || s.NotEnough == "" {
		t.Errorf("with few points before: %q, %q", s.Alert, s.NotEnough)
	}
	if s := status(t, ", severity: [low]", 3); s.Latest().Events != 0 {
		t.Errorf("%d events of low severity, all are high", s.Latest().Events)
	}
	if s := status(t, ", period: quarter", 5, 5, 5); s.NotEnough == "" || len(s.Points) != 3 || s.Points[0].Name != "2030 Q1" || s.Points[0].Events != 8 {
		t.Errorf("quarters: %+v", s)
	}
}

// Four events beyond a level are a small number, and no alert.
func TestIndicatorSmallNumber(t *testing.T) {
	t.Parallel()
	tr, err := New(one([2]int{}, [2]int{1, 0}, [2]int{}, [2]int{4, 0}), Options{Level: 0.05, Correction: Holm, Months: 1})
	if err != nil {
		t.Fatal(err)
	}
	in, err := tr.parseIndicators("spi.yaml", []byte("schema: downlock indicators 1\nindicators:\n  - {id: late, rule: gear-late, preceding: 3, current: 1}\n"))
	if err != nil {
		t.Fatal(err)
	}
	if s := tr.Judge(in)[0]; s.Alert != "" || !s.Small || s.Word() != "small number" {
		t.Errorf("%+v", s)
	}
}

func TestIndicatorProblems(t *testing.T) {
	t.Parallel()
	tr, err := New(one([2]int{1, 1}, [2]int{1, 1}), Options{Level: 0.05, Correction: Holm})
	if err != nil {
		t.Fatal(err)
	}
	for text, want := range map[string]string{
		"{id: a, rule: gear-lat}":              `spi.yaml:3:19: no rule is called "gear-lat"`,
		"{id: a, measurement: retraction-tme}": `spi.yaml:3:26: no measurement is called "retraction-tme"`,
		"{id: a}":                              "none of the entries",
		"{id: a, rule: gear-late, measurement: extension-time}":  "takes no entry",
		"{id: a, rule: gear-late, beyond: 3}":                    "takes no entry",
		"{id: a, rule: gear-late, target: 1, target_change: 2}":  "takes no entry",
		"{id: a, rule: gear-late, perod: month}":                 `no entry "perod"`,
		"{id: a, rule: gear-late}\n  - {id: a, rule: gear-late}": "spi.yaml:4:10: a second indicator a",
		"{id: a, rule: gear-late, current: 0}":                   "spi.yaml:3:",
	} {
		_, err := tr.parseIndicators("spi.yaml", []byte("schema: downlock indicators 1\nindicators:\n  - "+text+"\n"))
		var problems schemas.Problems
		if !errors.As(err, &problems) || !strings.Contains(problems.Error(), want) {
			t.Errorf("%s: %v, want %s", text, err, want)
		}
	}
}

// Measurements: the median, another quantile, and the share beyond a limit, of
// eight flights a month, of which one has three values, with the values 1 to 10.
func TestMeasurementIndicators(t *testing.T) {
	t.Parallel()
	counted := one([2]int{1, 1}, [2]int{1, 1}, [2]int{1, 1}, [2]int{1, 1})
	counted.Measured = append(counted.Measured, struct{ Name, Unit string }{"extension-time", "s"})
	for i := range counted.Months {
		counted.Months[i].Values = [][]tally.Sample{{{Values: []float64{1, 3, 5, 7, 9}}, {Values: []float64{10, 8, 6, 4, 2}, Flights: []int32{0, 1, 1, 1, 2}}}}
	}
	tr, err := New(counted, Options{Level: 0.05, Correction: Holm})
	if err != nil {
		t.Fatal(err)
	}
	for text, want := range map[string]float64{"": 5, ", quantile: 0.95": 10, ", beyond: 7": 30} {
		in, err := tr.parseIndicators("spi.yaml", []byte("schema: downlock indicators 1\nindicators:\n  - {id: slow, measurement: extension-time, current: 1, preceding: 3"+text+"}\n"))
		if err != nil {
			t.Fatal(err)
		}
		if s := tr.Judge(in)[0]; s.Latest().Value != want || s.Mean != want || s.SD != 0 || s.Alert != "" {
			t.Errorf("%q: %+v, want %v", text, s, want)
		}
		if p := tr.Judge(in)[0].Latest(); p.Able != 8 || p.Open != 10 {
			t.Errorf("%q: %v values of %v flights, want 10 of 8", text, p.Open, p.Able)
		}
	}
}

// A rule without an event: none in six months of 190 opportunities, 1,140, so at most 3.6889
// in them (the 0.975 quantile of chi-square with two degrees of freedom is 7.3778, halved;
// published tables), 3.24 per 1,000. The axis holds that and ends near it.
func TestSeriesOfNothing(t *testing.T) {
	tr, err := New(one(make([][2]int, 6)...), Options{Level: 0.05, Correction: Holm, Months: 1})
	if err != nil {
		t.Fatal(err)
	}
	in, err := tr.parseIndicators("spi.yaml", []byte("schema: downlock indicators 1\nindicators:\n  - {id: late, rule: gear-late, preceding: 4, current: 2}\n"))
	if err != nil {
		t.Fatal(err)
	}
	v := tr.viewOf(tr.Judge(in)[0])
	if got := v.Words(); got != "none in 1,140 opportunities: at most 3.24 per 1,000 (95 % interval)" {
		t.Error(got)
	}
	if low, high, ok := v.extent(); !ok || low != 0 || high < 3.236 || high > 4 {
		t.Errorf("the axis goes from %v to %v", low, high)
	}
	if svg := string(v.SVG); !strings.Contains(svg, ">at most<") || !strings.Contains(svg, ">3<") {
		t.Errorf("no upper end in %s", svg)
	}
	page, err := tr.Page()
	if err != nil || !strings.Contains(string(page), "none in 1,140 opportunities: at most 3.24 per 1,000 (95 % interval); 1,140 flights evaluated") {
		t.Errorf("%v, the page does not say it", err)
	}
}
