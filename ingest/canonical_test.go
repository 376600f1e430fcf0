package ingest

import (
	"bytes"
	"encoding/json"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/parquet-go/parquet-go"

	"downlock/schemas"
)

// canonicalFile is a file of canonical columns as it is described, written by another library.
type canonicalFile struct {
	stated schemas.Canonical
	rows   []schemas.CanonicalRow
}

// add adds the next source with its samples: pairs of time and value.
func (f *canonicalFile) add(stretch int, p schemas.CanonicalParameter, samples ...float64) {
	p.Samples = len(samples) / 2
	f.stated.Stretches[stretch].Parameters = append(f.stated.Stretches[stretch].Parameters, p)
	for i := 0; i < len(samples); i += 2 {
		f.rows = append(f.rows, schemas.CanonicalRow{Stretch: int32(stretch + 1), Parameter: p.Parameter, SourceRank: int32(p.SourceRank), TimeS: samples[i], Value: samples[i+1]})
	}
}

func (f *canonicalFile) bytes(t *testing.T) []byte {
	t.Helper()
	stated, err := json.Marshal(f.stated)
	if err != nil {
		t.Fatal(err)
	}
	return canonicalBytes(t, string(stated), f.rows)
}

func canonicalBytes(t *testing.T, stated string, rows []schemas.CanonicalRow) []byte {
	t.Helper()
	var b bytes.Buffer
	w := parquet.NewGenericWriter[schemas.CanonicalRow](&b, parquet.KeyValueMetadata(schemas.CanonicalKey, stated))
	if _, err := w.Write(rows); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// usualCanonical has two stretches: of airspeed two sources, a discrete and a state, then airspeed
// again.
func usualCanonical() *canonicalFile {
	f := &canonicalFile{}
	f.stated.Schema = schemas.CanonicalSchema
	f.stated.Stretches = []schemas.CanonicalStretch{
		{StartS: 0, EndS: 3, Epoch: time.Date(2031, 3, 4, 5, 6, 7, 0, time.UTC), Month: "2031-03", Repairs: []string{"r"}, Notes: []string{"r", "n"}, Absent: []schemas.CanonicalAbsent{{Parameter: "mach", Columns: []string{"M"}}}},
		{StartS: 10, EndS: 12},
	}
	cas := schemas.CanonicalParameter{Parameter: "computed_airspeed", SourceRank: 1, Kind: schemas.Continuous, Unit: "kt", Column: "CAS", IntervalS: 1, LongestS: 2, GapS: 3, TimeAccuracyS: 0.5,
		Accuracy: 4, AccuracyIs: schemas.AccuracyStated, OutOfRange: 5, Spikes: 6, Invalid: 7}
	second := cas
	second.SourceRank, second.Column, second.AccuracyIs = 2, "CAS2", schemas.AccuracyEstimated
	f.add(0, cas, 0, 100, 1, 101, 3, 103)
	f.add(0, second, 0.5, 99.5, 2.5, 102)
	f.add(0, schemas.CanonicalParameter{Parameter: "weight_on_wheels", SourceRank: 1, Kind: schemas.Discrete, Column: "WOW"}, 0, 1, 2, 0)
	f.add(0, schemas.CanonicalParameter{Parameter: "gear_lever", SourceRank: 1, Kind: schemas.State, States: []string{"UP", "OFF", "DOWN"}, Column: "LEVER"}, 1, 2, 3, 0)
	f.add(1, cas, 10, 110, 12, 112)
	return f
}

func TestCanonicalColumns(t *testing.T) {
	t.Parallel()
	profile := profileOf(t, "column: time", testColumns)
	f := usualCanonical()
	f.stated.Profile = schemas.CanonicalProfile{Title: "another", SHA256: "0123456789abcdef"}
	r, err := ReadBytes("f.parquet", f.bytes(t), profile)
	if err != nil {
		t.Fatal(err)
	}
	want := samples{"computed_airspeed": {{0, 100}, {1, 101}, {3, 103}}, "weight_on_wheels": {{0, 1}, {2, 0}}, "gear_lever": {{1, 2}, {3, 0}}}
	if diff := cmp.Diff(want, samplesOf(r)); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	note := "the columns were written with another profile or another version of it (another, SHA-256 0123456789ab): columns, units, polarities and accuracies are from that profile, limits and criteria from this one"
	if !slices.Equal(r.Repairs, []string{note, "r"}) || len(r.Notes) < 3 || r.Notes[0] != note || !slices.Contains(r.Notes, "n") || r.Month != "2031-03" || r.Start != 0 || r.End != 3 || !r.Epoch.Equal(f.stated.Stretches[0].Epoch) ||
		len(r.Absent) != 1 || r.Absent[0].Parameter != "mach" || r.Absent[0].Columns[0] != "M" || r.Format != "canonical columns, Parquet" {
		t.Errorf("%+v", r)
	}
	if s := r.Lookup("computed_airspeed"); s.Column != "CAS" || s.Interval != 1 || s.Longest != 2 || s.Gap != 3 || s.TimeAccuracy != 0.5 || s.Accuracy != 4 || s.Dropped != (Dropped{5, 6, 7}) {
		t.Errorf("%+v", s)
	}
	if len(r.Alternatives) != 1 || r.Alternatives[0].Accuracy != 0 || !slices.Equal(r.Alternatives[0].TimeValues(), []float64{0.5, 2.5}) || !slices.Equal(r.Alternatives[0].Numbers(), []float64{99.5, 102}) {
		t.Errorf("%+v", r.Alternatives)
	}
	if len(r.Later) != 1 || r.Later[0].Stretch != 1 || r.Later[0].Start != 10 || r.Later[0].End != 12 || !cmp.Equal(samplesOf(r.Later[0]), samples{"computed_airspeed": {{10, 110}, {12, 112}}}) {
		t.Errorf("later %+v", r.Later)
	}
	// Of this profile, or of one withheld, there is nothing to say.
	for _, hash := range []string{"", profile.SHA256} {
		f.stated.Profile.SHA256 = hash
		if r, err := ReadBytes("f.parquet", f.bytes(t), profile); err != nil || !slices.Equal(r.Repairs, []string{"r"}) {
			t.Errorf("%q: %v, %v", hash, r, err)
		}
	}
	// A source without samples at the end is complete, too.
	f.add(1, schemas.CanonicalParameter{Parameter: "weight_on_wheels", SourceRank: 1, Kind: schemas.Discrete})
	if r, err := ReadBytes("f.parquet", f.bytes(t), profile); err != nil || len(r.Later[0].Series) != 2 || r.Later[0].Lookup("weight_on_wheels").Len() != 0 {
		t.Errorf("%v, %v", r, err)
	}
}

func TestCanonicalMistakes(t *testing.T) {
	t.Parallel()
	profile := profileOf(t, "column: time", testColumns)
	at := func(f *canonicalFile, i int) *schemas.CanonicalParameter { return &f.stated.Stretches[0].Parameters[i] }
	for _, c := range []struct {
		change func(f *canonicalFile)
		want   string // "": it is read
	}{
		{func(f *canonicalFile) {}, ""},
		{func(f *canonicalFile) { f.stated.Schema = "downlock columns 2" }, `holds canonical columns of the form "downlock columns 2"; this downlock reads "downlock columns 1"`},
		{func(f *canonicalFile) { f.stated.Stretches = nil }, "its metadata lists no stretch"},
		{func(f *canonicalFile) { f.stated.Stretches[1].EndS = 9 }, "its metadata has stretch 2 run from 10 to 9 s"},
		{func(f *canonicalFile) { f.stated.Stretches[1].EndS = 1e13 }, "its metadata has stretch 2 run from 10 to 1e+13 s"},
		{func(f *canonicalFile) { f.stated.Stretches[0].StartS = -1e13 }, "its metadata has stretch 1 run from -1e+13 to 3 s"},
		{func(f *canonicalFile) { f.stated.Stretches[0].Notes = nil }, "its metadata has more repairs than notes of stretch 1"},
		{func(f *canonicalFile) { f.stated.Stretches[0].Notes = []string{"r"} }, ""},
		{func(f *canonicalFile) { at(f, 1).SourceRank = 3 }, `its metadata lists source 3 of "computed_airspeed" out of order`},
		{func(f *canonicalFile) { at(f, 0).Parameter = "cas" }, `its metadata lists the parameter "cas", which neither this version of downlock nor the profile knows`},
		{func(f *canonicalFile) { at(f, 0).Kind = schemas.Step }, `its metadata has computed_airspeed as "step" in "kt" with 0 states; here it is "continuous" in "kt" with the states []`},
		{func(f *canonicalFile) { at(f, 0).Unit = "m/s" }, `its metadata has computed_airspeed as "continuous" in "m/s" with 0 states`},
		{func(f *canonicalFile) { at(f, 3).States = []string{"UP", "DOWN"} }, `its metadata has gear_lever as "state" in "" with 2 states; here it is "state" in "" with the states ["UP" "OFF" "DOWN"]`},
		{func(f *canonicalFile) { at(f, 0).IntervalS = -1 }, "its metadata has -1 as an interval, an accuracy or a count of computed_airspeed"},
		{func(f *canonicalFile) { at(f, 0).Invalid = -2 }, "its metadata has -2 as an interval, an accuracy or a count of computed_airspeed"},
		{func(f *canonicalFile) { at(f, 0).GapS = 2 * maxSeconds }, "as an interval, an accuracy or a count of computed_airspeed"},
		{func(f *canonicalFile) { at(f, 0).GapS = maxSeconds }, ""},
		{func(f *canonicalFile) { f.rows = append(f.rows, f.rows[10]) }, "it has more rows than its metadata says: row 12 is one too many"},
		{func(f *canonicalFile) { f.rows = f.rows[:10] }, "it ends after row 10: its metadata says that source 1 of computed_airspeed has 2 samples, and it has 1"},
		{func(f *canonicalFile) { f.rows = f.rows[:9] }, "it ends after row 9: its metadata says that source 1 of computed_airspeed has 2 samples, and it has 0"},
		{func(f *canonicalFile) { f.rows[3].Parameter = "mach" }, `row 4 is of source 2 of "mach" in stretch 1; by its metadata it is of source 2 of "computed_airspeed" in stretch 1: rows were taken out, added or sorted since`},
		{func(f *canonicalFile) { f.rows[3].SourceRank = 1 }, `row 4 is of source 1 of "computed_airspeed" in stretch 1; by its metadata it is of source 2 of "computed_airspeed" in stretch 1`},
		{func(f *canonicalFile) { f.rows[9].Stretch = 1 }, `row 10 is of source 1 of "computed_airspeed" in stretch 1; by its metadata it is of source 1 of "computed_airspeed" in stretch 2`},
		{func(f *canonicalFile) { f.rows[1].TimeS = 0 }, "row 2: the time 0 of computed_airspeed does not lie after that of the row before"},
		{func(f *canonicalFile) { f.rows[1].TimeS = math.NaN() }, "row 2: the time NaN of computed_airspeed does not lie after that of the row before"},
		{func(f *canonicalFile) { f.rows[0].TimeS = -0.5 }, "row 1: the time -0.5 of computed_airspeed lies outside its stretch, 0 to 3 s"},
		{func(f *canonicalFile) { f.rows[2].TimeS = 3.5 }, "row 3: the time 3.5 of computed_airspeed lies outside its stretch, 0 to 3 s"},
		{func(f *canonicalFile) { f.rows[2].Value = math.Inf(1) }, "row 3: computed_airspeed is +Inf"},
		{func(f *canonicalFile) { f.rows[2].Value = math.NaN() }, "row 3: computed_airspeed is NaN"},
		{func(f *canonicalFile) { f.rows[5].Value = math.NaN() }, "row 6: weight_on_wheels is NaN"},
		{func(f *canonicalFile) { f.rows[5].Value = 2 }, "row 6: the value 2 of weight_on_wheels is not one of its 2 states"},
		{func(f *canonicalFile) { f.rows[5].Value = -1 }, "row 6: the value -1 of weight_on_wheels is not one of its 2 states"},
		{func(f *canonicalFile) { f.rows[7].Value = 3 }, "row 8: the value 3 of gear_lever is not one of its 3 states"},
		{func(f *canonicalFile) { f.rows[7].Value = 0.5 }, "row 8: the value 0.5 of gear_lever is not one of its 3 states"},
		{func(f *canonicalFile) { f.rows[7].Value = 1 }, ""},
		{func(f *canonicalFile) { // as many as are read
			for range maxColumns - 5 {
				f.add(1, schemas.CanonicalParameter{Parameter: "weight_on_wheels", SourceRank: len(f.stated.Stretches[1].Parameters), Kind: schemas.Discrete})
			}
		}, ""},
		{func(f *canonicalFile) {
			for range maxColumns - 4 {
				f.add(1, schemas.CanonicalParameter{Parameter: "weight_on_wheels", SourceRank: len(f.stated.Stretches[1].Parameters), Kind: schemas.Discrete})
			}
		}, "its metadata lists 10001 sources of parameters; at most 10000 are read"},
	} {
		f := usualCanonical()
		c.change(f)
		_, err := ReadBytes("f.parquet", f.bytes(t), profile)
		if c.want == "" && err != nil || c.want != "" && (err == nil || !strings.Contains(problemsOf(t, err)[0].Cause, c.want)) {
			t.Errorf("got %v, want %q", err, c.want)
		}
	}
	if _, err := ReadBytes("f.parquet", canonicalBytes(t, "{", nil), profile); err == nil || !strings.Contains(err.Error(), "but its metadata is not their JSON") {
		t.Errorf("%v", err)
	}
	// A column of another type.
	var b bytes.Buffer
	f := usualCanonical()
	stated, _ := json.Marshal(f.stated)
	w := parquet.NewGenericWriter[struct {
		Stretch    int32   `parquet:"stretch"`
		Parameter  string  `parquet:"parameter"`
		SourceRank string  `parquet:"source_rank"`
		TimeS      float64 `parquet:"time_s"`
		Value      float64 `parquet:"value"`
	}](&b, parquet.KeyValueMetadata(schemas.CanonicalKey, string(stated)))
	if _, err := w.Write(make([]struct {
		Stretch    int32   `parquet:"stretch"`
		Parameter  string  `parquet:"parameter"`
		SourceRank string  `parquet:"source_rank"`
		TimeS      float64 `parquet:"time_s"`
		Value      float64 `parquet:"value"`
	}, 1)); err != nil || w.Close() != nil {
		t.Fatal(err)
	}
	if _, err := ReadBytes("f.parquet", b.Bytes(), profile); err == nil || !strings.Contains(err.Error(), `its column "source_rank" has nulls or another type than downlock writes`) {
		t.Errorf("%v", err)
	}
}

// Packed or not, the samples are the same: of 20,000 in two sources, with the number above which
// they are packed just met and just missed.
func TestCanonicalPacked(t *testing.T) {
	t.Parallel()
	profile := profileOf(t, "column: time", testColumns)
	f := &canonicalFile{}
	f.stated.Schema = schemas.CanonicalSchema
	f.stated.Stretches = []schemas.CanonicalStretch{{StartS: 0, EndS: 20_000}}
	var cas, wow []float64
	for i := range 10_000 {
		cas, wow = append(cas, float64(i), float64(100+i%50)), append(wow, float64(2*i), float64(i/7%2))
	}
	f.add(0, schemas.CanonicalParameter{Parameter: "computed_airspeed", SourceRank: 1, Kind: schemas.Continuous, Unit: "kt"}, cas...)
	f.add(0, schemas.CanonicalParameter{Parameter: "weight_on_wheels", SourceRank: 1, Kind: schemas.Discrete}, wow...)
	want := samples{}
	for name, list := range map[string][]float64{"computed_airspeed": cas, "weight_on_wheels": wow} {
		for i := 0; i < len(list); i += 2 {
			want[name] = append(want[name], [2]float64{list[i], list[i+1]})
		}
	}
	data := f.bytes(t)
	for above, packed := range map[int]bool{0: false, 20_000: false, 19_999: true, 1: true} {
		r, err := Limits{PackAbove: above}.read("f", bytes.NewReader(data), int64(len(data)), profile, nopHash())
		if err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(want, samplesOf(r)); d != "" || r.Packed() != packed {
			t.Errorf("packed above %d: %v (-want +got):\n%.500s", above, r.Packed(), d)
		}
	}
}
