package ingest

import (
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

// rowsOf writes rows of a wide export: a second apart from first on, airspeed counting up.
func rowsOf(first, count, cas int) string {
	var b strings.Builder
	for i := range count {
		fmt.Fprintf(&b, "%d,%d\n", first+i, cas+i)
	}
	return b.String()
}

// casOf lists times and airspeeds of every stretch.
func casOf(r *Recording) (out [][][2]float64) {
	for _, s := range r.Stretches() {
		out = append(out, samplesOf(s)["computed_airspeed"])
	}
	return out
}

// counted is samples a second apart that count up.
func counted(first, count, cas int) (out [][2]float64) {
	for i := range count {
		out = append(out, [2]float64{float64(first + i), float64(cas + i)})
	}
	return out
}

// Time that steps back begins a stretch, unless a few rows are out of place. Expected
// stretches are written by hand.
func TestTimeThatStepsBack(t *testing.T) {
	t.Parallel()
	const head = "time,CAS\n"
	for _, tt := range []struct {
		name, text string
		want       [][][2]float64
		first      string // beginning of the first note
	}{
		{name: "elapsed time begins anew twice", text: rowsOf(0, 20, 100) + rowsOf(0, 30, 200) + rowsOf(0, 10, 300),
			want:  [][][2]float64{counted(0, 20, 100), counted(0, 30, 200), counted(0, 10, 300)},
			first: "time is not continuous: the recording was split into 3 stretches, each with its own time and flights; in line 22 it steps back from 19 s to 0 s; in line 52 it steps back from 29 s to 0 s"},
		{name: "set back by six seconds", text: rowsOf(0, 20, 100) + rowsOf(13, 20, 200),
			want:  [][][2]float64{counted(0, 20, 100), counted(13, 20, 200)},
			first: "time is not continuous: the recording was split into 2 stretches, each with its own time and flights; in line 22 it steps back from 19 s to 13 s"},
		{name: "a leap of two days", text: rowsOf(0, 20, 100) + rowsOf(172800, 20, 200),
			want:  [][][2]float64{counted(0, 20, 100), counted(172800, 20, 200)},
			first: "time is not continuous: the recording was split into 2 stretches, each with its own time and flights; in line 22 it leaps from 19 s to 172800 s"},
		{name: "four rows a year later at the end", text: rowsOf(0, 20, 100) + rowsOf(31536000, 4, 200),
			want: [][][2]float64{counted(0, 20, 100)}, first: "4 rows left out, with a time far from that of the rows before and after: the first in line 22"},
		{name: "five rows a year later at the end", text: rowsOf(0, 20, 100) + rowsOf(31536000, 5, 200),
			want:  [][][2]float64{counted(0, 20, 100), counted(31536000, 5, 200)},
			first: "time is not continuous: the recording was split into 2 stretches, each with its own time and flights; in line 22 it leaps from 19 s to 3.1536e+07 s"},
		{name: "two rows changed over", text: rowsOf(0, 10, 100) + rowsOf(11, 1, 111) + rowsOf(10, 1, 110) + rowsOf(12, 8, 112),
			want: [][][2]float64{counted(0, 20, 100)}, first: "time steps back in 1 row, the first in line 13; samples were sorted by time"},
		{name: "four rows late", text: rowsOf(0, 10, 100) + rowsOf(14, 1, 114) + rowsOf(10, 4, 110) + rowsOf(15, 5, 115),
			want: [][][2]float64{counted(0, 20, 100)}, first: "time steps back in 4 rows, the first in line 13; samples were sorted by time"},
		{name: "a row ten seconds late", text: rowsOf(0, 10, 100) + rowsOf(20, 1, 120) + rowsOf(10, 1, 110) + rowsOf(21, 5, 121),
			want: [][][2]float64{append(counted(0, 11, 100), counted(20, 6, 120)...)}, first: "time steps back in 1 row, the first in line 13; samples were sorted by time"},
		{name: "a row more than ten seconds late", text: rowsOf(0, 10, 100) + "20.5,120\n" + rowsOf(10, 1, 110) + rowsOf(21, 5, 121),
			want: [][][2]float64{slices.Concat(counted(0, 10, 100), [][2]float64{{20.5, 120}}, counted(21, 5, 121))}, first: "1 row left out, with a time far from that of the rows before and after: the first in line 13"},
		{name: "two rows from long ago", text: rowsOf(1000, 10, 100) + rowsOf(0, 2, 400) + rowsOf(1010, 10, 110),
			want: [][][2]float64{counted(1000, 20, 100)}, first: "2 rows left out, with a time far from that of the rows before and after: the first in line 12"},
		{name: "two rows from the far future", text: rowsOf(0, 10, 100) + rowsOf(900000, 2, 400) + rowsOf(10, 10, 110),
			want: [][][2]float64{counted(0, 20, 100)}, first: "2 rows left out, with a time far from that of the rows before and after: the first in line 12"},
		{name: "begins anew and ends soon", text: rowsOf(0, 20, 100) + rowsOf(0, 3, 200),
			want:  [][][2]float64{counted(0, 20, 100), counted(0, 3, 200)},
			first: "time is not continuous: the recording was split into 2 stretches, each with its own time and flights; in line 22 it steps back from 19 s to 0 s"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			profile := profileOf(t, "column: time", testColumns)
			for name, data := range columnarOf(t, head+tt.text) {
				r, err := ReadBytes("f", data, profile)
				if err != nil {
					t.Fatal(err)
				}
				if d := cmp.Diff(tt.want, casOf(r)); d != "" {
					t.Errorf("%s (-want +got):\n%s", name, d)
				}
			}
			r, err := ReadBytes("f.csv", []byte(head+tt.text), profile)
			if err != nil {
				t.Fatal(err)
			}
			if d := cmp.Diff(tt.want, casOf(r)); d != "" {
				t.Fatalf("(-want +got):\n%s", d)
			}
			for i, s := range r.Stretches() {
				want := tt.want[i]
				if s.Start != want[0][0] || s.End != want[len(want)-1][0] || s.Stretch != i || s.SHA256 != r.SHA256 || s.Name != "f.csv" {
					t.Errorf("stretch %d of %s: %v to %v", s.Stretch, s.Name, s.Start, s.End)
				}
				if part := fmt.Sprintf("this is stretch %d of %d, from %v s to %v s", i+1, len(tt.want), s.Start, s.End); slices.Contains(s.Notes, part) != (len(tt.want) > 1) {
					t.Errorf("notes %q, want %q", s.Notes, part)
				}
				if !strings.HasPrefix(s.Notes[0], tt.first) || strings.Contains(tt.first, "sorted") == (len(s.Repairs) > 0) {
					t.Errorf("notes %q, repairs %q; want %s", s.Notes, s.Repairs, tt.first)
				}
			}
		})
	}
}

