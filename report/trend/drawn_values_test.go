package trend

import (
	"math"
	"strings"
	"testing"

	"downlock/report/trend/tally"
)

// upTo is a sample of the whole numbers between two, each of a flight of its own.
func upTo(from, to int) (s tally.Sample) {
	for v := from; v <= to; v++ {
		s.Values = append(s.Values, float64(v))
	}
	return s
}

func measuredTrend(t *testing.T, month func(i int) tally.Sample) *Trend {
	t.Helper()
	counted := drawn([11]int{}, [11]int{})
	counted.Measured = []tally.Measured{{Name: "of-ours", Unit: "1"}}
	for i := range counted.Months {
		counted.Months[i].Values = [][]tally.Sample{{month(i)}}
	}
	tr, err := New(counted, Options{Level: 0.05, Correction: Holm, Months: 3, RunMonth: "2031-04"})
	if err != nil {
		t.Fatal(err)
	}
	return tr
}

// Of 1 to 20 the quantiles are 1, 5, 10, 15 and 19. The scale is 18 and 8 % on both sides, 20.88 on
// 118 units: 5.6513 each, so that 10 is in the middle. Four flights (10 to 13) have their
// median alone, 11; five (8 to 12) have all: 8, 9, 10, 11, 12.
func TestDrawnMeasurement(t *testing.T) {
	t.Parallel()
	tr := measuredTrend(t, func(i int) tally.Sample {
		switch i {
		case 3:
			return tally.Sample{}
		case 4:
			return upTo(10, 13)
		case 5:
			return upTo(8, 12)
		}
		return upTo(1, 20)
	})
	box := func(left, low, high string) string {
		right := map[string]string{"46": "92", "92": "138", "138": "184", "276": "322", "322": "368", "368": "414", "414": "460", "460": "506"}[left]
		return left + "," + low + " " + right + "," + low + " " + right + "," + high + " " + left + "," + high + " " + left + "," + low
	}
	boxes := func(low, high, fiveLow, fiveHigh string) string {
		var all []string
		for _, left := range []string{"46", "92", "138", "276", "322", "368", "414", "460"} { // not September, nor the four, nor what is not over
			if left == "276" {
				all = append(all, box(left, fiveLow, fiveHigh))
			} else {
				all = append(all, box(left, low, high))
			}
		}
		return strings.Join(all, " | ")
	}
	d := tr.drawMeasurement(0)
	checkShapes(t, []byte(d.SVG), map[string]string{
		"value":     "552,10 hollow: 2031-04, not over\n42,138.5 0\n42,82 10\n42,25.5 20",
		"in-left":   "4,10 ",
		"wide":      boxes("129.9", "28.1", "90.3", "67.7"),
		"quartiles": boxes("107.3", "50.7", "84.7", "73.3"),
		"median":    "69,79 115,79 161,79 | 253,73.3 299,79 345,79 391,79 437,79 483,79",
		"rates":     "253,73.3 | 529,79",
		"hollow":    "529,79",
	})
	usual := " | 20 | 20 | 10 | 5 to 15 | 1 to 19 | "
	if got, want := rowsOf(d.Values), strings.Join([]string{"month | flights | values | median | middle half | 5 to 95 % | remark",
		"69 | 2030-06" + usual, "115 | 2030-07" + usual, "161 | 2030-08" + usual, "207 | 2030-09 | 0 | 0 | – |  |  | ",
		"253 | 2030-10 | 4 | 4 | 11 | 10 to 12 | 10 to 13 | few flights", "299 | 2030-11 | 5 | 5 | 10 | 9 to 11 | 8 to 12 | ", "345 | 2030-12" + usual,
		"391 | 2031-01" + usual, "437 | 2031-02" + usual, "483 | 2031-03" + usual, "529 | 2031-04" + usual + "not over, compared with nothing | hollow"}, "\n"); got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
	// Values that never differ lie in the middle of one less to one more; nothing but zeros, and
	// nothing at all, at 0 of 0 to 1. With 8 % of the range beside them, 0.16 of 2.32 and 0.08 of 1.16.
	for _, c := range []struct {
		sample tally.Sample
		ticks  string
	}{
		{tally.Sample{Values: []float64{7, 7, 7, 7, 7}}, "42,132.9 6\n42,82 7\n42,31.1 8"},
		{tally.Sample{Values: []float64{0, 0, 0, 0, 0}}, "42,132.9 0.0\n42,82 0.5\n42,31.1 1.0"},
		{tally.Sample{}, "42,132.9 0.0\n42,82 0.5\n42,31.1 1.0"},
	} {
		tr := measuredTrend(t, func(int) tally.Sample { return c.sample })
		checkShapes(t, []byte(tr.drawMeasurement(0).SVG), map[string]string{"value": "552,10 hollow: 2031-04, not over\n" + c.ticks})
	}
}

