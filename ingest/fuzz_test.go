package ingest

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"

	"downlock/ingest/export"
)

func FuzzReadCSV(f *testing.F) {
	for _, text := range []string{
		"time,CAS,LEVER,WOW\n0,100,UP,1\n0.125,,DN,\n",
		"a line\n\ntime;CAS;WOW\ns;kt;\n0,5;1,25;0\n1;----;1\n2;",
		"time,parameter,value\n0,CAS,1\n0,LEVER,UP\n-1,CAS,2\n",
		"\ufefftime\tD\tU\tCAS\r\n0\t2031-03-31\t00:00:00\t1\r\n",
		"time,CAS\n23:59:59,1\n00:00:00.5,2\n",
		"time,CAS\n2031-03-31T00:00:00+01:00,1\n",
		"time,\"CAS\"\n0,\"1\n\"\n\"\"\"\"\n",
	} {
		f.Add([]byte(text))
	}
	profile := profileOf(f, "column: time, date: D, clock: U", testColumns)
	f.Fuzz(func(t *testing.T, data []byte) {
		fuzzRead(t, data, "CSV", func() (*Recording, error) { return ReadBytes("f.csv", data, profile) })
	})
}

func FuzzReadRowSamples(f *testing.F) {
	for _, text := range []string{
		"time,CAS,RA_1,RA_2,RA_3,RA_4,W[0],W[1]\n0,100,1,2,3,4,0,1\n1,,,6,bad,8,,0\n9,101,1,1,1,1,1,1\n",
		"time,RA_1,RA_2,RA_3,RA_4\n00:00:01,1,2,3,4\n00:00:01,5,6,7,8\n00:00:00,1,,,\n",
		"time,parameter,value\n0,RA_1,1\n0,RA_2,2\n0,RA_3,3\n0,RA_4,4\n-50,RA_1,5\n",
		"time,RA_1,RA_2,RA_3,RA_4\n1e12,1,2,3,4\n1000000000000.0001,5,6,7,8\n",
	} {
		f.Add([]byte(text))
	}
	profile := profileOf(f, "column: time", sampledColumns)
	f.Fuzz(func(t *testing.T, data []byte) {
		fuzzRead(t, data, "samples of rows", func() (*Recording, error) { return ReadBytes("f.csv", data, profile) })
	})
}

func FuzzReadColumnar(f *testing.F) {
	table := export.Table{TimeName: "time", Columns: []export.Column{
		{Name: "CAS", Times: []float64{0, 1}, Numbers: []float64{100, 101}},
		{Name: "LEVER", Times: []float64{0.5}, Texts: []string{"DN"}},
	}}
	for _, layout := range []export.Layout{export.WideParquet, export.LongParquet, export.WideArrow} {
		var b bytes.Buffer
		if err := export.Write(&b, export.Format{Layout: layout}, table); err != nil {
			f.Fatal(err)
		}
		f.Add(b.Bytes())
	}
	f.Add(zipped(f, map[string][]byte{"a.csv": []byte("time,CAS\n0,1\n")}))
	f.Add([]byte("\xff\xfet\x00i\x00m\x00e\x00,\x00C\x00A\x00S\x00\n\x000\x00,\x001\x00"))
	if data, err := os.ReadFile(filepath.Join("..", "testdata", "mat", "big-endian.mat")); err != nil {
		f.Fatal(err)
	} else {
		f.Add(data)
	}
	profile := profileOf(f, "column: time, utc: {hour: GMT_HOUR, minute: GMT_MINUTE, second: GMT_SEC}", testColumns)
	f.Fuzz(func(t *testing.T, data []byte) {
		fuzzRead(t, data, "columnar", func() (*Recording, error) { return ReadBytes("f", data, profile) })
	})
}

// fuzzRead wants a sound recording or a problem with cause; the input unchanged.
func fuzzRead(t *testing.T, data []byte, kind string, read func() (*Recording, error)) {
	before := bytes.Clone(data)
	r, err := read()
	if !bytes.Equal(before, data) {
		t.Fatalf("reading %s changed its input", kind)
	}
	if err == nil {
		checkSound(t, r)
		return
	}
	for _, p := range problemsOf(t, err) {
		if p.Cause == "" || p.Detail() == "" {
			t.Fatalf("a problem without a cause: %+v", p)
		}
	}
}
