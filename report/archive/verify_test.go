package archive

import (
	"errors"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"downlock/report/identity"
	"downlock/report/review"
	"downlock/schemas"
	"downlock/testdata/effort"
)

// keptArchive is an archive of two nights, with verdicts and the figures of runs, and the
// inputs that are still there.
type keptArchive struct {
	run   *Run
	paths []string
	files map[string]string
}

func newKeptArchive(t *testing.T, key *identity.Key) *keptArchive {
	t.Helper()
	k := &keptArchive{run: fixtureRun("1")}
	k.run.Identity = key
	folder, dir := t.TempDir(), filepath.Join(t.TempDir(), "archive")
	night := func(day int, in inputs) {
		k.run.Began = time.Date(2031, 7, day, 2, 30, 0, 0, time.UTC)
		k.paths = append(k.paths, in.write(t, folder)...)
		if err := wholeRun(dir, k.run, k.paths, quickDisk{}, func([]string) {}); err != nil {
			t.Fatal(err)
		}
	}
	night(1, inputs{"a.csv": "2031-03 2031-04", "b.csv": "2031-03", "c.csv": "undated", "bad.csv": "bad"})
	for minute, finding := range []review.Finding{review.FollowUp, review.False, review.Valid} {
		e := eventRow(minute/2, "low")
		v := review.Verdict{Event: e.EventID, Finding: finding, By: "Analyst A", At: time.Date(2031, 7, 1, 8, minute, 0, 123456789, time.UTC), Evidence: review.Evidence(e)}
		if finding == review.False {
			v.Cause, v.Comment = "polarity", "see the ticket"
		}
		if _, err := review.Write(dir, v, false); err != nil {
			t.Fatal(err)
		}
	}
	for minute, action := range []review.Action{{Kind: review.AssignedTo, Value: "fleet-safety"}, {Kind: review.Due, Value: "2031-07-20"}, {Kind: review.AssignedTo, Value: "AL"}} {
		action.Event, action.By, action.At = eventRow(0, "low").EventID, "Analyst A", time.Date(2031, 7, 1, 9, minute, 0, 987654321, time.UTC)
		if _, err := review.WriteAction(dir, action, false); err != nil {
			t.Fatal(err)
		}
	}
	night(2, inputs{"d.csv": "2031-04 ", "e.csv": "2031-03  ", "copy.csv": "2031-03"})
	k.files = contents(t, dir)
	return k
}

// next is a run over the inputs, a day after the last.
func (k *keptArchive) next(t *testing.T, dir string) {
	t.Helper()
	run := *k.run
	run.Began = run.Began.AddDate(0, 0, 1)
	if err := wholeRun(dir, &run, k.paths, quickDisk{}, func([]string) {}); err != nil {
		t.Fatal(err)
	}
}

// harm is one way to spoil a file; it returns the files it has spoiled, none where it does
// nothing to this one.
type harm struct {
	name string
	do   func(files map[string]string, name string) (spoilt []string)
}

var harms = []harm{
	{"flipped", func(files map[string]string, name string) []string { return flip(files, name, len(files[name])/2) }},
	{"flipped at its end", func(files map[string]string, name string) []string { return flip(files, name, len(files[name])-1) }},
	{"flipped near its beginning", func(files map[string]string, name string) []string {
		return flip(files, name, min(70, len(files[name])-1))
	}},
	{"cut", func(files map[string]string, name string) []string {
		files[name] = files[name][:len(files[name])*2/3]
		return []string{name}
	}},
	{"a line less", func(files map[string]string, name string) []string {
		lines := strings.SplitAfter(files[name], "\n")
		if !strings.HasSuffix(name, shardEnding) || len(lines) < 3 {
			return nil
		}
		files[name] = strings.Join(lines[1:], "")
		return []string{name}
	}},
	{"empty", func(files map[string]string, name string) []string { files[name] = ""; return []string{name} }},
	{"deleted", func(files map[string]string, name string) []string { delete(files, name); return []string{name} }},
	{"exchanged", func(files map[string]string, name string) []string {
		for _, other := range sortedKeys(files) {
			if other > name && filepath.Ext(other) == filepath.Ext(name) && files[other] != files[name] {
				files[name], files[other] = files[other], files[name]
				return []string{name, other}
			}
		}
		return nil
	}},
	{"replaced by another", func(files map[string]string, name string) []string {
		for _, other := range sortedKeys(files) {
			if filepath.Base(other) == filepath.Base(name) && files[other] != files[name] {
				files[name] = files[other]
				return []string{name}
			}
		}
		return nil
	}},
}

func flip(files map[string]string, name string, at int) []string {
	data := []byte(files[name])
	data[at] ^= 1
	files[name] = string(data)
	return []string{name}
}

