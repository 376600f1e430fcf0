package report

import (
	"bytes"
	"encoding/csv"
	"strings"
	"testing"
)

// caution ends every row.
const caution = `,"Supports a monitoring programme; replaces no approved manual, local rule or licensed staff; no airworthiness decision, no finding about a person."`

// The rows are written out by hand from the fixture.
func TestEventTable(t *testing.T) {
	t.Parallel()
	got := string(encodeCSV(eventColumns, eventRows(newDocument(fixtureRun(t), fixtureResult(t)))))
	want := strings.Join([]string{
		"event_id,flight_id,recording,flight,aircraft,rule,title,severity,certainty,phase," +
			"start_s,start_earliest_s,start_latest_s,end_s,end_earliest_s,end_latest_s,start_utc,end_utc,measures,basis,caution,registration,month,verdict,occurrence_id,general_caution",
		"E1,F0123456789ab,north-07.csv,1,TH-120,gear-late,Gear late,high,certain,approach," +
			"60,59.5,60.5,68.25,67.25,68.25,2031-05-04T10:01:00.000Z,2031-05-04T10:01:08.250Z,lowest_height=1635 ft; pitch=,common practice,May call for an inspection.,,2031-05,,E1" + caution,
		"E2,F0123456789ab,north-07.csv,1,TH-120,lever-first,Lever before strut,low,possible,approach," +
			"80,79,200,82,80,200,2031-05-04T10:01:20.000Z,2031-05-04T10:01:22.000Z,ratio=,common practice,,,2031-05,,E2" + caution,
		"E3,F0123456789ab,north-07.csv,1,TH-120,gear-late,Gear late,medium,certain,landing," +
			"150,149.5,150,150,149.5,150,2031-05-04T10:02:30.000Z,2031-05-04T10:02:30.000Z,,common practice,May call for an inspection.,,2031-05,,E1" + caution,
		"",
	}, "\r\n")
	if got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
}

// The rows are written out by hand from the fixture.
func TestMeasurementTable(t *testing.T) {
	t.Parallel()
	doc := newDocument(fixtureRun(t), fixtureResult(t))
	got := strings.Split(string(encodeCSV(measurementColumns, measurementRows(doc))), "\r\n")
	const flight = "F0123456789ab,north-07.csv,1,TH-120,2031-05-04T10:00:00.000Z,from the air on,"
	for i, want := range []string{
		"flight_id,recording,flight,aircraft,start_utc,recorded,measurement,title,group,outcome,certainty,coverage,value,lowest,highest,unit,at_s,at_utc,unknown_s,missing,definition,registration,month,opportunity,opportunity_number,opportunity_begins_s,opportunity_ends_s,general_caution",
		flight + "gear-down-height,Height at gear down,Extension,measured,certain,evaluated,1800.4,1798.4,1822.1,ft,60.5,2031-05-04T10:01:00.500Z,0,,What Height at gear down means.,,2031-05,gear extension,1,60.5,68.25" + caution,
		flight + "lever-movements,Lever movements,Extension,measured,certain,partly evaluated,1,1,,1,,,3,,What Lever movements means.,,2031-05,flight,,," + caution,
		flight + "horn-seconds,Horn,Extension,measured,possible,evaluated,5,5,5,s,,,0,,What Horn means.,,2031-05,flight,,," + caution,
		flight + "go-around-height,Go-around,Extension,did not happen,certain,evaluated,,,,ft,,,0,,What Go-around means.,,2031-05,flight,,," + caution,
		flight + "landing-flap-height,Landing flap,Extension,not recorded,certain,partly evaluated,,,,ft,,,0,,What Landing flap means.,,2031-05,flight,,," + caution,
		flight + "touchdown-weight,Weight,Extension,not evaluable,certain,not evaluable,,,,kg,,,0,gross_weight is not recorded,What Weight means.,,2031-05,flight,,," + caution,
		"",
	} {
		if got[i] != want {
			t.Errorf("got\n%s\nwant\n%s", got[i], want)
		}
	}
}

func TestBounds(t *testing.T) {
	t.Parallel()
	at := func(x float64) *number { return known(x) }
	for _, c := range []struct {
		unit        string
		low, high   *number
		shown, want string
	}{
		{"s", at(7.25), at(9.25), "8.1", "7.2 to 9.3"},
		{"s", at(7.2), at(9.3), "8.1", "7.2 to 9.3"},
		{"ft", at(-0.4), at(22.01), "8", "-1 to 23"},
		{"g", at(1.4781), at(1.4781), "8.12", ""},
		{"kt", nil, at(1), "8.1", "at most 1"},
		{"kt", at(-1), nil, "8.1", "at least -1"},
		{"kt", nil, nil, "8.1", "not bounded"},
	} {
		m := measurementPart{Unit: c.unit, Value: at(8.12), Lowest: c.low, Highest: c.high}
		if rounded(m.Value, m.Unit) != c.shown || m.Bounds() != c.want {
			t.Errorf("%s: %q, %q; want %q, %q", c.unit, rounded(m.Value, m.Unit), m.Bounds(), c.shown, c.want)
		}
	}
}

func TestGuard(t *testing.T) {
	t.Parallel()
	for in, want := range map[string]string{
		"=1+1": "'=1+1", "+1": "'+1", "-1": "'-1", "@x": "'@x", "  =x": "'  =x", "＝x": "'＝x", "gear-late": "gear-late", "": "", "a=b": "a=b",
	} {
		if got := guard(in); got != want {
			t.Errorf("guard(%q) = %q, want %q", in, got, want)
		}
	}
}

// TestHostileTable reads the table back: no cell of text may begin like a
// formula, and none may break out of its cell.
func TestHostileTable(t *testing.T) {
	t.Parallel()
	r := hostileResult(t)
	r.Events[0].Rule.Title = "=cmd|' /C calc'!A0\r\n\"x\",y"
	rows, err := csv.NewReader(bytes.NewReader(encodeCSV(eventColumns, eventRows(newDocument(fixtureRun(t), r))))).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if len(rows) != 1+len(r.Events) {
		t.Fatalf("%d rows for %d events", len(rows), len(r.Events))
	}
	for _, row := range rows {
		if len(row) != len(eventColumns) {
			t.Errorf("%d cells, want %d", len(row), len(eventColumns))
		}
		for i, cell := range row {
			if cell != "" && strings.ContainsRune("=+@", rune(cell[0])) {
				t.Errorf("column %s begins like a formula: %s", eventColumns[i], cell)
			}
		}
	}
}

// TestCleanHidden: no character of a page is invisible or turns the text around it.
func TestCleanHidden(t *testing.T) {
	t.Parallel()
	if got, want := clean("a\u200b\u2060\u00ad\u061c\u202e\u009b\ufeff\nb\u00a0ü"), "a"+strings.Repeat("\ufffd", 8)+"b\u00a0ü"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
}
