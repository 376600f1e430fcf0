package ingest

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"

	"downlock/ingest/export"
)

// valueColumns map columns whose cells become numbers and codes in every way there is.
const valueColumns = `
  flap_handle: {column: FLAP, unit: detent}
  flap_angle: {column: COUNTS, unit: deg, points: [[2438, 0], [3048, 20], [3658, 40]]}
  nose_gear_down_locked: {column: POS, true_above: 0.9, false_below: 0.1}
  nose_gear_up_locked: {column: POS, true_below: 0.1, false_above: 0.9}
  gear_horn: {column: WORD, bit: 0}
  parking_brake: {column: WORD, bits: [1, 2], true_when: 3, false_when: [0, 1, 2]}
  speedbrake_armed: {column: HEX, bit: 63, word: hex}
` + testDetents

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
	for _, text := range []string{
		"time,FLAP,COUNTS,POS,WORD,HEX\n0,UP,2438,0.5,5,1A\n1,full,3000,1,0x1A,00FF\n2,1.0,4000,0.05,-1,ff\n3,bad,bad,bad,bad,bad\n",
		"time,parameter,value\n0,FLAP,UP\n0,WORD,0x8000\n1,HEX,\n1,POS,.5\n2,COUNTS,1e9\n",
		"time;FLAP;POS\n0;0;0,5\n1;4;1\n2;1;0,5\n9;1;0,5\n",
	} {
		f.Add([]byte(text))
	}
	profile := profileOf(f, "column: time, date: D, clock: U", testColumns+valueColumns)
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
	values := export.Table{TimeName: "time", Columns: []export.Column{
		{Name: "FLAP", Times: []float64{0, 1}, Texts: []string{"UP", "4"}},
		{Name: "COUNTS", Times: []float64{0, 1}, Numbers: []float64{2438, 3000}},
		{Name: "POS", Times: []float64{0, 1}, Numbers: []float64{1, 0.5}, Decimals: 1},
		{Name: "WORD", Times: []float64{0, 1}, Numbers: []float64{5, -1}},
	}}
	for _, layout := range []export.Layout{export.WideParquet, export.WideArrow} {
		var b bytes.Buffer
		if err := export.Write(&b, export.Format{Layout: layout}, values); err != nil {
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
	profile := profileOf(f, "column: time, utc: {hour: GMT_HOUR, minute: GMT_MINUTE, second: GMT_SEC}", testColumns+valueColumns)
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
