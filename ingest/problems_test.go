package ingest

import (
	"bytes"
	"errors"
	"math/rand"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"downlock/ingest/export"
	"downlock/schemas"
)

// problemsOf unpacks the error of a read; it is never nil. Whatever test it is for,
// every problem must name the file, the cause and what to do, on one line each.
func problemsOf(t testing.TB, err error) schemas.Problems {
	t.Helper()
	var many schemas.Problems
	if !errors.As(err, &many) {
		var one *schemas.Problem
		if !errors.As(err, &one) {
			t.Fatalf("%v (%T) is no problem the user is told how to mend", err, err)
		}
		many = schemas.Problems{one}
	}
	for _, p := range many {
		if p.File == "" || p.Cause == "" || p.Hint == "" || strings.ContainsAny(p.Cause+p.Hint, "\n\r\t") {
			t.Errorf("a problem without file, cause or hint, or on several lines: %+v", *p)
		}
		if damaged := p.Hint == damagedHint; damaged && p.Line == 0 && !strings.ContainsAny(p.Cause, "0123456789") && !wholeFile.MatchString(p.Cause) {
			t.Errorf("damage without a place: %v", p)
		}
	}
	return many
}

// wholeFile are damages that have no place: an end that is missing, a library's
// word that a file is none of its kind.
var wholeFile = regexp.MustCompile("^is not a readable (Parquet|Arrow) file: |^is not a readable workbook: (zip: |it has no part |part .*: )|^column |^the (gzip|zstd|zip) data")

