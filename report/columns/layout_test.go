package columns_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/ipc"
	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"github.com/parquet-go/parquet-go"

	"downlock/detect"
	"downlock/ingest"
	"downlock/report/columns"
	"downlock/schemas"
)

const smallProfile = `schema: downlock profile 1
aircraft: B
title: small
legs: [nose, left, right]
engines: 2
time: {column: t}
columns:
  computed_airspeed: [{column: cas, unit: kt}, {column: standby, unit: kt}]
  pressure_altitude: {column: alt, unit: ft, accuracy: 30}
  gear_lever: {column: lever, states: {UP: UP, DN: DOWN}}
  gear_horn: {column: horn, true_when: 1}
  radio_altitude: {column: radio, unit: ft}
`

// smallExport has a stretch of 12 rows on one day and another on the day before.
func smallExport() []byte {
	var b strings.Builder
	b.WriteString("t,cas,standby,alt,lever,horn\n")
	for _, day := range []int{31, 30} {
		for i := range 12 {
			lever := "UP"
			if i > 4 {
				lever = "DN"
			}
			fmt.Fprintf(&b, "2031-03-%dT10:00:%02d.500Z,%.1f,101,%d,%s,%d\n", day, i, 100+float64(i)/2, 1000+i, lever, i%2)
		}
	}
	return []byte(b.String())
}

func smallColumns(t testing.TB) (r *ingest.Recording, p *schemas.Profile, d *detect.Detector) {
	t.Helper()
	p, err := schemas.ParseProfile("small.yaml", []byte(smallProfile))
	if err != nil {
		t.Fatal(err)
	}
	if r, err = ingest.ReadBytes("small.csv", smallExport(), p); err != nil {
		t.Fatal(err)
	}
	return r, p, newDetector(t, p)
}

// smallRows are the rows of the third row of the export's first stretch, worked out by
// hand: 10:00:02.5 is 36002.5 s after midnight, cas is 100 + 2/2 and a line in steps of
// 0.5, so within half a step; the standby never moves, so that nothing is known of it.
func smallRows() []schemas.CanonicalRow {
	row := schemas.CanonicalRow{Stretch: 1, SourceRank: 1, TimeS: 36002.5, TimeUTC: time.Date(2031, 3, 31, 10, 0, 2, 5e8, time.UTC)}
	cas, standby, alt, lever, horn := row, row, row, row, row
	cas.Parameter, cas.Unit, cas.Value, cas.Accuracy, cas.AccuracyIs = "computed_airspeed", "kt", 101, 0.25, "estimated"
	standby.Parameter, standby.Unit, standby.Value, standby.SourceRank = "computed_airspeed", "kt", 101, 2
	alt.Parameter, alt.Unit, alt.Value, alt.Accuracy, alt.AccuracyIs = "pressure_altitude", "ft", 1002, 30, "stated"
	lever.Parameter, lever.Value, lever.State = "gear_lever", 0, "UP" // the first of UP, OFF, DOWN
	horn.Parameter, horn.Value, horn.State = "gear_horn", 0, "false"
	return []schemas.CanonicalRow{cas, standby, alt, lever, horn}
}

func parquetRows(t testing.TB, path string) []schemas.CanonicalRow {
	t.Helper()
	rows, err := parquet.ReadFile[schemas.CanonicalRow](path)
	if err != nil {
		t.Fatal(err)
	}
	return rows
}

// TestLayout reads both kinds of file with the libraries and holds rows and metadata
// against what the export has.
func TestLayout(t *testing.T) {
	t.Parallel()
	r, p, d := smallColumns(t)
	path := written(t, r, p, d, columns.Parquet)
	rows := parquetRows(t, path)
	if len(rows) != 2*5*12 {
		t.Fatalf("%d rows, want two stretches of five columns of 12", len(rows))
	}
	var third []schemas.CanonicalRow
	for _, row := range rows {
		row.TimeUTC = row.TimeUTC.UTC()
		if row.TimeUTC.Equal(smallRows()[0].TimeUTC) {
			third = append(third, row)
		}
	}
	if diff := cmp.Diff(smallRows(), third); diff != "" {
		t.Error(diff)
	}
	for i := 1; i < len(rows); i++ {
		a, b := rows[i-1], rows[i]
		if a.Stretch > b.Stretch || a.Stretch == b.Stretch && a.Parameter == b.Parameter && a.SourceRank == b.SourceRank && a.TimeS >= b.TimeS {
			t.Fatalf("row %d is out of order", i)
		}
	}

	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	file, err := parquet.OpenFile(bytes.NewReader(text), int64(len(text)))
	if err != nil {
		t.Fatal(err)
	}
	if n := len(file.RowGroups()); n != 10 {
		t.Errorf("%d row groups, want one for each source", n)
	}
	var stated schemas.Canonical
	metadata, _ := file.Lookup(schemas.CanonicalKey)
	if err := json.Unmarshal([]byte(metadata), &stated); err != nil {
		t.Fatal(err)
	}
	if len(stated.Stretches) != 2 || len(stated.Cautions) == 0 || stated.Profile.SHA256 != p.SHA256 || stated.Input.SHA256 != r.SHA256 || stated.Input.Name != "small.csv" {
		t.Errorf("%+v", stated)
	}
	first := stated.Stretches[0]
	if want := []schemas.CanonicalAbsent{{Parameter: "radio_altitude", Columns: []string{"radio"}}}; !cmp.Equal(first.Absent, want) || len(first.Repairs) == 0 {
		t.Errorf("%+v", first)
	}
	alt := first.Parameters[2]
	if alt.Parameter != "pressure_altitude" || alt.Column != "alt" || alt.Accuracy != 30 || alt.AccuracyIs != "stated" || alt.IntervalS != 1 || alt.Samples != 12 {
		t.Errorf("%+v", alt)
	}
	sameAsParquet(t, written(t, r, p, d, columns.Arrow), rows, metadata)
}

