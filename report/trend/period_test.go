package trend

import (
	"strings"
	"testing"
	"time"

	"downlock/report/trend/tally"
)

// The same months a year before as soon as there are six of them to compare; by
// the calendar, not by the code: 2031-06 and 2030-06.
func TestPeriods(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		have, months         int
		before, recent, word string
		season               bool
	}{
		{60, 0, "2033-01 to 2033-12", "2034-01 to 2034-12", "the period before", true},
		{24, 0, "2030-01 to 2030-12", "2031-01 to 2031-12", "the period before", true},
		{23, 0, "2030-01 to 2030-11", "2031-01 to 2031-11", "the same months a year before", true},
		{18, 0, "2030-01 to 2030-06", "2031-01 to 2031-06", "the same months a year before", true},
		{17, 0, "2030-02 to 2030-09", "2030-10 to 2031-05", "the period before", false},
		{24, 1, "2030-12", "2031-12", "the same months a year before", true},
		{60, 24, "2031-01 to 2032-12", "2033-01 to 2034-12", "the period before", true},
		{36, 18, "2030-01 to 2031-06", "2031-07 to 2032-12", "the period before", false},
		{2, 0, "2030-01", "2030-02", "the period before", false},
	} {
		counted := &tally.Tally{}
		for at := time.Date(2030, 1, 1, 0, 0, 0, 0, time.UTC); len(counted.Months) < c.have; at = at.AddDate(0, 1, 0) {
			counted.Months = append(counted.Months, tally.Month{Name: at.Format("2006-01")})
		}
		tr, err := New(counted, Options{Months: c.months, Level: 0.05, Correction: Holm})
		if err != nil {
			t.Errorf("%d months: %v", c.have, err)
			continue
		}
		if tr.Name(tr.Before) != c.before || tr.Name(tr.Recent) != c.recent || tr.before() != c.word || tr.SameSeason() != c.season {
			t.Errorf("of %d months, asked for %d: %s against %s, %s, same season %v", c.have, c.months, tr.Name(tr.Recent), tr.Name(tr.Before), tr.before(), tr.SameSeason())
		}
	}
}

// A season and nothing else, over 18 months: no change, because the same months
// are compared: 360 events in both.
func TestSeasonIsNoChange(t *testing.T) {
	t.Parallel()
	var events [][2]int
	for month := range 18 {
		n := 2
		if month%12 < 6 {
			n = 30
		}
		events = append(events, [2]int{n, n})
	}
	tr, err := New(one(events...), Options{Level: 0.05, Correction: Holm})
	if err != nil {
		t.Fatal(err)
	}
	if len(tr.Findings)+len(tr.Improvements) > 0 {
		t.Errorf("found %+v %+v", tr.Findings, tr.Improvements)
	}
	c := tr.ComparisonRows()[0]
	if c.Count != 360 || c.Count2 != 360 {
		t.Errorf("%+v", c)
	}
}

func TestTooFewMonths(t *testing.T) {
	t.Parallel()
	if _, err := New(one([2]int{1, 1}), Options{Level: 0.05}); err == nil || !strings.Contains(err.Error(), "holds 1 months in a row") {
		t.Errorf("%v", err)
	}
	if _, err := New(one([2]int{1, 1}, [2]int{1, 1}, [2]int{1, 1}), Options{Level: 0.05, Months: 2}); err == nil {
		t.Error("two periods of two months from three")
	}
}

// A month in which the archive was last added to is not over. Four events in each of six
// months and ten in a seventh: with the seventh over it is among the months compared, and an
// alert of the indicator; while it is not, it is neither, and the page says so.
func TestMonthThatIsNotOver(t *testing.T) {
	months := [][2]int{{2, 2}, {2, 2}, {2, 2}, {2, 2}, {2, 2}, {2, 2}, {5, 5}}
	for run, want := range map[string]struct {
		recent, newest, alert string
		not                   bool
	}{
		"":        {"2030-05 to 2030-07", "2030-07", "a point beyond a mean that never varied", false},
		"2030-06": {"2030-05 to 2030-07", "2030-07", "a point beyond a mean that never varied", false},
		"2030-07": {"2030-04 to 2030-06", "2030-06", "", true},
		"2030-08": {"2030-05 to 2030-07", "2030-07", "a point beyond a mean that never varied", false},
	} {
		tr, err := New(one(months...), Options{Level: 0.05, Correction: Holm, Months: 3, RunMonth: run})
		if err != nil {
			t.Fatal(err)
		}
		in, err := tr.parseIndicators("spi.yaml", []byte("schema: downlock indicators 1\nindicators:\n  - {id: late, rule: gear-late, preceding: 5, current: 1}\n"))
		if err != nil {
			t.Fatal(err)
		}
		s := tr.Judge(in)[0]
		if tr.Name(tr.Recent) != want.recent || s.Latest().Name != want.newest || s.Alert != want.alert || (s.NotOver != nil) != want.not {
			t.Errorf("run in %q: recent %s, indicator to %s, alert %q, open %v", run, tr.Name(tr.Recent), s.Latest().Name, s.Alert, s.NotOver)
		}
		if count := tr.ComparisonRows()[0].Count; want.not && count != 12 || !want.not && count != 18 {
			t.Errorf("run in %q: %d events compared", run, count)
		}
		page, err := tr.Page()
		if err != nil {
			t.Fatal(err)
		}
		text := string(page)
		if strings.Contains(text, "2030-07 is not over: it is the month of the last addition") != want.not || strings.Contains(text, `class="hollow"`) != want.not ||
			strings.Contains(text, `class="not-over"`) != want.not || !strings.Contains(text, "34 events") {
			t.Errorf("run in %q: the page is wrong about what is not over", run)
		}
	}
	_, err := New(one([2]int{1, 1}, [2]int{1, 1}), Options{Months: 1, RunMonth: "2030-02"})
	if err == nil || !strings.Contains(err.Error(), "holds 1 months in a row beside 2030-02, which is not over") {
		t.Errorf("%v", err)
	}
}
