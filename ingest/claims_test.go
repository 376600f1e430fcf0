package ingest

import (
	"bytes"
	"runtime"
	"strings"
	"testing"

	"downlock/ingest/export"
)

// A damaged count or size must not make a reader take memory for it: running
// out of it ends the whole batch. So every place of a small file is overwritten
// with the largest number it could hold.
func TestClaimsWithoutData(t *testing.T) {
	const most = 200 << 20 // a page of Parquet may claim 128 MiB, an Arrow file 64 MiB
	table := export.Table{TimeName: "time", Columns: []export.Column{
		{Name: "CAS", Times: []float64{0, 1}, Numbers: []float64{100, 101}},
		{Name: "LEVER", Times: []float64{0.5}, Texts: []string{"DN"}},
	}}
	profile := profileOf(t, "column: time", testColumns)
	for _, c := range []struct {
		layout export.Layout
		claim  string
	}{
		{export.WideArrow, "\xff\xff\xff\x7f"},       // 2^31-1, little-endian
		{export.WideParquet, "\xff\xff\xff\x7f"},     // the same, and 2^28-1 as a varint
		{export.WideParquet, "\xff\xff\xff\xff\x07"}, // 2^31-1 as a varint: a length
		{export.WideParquet, "\xfe\xff\xff\xff\x0f"}, // the same with its sign last: a size or count
		{export.LongParquet, "\xff\xff\xff\xff\x07"},
	} {
		layout, claim := c.layout, c.claim
		var b bytes.Buffer
		if err := export.Write(&b, export.Format{Layout: layout}, table); err != nil {
			t.Fatal(err)
		}
		refused := 0
		for at := 8; at+len(claim) <= b.Len(); at++ {
			damaged := bytes.Clone(b.Bytes())
			copy(damaged[at:], claim)
			var before, after runtime.MemStats
			runtime.ReadMemStats(&before)
			r, err := ReadBytes("f", damaged, profile)
			runtime.ReadMemStats(&after)
			if took := after.TotalAlloc - before.TotalAlloc; took > most {
				t.Errorf("%s with %q at byte %d takes %d MiB", layout, claim, at, took>>20)
			}
			if err == nil {
				checkSound(t, r)
			} else {
				problemsOf(t, err)
				refused++
			}
		}
		if refused < b.Len()/10 {
			t.Errorf("%s: only %d of %d damaged files were refused", layout, refused, b.Len())
		}
	}
}

func TestParquetFooterClaim(t *testing.T) {
	t.Parallel()
	_, err := ReadBytes("f", []byte("PAR1....\xff\xff\xff\x7fPAR1"), profileOf(t, "column: time", testColumns))
	if p := problemsOf(t, err)[0]; !strings.Contains(p.Cause, "its footer claims 2147483647 bytes") {
		t.Errorf("%v", p)
	}
}