// Ten units from A to C and 8 % before, 12 % behind them on 506: 42.167 each. A, C and D
// stand out; beside D there is no room for the name of C, 21 units on. Of the others each
// lacks one thing.
func TestDrawnAircraft(t *testing.T) {
	t.Parallel()
	aircraft := func(name string, median float64, change func(*shift)) shift {
		s := shift{Group: &group{Column: tally.RegistrationColumn, Value: name}, First: spread{N: 1200, Flights: 1200, Lower: median - 1, Median: median, Upper: median + 1},
			Second: spread{N: 2000, Flights: 2000, Median: 13}, Corrected: 0.04, Outside: true}
		if s.Result.Above = 0.64; median < 13 {
			s.Result.Above = 0.36
		}
		if change != nil {
			change(&s)
		}
		return s
	}
	tr := &Trend{Tally: &tally.Tally{Measured: []tally.Measured{{Name: "of-ours", Unit: "s"}}}, Options: Options{Level: 0.05}, shifts: []shift{
		aircraft("C", 20, nil), aircraft("A", 10, nil), aircraft("D", 19.5, nil),
		aircraft("B", 12, func(s *shift) { s.Outside = false }),
		aircraft("E", 15, func(s *shift) { s.Corrected = 0.05 }),
		aircraft("F", 16, func(s *shift) { s.Result.Above = 0.63 }),
		aircraft("G", 17, func(s *shift) { s.First.Flights = 9 }),
		aircraft("H", 18, func(s *shift) { s.Second.Flights = 9 }),
		aircraft("H", 21, func(s *shift) { s.Periods = true }),
		aircraft("", 22, func(s *shift) { s.Group = nil }),
		aircraft("TH-120", 23, func(s *shift) { s.Group = &group{Column: tally.TypeColumn} }),
		aircraft("I", 24, func(s *shift) { s.First.N = 0 }),
		aircraft("J", 25, func(s *shift) { s.Measurement = 1 }),
	}}
	d := tr.drawGroups(0)
	checkShapes(t, []byte(d.SVG), map[string]string{
		"grid":        "79.7,18 79.7,36\n164.1,18 164.1,36\n248.4,18 248.4,36\n332.7,18 332.7,36\n417.1,18 417.1,36\n501.4,18 501.4,36",
		"tick":        "79.7,48 10\n164.1,48 12\n248.4,48 14\n332.7,48 16\n417.1,48 18\n501.4,48 20",
		"axis":        "46,36 552,36",
		"aircraft":    "164.1,28 | 290.6,28 | 332.7,28 | 374.9,28 | 417.1,28",
		"tick strong": "79.7,13 A\n480.3,13 D",
		"signals":     "79.7,24 83.7,28 79.7,32 75.7,28 79.7,24 | 480.3,24 484.3,28 480.3,32 476.3,28 480.3,24 | 501.4,24 505.4,28 501.4,32 497.4,28 501.4,24",
	})
	if got, want := rowsOf(d.Values), strings.Join([]string{"aircraft | median | flights | middle half | remark",
		"79.733 | A | 10 | 1,200 | 9 to 11 | stands out", "164.07 | B | 12 | 1,200 | 11 to 13 | ", "290.57 | E | 15 | 1,200 | 14 to 16 | ", "332.73 | F | 16 | 1,200 | 15 to 17 | ",
		"374.9 | G | 17 | 9 | 16 to 18 | ", "417.07 | H | 18 | 1,200 | 17 to 19 | ", "480.32 | D | 19.5 | 1,200 | 18.5 to 20.5 | stands out", "501.4 | C | 20 | 1,200 | 19 to 21 | stands out"}, "\n"); got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
	// Two that are the same: 7 of 6 to 8, 1.16 of 2.4.
	tr.shifts = []shift{aircraft("A", 7, nil), aircraft("B", 7, nil)}
	if got := rowsOf(tr.drawGroups(0).Values); !strings.Contains(got, "\n290.57 | A | 7 |") || !strings.Contains(got, "\n290.57 | B | 7 |") {
		t.Errorf("two of the same: %s", got)
	}
	if tr.shifts = tr.shifts[:1]; tr.drawGroups(0).SVG != "" {
		t.Error("one aircraft has a chart")
	}
}

