package trend

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"downlock/report/trend/tally"
)

func TestNumbersInWords(t *testing.T) {
	t.Parallel()
	for x, want := range map[float64]string{
		0: "0", math.Inf(1): "∞", 1234.6: "1,235", 123.4: "123", 12.34: "12.3", 1.234: "1.23", 0.1234: "0.123", 0.0012345: "0.00123", 0.00000012345: "0", 1.2: "1.2", 10: "10", 100: "100", -1234.6: "−1,235",
		99.96: "100",
	} {
		if got := decimals(x); got != want {
			t.Errorf("%v: %q, want %q", x, got, want)
		}
	}
	for x, want := range map[float64]string{0: "0", 999: "999", 1000: "1,000", 999_999: "999,999", 1_234_567: "1,234,567", -0.4: "0", -0.5: "0", -0.6: "−1", -1500: "−1,500"} {
		if got := grouped(x); got != want {
			t.Errorf("%v: %q, want %q", x, got, want)
		}
	}
	if got := decimals(math.NaN()) + quantity(2.5, "1") + quantity(2.5, "") + quantity(2.5, "s"); got != "–2.52.52.5 s" {
		t.Errorf("got %q", got)
	}
	if got := plural(1, "events") + ", " + plural(2, "events") + ", " + plural(0, "flights") + ", " + plural(1, "flights with an event") + ", " + plural(1, "opportunities"); got != "1 event, 2 events, 0 flights, 1 flight with an event, 1 opportunity" {
		t.Errorf("got %q", got)
	}
	for _, c := range []struct {
		low, high float64
		want      string
	}{{1, 2.5, "1 to 2.5"}, {math.NaN(), 1, ""}, {1, math.NaN(), ""}, {1, math.Inf(1), ""}, {math.Inf(-1), 1, "∞ to 1"}} {
		if got := fromTo(c.low, c.high); got != c.want {
			t.Errorf("%v to %v: %q", c.low, c.high, got)
		}
	}
	for name, want := range map[string]int{"2030-01": 1, "2030-12": 12, "2030-13": 0, "": 0} {
		if got := calendarMonth(name); got != want {
			t.Errorf("%s is month %d", name, got)
		}
	}
	// A tick less than half a step from nothing is nothing.
	for value, want := range map[float64]string{-0.24: "0.0", -0.25: "−0.2", 0.5: "0.5"} {
		if got := onAxis(value, 0.5); got != want {
			t.Errorf("%v: %q, want %q", value, got, want)
		}
	}
	if got := onAxis(1000, 10) + onAxis(0.05, 0.01) + onAxis(3, 1); got != "1,0000.053" {
		t.Errorf("got %q", got)
	}
}

// What a reader must know first, each only where it is so.
func TestNotesOnThePage(t *testing.T) {
	t.Parallel()
	months := [][2]int{{1, 0}, {0, 1}, {1, 0}, {0, 1}}
	plainNotes := func(change func(*tally.Tally, *Options)) []string {
		counted, o := one(months...), Options{Level: 0.05, Correction: Holm, Months: 1, Version: "v"}
		change(counted, &o)
		tr, err := New(counted, o)
		if err != nil {
			t.Fatal(err)
		}
		return tr.notes()
	}
	const seasonal = "2030-03 and 2030-04 are not the same months of the year: a seasonal difference looks like a change."
	for _, c := range []struct {
		change func(*tally.Tally, *Options)
		want   string // beginning; "" for none
	}{
		{func(*tally.Tally, *Options) {}, ""},
		{func(_ *tally.Tally, o *Options) { o.Doubts = []string{"a doubt"} }, "The archive: a doubt."},
		{func(c *tally.Tally, _ *Options) { c.Distant = []string{"2001-01", "2002-01"} }, "Left out, because more than two years without a flight follow: 2001-01, 2002-01."},
		{func(c *tally.Tally, _ *Options) { c.Undated = 1 }, "Without a date, so in no month and not counted: 1 flight."},
		{func(c *tally.Tally, _ *Options) { c.Orphans = 1 }, "1 row of the tables belong to no flight"},
		{func(c *tally.Tally, _ *Options) { c.Uncounted = 2 }, "All rates are per 1,000 flights, because the archive has 2 evaluations from before"},
		{func(c *tally.Tally, _ *Options) { c.OneAFlight, c.Values = 1, 2 }, "1 of 2 values of measurements are of flights scanned before"},
		{func(c *tally.Tally, _ *Options) { c.OneAFlight, c.Values = 2, 2 }, ""},
		{func(c *tally.Tally, _ *Options) { c.Alone = 1 }, "Written before occurrences were recorded, so each counts as one occurrence: 1 event."},
		{func(c *tally.Tally, o *Options) { o.Reviewed, c.False = true, 1 }, "With the verdict false, so not counted here or by the SQL below: 1 event."},
		{func(_ *tally.Tally, o *Options) { o.Reviewed = true }, "With the verdict false, so not counted here or by the SQL below: 0 events."},
	} {
		notes, others := plainNotes(c.change), 0
		for _, n := range notes {
			if n == seasonal {
				continue
			}
			if others++; c.want == "" || !strings.HasPrefix(n, c.want) {
				t.Errorf("%q, want %q", n, c.want)
			}
		}
		if c.want != "" && others != 1 || len(notes) != others+1 {
			t.Errorf("notes %q, want %q", notes, c.want)
		}
	}
}

