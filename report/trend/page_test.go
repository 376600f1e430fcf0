package trend

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"testing"

	gocmp "github.com/google/go-cmp/cmp"

	"downlock/report/trend/statistics"
	"downlock/report/trend/tally"
)

// lastMonth is the page of eleven months with one event among them and a last one
// with so many: 1 event on 6 months of 190 able flights is 0.167 to be expected,
// and three sigma above it 1.39, so that from two events on the last month is
// beyond the limits; worked by hand.
func lastMonth(t *testing.T, events int) string {
	t.Helper()
	months := make([][2]int, 12)
	months[2] = [2]int{1, 0}
	months[11] = [2]int{events, 0}
	tr, err := New(one(months...), Options{Level: 0.05, Correction: Holm, Months: 6})
	if err != nil {
		t.Fatal(err)
	}
	page, err := tr.Page()
	if err != nil {
		t.Fatal(err)
	}
	return string(page)
}

// Four events are a small number: no mark in the table and none on the chart,
// and no row of signals. Five are not.
func TestSmallNumbersAreNotMarked(t *testing.T) {
	t.Parallel()
	for events, marked := range map[int]bool{4: false, 5: true} {
		page := lastMonth(t, events)
		_, charts, _ := strings.Cut(page, `<section id="rates">`)
		charts = charts[strings.Index(charts, "</p>"):] // past the key
		for what, is := range map[string]bool{
			"a framed number": strings.Contains(page, `class="above"`),
			"a diamond":       strings.Contains(charts, `class="signals"`),
			"a signal":        strings.Contains(page, "one point beyond three sigma"),
		} {
			if is != marked {
				t.Errorf("%d events: %s: %v", events, what, is)
			}
		}
		if strings.Contains(page, "for which a signal means nothing") == marked {
			t.Errorf("%d events: called small: %v", events, !marked)
		}
	}
	if page := lastMonth(t, 3); !strings.Contains(page, "Small numbers: fewer than 5 events in all months") || strings.Contains(page, "<figure id=\"rule-1\">") {
		t.Error("four events in all have a chart")
	}
}

// Other names for the aircraft, in another order, change nothing but the names:
// an archive without identities says the same as one with them.
func TestNamesOfAircraftDoNotMatter(t *testing.T) {
	t.Parallel()
	counted, err := medium.Tally()
	if err != nil {
		t.Fatal(err)
	}
	lists := func() (out []string) {
		tr, err := New(counted, Options{Level: 0.05, Correction: Holm})
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range slices.Concat(tr.Findings, tr.Improvements, tr.Seasonal, tr.Doubtful) {
			out = append(out, f.Headline, f.Detail, f.Sureness, f.Beside)
		}
		return out
	}
	named := lists()
	at := slices.Index(counted.Columns, tally.RegistrationColumn)
	tokens := map[string]string{}
	for i, values := range counted.Strata {
		token := fmt.Sprintf("a-%02d", 90-len(tokens))
		if tokens[values[at]] == "" {
			tokens[values[at]] = token
		}
		counted.Strata[i] = slices.Clone(values)
		counted.Strata[i][at] = tokens[values[at]]
	}
	for i, line := range named {
		named[i] = regexp.MustCompile(`TARN-\d+`).ReplaceAllStringFunc(line, func(name string) string { return tokens[name] })
	}
	if diff := gocmp.Diff(named, lists()); diff != "" || len(tokens) != medium.Aircraft || !strings.Contains(strings.Join(named, ""), "a-") {
		t.Errorf("%d aircraft: with names and with tokens:\n%s", len(tokens), diff)
	}
}

func TestWords(t *testing.T) {
	t.Parallel()
	for p, want := range map[float64]string{
		1e-9: "one archive in a million would", 0.002: "one archive in 500 would", 0.0000123: "one archive in 81,000 would",
		0.01: "one archive in 100 would", 0.0101: "2 archives in 100 would", 0.18: "18 archives in 100 would",
	} {
		if got := outOf(p, "archive", "would", "would"); got != want {
			t.Errorf("%v: %q, want %q", p, got, want)
		}
	}
	infinite := statistics.Compare(statistics.Rate{Events: 5, Flights: 100}, statistics.Rate{Events: 0, Flights: 100}, Confidence)
	none := statistics.Compare(statistics.Rate{Events: 0, Flights: 100}, statistics.Rate{Events: 5, Flights: 100}, Confidence)
	// Five of five on one of two equal sides: p at least 0.025^(1/5) = 0.4782, as
	// odds 0.916; and the other way round 1/0.916 = 1.09.
	if got := timesBetween(infinite.Interval); got != "At least 0.916 times" {
		t.Error(got)
	}
	if got := timesBetween(none.Interval); got != "At most 1.09 times" {
		t.Error(got)
	}
	for _, c := range []struct {
		value, step float64
		want        string
	}{{0.1 + 0.2, 0.1, "0.3"}, {-1e-17, 0.5, "0.0"}, {1500, 500, "1,500"}, {-2, 0.2, "−2.0"}, {142.05, 0.05, "142.05"}} {
		if got := onAxis(c.value, c.step); got != c.want {
			t.Errorf("%v in steps of %v: %q, want %q", c.value, c.step, got, c.want)
		}
	}
}