// 75 of 100 s is the least, so the axis begins at 70: 3.9333 units are one per cent. In an archive
// where 91 % is the least it begins at 90.
func TestDrawnAudit(t *testing.T) {
	t.Parallel()
	audited := func(least float64) *Trend {
		counted := drawn([11]int{}, [11]int{})
		counted.Warnings = []string{"gear_horn"}
		for i := range counted.Months {
			a := tally.Audit{Flights: 1200, DueSeconds: 90, SoundedSeconds: 100, AgreementSeconds: 90, Missed: 1, Late: 2, Nuisance: 3, WronglySilenced: 4}
			switch i {
			case 3:
				a = tally.Audit{}
			case 5:
				a.SoundedSeconds, a.DueSeconds, a.AgreementSeconds = 100, least, least
			case 10:
				a.AgreementSeconds = 95
				a.DueSeconds = 95
			}
			counted.Months[i].Audits = []tally.Audit{a}
		}
		tr, err := New(counted, Options{Level: 0.05, Correction: Holm, Months: 3, RunMonth: "2031-04"})
		if err != nil {
			t.Fatal(err)
		}
		return tr
	}
	tr := audited(75)
	d := tr.drawAudit(0)
	checkShapes(t, []byte(d.SVG), map[string]string{
		"value":  "552,10 hollow: 2031-04, not over\n42,141 70\n42,101.7 80\n42,62.3 90\n42,23 100",
		"median": "69,59.3 115,59.3 161,59.3 | 253,59.3 299,118.3 345,59.3 391,59.3 437,59.3 483,59.3",
		"rates":  "69,59.3 | 115,59.3 | 161,59.3 | 253,59.3 | 299,118.3 | 345,59.3 | 391,59.3 | 437,59.3 | 483,59.3 | 529,39.7",
		"hollow": "529,39.7",
	})
	if rows := strings.Split(rowsOf(d.Values), "\n"); rows[0] != "month | flights | agreement, % | missed | late | nuisance | wrongly silenced | remark" || rows[1] != "69 | 2030-06 | 1,200 | 90 | 1 | 2 | 3 | 4 | " ||
		rows[4] != "207 | 2030-09 | 0 | – | 0 | 0 | 0 | 0 | " || rows[11] != "529 | 2031-04 | 1,200 | 95 | 1 | 2 | 3 | 4 | not over, compared with nothing | hollow" {
		t.Errorf("values\n%s", strings.Join(rows, "\n"))
	}
	// In the three recent months and on three times the flights; none leads anywhere but to a
	// rule of its own.
	f := tr.auditFigures()[0]
	if note := string(f.Note); !strings.HasPrefix(note, "2031-01 to 2031-03: 90 % agreement on 3,600 flights; ") || !strings.Contains(note, "3 missed, ") || !strings.Contains(note, "6 late, ") ||
		!strings.Contains(note, "9 nuisance, ") || !strings.HasSuffix(note, "12 wrongly silenced") {
		t.Error(note)
	}
	checkShapes(t, []byte(audited(91).drawAudit(0).SVG), map[string]string{"value": "552,10 hollow: 2031-04, not over\n42,141 90\n42,82 95\n42,23 100"})
}

