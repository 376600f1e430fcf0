package export

import (
	"bytes"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// The expected text is written by hand: ALT at 2 a second from 10.25 s, LEVER every 2 s.
func TestSampledRows(t *testing.T) {
	t.Parallel()
	table := Table{TimeName: "time", Columns: []Column{
		{Name: "ALT", Times: []float64{10.25, 10.75, 11.25, 12.25, 12.75}, Numbers: []float64{1, 2, 3, 5, 6}},
		{Name: "LEVER", Times: []float64{10, 12}, Texts: []string{"UP", "DN"}},
	}}
	rows, places, err := SampledRows(table)
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := Write(&b, Format{Layout: WideCSV}, rows); err != nil {
		t.Fatal(err)
	}
	want := "time,ALT_1,ALT_2,LEVER\n10.000,1,2,UP\n11.000,3,,\n12.000,5,6,DN\n"
	if diff := cmp.Diff(want, b.String()); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	if diff := cmp.Diff(map[string]RowSamples{"ALT": {[]string{"ALT_1", "ALT_2"}, 0.25}, "LEVER": {[]string{"LEVER"}, 0}}, places); diff != "" {
		t.Errorf("places (-want +got):\n%s", diff)
	}
	table.Columns[0].Times[1] = 10.751
	if _, _, err := SampledRows(table); err == nil || !strings.Contains(err.Error(), `"ALT"`) {
		t.Errorf("error %v of samples without an even place", err)
	}
}