// A packed recording is split as any other, also where rows out of place stand at the
// end of a block.
func TestPackedStretches(t *testing.T) {
	t.Parallel()
	text := "time,CAS\n"
	var want [][][2]float64
	for _, rows := range []int{7000, 20000, 9000} {
		var list [][2]float64
		for i := range rows {
			if i%1024 == 1023 && i+1 < rows {
				text += fmt.Sprintf("%d,%d\n%d,%d\n", i+1, 100+(i+1)%100, i, 100+i%100)
			} else if i%1024 != 0 || i == 0 {
				text += fmt.Sprintf("%d,%d\n", i, 100+i%100)
			}
			list = append(list, [2]float64{float64(i), float64(100 + i%100)})
		}
		want = append(want, list)
	}
	r, err := Limits{PackAbove: 1}.read("f", strings.NewReader(text), int64(len(text)), profileOf(t, "column: time", testColumns), nopHash())
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(want, casOf(r)); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
	for _, s := range r.Stretches() {
		if !s.Packed() {
			t.Errorf("stretch %d is not packed", s.Stretch)
		}
	}
}

// A parameter whose cells are all blank begins no stretch, though its time starts again.
func TestBlankCellsStartAgain(t *testing.T) {
	t.Parallel()
	r := read(t, "time,parameter,value\n"+strings.Repeat("0,CAS,\n20,CAS,\n", 2), profileOf(t, "column: time", testColumns))
	if n := len(r.Stretches()); n != 1 || r.Start != 0 || r.End != 20 {
		t.Errorf("%d stretches from %g to %g s, want one from 0 to 20", n, r.Start, r.End)
	}
}