// Four places of 111.5 units. Forty and 8 % of it on 118 units: 2.7315 each. Garwood's intervals
// of 10, 20, 40 and of 15 on half as many are from tables.
func TestDrawnIndicator(t *testing.T) {
	t.Parallel()
	target := 10.0
	s := Status{Indicator: Indicator{Title: "T", Rule: "gear-late"}, Unit: "u", Before: 2, Mean: 15, SD: 5, Levels: [3]float64{20, 25, 30}, TargetAt: &target, Alert: "a point",
		Points:  []Point{{"2030-01", 10, 10, 500, 1000}, {"2030-02", 20, 20, 500, 1000}, {"2030-03", 40, 40, 500, 1000}},
		NotOver: &Point{"2030-04", 30, 15, 250, 500}}
	d := s.draw()
	checkShapes(t, []byte(d.SVG), map[string]string{
		"recent":  "269,20 111.5x118",
		"in-left": "4,10 u",
		"grid":    "46,138 492,138\n46,83.4 492,83.4\n46,28.7 492,28.7",
		"value":   "42,141 0\n42,86.4 20\n42,31.7 40\n552,10 hollow: 2030-04, not over",
		"centre":  "46,97 492,97", "alert1": "46,83.4 492,83.4", "alert2": "46,69.7 492,69.7", "alert3": "46,56.1 492,56.1", "target": "46,110.7 492,110.7",
		"at":     "496,113.7 target\n496,100 mean\n496,86.4 1 SD\n496,72.7 2 SD\n496,59.1 3 SD",
		"tick":   "101.8,151 2030-01\n213.3,151 2030-02\n324.8,151 2030-03\n436.3,151 2030-04",
		"median": "101.8,110.7 213.3,83.4 324.8,28.7", "rates": "101.8,110.7 | 213.3,83.4 | 436.3,56.1", "hollow": "436.3,56.1",
		"signals": "324.8,24.7 328.8,28.7 324.8,32.7 320.8,28.7 324.8,24.7",
		"axis":    "46,138 492,138",
	})
	if got, want := rowsOf(d.Values), strings.Join([]string{"period | events | on | value | 95 % interval | remark", "101.75 | 2030-01 | 10 | 1,000 | 10 | 4.8 to 18.4 | before",
		"213.25 | 2030-02 | 20 | 1,000 | 20 | 12.2 to 30.9 | before", "324.75 | 2030-03 | 40 | 1,000 | 40 | 28.6 to 54.5 | completes an alert",
		"436.25 | 2030-04 | 15 | 500 | 30 | 16.8 to 49.5 | not over, compared with nothing | hollow"}, "\n"); got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
	// A measurement: 10 to 13 and 8 % on both sides, 33.908 units each; the second point has no value.
	s = Status{Indicator: Indicator{Title: "T", Measurement: "m"}, Before: 1, NotEnough: "few", Earlier: []string{"2030-01", "2030-03"},
		Points: []Point{{"2030-01", 10, 0, 5, 6}, {"2030-02", math.NaN(), 0, 0, 0}, {"2030-03", 12, 0, 7, 8}, {"2030-04", 13, 0, 1200, 1300}}}
	d = s.draw()
	checkShapes(t, []byte(d.SVG), map[string]string{
		"recent": "157.5,20 334.5x118", "centre": "", "at": "",
		"median": "101.8,129.9 | 324.8,62 436.3,28.1", "rates": "101.8,129.9 | 436.3,28.1", "hollow": "",
		"signals": "324.8,58 328.8,62 324.8,66 320.8,62 324.8,58", // of the points before none
	})
	if got, want := rowsOf(d.Values), strings.Join([]string{"period | value | values | flights | remark", "101.75 | 2030-01 | 10 | 6 | 5 | before", "213.25 | 2030-02 | – | 0 | 0 | ",
		"324.75 | 2030-03 | 12 | 8 | 7 | completes an alert", "436.25 | 2030-04 | 13 | 1,300 | 1,200 | "}, "\n"); got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
	// Up to eight points each has its name, up to sixteen every second.
	for n, want := range map[int]int{8: 8, 9: 5, 16: 8, 17: 6} {
		s.Points = make([]Point, n)
		if got := len(shapes(t, []byte(s.draw().SVG))["tick"]); got != want {
			t.Errorf("%d of %d points have names, want %d", got, n, want)
		}
	}
	names := apart([]levelName{{60, "", "d"}, {98, "", "b"}, {100, "", "a"}, {97, "", "c"}})
	if names[0].at != 100 || names[1].at != 90 || names[2].at != 80 || names[3].at != 60 || names[1].name != "b" {
		t.Errorf("names at %v", names)
	}
}