// TestEveryFileSpoilt spoils every file of an archive, one at a time, in every way. Verify
// names it; a reader of the parts refuses it; after Repair and the next night the archive has the
// bytes it had, or what is lost was said; and a copy of what was replaced is there.
func TestEveryFileSpoilt(t *testing.T) {
	t.Parallel()
	key := testKey(t)
	n := 0
	for _, key := range []*identity.Key{nil, key} {
		k := newKeptArchive(t, key)
		if c, err := Verify(layOut(t, k.files)); err != nil || len(c.Faults) > 0 || !c.Listed || c.Files < len(k.files)-3 {
			t.Fatalf("a sound archive of %d files: %+v, %v", len(k.files), c, err)
		}
		for _, name := range sortedKeys(k.files) {
			for _, h := range harms {
				n++
				if key != nil && name != markName || n%effort.Of(13, 7, 1) > 0 {
					continue
				}
				files := maps.Clone(k.files)
				if spoilt := h.do(files, name); len(spoilt) > 0 {
					k.checkSpoilt(t, h.name+": "+strings.Join(spoilt, ", "), files, spoilt)
				}
			}
		}
	}
	if n < 200 {
		t.Errorf("only %d", n)
	}
}

func (k *keptArchive) checkSpoilt(t *testing.T, what string, files map[string]string, spoilt []string) {
	t.Helper()
	dir := layOut(t, files)
	c, err := Verify(dir)
	if err != nil {
		t.Errorf("%s: %v", what, err)
		return
	}
	named := func(name string) bool {
		return slices.ContainsFunc(c.Faults, func(f Fault) bool { return f.File == name && f.Cause != "" })
	}
	for _, name := range spoilt {
		if !named(name) {
			t.Errorf("%s: not noticed: %+v", what, c.Faults)
		}
	}
	for _, f := range c.Faults {
		if !slices.Contains(spoilt, f.File) {
			t.Errorf("%s: %s is said to be %s: %s", what, f.File, f.Kind, f.Cause)
		}
	}
	if diff := differ(contents(t, dir), files); diff != "" {
		t.Errorf("%s: Verify changed %s", what, diff)
	}
	if _, _, part := isPart(spoilt[0]); part || spoilt[0] == checksumsName {
		if _, _, err := Check(dir); err == nil || !strings.Contains(detail(err), "downlock verify --archive DIR") {
			t.Errorf("%s: a reader goes on: %v", what, err)
		}
	}
	if spoilt[0] == markName {
		if err := CheckKey(dir, k.run.Identity); err == nil {
			t.Errorf("%s: a run goes on", what)
		}
	}
	repaired, err := Repair(dir, time.Date(2031, 7, 3, 0, 0, 0, 0, time.UTC), false)
	if err != nil {
		t.Errorf("%s: repair: %v", what, err)
		return
	}
	kept := contents(t, dir)
	gone := map[string]bool{}
	for _, f := range repaired.Faults {
		if f.Mended == "" {
			t.Errorf("%s: %s is not mended", what, f.File)
		}
		if data, there := files[f.File]; there && (f.Kept == "" || kept[f.Kept] != data) {
			t.Errorf("%s: no copy of %s is kept", what, f.File)
		}
		gone[f.File] = strings.Contains(f.Mended, "cannot be made again")
	}
	k.next(t, dir)
	if again, err := Verify(dir); err != nil || len(again.Faults) > 0 {
		t.Errorf("%s: after the next night: %+v, %v", what, again, err)
	}
	after := contents(t, dir)
	for name, data := range k.files {
		if name != runsFolder+"/"+checksumsName && after[name] != data && !gone[name] {
			t.Errorf("%s: after the next night %s is another one", what, name)
		}
	}
}

// TestIdentityLostBeforeChecksums: an archive of tokens from before there were checksums
// does not take names when its file identity is lost, and one of names goes on without one.
func TestIdentityLostBeforeChecksums(t *testing.T) {
	t.Parallel()
	key := testKey(t)
	for _, key := range []*identity.Key{nil, key} {
		dir, run := filepath.Join(t.TempDir(), "archive"), fixtureRun("1")
		run.Identity = key
		in := Input{Path: "/exports/a.csv"}
		if key != nil {
			in.Path = "d-0123/r-4567"
		}
		a, err := open(dir, run, nil, quickDisk{})
		if err != nil {
			t.Fatal(err)
		}
		sha, results := fixtureResults(run, "a", "2031-03")
		if err := errors.Join(a.stageResults(in, Sight{}, later(), sha, results), a.Commit()); err != nil {
			t.Fatal(err)
		}
		a.Close()
		withoutChecksums(t, dir)
		os.Remove(filepath.Join(dir, markName))
		for _, other := range []*identity.Key{nil, run.Identity} {
			if err := CheckKey(dir, other); (err == nil) != (key == nil) {
				t.Errorf("withheld %v: %v", key != nil, err)
			}
		}
	}
}

// detail is an error with its hints.
func detail(err error) (text string) {
	var many schemas.Problems
	if !errors.As(err, &many) {
		return asProblem(err).Detail()
	}
	for _, p := range many {
		text += p.Detail()
	}
	return text
}
