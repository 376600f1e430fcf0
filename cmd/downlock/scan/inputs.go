package scan

import (
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"downlock/ingest"
	"downlock/report"
	"downlock/report/archive"
	"downlock/schemas"
)

// exportEndings are the names files of a folder are taken by; a file named on
// the command line is read whatever its name. What a file holds is told from
// its content.
var exportEndings = []string{".csv", ".tsv", ".txt", ".gz", ".zst", ".parquet", ".arrow", ".feather", ".ipc", ".mat", ".zip"}

// foundInputs is what the arguments name.
type foundInputs struct {
	files    []string // to read, in order of the arguments and, in a folder, of name, each once
	failures []report.Failure
	leftOut  int // files of folders that are no export by their name
}

// findInputs lists the files to read. What cannot be read is a failure of its
// own. Hidden files and the folders the run writes to are left out. A folder
// without an export is a failure, but not for an archive: there are nights
// without a download.
func findInputs(args []string, o scanOptions) (found foundInputs) {
	var written []string
	for _, dir := range []string{o.out, o.archive, o.quarantine} {
		if dir != "" {
			written = append(written, absolute(dir))
		}
	}
	seen := map[string]bool{}
	if o.deidentify != "" {
		seen[absolute(o.deidentify)] = true // a key is no input, whatever its name
	}
	add := func(path string) {
		if key := absolute(path); !seen[key] {
			seen[key] = true
			found.files = append(found.files, path)
		}
	}
	fail := func(input string, err error) {
		found.failures = append(found.failures, report.Failure{Input: input, Err: err})
	}
	for _, arg := range args {
		info, err := os.Stat(arg)
		if err != nil {
			fail(arg, err)
			continue
		}
		if !info.IsDir() {
			add(arg)
			continue
		}
		before := len(found.files)
		err = filepath.WalkDir(arg, func(path string, d fs.DirEntry, err error) error {
			switch hidden := strings.HasPrefix(d.Name(), ".") && path != arg; {
			case err != nil:
				fail(path, err)
				return nil
			case d.IsDir() && (hidden || slices.Contains(written, absolute(path))):
				return fs.SkipDir
			case d.IsDir() || hidden || !d.Type().IsRegular():
				return nil
			case slices.Contains(exportEndings, strings.ToLower(filepath.Ext(path))):
				add(path)
			default:
				found.leftOut++
			}
			return nil
		})
		if err == nil && len(found.files) == before && o.archive == "" {
			err = &schemas.Problem{File: arg, Cause: "the folder holds no export",
				Hint: "files of a folder are taken by the ending of their name (" + strings.Join(exportEndings, " ") + "); name others one by one"}
		}
		if err != nil {
			fail(arg, err)
		}
	}
	return found
}

func absolute(path string) string {
	if a, err := filepath.Abs(path); err == nil {
		return a
	}
	return filepath.Clean(path)
}

// groupInputs puts the files together that are parts of one recording.
func groupInputs(files []string, profile *schemas.Profile) []archive.Input {
	groups := ingest.GroupParts(files, profile)
	inputs := make([]archive.Input, len(groups))
	for i, group := range groups {
		inputs[i] = archive.Input{Path: ingest.PartsPath(group, profile), Files: group}
	}
	return inputs
}

// repeatedNames finds the base names that several inputs share.
func repeatedNames(inputs []archive.Input) map[string]bool {
	count := map[string]int{}
	for _, in := range inputs {
		count[filepath.Base(in.Path)]++
	}
	repeated := map[string]bool{}
	for name, n := range count {
		if n > 1 {
			repeated[name] = true
		}
	}
	return repeated
}