func TestExtentOfIndicators(t *testing.T) {
	t.Parallel()
	share, set := 3.0, 40.0
	few := Status{NotEnough: "few"}
	of := func(change func(*Status), values ...float64) Status {
		s := few
		change(&s)
		for _, v := range values {
			s.Points = append(s.Points, Point{Value: v})
		}
		return s
	}
	rule, measure := func(s *Status) { s.Rule = "r" }, func(s *Status) { s.Measurement = "m" }
	for _, c := range []struct {
		name      string
		s         Status
		low, high float64 // with 8 % of the range beside the values
		ok        bool
	}{
		{"rates", of(rule, 10, 20), 0, 21.6, true},
		{"a measurement", of(measure, 10, 20), 9.2, 20.8, true},
		{"a share", of(func(s *Status) { s.Measurement, s.Beyond = "m", &share }, 5, 10), 0, 10.4, true},
		{"a measurement that never varies", of(measure, 7, 7), 5.84, 8.16, true},
		{"no value", of(rule, math.NaN()), 0, 0, false},
		{"nothing on nothing", of(rule, 0), 0, 1.16, true},
		{"a level set", of(func(s *Status) { s.Rule, s.AlertLevel = "r", &set }, 10, 20), 0, 43.2, true},
		{"levels", of(func(s *Status) {
			s.Measurement, s.NotEnough, s.Mean, s.SD, s.Levels = "m", "", 15, 5, [3]float64{10, 5, 0}
		}, 10, 20), -1.6, 21.6, true},
		{"levels replaced", of(func(s *Status) {
			s.Measurement, s.NotEnough, s.Mean, s.SD, s.Levels, s.AlertLevel = "m", "", 15, 5, [3]float64{10, 5, 0}, &set
		}, 10, 20), 7.6, 42.4, true},
		{"no deviation", of(func(s *Status) { s.Measurement, s.NotEnough, s.Mean = "m", "", 30 }, 10, 20), 8.4, 31.6, true},
	} {
		if low, high, ok := c.s.extent(); math.Abs(low-c.low) > 1e-9 || math.Abs(high-c.high) > 1e-9 || ok != c.ok {
			t.Errorf("%s: %v to %v, %v; want %v to %v", c.name, low, high, ok, c.low, c.high)
		}
	}
	// None on 1,000: at most 3.6889 per 1,000, as a share 0.36889 %; of a quantile and of
	// nothing there is no such bound.
	for _, c := range []struct {
		s    Status
		high float64
	}{{of(rule, 0, 0), 3.6889}, {of(func(s *Status) { s.Measurement, s.Beyond = "m", &share }, 0, 0), 0.36889}, {of(measure, 0, 0), 0}, {of(rule, 0, 1), 0}, {of(rule), 0}} {
		for i := range c.s.Points {
			c.s.Points[i].Open = 500
		}
		if high, on, none := c.s.atMost(); math.Abs(high-c.high) > 1e-4 || none != (c.high > 0) || none && on != 1000 || !none && on != 0 {
			t.Errorf("%+v: at most %v on %v, %v", c.s, high, on, none)
		}
	}
}
