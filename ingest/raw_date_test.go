package ingest

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// The reading of dates of a column by a survey, worked out by hand.
func TestSurveyOfDates(t *testing.T) {
	t.Parallel()
	for _, tt := range []struct {
		dates   []string
		column  string
		formats string // of the profile, in words of the doubt where there are several
		format  string
		used    bool
	}{
		{[]string{"2031-04-03"}, "D", "", "", true},
		{[]string{"3.4.2031"}, "D", "", "D.M.YYYY", true},
		{[]string{"03-APR-31"}, "D", "", "DD-MON-YY", true},
		{[]string{"13/04/2031"}, "D", "", "DD/MM/YYYY", true}, // there is no 13th month
		{[]string{"04/13/2031"}, "D", "", "MM/DD/YYYY", true},
		{[]string{"03/04/2031"}, "D", "DD/MM/YYYY, MM/DD/YYYY", "", false},
		{[]string{"03/04/2031", "04/04/2031"}, "D", "", "DD/MM/YYYY", true}, // the other way a month lies between
		{[]string{"04/04/2031"}, "D", "", "DD/MM/YYYY", true},               // the same either way
		{[]string{"20310403"}, "DATE", "", "", true},
		{[]string{"030431"}, "DATE", "DDMMYY, MMDDYY", "", false}, // 31 April 2003 there was not
		{[]string{"20310403"}, "COUNT", "", "", false},
	} {
		text := "time_s," + tt.column + ",CAS\n"
		for i := range 40 {
			text += fmt.Sprintf("%d,%s,%d\n", i, tt.dates[i*len(tt.dates)/40], 100+i%7)
		}
		raw, err := OpenRawBytes("f.csv", []byte(text))
		if err != nil {
			t.Fatal(err)
		}
		formats := raw.Time.DateFormats
		slices.Sort(formats)
		if got := strings.Join(formats, ", "); got != tt.formats || raw.Time.DateFormat != tt.format || (raw.Time.Date != "") != tt.used || (tt.formats != "") != strings.Contains(raw.Time.Doubt, "can be read as") {
			t.Errorf("%v of %s: date %q by %q, left open %q, doubt %q", tt.dates, tt.column, raw.Time.Date, raw.Time.DateFormat, got, raw.Time.Doubt)
		}
		if err := raw.Walk(nobody{}); err != nil {
			t.Errorf("%v: %v", tt.dates, err)
		}
	}
}

// Date and time in one cell, and the finer of two time columns.
func TestSurveyOfTimeColumns(t *testing.T) {
	t.Parallel()
	text, fine := "when,CAS\n", "UTC,elapsed,CAS\n"
	for i := range 40 {
		text += fmt.Sprintf("13/04/2031 10:00:%02d,%d\n", i, 100+i%7)
		fine += fmt.Sprintf("10:00:%02d,%g,%d\n", i/8, float64(i)/8, 100+i%7)
	}
	raw, err := OpenRawBytes("f.csv", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	if raw.Time.Column != "when" || raw.Time.DateFormat != "DD/MM/YYYY" || raw.Time.Doubt != "" {
		t.Errorf("%+v", raw.Time)
	}
	if err := raw.Walk(nobody{}); err != nil || raw.Epoch.Format("2006-01-02") != "2031-04-13" {
		t.Errorf("%v, epoch %v", err, raw.Epoch)
	}
	if raw, err = OpenRawBytes("f.csv", []byte(fine)); err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff([]string{"elapsed", "UTC"}, []string{raw.Time.Column, raw.Time.Clock}); d != "" {
		t.Error(d)
	}
}

// nobody visits without a look.
type nobody struct{}

func (nobody) Row(float64)   {}
func (nobody) Cell(*RawCell) {}
