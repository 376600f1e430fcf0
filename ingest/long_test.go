package ingest

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"testing"

	diff "github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"downlock/ingest/export"
)

// row is a row of a long export.
type row struct {
	at         float64
	name, cell string
}

// drawRows draws rows of a few parameters in any order, many of them at equal
// times, and some of a parameter nobody reads.
func drawRows(t *rapid.T) (rows []row) {
	for range rapid.IntRange(1, 60).Draw(t, "rows") {
		r := row{at: float64(rapid.IntRange(-8, 40).Draw(t, "eighths")) / 8, name: rapid.SampledFrom([]string{"CAS", "LEVER", "WOW", "OTHER"}).Draw(t, "name")}
		switch r.name {
		case "CAS":
			r.cell = fmt.Sprint(100 + rapid.IntRange(0, 2).Draw(t, "cas")) // 2 kt in 1/8 s is less than its greatest rate
		case "LEVER":
			r.cell = rapid.SampledFrom([]string{"UP", "DN", "", "----"}).Draw(t, "lever")
		case "WOW":
			r.cell = rapid.SampledFrom([]string{"0", "1", "1.0"}).Draw(t, "wow")
		default:
			r.cell = "any text"
		}
		rows = append(rows, r)
	}
	return append(rows, row{0, "CAS", "100"}) // one at least is read
}

// sortedPlainly is the meaning of the rows: the cells of each parameter by time, with those
// of a time that follow each other spread over the shortest time between two; ok is
// false where a parameter has different values at one time in two places.
func sortedPlainly(rows []row) (out samples, ok bool) {
	names := map[string]string{"CAS": "computed_airspeed", "LEVER": "gear_lever", "WOW": "weight_on_wheels"}
	values := map[string]float64{"UP": 0, "DN": 2, "0": 0, "1": 1, "1.0": 1, "100": 100, "101": 101, "102": 102}
	runs := map[string]map[float64][][]float64{} // by parameter and time: the runs of values that follow each other
	before := map[string]float64{}               // time of the parameter's sample before
	for _, r := range rows {
		name := names[r.name]
		if name == "" {
			continue
		}
		if runs[name] == nil {
			runs[name] = map[float64][][]float64{}
			before[name] = math.NaN()
		}
		v, valid := values[r.cell]
		if !valid {
			continue
		}
		at := runs[name][r.at]
		if before[name] == r.at {
			at[len(at)-1] = append(at[len(at)-1], v)
		} else {
			at = append(at, []float64{v})
		}
		runs[name][r.at], before[name] = at, r.at
	}
	out = samples{}
	for name, byTime := range runs {
		times := slices.Sorted(maps.Keys(byTime))
		step := math.Inf(1)
		for i := 1; i < len(times); i++ {
			step = min(step, times[i]-times[i-1])
		}
		list := [][2]float64{}
		for _, at := range times {
			first := byTime[at][0]
			if len(times) == 1 {
				first = first[:1]
			}
			for _, more := range byTime[at] {
				for i := range more {
					if more[i] != first[i%len(first)] || len(more)%len(first) != 0 {
						return nil, false
					}
				}
			}
			for i, v := range first {
				x := at
				if i > 0 {
					x += step * float64(i) / float64(len(first))
				}
				list = append(list, [2]float64{x, v})
			}
		}
		out[name] = list
	}
	return out, true
}

func TestLongExportsInAnyOrder(t *testing.T) {
	t.Parallel()
	profile := profileOf(t, "column: time", testColumns)
	rapid.Check(t, func(rt *rapid.T) {
		rows := drawRows(rt)
		var b strings.Builder
		w := csv.NewWriter(&b)
		w.Write([]string{"parameter", "time", "value"})
		for _, r := range rows {
			w.Write([]string{r.name, fmt.Sprint(r.at), r.cell})
		}
		w.Flush()
		r, err := ReadBytes("f", []byte(b.String()), profile)
		want, ok := sortedPlainly(rows)
		if !ok && err != nil && strings.Contains(err.Error(), "different values at the same time") {
			return
		}
		if err != nil || !ok {
			rt.Fatalf("%v, to be read: %v\n%s", err, ok, b.String())
		}
		if d := diff.Diff(want, samplesOf(r)); d != "" {
			rt.Fatalf("(-want +got):\n%s\n%s", d, b.String())
		}
		checkSound(t, r)
	})
}

// A long export, one parameter after the other and each backwards, reads like a
// wide one.
func TestLongExportBackwards(t *testing.T) {
	t.Parallel()
	profile := profileOf(t, "column: time", testColumns)
	table := export.Table{TimeName: "time", Columns: []export.Column{
		{Name: "CAS", Times: seq(50), Numbers: seq(50), Decimals: 3},
		{Name: "LEVER", Times: seq(9), Texts: strings.Fields("UP UP DN DN DN UP UP DN UP")},
	}}
	read := func(layout export.Layout, table export.Table) *Recording {
		var b bytes.Buffer
		if err := export.Write(&b, export.Format{Layout: layout}, table); err != nil {
			t.Fatal(err)
		}
		r, err := ReadBytes("f", b.Bytes(), profile)
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	wide, long := read(export.WideParquet, table), read(export.LongParquet, table)
	if d := sameRecording(wide, long); d != "" {
		t.Errorf("(-wide +long):\n%s", d)
	}
	text := "time,parameter,value\n"
	for i := 8; i >= 0; i-- {
		text += fmt.Sprintf("%v,LEVER,%s\n", table.Columns[1].Times[i], table.Columns[1].Texts[i])
	}
	for i := 49; i >= 0; i-- {
		text += fmt.Sprintf("%v,CAS,%v\n", table.Columns[0].Times[i], table.Columns[0].Numbers[i])
	}
	backwards, err := ReadBytes("f", []byte(text), profile)
	if err != nil {
		t.Fatal(err)
	}
	if d := sameRecording(wide, backwards); d != "" {
		t.Errorf("(-wide +backwards):\n%s", d)
	}
	// 8 steps back among 9 rows, 1 up to the other parameter's last, 49 back.
	if want := "time steps back in 57 rows, the first in line 3; samples were sorted by time"; len(backwards.Notes) != 1 || backwards.Notes[0] != want {
		t.Errorf("notes %q, want %s", backwards.Notes, want)
	}
}

// By hand: two samples at 1 s are spread over the half second to the next, so they stand
// at 1 and 1.25 s. 16 kt there and back in a quarter of a second is faster than 30 kt/s,
// but truly they may lie three quarters apart. 40 kt is too much in that time, too.
func TestSpikeAmongSpreadTimes(t *testing.T) {
	t.Parallel()
	profile := profileOf(t, "column: time", testColumns)
	for peak, dropped := range map[int]int{116: 0, 140: 1} {
		text := fmt.Sprintf("parameter,time,value\nCAS,0,100\nCAS,0.5,100\nCAS,1,100\nCAS,1,%d\nCAS,1.5,100\nCAS,2,100\n", peak)
		r, err := ReadBytes("f", []byte(text), profile)
		if err != nil {
			t.Fatal(err)
		}
		if got := r.Lookup("computed_airspeed").Dropped.Spike; got != dropped {
			t.Errorf("%d kt: %d spikes, want %d", peak, got, dropped)
		}
	}
}