// The head of the page, by its figures: 760 flights in four months, 4 events, of them one high, one
// medium; of aircraft that are known or not.
func TestHeadOfThePage(t *testing.T) {
	t.Parallel()
	counted := one([2]int{1, 0}, [2]int{0, 1}, [2]int{1, 0}, [2]int{0, 1})
	for m, s := range []tally.Severity{tally.High, tally.Medium, tally.Low, tally.Low} {
		counted.Months[m].Events[0].Severity = s
		counted.Months[m].Flights[1] = 90
	}
	counted.Possible = 1234
	tr, err := New(counted, Options{Level: 0.05, Correction: Holm, Months: 2, CertainOnly: true})
	if err != nil {
		t.Fatal(err)
	}
	tr.Tests = 1990
	p := tr.newPage()
	if got := fmt.Sprint(p.Flights, p.Events.All(), p.Events.High(), p.Events.Medium(), p.Events.Low(), p.Expected, " ", p.LevelPercent, p.Span, p.Recent, p.Before); got != "760 4 1 1 2 100 52030-01 to 2030-042030-03 to 2030-042030-01 to 2030-02" { // 5 % of 1990 are 99.5
		t.Error(got)
	}
	if p.Columns != "aircraft type, registration" || p.Counted != "Only certain events are counted; 1,234 possible ones are not." || p.Sureness != "is the chance that even one of 1,990 comparisons is called significant if nothing changed (Holm's correction)." {
		t.Errorf("%s; %s; %s", p.Columns, p.Counted, p.Sureness)
	}
	method := strings.Join(p.Method, "\n")
	if !strings.Contains(method, "1,990 comparisons were made") || !strings.Contains(method, "Holm's correction keeps the chance of even one false alarm among all of them at 5 %. With fewer than 5 events") || strings.Contains(method, "is not known for any flight") {
		t.Error(method)
	}
	for s := range counted.Strata {
		counted.Strata[s] = []string{"TH-120", ""}
	}
	tr.Correction = BenjaminiHochberg
	p = tr.newPage()
	if p.Columns != "aircraft type" || !strings.HasPrefix(p.Sureness, "of what is called significant among 1,990 comparisons is expected to be false") || !strings.Contains(strings.Join(p.Method, ""), "The individual aircraft is not known for any flight.") ||
		!strings.Contains(strings.Join(p.Method, ""), "Benjamini and Hochberg's correction keeps") {
		t.Errorf("%s; %s", p.Columns, p.Sureness)
	}
	if tr.Columns = nil; tr.tellsAircraftApart() {
		t.Error("aircraft are told apart without a column")
	}
}

// Rows of the tables, by hand: a group of two columns, a measurement of all and of an aircraft.
func TestRowsOfTables(t *testing.T) {
	t.Parallel()
	counted := fourAircraft(map[string][2][4]int{"bad": {{1}, {2}}})
	counted.Measured, counted.Warnings = []tally.Measured{{Name: "m", Unit: "s"}}, []string{"w"}
	for m := range counted.Months {
		counted.Months[m].Values = [][]tally.Sample{{upTo(1, 20), {}, {}, {}}}
		counted.Months[m].Audits = []tally.Audit{{Flights: 1, DueSeconds: 4, SoundedSeconds: 3, AgreementSeconds: 2, Missed: 5, Late: 6, Nuisance: 7, Silenced: 8, WronglySilenced: 9}}
	}
	tr, err := New(counted, Options{Level: 0.05, Correction: Holm})
	if err != nil {
		t.Fatal(err)
	}
	tr.Link(map[string]string{"2030-01bad0 0": "r.html"})
	events := tr.EventRows()
	if e := events[0]; len(events) != 6 || e != (EventRow{Month: "2030-01", Rule: "bad", FlightID: "2030-01bad0 0", Severity: "high", Certainty: "certain", Group: "aircraft=TH-120; registration=A", Report: "r.html"}) {
		t.Errorf("%d events, %+v", len(events), e)
	}
	if a := tr.AuditRows()[3]; *a.Agreement != 0.4 || a != (AuditRow{"w", "2030-04", 1, a.Agreement, 4, 3, 5, 6, 7, 8, 9}) {
		t.Errorf("%+v", a)
	}
	text := map[string]bool{}
	for _, r := range tr.MeasurementRows() {
		median := math.NaN()
		if r.Median != nil {
			median = *r.Median
		}
		text[fmt.Sprintf("%s %s %s %s%s %d/%d %v against %s", r.Measurement, r.Unit, r.Period, r.Column, r.Value, r.Flights, r.Values, median, r.Against)] = true
	}
	for _, want := range []string{
		"m s 2030-01  20/20 10 against ", "m s 2030-03 to 2030-04  40/40 10 against 2030-01 to 2030-02", "m s 2030-03 to 2030-04 registrationA 40/40 10 against all of its kind",
		"m s 2030-03 to 2030-04 registrationA 40/40 10 against 2030-01 to 2030-02", "m s 2030-03 to 2030-04 aircraftTH-440 0/0 NaN against all of its kind",
	} {
		if !text[want] {
			t.Errorf("no row %q among %v", want, text)
		}
	}
	// 1 event before, 2 since, on each month's 400 flights, of one of four strata.
	var got []string
	for _, r := range tr.RateRows() {
		if r.Period == "2030-03 to 2030-04" && r.Severity == "" {
			got = append(got, fmt.Sprintf("%s%s %d/%v %d %v", r.Column, r.Value, r.Events, r.Able, r.FlightsWith, r.Small))
		}
	}
	want := " 4/800 4 true, aircraftTH-120 4/600 4 true, aircraftTH-440 0/200 0 true, registrationA 4/200 4 true, registrationB 0/200 0 true, registrationC 0/200 0 true, phase 4/800 4 true"
	if text := strings.Join(got, ", "); text != want {
		t.Errorf("rates %s, want %s", text, want)
	}
}
