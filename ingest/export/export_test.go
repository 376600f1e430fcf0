package export

import (
	"bytes"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

func demo() Table {
	return Table{
		TimeName: "time_s",
		UnitsRow: true,
		Epoch:    time.Date(2031, 5, 6, 23, 59, 59, 0, time.UTC),
		Columns: []Column{
			{Name: "CAS", Unit: "kt", Times: []float64{0, 1, 2}, Numbers: []float64{100.04, 101.26, -0.01}, Decimals: 1},
			{Name: "LEVER, gear", Times: []float64{0.5, 1.5}, Texts: []string{"UP", "DN"}},
		},
	}
}

func TestCSV(t *testing.T) {
	t.Parallel()
	for _, tt := range []struct {
		layout Layout
		want   string
	}{
		{WideCSV, "time_s,date,utc,CAS,\"LEVER, gear\"\n" +
			"s,,,kt,\n" +
			"0.000,2031-05-06,23:59:59,100.0,\n" +
			"0.500,,,,UP\n" +
			"1.000,2031-05-07,00:00:00,101.3,\n" +
			"1.500,,,,DN\n" +
			"2.000,2031-05-07,00:00:01,0.0,\n"},
		{FixedWidth, "time_s  date        utc         CAS  LEVER, gear\n" +
			"     s                           kt\n" +
			" 0.000  2031-05-06  23:59:59  100.0\n" +
			" 0.500                               UP\n" +
			" 1.000  2031-05-07  00:00:00  101.3\n" +
			" 1.500                               DN\n" +
			" 2.000  2031-05-07  00:00:01    0.0\n"},
		{LongCSV, "time_s,date,utc,parameter,value\n" +
			"0.000,2031-05-06,23:59:59,CAS,100.0\n" +
			"0.500,,,\"LEVER, gear\",UP\n" +
			"1.000,2031-05-07,00:00:00,CAS,101.3\n" +
			"1.500,,,\"LEVER, gear\",DN\n" +
			"2.000,2031-05-07,00:00:01,CAS,0.0\n"},
	} {
		var b bytes.Buffer
		if err := Write(&b, Format{Layout: tt.layout}, demo()); err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(tt.want, b.String()); diff != "" {
			t.Errorf("%s (-want +got):\n%s", tt.layout, diff)
		}
	}
}

func TestSameBytesEveryTime(t *testing.T) {
	t.Parallel()
	for _, layout := range Layouts {
		for _, compression := range []Compression{Plain, Gzip, Zstd} {
			var first, second bytes.Buffer
			for _, b := range []*bytes.Buffer{&first, &second} {
				if err := Write(b, Format{layout, compression}, demo()); err != nil {
					t.Fatalf("%s %s: %v", layout, compression, err)
				}
			}
			if first.Len() == 0 || !bytes.Equal(first.Bytes(), second.Bytes()) {
				t.Errorf("%s %s: two runs differ", layout, compression)
			}
		}
	}
}

func TestRefused(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]Column{
		"3 times, 2 numbers":  {Name: "A", Times: []float64{0, 1, 2}, Numbers: []float64{1, 2}},
		"does not come after": {Name: "A", Times: []float64{1, 1}, Numbers: []float64{1, 2}},
	} {
		err := Write(&bytes.Buffer{}, Format{Layout: WideCSV}, Table{TimeName: "t", Columns: []Column{c}})
		if err == nil || !strings.Contains(err.Error(), name) {
			t.Errorf("error %v, want one with %q", err, name)
		}
	}
}
