package ingest

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

// The expected times are worked out by hand: seconds since the first midnight.
func TestTimeForms(t *testing.T) {
	t.Parallel()
	day := time.Date(2031, 3, 31, 0, 0, 0, 0, time.UTC)
	for _, tt := range []struct {
		name, time, text string
		want             []float64
		epoch            time.Time
	}{
		{name: "seconds, no date", time: "column: t", text: "t,CAS\n10.25,1\n11,1\n", want: []float64{10.25, 11}},
		{name: "seconds, date and clock once a second", time: "column: t, date: D, clock: U",
			text: "t,D,U,CAS\n10.25,,,1\n11,2031-03-31,06:00:01,1\n12,2031-03-31,06:00:02,1\n", want: []float64{10.25, 11, 12}, epoch: day.Add(5*time.Hour + 59*time.Minute + 50*time.Second)},
		{name: "seconds, first clock invalid", time: "column: t, date: D, clock: U",
			text: "t,D,U,CAS\n0,----,--:--:--,1\n1,31.03.2031,00:00:01.000,1\n", want: []float64{0, 1}, epoch: day},
		{name: "clock", time: "column: t", text: "t,CAS\n06:00:00,1\n6:00:00.125,1\n06:00:01Z,1\n", want: []float64{21600, 21600.125, 21601}},
		{name: "clock, midnight passed", time: "column: t", text: "t,CAS\n23:59:59.5,1\n00:00:00.5,1\n", want: []float64{86399.5, 86400.5}},
		{name: "clock, midnight passed and a row out of place", time: "column: t", text: "t,CAS\n23:59:58,1\n00:00:01,1\n23:59:59,1\n00:00:02,1\n",
			want: []float64{86398, 86399, 86401, 86402}},
		{name: "clock, two flights with a long stop", time: "column: t", text: "t,CAS\n05:00:00,1\n20:00:00,1\n04:00:00,1\n", want: []float64{18000, 72000, 100800}},
		{name: "clock with date", time: "column: t, date: D", text: "t,D,CAS\n23:59:59,31-Mar-2031,1\n00:00:00,01-APR-2031,1\n", want: []float64{86399, 86400}, epoch: day},
		{name: "clock with date in the first row only", time: "column: t, date: D", text: "t,D,CAS\n23:59:59,20310331,1\n00:00:00,,1\n", want: []float64{86399, 86400}, epoch: day},
		{name: "clock with date late", time: "column: t, date: D", text: "t,D,CAS\n23:59:59,,1\n00:00:00,2031/04/01,1\n", want: []float64{86399, 86400}, epoch: day},
		{name: "date and clock columns", time: "date: D, clock: U", text: "U,D,CAS\n23:59:59,2031-03-31,1\n00:00:00,2031-04-01,1\n12:00:00,2031-04-02,1\n",
			want: []float64{86399, 86400, 216000}, epoch: day},
		{name: "clock column alone", time: "clock: U", text: "U,CAS\n00:00:10,1\n", want: []float64{10}},
		{name: "ISO 8601", time: "column: t", text: "t,CAS\n2031-03-31T23:59:59.750Z,1\n2031-04-01T00:00:00Z,1\n", want: []float64{86399.75, 86400}, epoch: day},
		{name: "ISO 8601 with a blank, no zone", time: "column: t", text: "t,CAS\n2031-03-31 00:00:01,1\n2031-03-31 00:00:01.5,1\n", want: []float64{1, 1.5}, epoch: day},
		{name: "ISO 8601, east of UTC", time: "column: t", text: "t,CAS\n2031-04-01T01:30:00+02:00,1\n2031-04-01T02:00:00+0200,1\n", want: []float64{84600, 86400}, epoch: day},
		{name: "ISO 8601, west of UTC", time: "column: t", text: "t,CAS\n2031-03-30T22:00:00-03,1\n", want: []float64{3600}, epoch: day},
		{name: "day first, month by name", time: "column: t", text: "t,CAS\n31 Mar 2031 00:00:02,1\n", want: []float64{2}, epoch: day},
		{name: "minutes", time: "column: t, unit: min", text: "t,CAS\n0.5,1\n1,1\n", want: []float64{30, 60}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			r := read(t, tt.text, profileOf(t, tt.time, testColumns))
			if diff := cmp.Diff(tt.want, r.Series[0].TimeValues()); diff != "" {
				t.Errorf("times (-want +got):\n%s", diff)
			}
			if !r.Epoch.Equal(tt.epoch) {
				t.Errorf("epoch %v, want %v", r.Epoch, tt.epoch)
			}
		})
	}
}

func TestClock(t *testing.T) {
	t.Parallel()
	for text, want := range map[string]float64{"00:00:00": 0, "1:02:03": 3723, "23:59:60": 86400, "99:00:00": 356400, "00:00:00,123456789": 0.123456789} {
		if got, ok := parseClock([]byte(text)); !ok || got != want {
			t.Errorf("%s: %v %v, want %v", text, got, ok, want)
		}
	}
	for _, text := range []string{"", ":", "1:2:3", "00:60:00", "00:00:61", "00:00", "00:00:00.", "00:00:00.1234567890", "123:00:00", "00:00:00x", "-1:00:00", "aa:bb:cc"} {
		if got, ok := parseClock([]byte(text)); ok || got != 0 {
			t.Errorf("%q is taken for %v, %v", text, got, ok)
		}
	}
}
