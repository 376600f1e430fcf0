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

// exportEndings are the endings of names that files of a folder must have to be read. A
// file on the command line is read whatever its name. The content decides its format.
var exportEndings = []string{".csv", ".tsv", ".txt", ".gz", ".zst", ".parquet", ".arrow", ".feather", ".ipc", ".mat", ".xlsx", ".xlsm", ".zip"}

// foundInputs are the inputs that the arguments name.
type foundInputs struct {
	files    []string // each once, in the order of the arguments, and of names in a folder
	failures []report.Failure
	leftOut  int // files of folders whose names have another ending
}

// findInputs lists the files to read. A file or folder that cannot be read is a failure
// of its own. Hidden files and the folders that the run writes to are left out. A folder
// without an export is a failure, except with an archive, since there are nights
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

// groupInputs makes one input of files that are parts of one recording.
func groupInputs(files []string, profile *schemas.Profile) []archive.Input {
	groups := ingest.GroupParts(files, profile)
	inputs := make([]archive.Input, len(groups))
	for i, group := range groups {
		inputs[i] = archive.Input{Path: ingest.PartsPath(group, profile), Files: group}
	}
	return inputs
}

// repeatedNames returns the base names that several inputs share.
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