// Every problem has its place, cause and hint; the places are counted by hand.
func TestProblems(t *testing.T) {
	t.Parallel()
	long := strings.Repeat("A,", 30) + "time"
	for _, tt := range []struct {
		name, text   string
		line, column int
		cause, hint  string
	}{
		{"empty", "", 0, 0, "is empty", "export the recording again"},
		{"only a header", "time,CAS\n", 0, 0, "no rows of data", "export the recording again"},
		{"no time column", "Time,CAS\n0,1\n", 0, 0, `no time column "time"; it has: "Time", "CAS"`, `did you mean "Time"?`},
		{"no time column, many others", strings.Repeat("A,", 30) + "B\n1\n", 0, 0, `"A", … 11 more`, "under time in test.yaml"},
		{"nothing mapped", "time,Cas,x\n0,1,2\n", 1, 0, `none of the columns test.yaml maps; it has: "time", "Cas", "x"`, `did you mean "Cas"?`},
		{"nothing mapped, long header", long + "\n", 1, 0, "none of the columns", "right profile|is this the profile"},
		{"nothing mapped, long", "time,parameter,value\n0,cas,1\n0,B,2\n", 0, 0, `it has: "cas", "B"`, `did you mean "cas"?`},
		{"a unit that contradicts", "time,CAS,ALT\ns,kt,m\n0,1,2\n", 2, 6, `column "ALT" is in m here, but the profile says ft`, "under pressure_altitude in test.yaml"},
		{"a unit that is not known", "time,CAS,ALT\ns,kt,COUNTS\n0,1,2\n", 2, 6, `column "ALT" is in "COUNTS" here, a unit that is not known, and the profile says ft for pressure_altitude`,
			`under pressure_altitude in test.yaml add stated_unit: "COUNTS" if that is another spelling of ft; if not, also add the scale and offset`},
		{"a time unit that contradicts", "time,CAS\nms,kt\n0,1\n", 2, 1, `time column "time" is in ms here, but the profile says s`, "under time"},
		{"a text among numbers", "time,CAS,LEVER\n0,1,\n1,fast,UP\n", 3, 3, `column "CAS": "fast" is not a number, and computed_airspeed needs numbers in kt`, `if "fast" means no valid value, add it to invalid_tokens`},
		{"a thousands separator", "time;CAS;LEVER\n0.0;1.5;\n1.0;1,500.5;UP\n", 3, 5, `"1,500.5" is not a number`, "'.' as decimal mark"},
		{"an unknown state", "time,LEVER\n0,UP\n1,HALF\n", 3, 3, `column "LEVER": "HALF" is not a known state of gear_lever`, `add "HALF": UP or OFF or DOWN under states of gear_lever`},
		{"neither true nor false", "time,LEVER,WOW\n0,UP,\n1,,2\n", 3, 4, `"2" is neither true nor false for weight_on_wheels`, "to true_when or false_when"},
		{"columns count characters, not bytes", "time,note,WOW\n0,«é»,x\n", 2, 7, `"x" is neither`, "true_when"},
		{"an unknown state, long", "time,parameter,value\n0,LEVER,HALF\n", 2, 9, `"HALF" is not a known state`, "under states"},
		{"a time that is none", "time,CAS\nnoon,1\n", 2, 1, `"noon" is not a time`, "HH:MM:SS"},
		{"a time unlike the others", "time,CAS\n1,1\n00:00:02,1\n", 3, 1, `"00:00:02" is not a time like the ones before it`, "HH:MM:SS"},
		{"a number beyond all bounds", "time,CAS\n0,1e400\n", 2, 3, `"1e400" is not a number`, "invalid_tokens"},
		{"a time no number holds", "time,CAS\n1e400,1\n", 2, 1, `"1e400" is not a time`, "HH:MM:SS"},
		{"bytes that are no UTF-8 are Windows-1252", "time,LEVER\n0,\xff\xfe\n", 2, 3, `"ÿþ" is not a known state`, "under states"},
		{"half a zip archive", "PK\x03\x04half", 0, 0, "the zip data cannot be read, after 0 bytes", "damaged"},
		{"gzip of nothing", "\x1f\x8b", 0, 0, "the gzip data ends too soon, after 0 bytes", "damaged"},
		{"a time beyond all bounds", "time,CAS\n1e300,1\n", 2, 1, "out of bounds", "HH:MM:SS"},
		{"a decimal comma between commas", "time,CAS\n0,1,5\n", 2, 5, "a cell beyond the 2 columns", "decimal comma"},
		{"a quote that never ends", "time,CAS\n0,\"1\n1,2\n" + strings.Repeat("2,3\n", 100), 2, 3, "a quoted cell without an end", "close the quote"},
		{"a NUL byte", "time,CAS\n0,1\x00\n", 2, 4, "a NUL byte: this is not text", "Parquet, Arrow IPC or MATLAB"},
		{"header too far down", strings.Repeat("preamble\n", maxHeaderLines) + "time,CAS\n0,1\n", 0, 0, `no time column "time"`, "under time"},
		{"too many columns", "time,CAS" + strings.Repeat(",x", maxColumns) + "\n", 1, 1, "a header of 10002 columns; at most 10000", "fewer parameters"},
		{"too long a line", "time,CAS\n0," + strings.Repeat("1", maxLineBytes) + "\n", 2, 1, "a line of more than 1048576 bytes", "CSV"},
		{"truncated Parquet", "PAR1abc", 0, 0, "is not a readable Parquet file", "damaged"},
		{"truncated Arrow", "ARROW1\x00\x00", 0, 0, "is not a readable Arrow file", "damaged"},
		{"truncated zstd", "\x28\xb5\x2f\xfd\x04", 0, 0, "the zstd data ends too soon", "damaged"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			_, err := ReadBytes("test.csv", []byte(tt.text), profileOf(t, "column: time", testColumns))
			p := problemsOf(t, err)[0]
			if p.File != "test.csv" || p.Line != tt.line || p.Column != tt.column {
				t.Errorf("at %s, want test.csv:%d:%d", p.Position(), tt.line, tt.column)
			}
			if !strings.Contains(p.Cause, tt.cause) {
				t.Errorf("cause %q, want %q in it", p.Cause, tt.cause)
			}
			found := false
			for _, hint := range strings.Split(tt.hint, "|") {
				found = found || strings.Contains(p.Hint, hint)
			}
			if !found {
				t.Errorf("hint %q, want %q in it", p.Hint, tt.hint)
			}
		})
	}
}

