package trend

import (
	"cmp"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/parquet-go/parquet-go"

	"downlock/report/trend/fleet"
	"downlock/report/trend/tally"
	"downlock/schemas"
)

func TestPageNames(t *testing.T) {
	t.Parallel()
	long := strings.Repeat("x", 100)
	tr := &Trend{Tally: &tally.Tally{Rules: []string{"az-09_", "a b", "a-b", "A.b", "é", "", long, long + "y"}, Measured: []tally.Measured{{Name: "a b"}, {Name: long}}}}
	names := tr.pageNames()
	for id, want := range map[string]string{"az-09_": "az-09_", "a b": "a-b", "a-b": "a-b~3", "A.b": "--b", "é": "-", "": "~6", long: long[:80], long + "y": long[:80] + "~8"} {
		if got := names.rules[id]; got != "flights/"+want+".html" {
			t.Errorf("%q is on %s, want %s", id, got, want)
		}
	}
	if m := names.measurements; m["a b"] != "flights/measurement-a-b.html" || m[long] != "flights/measurement-"+long[:68]+".html" {
		t.Errorf("measurements are on %v", m)
	}
}

// Of 101 events in a month a hundred are listed; reports lie a folder above.
func TestPagesOfFlights(t *testing.T) {
	t.Parallel()
	counted := one([2]int{0, 0}, [2]int{0, 101}, [2]int{100, 0}, [2]int{1, 0})
	counted.Measured = []tally.Measured{{Name: "of-ours", Unit: "s"}}
	for m := range counted.Months {
		counted.Months[m].Values = [][]tally.Sample{{upTo(1, 3), {}}}
	}
	counted.Months[3].Events[0].Severity, counted.Months[3].Events[0].Certain, counted.Months[3].Events[0].Further = tally.Medium, false, 7
	tr, err := New(counted, Options{Level: 0.05, Correction: Holm, Version: "v"})
	if err != nil {
		t.Fatal(err)
	}
	tr.measured = []measured{{Highest: []Flight{{ID: "h", Value: "9 s"}}, Lowest: []Flight{{ID: "l", Value: "1 s"}}}}
	tr.Link(map[string]string{"2030-04Aa": "reports/x.html", "h": "/reports/h.html", "l": "l.html"})
	pages := tr.rulePages()
	if len(pages) != 1 || pages[0].Subject != "gear-late" || pages[0].Version != "v" || pages[0].Note != "" || pages[0].Title == "" {
		t.Fatalf("%+v", pages)
	}
	for i, want := range []string{"2030-04 1 0", "2030-03 100 0", "2030-02 100 1", "2030-01 0 0"} {
		if l := pages[0].Lists[i]; fmt.Sprint(l.Name, " ", len(l.Flights), " ", l.More) != want || l.Anchor != l.Name || !strings.Contains(l.Note, " on 190 opportunities: ") {
			t.Errorf("%s: %d flights and %d more, %s", l.Name, len(l.Flights), l.More, l.Note)
		}
	}
	if f := pages[0].Lists[0].Flights[0]; f != (Flight{ID: "2030-04Aa", Month: "2030-04", Severity: "medium", Certainty: "possible", Further: 7, Report: "../reports/x.html"}) {
		t.Errorf("%+v", f)
	}
	if f := pages[0].Lists[1].Flights[0]; f.Severity != "high" || f.Certainty != "certain" || f.Report != "" {
		t.Errorf("%+v", f)
	}
	files, err := tr.flightFiles()
	if err != nil || len(files) != 2 || files[0].Name != "gear-late.html" || files[1].Name != "measurement-of-ours.html" {
		t.Fatalf("%d files, %v", len(files), err)
	}
	text := string(files[1].Data)
	for _, want := range []string{"Highest in 2030-03 to 2030-04", "Lowest in 2030-03 to 2030-04", `href="/reports/h.html"`, `href="../l.html"`} {
		if !strings.Contains(text, want) {
			t.Errorf("the page of the measurement does not say %q", want)
		}
	}
	for _, c := range []struct {
		page string
		n    int
		want string
	}{{"a&b", 1234, `<a href="a&amp;b">1,234</a>`}, {"", 1234, "1,234"}, {"a", 0, "0"}} {
		if got := flightNumber(c.page, c.n); string(got) != c.want {
			t.Errorf("%d on %q: %s, want %s", c.n, c.page, got, c.want)
		}
	}
}

