package ingest

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"
)

// The time of day at second 0, by the clock times of later seconds. 50 s past midnight at 100 s
// is ten to midnight and 10 s at 0 s.
func TestTimeOfDayAtZero(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		clocks []clockAt
		want   float64
		ok     bool
	}{
		{nil, 0, false}, {[]clockAt{{100, 150}}, 50, true}, {[]clockAt{{100, 50}}, 86350, true}, {[]clockAt{{3 * 86400, 5}}, 5, true}, {[]clockAt{{-10, 86395}}, 5, true},
		{[]clockAt{{0, 10}, {1, 12}, {2, 13}}, 11, true}, {[]clockAt{{0, 10}, {1, 12}}, 10, true}, {[]clockAt{{0.25, 10}}, 9.75, true},
	} {
		a := anchors{clocks: c.clocks}
		if got, ok := a.secondZero(); got != c.want || ok != c.ok {
			t.Errorf("%v: %v, %v; want %v", c.clocks, got, ok, c.want)
		}
	}
	// Two beginnings of as many votes: the earlier, whatever comes first.
	first := time.Date(2031, 3, 4, 0, 0, 0, 0, time.UTC)
	for range 20 {
		if begin, agreed := mostVotes(map[time.Time]int{first.Add(time.Hour): 2, first: 2, first.Add(-time.Hour): 1, first.Add(2 * time.Hour): 2}); !begin.Equal(first) || agreed != 2 {
			t.Fatalf("%v by %d", begin, agreed)
		}
	}
	for _, c := range []struct{ at, zero, seconds float64 }{{0, 3600, 3600}, {86400, 3600, 3600 - 86400}, {-3600, 0, 86400}, {10.5, 0.25, 0.25}} {
		if got := onDay(first, c.at, c.zero); got != first.Add(time.Duration(c.seconds*float64(time.Second))) {
			t.Errorf("at %v, %v at second 0: %v", c.at, c.zero, got)
		}
	}
}

// Of each, one a second is taken and 64 in all; marks alone are none, a text that is none is
// told, and beyond 30 years nothing is looked at.
func TestAnchorsOfRows(t *testing.T) {
	t.Parallel()
	newRows := func() *reading {
		r, err := newReading("f", profileOf(t, "column: time, date: date, clock: UTC", testColumns))
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	day, clock := []byte("2031-03-04"), func(i int) []byte { return fmt.Appendf(nil, "10:%02d:%02d", i/60, i%60) }
	r := newRows()
	a := &r.current.anchors
	for i, want := range []int{1, 1, 1, 1, 2, 2, 2, 2, 3} { // four rows a second
		if cause := r.anchor(float64(i)/4, day, nil); cause != "" || len(a.days) != want {
			t.Errorf("at %v s %d days, %q", float64(i)/4, len(a.days), cause)
		}
	}
	for _, text := range []string{"", "--:--:--", " -/-/- ", "??", "__.__"} {
		if cause := r.anchor(10, []byte(text), []byte(text)); cause != "" || len(a.days) != 3 || len(a.clocks) != 0 {
			t.Errorf("%q: %q", text, cause)
		}
	}
	for at, want := range map[float64]int{1e9: 1, 1.5e9: 0, -1e9: 1, -1.5e9: 0, math.Nextafter(1e9, 2e9): 0} {
		r := newRows()
		if r.anchor(at, day, clock(0)); len(r.current.anchors.days) != want || len(r.current.anchors.clocks) != want {
			t.Errorf("at %v: %d days", at, len(r.current.anchors.days))
		}
	}
	r = newRows()
	a = &r.current.anchors
	// The first clock time, and those repeated, are not known to be when they change: the
	// second takes the place of the first.
	for i, want := range []int{1, 1, 1, 1, 2} {
		r.anchor(float64(i), nil, clock(i/2))
		if len(a.clocks) != want || a.sure != (i >= 2) {
			t.Errorf("row %d: %v", i, a.clocks)
		}
	}
	if a.clocks[0] != (clockAt{2, 36001}) || !r.axis.epoch.IsZero() {
		t.Errorf("clocks %v, epoch %v", a.clocks, r.axis.epoch)
	}
	for i := range 100 {
		r.anchor(float64(5+i), day, clock(3+i))
	}
	if len(a.clocks) != 64 || len(a.days) != 64 || !r.axis.epoch.Equal(time.Date(2031, 3, 4, 9, 59, 58, 0, time.UTC)) { // 10:00:03 at 5 s, and so on
		t.Errorf("%d clocks, %d days, epoch %v", len(a.clocks), len(a.days), r.axis.epoch)
	}
	if got, want := newRows().anchor(0, nil, []byte("25h")), `"25h" is not a clock time`; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
	if got := newRows().anchor(0, []byte("31st"), nil); !strings.HasPrefix(got, `"31st" is not a date`) {
		t.Errorf("got %q", got)
	}
}

// A mistake in time has the number of its row, from 1, in files without lines.
func TestRowsOfTimeMistakes(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ time, text, want string }{
		{"column: UTC", "UTC,CAS\n10:00:00,1\n10:00:01,2\nnoon,3\n", `row 3, column "UTC": "noon" is not a time`},
		{"column: time, date: date", "time,date,CAS\n0,2031-03-04,1\n1,2031-03-04,2\n2,31st,3\n", `row 3, column "time": "31st" is not a date`},
		{"column: time, clock: UTC", "time,UTC,CAS\n0,10:00:00,1\n1,noon,2\n", `row 2, column "time": "noon" is not a clock time`},
		{"column: time", "time,CAS\n0,1\n1e13,2\n", `row 2, column "time": `},
	} {
		for kind, data := range columnarOf(t, c.text) {
			_, err := ReadBytes("f", data, profileOf(t, c.time, testColumns))
			if err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("%s: %v, want %s", kind, err, c.want)
			}
		}
	}
}

