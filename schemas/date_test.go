package schemas

import (
	"strings"
	"testing"
	"time"
)

func TestDateFormats(t *testing.T) {
	t.Parallel()
	april3 := time.Date(2031, 4, 3, 0, 0, 0, 0, time.UTC)
	for _, c := range []struct {
		format, text string
		want         time.Time
		ok           bool
	}{
		{"DD/MM/YYYY", "03/04/2031", april3, true},
		{"MM/DD/YYYY", "04/03/2031", april3, true},
		{"D.M.YYYY", "3.4.2031", april3, true},
		{"D.M.YYYY", "03.04.2031", april3, true},
		{"DD-MON-YY", "03-APR-31", april3, true},
		{"DD-MON-YY", "03-apr-31", april3, true},
		{"YYYYMMDD", "20310403", april3, true},
		{"DDMMYY", "030498", time.Date(1998, 4, 3, 0, 0, 0, 0, time.UTC), true},
		{"YYMMDD", "690403", time.Date(1969, 4, 3, 0, 0, 0, 0, time.UTC), true},
		{"YYMMDD", "680403", time.Date(2068, 4, 3, 0, 0, 0, 0, time.UTC), true},
		{"D/M/YYYY", "29/2/2032", time.Date(2032, 2, 29, 0, 0, 0, 0, time.UTC), true},
		{"D/M/YYYY", "29/2/2031", time.Time{}, false},
		{"DD/MM/YYYY", "3/4/2031", time.Time{}, false},
		{"DD/MM/YYYY", "04/13/2031", time.Time{}, false},
		{"DD/MM/YYYY", "03/04/2031 ", time.Time{}, false},
		{"DD-MON-YY", "03-XYZ-31", time.Time{}, false},
		{"YYYY-MM-DD", "2031-00-03", time.Time{}, false},
	} {
		f, err := ParseDateFormat(c.format)
		if err != nil {
			t.Fatal(err)
		}
		if got, ok := f.Date(c.text); ok != c.ok || ok && !got.Equal(c.want) {
			t.Errorf("%s as %s: %v %v, want %v %v", c.text, c.format, got, ok, c.want, c.ok)
		}
	}
	for _, text := range []string{"", "DD/MM", "YYYY", "YYYY-MM-DD-DD", "MM/MON/YYYY DD"} {
		if f, err := ParseDateFormat(text); err == nil {
			t.Errorf("%q is taken for the format %s", text, f)
		}
	}
}

func TestFileDates(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		pattern, name string
		want          string
	}{
		{"*_{YYYYMMDD}_*", "FDR_20310403_2.csv.gz", "2031-04-03"},
		{"{DD-MON-YY}*.csv", "03-Apr-31 MODE.csv", "2031-04-03"},
		{"REC{YYMMDD}*", "REC310403.parquet", "2031-04-03"},
		{"*_{YYYYMMDD}_*", "FDR_2031043_2.csv", ""},
		{"*.{YYYYMMDD}", "x-20310403", ""}, // a dot matches only a dot
	} {
		f, err := ParseFileDate(c.pattern)
		if err != nil {
			t.Fatal(err)
		}
		got := ""
		if day, ok := f.Date(c.name); ok {
			got = day.Format(time.DateOnly)
		}
		if got != c.want {
			t.Errorf("%s in %s: %q, want %q", c.pattern, c.name, got, c.want)
		}
	}
	for _, text := range []string{"*_YYYYMMDD_*", "*{YYYYMM}*", "{YYYYMMDD}{YYYYMMDD}", "}{YYYYMMDD"} {
		if _, err := ParseFileDate(text); err == nil {
			t.Errorf("%q is taken", text)
		}
	}
}

func TestProfileDateKeys(t *testing.T) {
	t.Parallel()
	text := "schema: downlock profile 1\naircraft: T\ntitle: t\nlegs: [nose, left, right]\nengines: 2\n" +
		"time: {column: t, date_format: DD/MM, file_date: \"*YYYYMMDD*\"}\ncolumns:\n  computed_airspeed: {column: CAS, unit: kt, time_offset: 0.25}\n"
	_, err := ParseProfile("p.yaml", []byte(text))
	if err == nil || !strings.Contains(err.Error(), `p.yaml:6:32: "DD/MM" is not a date format`) || !strings.Contains(err.Error(), "has no date in braces") {
		t.Errorf("%v", err)
	}
	text = strings.NewReplacer("DD/MM,", "DD/MM/YYYY,", "*YYYYMMDD*", "*{YYYYMMDD}*").Replace(text)
	p, err := ParseProfile("p.yaml", []byte(text))
	if err != nil || p.Columns["computed_airspeed"][0].TimeOffset != 0.25 {
		t.Errorf("%v %v", p, err)
	}
}