// The flights behind the measurements, against all rows of the table: of each, and of each
// finding, the twenty with the highest or lowest values of the recent months.
func TestFlightsBehindMeasurements(t *testing.T) {
	t.Parallel()
	dir, f := t.TempDir(), fleet.Fleet{Seed: 5, Flights: 4800, Months: 24, First: "2030-01", Aircraft: 6, Rules: 3}
	if err := f.Write(dir); err != nil {
		t.Fatal(err)
	}
	o := tally.Options{Archive: dir, By: []string{tally.TypeColumn, tally.RegistrationColumn}}
	counted, err := tally.Read(o)
	if err != nil {
		t.Fatal(err)
	}
	tr, err := New(counted, Options{Level: 0.05, Correction: Holm, Archive: dir})
	if err != nil {
		t.Fatal(err)
	}
	slow := slices.IndexFunc(tr.Findings, func(f Finding) bool { return f.shift != nil && f.Column == tally.RegistrationColumn })
	if slow < 0 {
		t.Fatal("the slow leg is not found")
	}
	// The same finding of all flights, and of the lower end.
	s := *tr.Findings[slow].shift
	all, low, lowest := s, s, s
	all.Group = nil
	low.First.Median = low.Second.Median - 1
	lowest.Group, lowest.First.Median = nil, low.First.Median
	for _, s := range []*shift{&all, &low, &lowest} {
		found := tr.Findings[slow]
		if found.shift = s; s.Group == nil {
			found.Column, found.Value = "", ""
		}
		tr.Findings = append(tr.Findings, found)
	}
	if err := tr.ReadFlights(o); err != nil {
		t.Fatal(err)
	}
	name, aircraft := tr.Findings[slow].Subject, tr.Findings[slow].Value
	type reading struct {
		id    string
		value float64
	}
	var every, own []reading
	for m := tr.Recent.First; m <= tr.Recent.Last; m++ {
		part := func(table string) string {
			return filepath.Join(dir, "tables", table, "month="+counted.Months[m].Name, "part.parquet")
		}
		flights, err := parquet.ReadFile[schemas.FlightRow](part(schemas.FlightsTable))
		if err != nil {
			t.Fatal(err)
		}
		of := map[string]string{}
		for _, f := range flights {
			of[f.FlightID] = f.Registration
		}
		rows, err := parquet.ReadFile[schemas.MeasurementRow](part(schemas.MeasurementsTable))
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range rows {
			if r.Measurement == name && r.Value != nil {
				every = append(every, reading{r.FlightID, *r.Value})
				if of[r.FlightID] == aircraft {
					own = append(own, reading{r.FlightID, *r.Value})
				}
			}
		}
	}
	valueOf := map[string]float64{} // no flight has two: ties may come in any order
	for _, r := range every {
		valueOf[r.id] = r.value
	}
	most := func(list []reading, sign float64) (out []float64) {
		list = slices.Clone(list)
		slices.SortStableFunc(list, func(a, b reading) int { return cmp.Compare(sign*a.value, sign*b.value) })
		for _, r := range list[:20] {
			out = append(out, r.value)
		}
		return out
	}
	n, last := slices.IndexFunc(tr.Measured, func(m tally.Measured) bool { return m.Name == name }), len(tr.Findings)-3
	for what, c := range map[string]struct {
		got  []Flight
		want []float64
	}{
		"highest": {tr.measured[n].Highest, most(every, -1)}, "lowest": {tr.measured[n].Lowest, most(every, 1)},
		"of the aircraft": {tr.Findings[slow].Flights, most(own, -1)}, "of all": {tr.Findings[last].Flights, most(every, -1)},
		"lowest of the aircraft": {tr.Findings[last+1].Flights, most(own, 1)}, "lowest of all": {tr.Findings[last+2].Flights, most(every, 1)},
	} {
		var got []float64
		for _, f := range c.got {
			got = append(got, valueOf[f.ID])
			if f.Month < "2031" || !strings.HasSuffix(f.Value, " s") {
				t.Errorf("%s: %+v", what, f)
			}
		}
		if !slices.Equal(got, c.want) || len(valueOf) != len(every) {
			t.Errorf("%s: %v, want %v", what, got, c.want)
		}
	}
	for i, f := range []Finding{tr.Findings[slow], tr.Findings[last], tr.Findings[last+2]} {
		if f.More != s.First.Flights-20 {
			t.Errorf("%d: %d more of %d", i, f.More, s.First.Flights)
		}
	}
	first := tr.Findings[slow].Flights[0].ID
	tr.Doubtful, tr.Improvements = []Finding{{Flights: []Flight{{ID: "d"}}}}, []Finding{{Flights: []Flight{{ID: "i"}}}}
	tr.Link(map[string]string{first: "f.html", "d": "d.html", "i": "i.html", tr.measured[n].Lowest[0].ID: "l.html"})
	if tr.Findings[slow].Flights[0].Report != "f.html" || tr.Doubtful[0].Flights[0].Report != "d.html" || tr.Improvements[0].Flights[0].Report != "i.html" || tr.measured[n].Lowest[0].Report != "l.html" {
		t.Error("not all flights lead to their reports")
	}
	if err := tr.ReadFlights(tally.Options{Archive: filepath.Join(dir, "none")}); err == nil {
		t.Error("flights of no archive are read")
	}
}
