package ingest

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"downlock/schemas"
)

// partsOf writes files and returns a profile whose parts end in -air.csv,
// -gear.csv and -misc.csv.
func partsOf(t *testing.T, files map[string]string) (folder string, profile *schemas.Profile) {
	t.Helper()
	folder = t.TempDir()
	for name, text := range files {
		if err := os.MkdirAll(filepath.Dir(filepath.Join(folder, name)), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(folder, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	profile = profileOf(t, "column: time, date: D, clock: U", `
  computed_airspeed:
    - {column: CAS, unit: kt}
    - {column: IAS, unit: kt}
  gear_lever: {column: LEVER, states: {UP: UP, DN: DOWN}}
  weight_on_wheels: {column: WOW, true_when: 1}
`)
	profile.Parts = []string{"-air.csv", "-gear.csv", "-misc.csv"}
	return folder, profile
}

func TestGroupParts(t *testing.T) {
	t.Parallel()
	profile := &schemas.Profile{Parts: []string{"-air.csv", "-gear.csv", "r.csv"}}
	got := GroupParts([]string{"a/1-gear.csv", "a/2-gear.csv", "a/other.txt", "b/1-air.csv", "a/1-air.csv", "-air.csv", "a/other.txt"}, profile)
	want := [][]string{{"a/1-air.csv", "a/1-gear.csv"}, {"a/2-gear.csv"}, {"a/other.txt"}, {"b/1-air.csv"}, {"-air.csv"}, {"a/other.txt"}}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	if got := GroupParts([]string{"1-air.csv", "1-gear.csv"}, &schemas.Profile{}); len(got) != 2 {
		t.Errorf("without parts in the profile: %v, want every file alone", got)
	}
}

func TestReadParts(t *testing.T) {
	t.Parallel()
	folder, profile := partsOf(t, map[string]string{
		"f1-air.csv":  "time,IAS,D,U\n0,100,,\n1,101,2031-03-31,12:00:01\n",
		"f1-gear.csv": "time,LEVER,CAS\n0.5,DN,\n2,UP,102\n",
		"f1-misc.csv": "time,REMARK\n0,x\n",
	})
	path := func(name string) string { return filepath.Join(folder, name) }
	r, err := ReadParts([]string{path("f1-air.csv"), path("f1-gear.csv"), path("f1-misc.csv")}, profile)
	if err != nil {
		t.Fatal(err)
	}
	want := samples{"computed_airspeed": {{2, 102}}, "gear_lever": {{0.5, 2}, {2, 0}}} // the preferred source, in the second part
	if diff := cmp.Diff(want, samplesOf(r)); diff != "" {
		t.Errorf("samples (-want +got):\n%s", diff)
	}
	// cat f1-air.csv f1-gear.csv f1-misc.csv | sha256sum, and wc -c, of GNU coreutils
	if want := "cccf22834509a0a0d27baed1b249921718f31adbf0e7381d26c6f88f8f00a28d"; r.SHA256 != want || r.Bytes != 95 {
		t.Errorf("hash %s of %d bytes", r.SHA256, r.Bytes)
	}
	if r.Name != "f1" || r.Format != "3 parts: wide CSV" || r.Start != 0 || r.End != 2 {
		t.Errorf("%q, %s, from %v to %v", r.Name, r.Format, r.Start, r.End)
	}
	if got := r.Epoch.Format("2006-01-02 15:04:05"); got != "2031-03-31 12:00:00" {
		t.Errorf("epoch %s", got)
	}
	if diff := cmp.Diff([]Absent{{"weight_on_wheels", []string{"WOW"}}}, r.Absent); diff != "" {
		t.Errorf("absent (-want +got):\n%s", diff)
	}
	notes := []string{`f1-gear.csv: computed_airspeed is in more than one part; column "CAS" is used, not "IAS"`, "f1-misc.csv: has no column that the profile maps"}
	if diff := cmp.Diff(notes, r.Notes); diff != "" {
		t.Errorf("notes (-want +got):\n%s", diff)
	}
	checkSound(t, r)

	r, err = ReadParts([]string{path("f1-gear.csv")}, profile)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff([]string{`part "f1-air.csv" is missing`, `part "f1-misc.csv" is missing`}, r.Notes); diff != "" {
		t.Errorf("notes of one part (-want +got):\n%s", diff)
	}
}

// Parts that touch have time in common; of each column the first part's is kept.
func TestPartsThatShareColumns(t *testing.T) {
	t.Parallel()
	folder, profile := partsOf(t, map[string]string{
		"f-air.csv":  "time,CAS,IAS\n0,100,99\n4,104,103\n",
		"f-gear.csv": "time,LEVER,IAS,CAS\n4,DN,90,105\n5,UP,91,106\n",
		"f-misc.csv": "time,WOW,IAS\n-3,1,80\n0,0,81\n",
	})
	r, err := ReadParts([]string{filepath.Join(folder, "f-air.csv"), filepath.Join(folder, "f-gear.csv"), filepath.Join(folder, "f-misc.csv")}, profile)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(samples{"computed_airspeed": {{0, 100}, {4, 104}}, "gear_lever": {{4, 2}, {5, 0}}, "weight_on_wheels": {{-3, 1}, {0, 0}}}, samplesOf(r)); diff != "" || r.Start != -3 || r.End != 5 {
		t.Errorf("from %v to %v (-want +got):\n%s", r.Start, r.End, diff)
	}
	if a := r.Alternatives; len(a) != 1 || a[0].Column != "IAS" || a[0].Numbers()[1] != 103 {
		t.Errorf("%d alternatives", len(a))
	}
	want := []string{`f-gear.csv: computed_airspeed is in more than one part; column "CAS" is used, not "CAS"`, `f-misc.csv: computed_airspeed is in more than one part; column "CAS" is used, not "IAS"`}
	if diff := cmp.Diff(want, r.Notes); diff != "" {
		t.Errorf("notes (-want +got):\n%s", diff)
	}
	// A part that lies before the others, or behind them.
	for text, cause := range map[string]string{"-3,1\n-0.5,0\n": "runs from -3 to -0.5 s, and the parts before it from 0 to 4 s", "4.5,1\n5,0\n": "runs from 4.5 to 5 s, and the parts before it from 0 to 4 s"} {
		if err := os.WriteFile(filepath.Join(folder, "f-misc.csv"), []byte("time,WOW\n"+text), 0o600); err != nil {
			t.Fatal(err)
		}
		if _, err := ReadParts([]string{filepath.Join(folder, "f-air.csv"), filepath.Join(folder, "f-misc.csv")}, profile); err == nil || !strings.Contains(err.Error(), cause) {
			t.Errorf("%v, want %s", err, cause)
		}
	}
}

// Parts with dates of their own lie on one axis: the second begins 1.5 s after
// the first.
func TestPartsWithDates(t *testing.T) {
	t.Parallel()
	folder, profile := partsOf(t, map[string]string{
		"f-air.csv":  "time,CAS,D,U\n0,100,2031-03-31,23:59:59\n4,104,,\n",
		"f-gear.csv": "time,LEVER,D,U\n0,DN,2031-04-01,00:00:00.5\n1,UP,,\n",
	})
	r, err := ReadParts([]string{filepath.Join(folder, "f-air.csv"), filepath.Join(folder, "f-gear.csv")}, profile)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(samples{"computed_airspeed": {{0, 100}, {4, 104}}, "gear_lever": {{1.5, 2}, {2.5, 0}}}, samplesOf(r)); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}

func TestPartsThatAreNone(t *testing.T) {
	t.Parallel()
	folder, profile := partsOf(t, map[string]string{
		"f-air.csv": "time,CAS\n0,100\n", "g-gear.csv": "time,LEVER\n0,DN\n", "f-gear.csv": "time,LEVER\n900,DN\n", "f-misc.csv": "time,x\n0,1\n", "f.csv": "time,CAS\n0,1\n",
	})
	for _, tt := range []struct {
		names []string
		cause string
	}{
		{nil, "there is no file"},
		{[]string{"f-air.csv", "g-gear.csv"}, "is not a part of the same recording"},
		{[]string{"f-air.csv", "f-air.csv"}, "is not a part of the same recording"},
		{[]string{"f.csv", "f-air.csv"}, "is not a part of the same recording"},
		{[]string{"f-air.csv", "f-gear.csv"}, "runs from 900 to 900 s, and the parts before it from 0 to 0 s"},
		{[]string{"f-misc.csv"}, "has none of the columns"},
	} {
		var paths []string
		for _, name := range tt.names {
			paths = append(paths, filepath.Join(folder, name))
		}
		_, err := ReadParts(paths, profile)
		if p := problemsOf(t, err)[0]; !strings.Contains(p.Cause, tt.cause) || p.Hint == "" || p.File == "" {
			t.Errorf("%v: %+v, want %s", tt.names, p, tt.cause)
		}
	}
	r, err := ReadParts([]string{filepath.Join(folder, "f.csv")}, profile)
	if err != nil || r.Name != "f.csv" || r.Format != "wide CSV" || len(r.Notes) != 0 {
		t.Errorf("a file that is no part: %+v, %v", r, err)
	}
}