// Every layout is split in the same way. In a long export parameters are mixed, or
// listed flight by flight, or each from beginning to end.
func TestEveryLayoutIsSplit(t *testing.T) {
	t.Parallel()
	profile := profileOf(t, "column: time", testColumns)
	want := [][][2]float64{counted(0, 20, 100), counted(0, 30, 200)}
	heights := [][][2]float64{counted(0, 20, 1000), counted(0, 30, 2000)}
	flights := []struct{ rows, cas, alt int }{{20, 100, 1000}, {30, 200, 2000}}
	var wide, mixed, byFlight, cas, alt strings.Builder
	for _, f := range flights {
		for i := range f.rows {
			fmt.Fprintf(&wide, "%d,%d,%d\n", i, f.cas+i, f.alt+i)
			fmt.Fprintf(&mixed, "%d,CAS,%d\n%d,OTHER,1\n%d,ALT,%d\n", i, f.cas+i, i, i, f.alt+i)
			fmt.Fprintf(&cas, "%d,CAS,%d\n", i, f.cas+i)
			fmt.Fprintf(&alt, "%d,ALT,%d\n", i, f.alt+i)
		}
		for i := range f.rows {
			fmt.Fprintf(&byFlight, "%d,CAS,%d\n", i, f.cas+i)
		}
		for i := range f.rows {
			fmt.Fprintf(&byFlight, "%d,ALT,%d\n", i, f.alt+i)
		}
	}
	files := map[string][]byte{
		"wide":               []byte("time,CAS,ALT\n" + wide.String()),
		"long, mixed":        []byte("time,parameter,value\n" + mixed.String()),
		"long, by flight":    []byte("time,parameter,value\n" + byFlight.String()),
		"long, by parameter": []byte("time,parameter,value\n" + cas.String() + alt.String()),
	}
	for name, text := range maps.Clone(files) {
		for format, data := range columnarOf(t, string(text)) {
			files[name+", "+format] = data
		}
	}
	for name, data := range files {
		r, err := ReadBytes("f", data, profile)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if d := cmp.Diff(want, casOf(r)); d != "" {
			t.Errorf("%s (-want +got):\n%s", name, d)
			continue
		}
		for i, s := range r.Stretches() {
			if d := cmp.Diff(heights[i], samplesOf(s)["pressure_altitude"]); d != "" {
				t.Errorf("%s, stretch %d (-want +got):\n%s", name, i, d)
			}
			if s.Start != 0 || s.End != float64(flights[i].rows-1) || len(s.Repairs) != 1 {
				t.Errorf("%s, stretch %d: %v to %v, %q", name, i, s.Start, s.End, s.Repairs)
			}
		}
	}
}