// sameAsParquet reads an Arrow file, batch by batch, as the rows of a Parquet file.
func sameAsParquet(t *testing.T, path string, want []schemas.CanonicalRow, metadata string) {
	t.Helper()
	file, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	reader, err := ipc.NewFileReader(file)
	if err != nil {
		t.Fatal(err)
	}
	m := reader.Schema().Metadata()
	if said, _ := m.GetValue(schemas.CanonicalKey); said != metadata {
		t.Errorf("metadata: %s", cmp.Diff(metadata, said))
	}
	text := func(column any, i int) string {
		d := column.(*array.Dictionary)
		if d.IsNull(i) {
			return ""
		}
		return d.Dictionary().(*array.String).Value(d.GetValueIndex(i))
	}
	var got []schemas.CanonicalRow
	for k := range reader.NumRecords() {
		record, err := reader.RecordAt(k)
		if err != nil {
			t.Fatal(err)
		}
		for i := range int(record.NumRows()) {
			integer := func(c int) int32 { return record.Column(c).(*array.Int32).Value(i) }
			number := func(c int) float64 {
				if record.Column(c).IsNull(i) {
					return 0
				}
				return record.Column(c).(*array.Float64).Value(i)
			}
			row := schemas.CanonicalRow{Stretch: integer(0), Parameter: text(record.Column(2), i), SourceRank: integer(3), Unit: text(record.Column(4), i),
				TimeS: number(5), Value: number(7), State: text(record.Column(8), i), Accuracy: number(9), AccuracyIs: text(record.Column(10), i), Distrusted: text(record.Column(11), i)}
			if record.Column(1).IsValid(i) {
				row.Flight = integer(1)
			}
			if at := record.Column(6).(*array.Timestamp); at.IsValid(i) {
				row.TimeUTC = time.UnixMicro(int64(at.Value(i))).UTC()
			}
			got = append(got, row)
		}
	}
	if diff := cmp.Diff(want, got, cmpopts.EquateApproxTime(0)); diff != "" {
		t.Errorf("%.2000s", diff)
	}
}

// TestDistrusted: with the profile of x100 that has the down-locks the wrong way round for
// this flight (see the README there), their rows say why no rule uses them, and with the
// right profile no row does. Flight numbers are in the rows too.
func TestDistrusted(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		profile string
		wrong   bool
	}{{"profile.yaml", false}, {"profile-inverted.yaml", true}} {
		p := readProfile(t, "x100/"+c.profile)
		d := newDetector(t, p)
		r, err := ingest.Read(filepath.Join(data, "x100/flight-3.csv.gz"), p)
		if err != nil {
			t.Fatal(err)
		}
		failed := map[string]bool{}
		for _, check := range d.Check(r) {
			for _, name := range check.Parameters {
				failed[name] = failed[name] || check.Outcome == detect.Failed
			}
		}
		if failed["nose_gear_down_locked"] != c.wrong {
			t.Errorf("%s: %v", c.profile, failed)
		}
		flights := d.Detect(r)
		inFlight := 0
		for _, row := range parquetRows(t, written(t, r, p, d, columns.Parquet)) {
			if strings.HasPrefix(row.Distrusted, "consistency check failed: ") != failed[row.Parameter] {
				t.Fatalf("%s at %g s: %q", row.Parameter, row.TimeS, row.Distrusted)
			}
			span := flights[0].Flight.Span
			if within := span.Start <= row.TimeS && row.TimeS <= span.End; within != (row.Flight == 1) {
				t.Fatalf("%s at %g s: flight %d, which is from %g to %g s", row.Parameter, row.TimeS, row.Flight, span.Start, span.End)
			} else if within {
				inFlight++
			}
		}
		if inFlight == 0 {
			t.Error("no row of a flight")
		}
	}
}

// TestExcursion: a radio altitude that jumps away for three samples, while the pressure
// altitude does not move, is not used there, and the rows say so.
func TestExcursion(t *testing.T) {
	t.Parallel()
	var b strings.Builder
	b.WriteString("t,alt,radio\n")
	for i := range 200 {
		radio := 500
		if i >= 100 && i < 103 {
			radio = 2000
		}
		fmt.Fprintf(&b, "2031-03-31T10:%02d:%02dZ,1000,%d\n", i/60, i%60, radio)
	}
	_, p, d := smallColumns(t)
	r, err := ingest.ReadBytes("small.csv", []byte(b.String()), p)
	if err != nil {
		t.Fatal(err)
	}
	var away []float64
	for _, row := range parquetRows(t, written(t, r, p, d, columns.Parquet)) {
		if row.Distrusted != "" {
			away = append(away, row.Value)
		}
	}
	if !cmp.Equal(away, []float64{2000, 2000, 2000}) {
		t.Errorf("%v", away)
	}
}
