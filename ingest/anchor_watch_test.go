package ingest

import (
	"fmt"
	"maps"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

// A date or clock that leaps while the seconds run on is said above everything else:
// nothing else shows that two recordings stand under one count of seconds. The expected
// words are counted by hand: the rows are a second apart from 23:58:00 on 1 March 2026.
func TestLeapBesideSeconds(t *testing.T) {
	t.Parallel()
	begin := time.Date(2026, 3, 1, 23, 58, 0, 0, time.UTC)
	const year, length = 365 * 24 * time.Hour, 4000
	from := func(first, end int, by time.Duration) func(int) time.Duration {
		return func(second int) time.Duration {
			if second < first || second >= end {
				return 0
			}
			return by
		}
	}
	still := from(0, 0, 0)
	const date, clock = "the date jumps while the seconds run on: ", "the clock jumps while the seconds run on: "
	for _, tt := range []struct {
		name        string
		date, clock func(second int) time.Duration // how far they are from the seconds
		want        string                         // beginning of the one note; "" for none
	}{
		{"nothing leaps, over midnight", still, still, ""},
		{"a date an hour late", from(0, length, -time.Hour), still, ""},
		{"a date a day late from a minute on", from(60, length, -24*time.Hour), still, ""},
		{"four words out of place", from(300, 304, 2*year), still, ""},
		{"five words out of place", from(300, 305, 2*year), still, date + "at 300 s it is 2028-03-01, by the seconds 2026-03-02 (5 times in all)"},
		{"a year after an hour", from(3600, length, year), still, date + "at 3600 s it is 2027-03-02, by the seconds 2026-03-02 (400 times in all)"},
		{"back by a year among the first", from(40, length, -year), still, date + "at 40 s it is 2025-03-01, by the seconds 2026-03-01 (3960 times in all)"},
		{"a year from the beginning, for a while", from(0, 20, year), still, date + "at 0 s it is 2027-03-01, by the seconds 2026-03-01 (20 times in all)"},
		{"two days", from(1000, 2000, 2*24*time.Hour), still, date + "at 1000 s it is 2026-03-04, by the seconds 2026-03-02 (1000 times in all)"},
		{"a clock set by two hours", still, from(3000, length, 2*time.Hour), clock + "at 3000 s it is 02:48:00, by the seconds 00:48:00 (1000 times in all)"},
		{"a clock set back over midnight", still, from(3000, length, -time.Hour), clock + "at 3000 s it is 23:48:00, by the seconds 00:48:00 (1000 times in all)"},
		{"a clock that lags by a minute", still, from(3000, length, -time.Minute), ""},
	} {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			var text, long strings.Builder
			fmt.Fprintln(&text, "time,date,UTC,CAS")
			fmt.Fprintln(&long, "time,parameter,value")
			for s := range length {
				now := begin.Add(time.Duration(s) * time.Second)
				day, utc := now.Add(tt.date(s)).Format(time.DateOnly), now.Add(tt.clock(s)).Format(time.TimeOnly)
				fmt.Fprintf(&text, "%d,%s,%s,100\n", s, day, utc)
				fmt.Fprintf(&long, "%d,date,%s\n%d,UTC,%s\n%d,CAS,100\n", s, day, s, utc, s)
			}
			const clocks = "column: time, date: date, clock: UTC"
			files := columnarOf(t, text.String())
			maps.Copy(files, map[string][]byte{"wide CSV": []byte(text.String())})
			check := func(name string, r *Recording, err error) {
				if err != nil {
					t.Fatalf("%s: %v", name, err)
				}
				if tt.want == "" && len(r.Repairs) == 0 {
					return
				}
				if tt.want == "" || len(r.Repairs) != 1 || !strings.HasPrefix(r.Repairs[0], tt.want) || r.Notes[0] != r.Repairs[0] {
					t.Errorf("%s: notes %q; want %q", name, r.Notes, tt.want)
				}
				if want := begin; !r.Epoch.Equal(want) { // most of the first agree on it
					t.Errorf("%s: it begins at %s, want %s", name, r.Epoch, want)
				}
			}
			for name, data := range files {
				r, err := ReadBytes("f", data, profileOf(t, clocks, testColumns))
				check(name, r, err)
			}
			r, err := ReadBytes("f", []byte(long.String()), profileOf(t, clocks, testColumns))
			check("long CSV", r, err)
		})
	}
}

// With one of the two alone, too.
func TestLeapOfOneBesideSeconds(t *testing.T) {
	t.Parallel()
	var text strings.Builder
	fmt.Fprintln(&text, "time,date,UTC,CAS")
	for s := range 400 {
		now := time.Date(2026, 3, 1, 0, 0, s, 0, time.UTC)
		if s >= 200 {
			now = now.AddDate(1, 0, 0).Add(6 * time.Hour)
		}
		fmt.Fprintf(&text, "%d,%s,%s,100\n", s, now.Format(time.DateOnly), now.Format(time.TimeOnly))
	}
	for clocks, want := range map[string]string{
		"column: time, date: date": "the date jumps while the seconds run on: at 200 s it is 2027-03-01, by the seconds 2026-03-01 (200 times",
		"column: time, clock: UTC": "the clock jumps while the seconds run on: at 200 s it is 06:03:20, by the seconds 00:03:20 (200 times",
	} {
		r, err := ReadBytes("f", []byte(text.String()), profileOf(t, clocks, testColumns))
		if err != nil {
			t.Fatal(err)
		}
		if len(r.Repairs) != 1 || !strings.HasPrefix(r.Repairs[0], want) {
			t.Error(cmp.Diff([]string{want}, r.Repairs))
		}
	}
}