// The samples that belong together cannot be told in these, and the file is refused with the row
// and the way out.
func TestTimeThatCannotBeTold(t *testing.T) {
	t.Parallel()
	cas := func(from, to int) (text string) {
		for i := from; i < to; i++ {
			text += fmt.Sprintf("%d,CAS,%d\n", i, 100+i)
		}
		return text
	}
	alt := strings.ReplaceAll(cas(0, 20), "CAS", "ALT")
	falling := "time,CAS\n"
	for i := range 2 * 5 * maxStretches { // every fifth row begins a stretch, from line 3 on
		falling += fmt.Sprintf("%d,100\n", 100000-20*i)
	}
	for _, tt := range []struct{ name, text, want string }{
		{"two of one, one of the other", "time,parameter,value\n" + cas(0, 20) + cas(0, 20) + alt, `f: the time of column "CAS" starts again 1 times and that of "ALT" 0 times`},
		{"listed, then mixed", "time,parameter,value\n" + cas(0, 20) + cas(0, 20) + alt + cas(20, 21), `f: line 62: the time of column "CAS" started again while parameters were listed one after the other`},
		{"time falls from row to row", falling, "f: line 7503: time steps back, or jumps by more than a day, for the 1501th time"},
		{"one second for all", "time,CAS\n" + strings.Repeat("10:00:00,100\n", maxShared+1), "f: line 4098: more than 4096 rows have the time 10:00:00"},
		{"two values at one time", "time,CAS\n0,100\n1,101\n2,102\n1,105\n3,103\n4,104\n", `f: line 5: time steps back, and column "CAS" has different values at the same time, 1 s`},
	} {
		_, err := ReadBytes("f", []byte(tt.text), profileOf(t, "column: time", testColumns))
		if err == nil || !strings.HasPrefix(err.Error(), tt.want) {
			t.Errorf("%s: %v\nwant %s", tt.name, err, tt.want)
		}
	}
}

// Eight rows share a second; the column sampled once a second in the fifth of them is
// half a second late. Four in the first second, since the recording begins within it.
func TestRowsThatShareASecond(t *testing.T) {
	t.Parallel()
	text := "time,CAS,ALT\n"
	for i := range 4 {
		text += fmt.Sprintf("23:59:58,%d,%s\n", 100+i, []string{"1000", "", "", ""}[i])
	}
	for i := range 8 {
		text += fmt.Sprintf("23:59:59,%d,%s\n", 200+i, []string{"", "", "", "", "1001", "", "", ""}[i])
	}
	for i := range 2 {
		text += fmt.Sprintf("00:00:00,%d,\n", 300+i)
	}
	want := samples{"pressure_altitude": {{86398, 1000}, {86399.5, 1001}}}
	for i := range 4 {
		want["computed_airspeed"] = append(want["computed_airspeed"], [2]float64{86398 + float64(i)/4, float64(100 + i)})
	}
	for i := range 8 {
		want["computed_airspeed"] = append(want["computed_airspeed"], [2]float64{86399 + float64(i)/8, float64(200 + i)})
	}
	want["computed_airspeed"] = append(want["computed_airspeed"], [2]float64{86400, 300}, [2]float64{86400.5, 301})
	files := columnarOf(t, text)
	files["CSV"] = []byte(text)
	for name, data := range files {
		r, err := ReadBytes("f", data, profileOf(t, "column: time", testColumns))
		if err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(want, samplesOf(r)); d != "" {
			t.Errorf("%s (-want +got):\n%s", name, d)
		}
		for _, s := range r.Series {
			if s.TimeAccuracy != 1 {
				t.Errorf("%s: %s may be wrong by %v s, want 1", name, s.Parameter.Name, s.TimeAccuracy)
			}
		}
		if r.End != 86400.5 || len(r.Repairs) != 0 || !strings.HasPrefix(r.Notes[0], "11 rows share the second") {
			t.Errorf("%s: to %v, notes %q", name, r.End, r.Notes)
		}
	}
}