// What is known of the day of a stretch that has no date and clock of its own.
func TestDayOfStretch(t *testing.T) {
	t.Parallel()
	const ends = "its date is not recorded, so its month is not known: give it with --date, or take it from the file's name with file_date in the profile"
	head := "time,UTC,date,CAS\n"
	with := func(clock, date string) string {
		return head + fmt.Sprintf("100,%s,%s,1\n101,,,2\n", clock, date)
	}
	for _, c := range []struct {
		name, file, time, text string
		epoch, month, note     string
	}{
		{"nothing", "f.csv", "column: time", with("", ""), "", "", ""},
		{"a clock", "f.csv", "column: time, clock: UTC", with("10:00:00", ""), "", "", "the recording begins at 10:00:00 UTC; " + ends},
		{"a date", "f.csv", "column: time, date: date", with("", "2031-03-04"), "", "2031-03", "the date is 2031-03-04, as recorded; the time of day is not recorded"},
		{"both", "f.csv", "column: time, date: date, clock: UTC", with("10:00:00", "2031-03-04"), "2031-03-04 09:58:20", "", ""},
		{"the name of the file", "a_20310304.csv", "column: time, file_date: '*_{YYYYMMDD}.csv'", with("", ""), "", "2031-03", "the date is 2031-03-04, from the file's name; the time of day is not recorded"},
		{"the name and a clock", "a_20310304.csv", "column: time, clock: UTC, file_date: '*_{YYYYMMDD}.csv'", with("10:00:00", ""), "2031-03-04 09:58:20", "", "the date is 2031-03-04, from the file's name"},
		{"another name", "f.csv", "column: time, file_date: '*_{YYYYMMDD}.csv'", with("", ""), "", "", "its date is not known: it is not recorded, and the file's name does not fit file_date"},
		{"a clock as the time", "a_20310304.csv", "column: UTC, file_date: '*_{YYYYMMDD}.csv'", "UTC,CAS\n23:59:59,1\n00:00:01,2\n", "2031-03-04 00:00:00", "", "the date is 2031-03-04, from the file's name"},
	} {
		r, err := ReadBytes(c.file, []byte(c.text), profileOf(t, c.time, testColumns))
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		epoch := ""
		if !r.Epoch.IsZero() {
			epoch = r.Epoch.Format(time.DateTime)
		}
		if epoch != c.epoch || r.Month != c.month || c.note != "" && !slices.Contains(r.Notes, c.note) || c.note == "" && len(r.Notes) != 0 {
			t.Errorf("%s: begins %s, month %s, notes %q; want %s, %s, %q", c.name, epoch, r.Month, r.Notes, c.epoch, c.month, c.note)
		}
	}
}