func TestEveryColumnsFirstProblem(t *testing.T) {
	t.Parallel()
	_, err := ReadBytes("test.csv", []byte("time,CAS,WOW\n0,,maybe\n1,fast,maybe\n2,slow,1\n"), profileOf(t, "column: time", testColumns))
	var got []string
	for _, p := range problemsOf(t, err) {
		got = append(got, p.Position())
	}
	if want := "test.csv:2:4 test.csv:3:3"; strings.Join(got, " ") != want {
		t.Errorf("problems at %v, want %s", got, want)
	}
}

func TestHeaderAtTheLimit(t *testing.T) {
	t.Parallel()
	text := strings.Repeat("preamble\n", maxHeaderLines-1) + "time,CAS" + strings.Repeat(",x", maxColumns-2) + "\n0,1\n"
	if r := read(t, text, profileOf(t, "column: time", testColumns)); r.Series[0].Len() != 1 {
		t.Error("the sample is lost")
	}
}

func TestDamagedFiles(t *testing.T) {
	t.Parallel()
	profile := profileOf(t, "column: time", testColumns)
	table := export.Table{TimeName: "time", Columns: []export.Column{{Name: "CAS", Times: seq(3000), Numbers: seq(3000)}}}
	random := rand.New(rand.NewSource(1))
	for _, layout := range export.Layouts {
		for _, compression := range []export.Compression{export.Plain, export.Gzip, export.Zstd} {
			var b bytes.Buffer
			if err := export.Write(&b, export.Format{Layout: layout, Compression: compression}, table); err != nil {
				t.Fatal(err)
			}
			whole := b.Bytes()
			if layout != export.WideCSV && layout != export.LongCSV && layout != export.FixedWidth || compression != export.Plain {
				for _, n := range []int{len(whole) - 1, len(whole) / 2, 12} {
					_, err := ReadBytes("cut", whole[:n], profile)
					for _, p := range problemsOf(t, err) {
						if p.Cause == "" || p.Hint == "" {
							t.Errorf("%s %s cut at %d: %+v lacks cause or hint", layout, compression, n, p)
						}
					}
				}
			}
			for range 60 { // bytes changed at random: an error or a recording, never a panic
				damaged := bytes.Clone(whole)
				for range 1 + random.Intn(4) {
					damaged[random.Intn(len(damaged))] = byte(random.Intn(256))
				}
				if r, err := ReadBytes("damaged", damaged, profile); err == nil {
					checkSound(t, r)
				} else {
					problemsOf(t, err)
				}
			}
		}
	}
	for range 200 {
		noise := make([]byte, random.Intn(4000))
		random.Read(noise)
		_, err := ReadBytes("noise", noise, profile)
		problemsOf(t, err)
	}
}

func seq(n int) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = float64(i) / 8
	}
	return out
}

func TestDecompressionLimit(t *testing.T) {
	t.Parallel()
	table := export.Table{TimeName: "time", Columns: []export.Column{{Name: "CAS", Times: seq(1000), Numbers: seq(1000)}}}
	var plain bytes.Buffer
	if err := export.Write(&plain, export.Format{Layout: export.WideCSV}, table); err != nil {
		t.Fatal(err)
	}
	size := int64(plain.Len())
	for _, compression := range []export.Compression{export.Gzip, export.Zstd} {
		var packed bytes.Buffer
		if err := export.Write(&packed, export.Format{Layout: export.WideCSV, Compression: compression}, table); err != nil {
			t.Fatal(err)
		}
		if got, name, err := decompress("f", packed.Bytes(), size); err != nil || !bytes.Equal(got, plain.Bytes()) || name != string(compression) {
			t.Errorf("%s at the limit: %v", compression, err)
		}
		_, _, err := decompress("f", packed.Bytes(), size-1)
		if p := problemsOf(t, err)[0]; !strings.Contains(p.Cause, "the most that is read") {
			t.Errorf("%s one byte past the limit: %v", compression, err)
		}
	}
}

// emptyColumns claims rows and columns and has none.
type emptyColumns struct{ columns, count int }