// Date and clock in rows of their own, as each has its own word in the frame; in a long
// export they are parameters. Second 0 is 23:59:50 on 31 March: the clock says 23:59:55
// in the row of 5 s, and the date of 1 April comes 2 s late.
func TestDateAndClockApart(t *testing.T) {
	t.Parallel()
	day := time.Date(2031, 3, 31, 0, 0, 0, 0, time.UTC)
	for _, tt := range []struct {
		name, time, text string
		epoch            time.Time
		month, note      string
	}{
		{name: "in rows apart", time: "column: t, date: D, clock: U",
			text: "t,D,U,CAS\n0,,23:59:50,1\n1,31-Mar-2031,,1\n2,,23:59:52,1\n3,31-Mar-2031,,1\n", epoch: day.Add(23*time.Hour + 59*time.Minute + 50*time.Second)},
		{name: "the date lags behind at midnight", time: "column: t, date: D, clock: U, date_format: DD/MM/YYYY",
			text: "t,D,U,CAS\n5,,23:59:55,1\n6,31/03/2031,,1\n11,31/03/2031,00:00:01,1\n13,01/04/2031,,1\n15,01/04/2031,00:00:05,1\n", epoch: day.Add(23*time.Hour + 59*time.Minute + 50*time.Second)},
		{name: "a clock held in four rows a second", time: "column: t, date: D, clock: U",
			text: "t,D,U,CAS\n0.5,2031-03-31,12:00:00,1\n0.75,,12:00:00,1\n1,,12:00:01,1\n1.25,,12:00:01,1\n1.5,,12:00:01,1\n1.75,,12:00:01,1\n", epoch: day.Add(12 * time.Hour)},
		{name: "parameters of a long export", time: "column: time, date: D, clock: U",
			text: "time,parameter,value\n0,CAS,1\n0.5,U,06:00:00\n0.75,D,2031-03-31\n1,CAS,1\n1.5,U,06:00:01\n", epoch: day.Add(6*time.Hour - 500*time.Millisecond)},
		{name: "a clock and no date", time: "column: t, clock: U", text: "t,U,CAS\n5,06:00:05,1\n6,,1\n",
			note: "the recording begins at 06:00:05 UTC; its date is not recorded, so its month is not known: give it with --date, or take it from the file's name with file_date in the profile"},
		{name: "a clock and the date of the file's name", time: "column: t, clock: U, file_date: 'rec_{YYMMDD}*'", text: "t,U,CAS\n5,06:00:05,1\n6,,1\n",
			epoch: day.Add(6 * time.Hour), note: "the date is 2031-03-31, from the file's name"},
		{name: "clock times and the date of the file's name", time: "clock: U, file_date: 'rec_{YYMMDD}*'", text: "U,CAS\n23:59:59,1\n00:00:00,1\n",
			epoch: day, note: "the date is 2031-03-31, from the file's name"},
		{name: "a date and no clock", time: "column: t, date: D", text: "t,D,CAS\n5,2031-03-31,1\n6,,1\n",
			month: "2031-03", note: "the date is 2031-03-31, as recorded; the time of day is not recorded"},
		{name: "a file whose name does not fit", time: "column: t, file_date: '{YYMMDD}*'", text: "t,CAS\n5,1\n6,1\n",
			note: "its date is not known: it is not recorded, and the file's name does not fit file_date"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			r, err := ReadBytes("rec_310331.csv", []byte(tt.text), profileOf(t, tt.time, testColumns))
			if err != nil {
				t.Fatal(err)
			}
			if !r.Epoch.Equal(tt.epoch) || r.Month != tt.month {
				t.Errorf("epoch %v, month %q; want %v, %q", r.Epoch, r.Month, tt.epoch, tt.month)
			}
			if tt.note != "" && (len(r.Notes) == 0 || r.Notes[0] != tt.note) {
				t.Errorf("notes %q, want %s", r.Notes, tt.note)
			}
		})
	}
}

