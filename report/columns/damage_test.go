package columns_test

import (
	"bytes"
	"encoding/json"
	"errors"
	"math"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/parquet-go/parquet-go"

	"downlock/ingest"
	"downlock/report/columns"
	"downlock/schemas"
)

// smallFile is the file of the small export: its rows and its metadata.
func smallFile(t testing.TB) (rows []schemas.CanonicalRow, stated schemas.Canonical) {
	t.Helper()
	r, p, d := smallColumns(t)
	c, err := columns.New("0", r, p, d)
	if err != nil {
		t.Fatal(err)
	}
	return parquetRows(t, written(t, r, p, d, columns.Parquet)), c.Stated()
}

// crafted is a Parquet file of any rows and metadata.
func crafted[T any](t testing.TB, rows []T, metadata string) []byte {
	t.Helper()
	var b bytes.Buffer
	w := parquet.NewGenericWriter[T](&b, parquet.KeyValueMetadata(schemas.CanonicalKey, metadata))
	_, err := w.Write(rows)
	if err == nil {
		err = w.Close()
	}
	if err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func asJSON(t testing.TB, stated schemas.Canonical) string {
	t.Helper()
	text, err := json.Marshal(stated)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// TestChangedFiles: a file that is not as downlock wrote it is refused with the reason and
// what to do, whatever was changed.
func TestChangedFiles(t *testing.T) {
	t.Parallel()
	_, p, _ := smallColumns(t)
	parameter := func(s *schemas.Canonical) *schemas.CanonicalParameter { return &s.Stretches[0].Parameters[0] }
	for _, c := range []struct {
		change func(rows []schemas.CanonicalRow, s *schemas.Canonical) []schemas.CanonicalRow
		cause  string
	}{
		{func(r []schemas.CanonicalRow, s *schemas.Canonical) []schemas.CanonicalRow {
			s.Schema = "downlock columns 2"
			return r
		}, `of the form "downlock columns 2"`},
		{func(r []schemas.CanonicalRow, s *schemas.Canonical) []schemas.CanonicalRow {
			s.Stretches = nil
			return r
		}, "lists no stretch"},
		{func(r []schemas.CanonicalRow, s *schemas.Canonical) []schemas.CanonicalRow {
			s.Stretches[1].StartS = s.Stretches[1].EndS + 1
			return r
		}, "has stretch 2 run from"},
		{func(r []schemas.CanonicalRow, s *schemas.Canonical) []schemas.CanonicalRow {
			s.Stretches[0].Notes = nil
			return r
		}, "more repairs than notes of stretch 1"},
		{func(r []schemas.CanonicalRow, s *schemas.Canonical) []schemas.CanonicalRow {
			parameter(s).Parameter = "airspeed"
			return r
		}, `the parameter "airspeed", which neither this version of downlock nor the profile knows`},
		{func(r []schemas.CanonicalRow, s *schemas.Canonical) []schemas.CanonicalRow {
			parameter(s).Unit = "km/h"
			return r
		}, `computed_airspeed as "continuous" in "km/h"`},
		{func(r []schemas.CanonicalRow, s *schemas.Canonical) []schemas.CanonicalRow {
			parameter(s).SourceRank = 2
			return r
		}, `source 2 of "computed_airspeed" out of order`},
		{func(r []schemas.CanonicalRow, s *schemas.Canonical) []schemas.CanonicalRow {
			parameter(s).GapS = -1
			return r
		}, "has -1 as an interval, an accuracy or a count of computed_airspeed"},
		{func(r []schemas.CanonicalRow, s *schemas.Canonical) []schemas.CanonicalRow {
			return append(r, r[len(r)-1])
		}, "row 121 is one too many"},
		{func(r []schemas.CanonicalRow, s *schemas.Canonical) []schemas.CanonicalRow { return r[:119] }, "ends after row 119: its metadata says that source 1 of gear_horn has 12 samples, and it has 11"},
		{func(r []schemas.CanonicalRow, s *schemas.Canonical) []schemas.CanonicalRow {
			return slices.Delete(r, 3, 4)
		}, `row 12 is of source 2 of "computed_airspeed" in stretch 1; by its metadata it is of source 1`},
		{func(r []schemas.CanonicalRow, s *schemas.Canonical) []schemas.CanonicalRow {
			r[0], r[1] = r[1], r[0]
			return r
		}, "row 2: the time 36000.5 of computed_airspeed does not lie after"},
		{func(r []schemas.CanonicalRow, s *schemas.Canonical) []schemas.CanonicalRow {
			r[0].TimeS = 7
			return r
		}, "row 1: the time 7 of computed_airspeed lies outside its stretch"},
		{func(r []schemas.CanonicalRow, s *schemas.Canonical) []schemas.CanonicalRow {
			r[2].TimeS = math.NaN()
			return r
		}, "row 3: the time NaN"},
		{func(r []schemas.CanonicalRow, s *schemas.Canonical) []schemas.CanonicalRow {
			r[2].Value = math.NaN()
			return r
		}, "row 3: computed_airspeed is NaN"},
		{func(r []schemas.CanonicalRow, s *schemas.Canonical) []schemas.CanonicalRow {
			r[2].Value = math.Inf(1)
			return r
		}, "row 3: computed_airspeed is +Inf"},
		{func(r []schemas.CanonicalRow, s *schemas.Canonical) []schemas.CanonicalRow {
			r[40].Value = 3
			return r
		}, "row 41: the value 3 of gear_lever is not one of its 3 states"},
		{func(r []schemas.CanonicalRow, s *schemas.Canonical) []schemas.CanonicalRow {
			r[55].Value = 0.5
			return r
		}, "row 56: the value 0.5 of gear_horn is not one of its 2 states"},
		{func(r []schemas.CanonicalRow, s *schemas.Canonical) []schemas.CanonicalRow {
			r[40].Value = math.Inf(-1)
			return r
		}, "row 41: the value -Inf of gear_lever"},
	} {
		rows, stated := smallFile(t)
		rows = c.change(rows, &stated)
		refused(t, crafted(t, rows, asJSON(t, stated)), p, c.cause)
	}
	rows, stated := smallFile(t)
	refused(t, crafted(t, rows, "{"), p, "its metadata is not their JSON")
	type nameless struct {
		TimeS float64 `parquet:"time_s"`
	}
	refused(t, crafted(t, []nameless{{1}}, asJSON(t, stated)), p, `it has no column "stretch"`)
	type optional struct {
		Stretch    *int32  `parquet:"stretch,optional"`
		Parameter  string  `parquet:"parameter"`
		SourceRank int32   `parquet:"source_rank"`
		TimeS      float64 `parquet:"time_s"`
		Value      float64 `parquet:"value"`
	}
	refused(t, crafted(t, []optional{{}}, asJSON(t, stated)), p, `its column "stretch" has nulls`)
}

func refused(t *testing.T, file []byte, p *schemas.Profile, cause string) {
	t.Helper()
	_, err := ingest.ReadBytes("f.parquet", file, p)
	var problem *schemas.Problem
	if !errors.As(err, &problem) || problem.File != "f.parquet" || problem.Hint == "" || !strings.Contains(problem.Cause, cause) {
		t.Errorf("%v, want %q", err, cause)
	}
}

// TestOtherProfile: columns read back with another profile than they were written with say
// so, first of all notes; with the same one they do not.
func TestOtherProfile(t *testing.T) {
	t.Parallel()
	r, p, d := smallColumns(t)
	path := written(t, r, p, d, columns.Arrow)
	other := *p
	other.SHA256 = strings.Repeat("0", 64)
	for _, c := range []struct {
		profile *schemas.Profile
		says    bool
	}{{p, false}, {&other, true}} {
		got, err := ingest.Read(path, c.profile)
		if err != nil {
			t.Fatal(err)
		}
		for _, stretch := range got.Stretches() {
			if strings.Contains(stretch.Repairs[0], "another profile") != c.says || stretch.Repairs[0] != stretch.Notes[0] {
				t.Errorf("%q", stretch.Repairs)
			}
		}
	}
}

// FuzzReadBack: metadata and rows that somebody crafted lead to a recording that can be
// looked through for events, or to a problem with its cause.
func FuzzReadBack(f *testing.F) {
	rows, stated := smallFile(f)
	f.Add(asJSON(f, stated), uint(len(rows)), 0, 0.0)
	f.Add(asJSON(f, stated), uint(20), 3, math.Inf(1))
	f.Add(`{"schema":"downlock columns 1","stretches":[{"start_s":0,"end_s":1,"parameters":[]}]}`, uint(0), 0, 0.0)
	f.Add(`{"schema":"downlock columns 1","stretches":[{"start_s":-1e12,"end_s":1e12,"parameters":[{"parameter":"gear_horn","kind":"discrete","source_rank":1,"samples":0}]}]}`, uint(0), 0, 1e300)
	_, p, d := smallColumns(f)
	f.Fuzz(func(t *testing.T, metadata string, count uint, place int, value float64) {
		some := slices.Clone(rows[:min(count, uint(len(rows)))])
		if 0 <= place && place < len(some) {
			some[place].TimeS += value
			some[place].Value -= value
		}
		r, err := ingest.ReadBytes("f.parquet", crafted(t, some, metadata), p)
		var problem *schemas.Problem
		switch {
		case err == nil:
			d.Detect(r)
		case !errors.As(err, &problem) || problem.Cause == "":
			t.Fatalf("%v", err)
		}
	})
}

// TestCutFile: a file that ends anywhere is refused or read, and never ends the program.
func TestCutFile(t *testing.T) {
	t.Parallel()
	r, p, d := smallColumns(t)
	for _, kind := range []columns.Kind{columns.Parquet, columns.Arrow} {
		whole, err := os.ReadFile(written(t, r, p, d, kind))
		if err != nil {
			t.Fatal(err)
		}
		for n := 8; n < len(whole); n += 97 {
			if _, err := ingest.ReadBytes("f", whole[:n], p); err == nil {
				t.Errorf("%s: %d of %d bytes are read", kind, n, len(whole))
			}
		}
	}
}

// FuzzColumnsFile: any bytes in place of a file of columns are read or refused.
func FuzzColumnsFile(f *testing.F) {
	r, p, d := smallColumns(f)
	for _, kind := range []columns.Kind{columns.Parquet, columns.Arrow} {
		whole, err := os.ReadFile(written(f, r, p, d, kind))
		if err != nil {
			f.Fatal(err)
		}
		f.Add(whole)
	}
	f.Fuzz(func(t *testing.T, file []byte) {
		_, err := ingest.ReadBytes("f", file, p)
		var problem *schemas.Problem
		if err != nil && (!errors.As(err, &problem) || problem.Cause == "") {
			t.Fatalf("%v", err)
		}
	})
}
