package report

import (
	"bytes"
	"encoding/csv"
	"strings"
	"testing"
)

// The rows are written out by hand from the fixture.
func TestEventTable(t *testing.T) {
	got := string(encodeCSV(eventRows(newDocument(fixtureRun(t), fixtureResult(t)))))
	want := strings.Join([]string{
		"event_id,flight_id,recording,flight,aircraft,rule,title,severity,certainty,phase," +
			"start_s,start_earliest_s,start_latest_s,end_s,end_earliest_s,end_latest_s,start_utc,end_utc,measures,basis,caution",
		"E1,F0123456789ab,north-07.csv,1,TH-120,gear-late,Gear late,high,certain,approach," +
			"60,59.5,60.5,68.25,67.25,68.25,2031-05-04T10:01:00.000Z,2031-05-04T10:01:08.250Z,lowest_height=1635 ft; pitch=,common practice,May call for an inspection.",
		"E2,F0123456789ab,north-07.csv,1,TH-120,lever-first,Lever before strut,low,possible,approach," +
			"80,79,200,82,80,200,2031-05-04T10:01:20.000Z,2031-05-04T10:01:22.000Z,ratio=,common practice,",
		"E3,F0123456789ab,north-07.csv,1,TH-120,gear-late,Gear late,medium,certain,landing," +
			"150,149.5,150,150,149.5,150,2031-05-04T10:02:30.000Z,2031-05-04T10:02:30.000Z,,common practice,May call for an inspection.",
		"",
	}, "\r\n")
	if got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
}

func TestGuard(t *testing.T) {
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
	r := hostileResult(t)
	r.Events[0].Rule.Title = "=cmd|' /C calc'!A0\r\n\"x\",y"
	rows, err := csv.NewReader(bytes.NewReader(encodeCSV(eventRows(newDocument(fixtureRun(t), r))))).ReadAll()
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