// Each stretch has a second 0 of its own; one without a date of its own has none.
func TestStretchesHaveTheirOwnDay(t *testing.T) {
	t.Parallel()
	day := time.Date(2031, 3, 31, 0, 0, 0, 0, time.UTC)
	r := read(t, "t,D,U,CAS\n0,2031-03-31,06:00:00,1\n"+strings.Repeat("100,,,1\n", 1)+"0,2031-04-02,09:00:00,1\n1,,,1\n2,,,1\n3,,,1\n4,,,1\n", profileOf(t, "column: t, date: D, clock: U", testColumns))
	all := r.Stretches()
	if len(all) != 2 || !all[0].Epoch.Equal(day.Add(6*time.Hour)) || !all[1].Epoch.Equal(day.Add(57*time.Hour)) {
		t.Errorf("%d stretches, %v", len(all), all[len(all)-1].Epoch)
	}
	r = read(t, "t,D,U,CAS\n0,2031-03-31,06:00:00,1\n100,,,1\n0,,,1\n1,,,1\n2,,,1\n3,,,1\n4,,,1\n", profileOf(t, "column: t, date: D, clock: U", testColumns))
	if all = r.Stretches(); len(all) != 2 || !all[0].Epoch.Equal(day.Add(6*time.Hour)) || !all[1].Epoch.IsZero() {
		t.Errorf("%d stretches, %v", len(all), all[len(all)-1].Epoch)
	}
	// 13:00 after 13:40 without a date: which day it is of nobody knows.
	r = read(t, "U,D,CAS\n13:40:00,2031-03-31,1\n13:40:01,,1\n13:00:00,,1\n13:00:01,,1\n13:00:02,,1\n13:00:03,,1\n13:00:04,,1\n", profileOf(t, "date: D, clock: U", testColumns))
	all = r.Stretches()
	if len(all) != 2 || !all[0].Epoch.Equal(day) || !all[1].Epoch.IsZero() || !strings.Contains(strings.Join(all[1].Notes, "\n"), "begins at 13:00:00 UTC; its date is not recorded") {
		t.Errorf("%d stretches, %v, %q", len(all), all[len(all)-1].Epoch, all[len(all)-1].Notes)
	}
}

// Parts are split each by its own time; their stretches belong together in order. Where
// one has more than another the recording is refused.
func TestPartsThatBeginAnew(t *testing.T) {
	t.Parallel()
	profile := *profileOf(t, "column: time", testColumns)
	profile.Parts = []string{"-air.csv", "-alt.csv"}
	folder := t.TempDir()
	write := func(name, text string) string {
		path := filepath.Join(folder, name)
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		return path
	}
	air := write("x-air.csv", "time,CAS\n"+rowsOf(0, 20, 100)+rowsOf(0, 30, 200))
	r, err := ReadParts([]string{air, write("x-alt.csv", "time,ALT\n"+rowsOf(0, 20, 1000)+rowsOf(0, 30, 2000))}, &profile)
	if err != nil {
		t.Fatal(err)
	}
	want := []samples{{"computed_airspeed": counted(0, 20, 100), "pressure_altitude": counted(0, 20, 1000)}, {"computed_airspeed": counted(0, 30, 200), "pressure_altitude": counted(0, 30, 2000)}}
	for k, s := range r.Stretches() {
		if d := cmp.Diff(want[k], samplesOf(s)); d != "" || s.Name != "x" || s.SHA256 != r.SHA256 || len(s.Repairs) != 2 || !strings.HasPrefix(s.Notes[0], "x-air.csv: time is not continuous") {
			t.Errorf("stretch %d of %s, %q (-want +got):\n%s", k, s.Name, s.Notes, d)
		}
	}
	_, err = ReadParts([]string{air, write("x-alt.csv", "time,ALT\n"+rowsOf(0, 20, 1000))}, &profile)
	if err == nil || !strings.Contains(err.Error(), "x-alt.csv: its time is not continuous: it has 1 stretches, but x-air.csv has 2") {
		t.Errorf("%v", err)
	}
}

// A few rows a year later at the end of a columnar file are left out, as those of text are.
func TestColumnarTailApart(t *testing.T) {
	t.Parallel()
	text, want := "time,CAS\n"+rowsOf(0, 20, 100)+rowsOf(31536000, 2, 200), [][][2]float64{counted(0, 20, 100)}
	for kind, data := range columnarOf(t, text) {
		r, err := ReadBytes("f", data, profileOf(t, "column: time", testColumns))
		if err != nil {
			t.Fatal(kind, err)
		}
		if diff := cmp.Diff(want, casOf(r)); diff != "" || r.End != 19 || len(r.Notes) == 0 || !strings.HasPrefix(r.Notes[0], "2 rows left out, with a time far") {
			t.Errorf("%s: end %v, notes %q (-want +got):\n%s", kind, r.End, r.Notes, diff)
		}
	}
}
