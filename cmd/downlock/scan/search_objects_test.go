package scan

import (
	"slices"
	"strings"
	"testing"

	"downlock/ingest/objects"
	"downlock/report/archive"
)

// TestObjectsBelow chooses among the objects below a prefix by hand-made lists. testdata/objects holds a real listing against a
// folder.
func TestObjectsBelow(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		keys                string // below the prefix
		allowEmpty          bool
		files, leftOut      string
		failed, empty, gone string
	}{
		"in order of folders": {keys: "a-b.csv a.csv a/b.csv a/b/c.csv B.CSV", files: "B.CSV a/b/c.csv a/b.csv a-b.csv a.csv"},
		"by ending":           {keys: "a.pdf b.csv.gz c/readme.txt d/x.yaml", files: "b.csv.gz c/readme.txt", leftOut: "a.pdf d/x.yaml"},
		"hidden":              {keys: ".a.csv .git/a.csv .git/b.csv b/.c/d/e.csv b/.c/x.csv b/c.csv", files: "b/c.csv", leftOut: ".a.csv .git/ b/.c/"},
		"nothing":             {failed: "there is no such object"},
		"nothing, allowed":    {allowEmpty: true, gone: "s3://b/x"},
		"no export":           {keys: "a.pdf", leftOut: "a.pdf", failed: "there is no export below it"},
		"no export, allowed":  {keys: "a.pdf", leftOut: "a.pdf", allowEmpty: true, empty: "s3://b/x"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			for _, arg := range []string{"s3://b/x", "s3://b/x/"} {
				var all []objects.Object
				for _, key := range strings.Fields(c.keys) {
					all = append(all, objects.Object{Address: "s3://b/x/" + key, Size: int64(len(key)), ETag: key})
				}
				slices.SortFunc(all, func(a, b objects.Object) int { return strings.Compare(a.Address, b.Address) }) // as a store does
				found := foundInputs{listed: map[string]archive.Sight{}}
				s := search{found: &found, seen: map[string]bool{}}
				s.below(arg, all, c.allowEmpty)
				short := func(paths []string) string { return strings.ReplaceAll(strings.Join(paths, " "), "s3://b/x/", "") }
				slices.Sort(found.leftOut.paths)
				if short(found.files) != c.files || short(found.leftOut.paths) != c.leftOut {
					t.Errorf("chosen are %s, left out %s", short(found.files), short(found.leftOut.paths))
				}
				for _, file := range found.files {
					if sight := found.listed[file]; sight.ETag != short([]string{file}) || sight.Size != int64(len(sight.ETag)) {
						t.Errorf("the sight of %s is %v", file, sight)
					}
				}
				failed := ""
				for _, f := range found.failures {
					failed += f.Err.Error()
				}
				if (failed == "") != (c.failed == "") || !strings.Contains(failed, c.failed) {
					t.Errorf("the failure is %q", failed)
				}
				if strings.TrimSuffix(strings.Join(found.gone, ""), "/") != c.gone || strings.TrimSuffix(strings.Join(found.empty, ""), "/") != c.empty {
					t.Errorf("gone %v, empty %v", found.gone, found.empty)
				}
			}
		})
	}
}