func (e emptyColumns) load() error         { return nil }
func (e emptyColumns) release(*column)     {}
func (e emptyColumns) metadata() string    { return "" }
func (e emptyColumns) parts() int          { return 0 }
func (e emptyColumns) cellBytes(int) int64 { return 8 }
func (e emptyColumns) held() int64         { return 0 }
func (e emptyColumns) part(int, []string) ([]*column, error) {
	return nil, nil
}
func (e emptyColumns) names() []string             { return append(make([]string, e.columns-1), "time") }
func (e emptyColumns) rows() int                   { return e.count }
func (e emptyColumns) column(int) (*column, error) { return &column{}, nil }

func TestColumnarLimits(t *testing.T) {
	t.Parallel()
	for _, tt := range []struct {
		file  emptyColumns
		cause string
	}{
		{emptyColumns{maxColumns + 1, 1}, "has 10001 columns; at most 10000 are read"},
		{emptyColumns{2, maxRows + 1}, "has 50000001 rows; at most 50000000 are read"},
		{emptyColumns{maxColumns, maxRows}, `column "time" has 0 cells, the file 50000000 rows`}, // past both limits' checks
	} {
		r, err := newReading("f", profileOf(t, "column: time", testColumns))
		if err != nil {
			t.Fatal(err)
		}
		if p := problemsOf(t, r.readColumnar(tt.file, "test"))[0]; p.Cause != tt.cause {
			t.Errorf("%q, want %q", p.Cause, tt.cause)
		}
	}
}

func TestReadPath(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	profile := profileOf(t, "column: time", testColumns)
	if _, err := Read(filepath.Join(folder, "none.csv"), profile); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("a file that is not there: %v", err)
	}
	if p := problemsOf(t, func() error { _, err := Read(folder, profile); return err }())[0]; !strings.Contains(p.Cause, "is a folder") {
		t.Errorf("a folder: %v", p)
	}
	path := filepath.Join(folder, "a.csv")
	if err := os.WriteFile(path, []byte("time,CAS\n0,1\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	r, err := Read(path, profile)
	if err != nil || r.Name != "a.csv" || r.Series[0].Len() != 1 {
		t.Errorf("%+v, %v", r, err)
	}
}

func TestProfileUnitsAreChecked(t *testing.T) {
	t.Parallel()
	profile := &schemas.Profile{File: "p.yaml", Time: schemas.TimeColumns{Column: "time"},
		Columns: map[string]schemas.Sources{"computed_airspeed": {{Column: "CAS", Unit: "kg"}}}}
	_, err := ReadBytes("f", []byte("time,CAS\n0,1\n"), profile)
	if p := problemsOf(t, err)[0]; p.File != "p.yaml" || !strings.Contains(p.Cause, "kg is a mass and cannot become kt") {
		t.Errorf("%v", p)
	}
}

// checkSound holds a recording to what its documentation promises.
func checkSound(t testing.TB, r *Recording) {
	t.Helper()
	for _, s := range r.Series {
		if s.Values.Len() != s.Len() || s.Times.NullN()+s.Values.NullN() != 0 {
			t.Fatalf("%s: %d times, %d values, %d nulls", s.Parameter.Name, s.Len(), s.Values.Len(), s.Times.NullN()+s.Values.NullN())
		}
		times := s.TimeValues()
		for i := 1; i < len(times); i++ {
			if !(times[i] > times[i-1]) {
				t.Fatalf("%s: time %v after %v", s.Parameter.Name, times[i], times[i-1])
			}
		}
		for i, v := range s.Numbers() {
			if low, high := s.Parameter.Range[0], s.Parameter.Range[1]; !(low <= v && v <= high) {
				t.Fatalf("%s: sample %d is %v", s.Parameter.Name, i, v)
			}
		}
		if len(times) > 0 && (times[0] < r.Start || times[len(times)-1] > r.End) {
			t.Fatalf("%s: samples from %v to %v, rows from %v to %v", s.Parameter.Name, times[0], times[len(times)-1], r.Start, r.End)
		}
	}
}
