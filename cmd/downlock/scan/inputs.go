package scan

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"downlock/report"
	"downlock/schemas"
)

// exportEndings are the endings of names that files of a folder must have to be read. A
// file on the command line is read whatever its name. The content decides its format.
var exportEndings = []string{".csv", ".tsv", ".txt", ".gz", ".zst", ".parquet", ".arrow", ".feather", ".ipc", ".mat", ".xlsx", ".xlsm", ".zip"}

// foundInputs are the inputs that the arguments name.
type foundInputs struct {
	files    []string // each once, in the order of the arguments, and of names in a folder
	failures []report.Failure
	leftOut  leftOut
	empty    []string // folders without an export, where that is allowed
	gone     []string // inputs that are not there, where that is allowed
}

// findInputs lists the files to read. A file or folder that cannot be read is a failure
// of its own, and so is a folder without an export unless the options allow it. Hidden
// files and the folders that the run writes to are left out.
func findInputs(args []string, o scanOptions) (found foundInputs) {
	own := map[string]bool{} // files and folders of the command line that are no inputs
	for _, path := range append([]string{o.out, o.archive, o.quarantine, o.profile, o.fleet, o.aerodromes, o.deidentify, o.summary, o.metrics}, o.rules...) {
		if path != "" {
			own[absolute(path)] = true
		}
	}
	seen := map[string]bool{}
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
		switch {
		case errors.Is(err, fs.ErrNotExist) && o.allowEmpty:
			found.gone = append(found.gone, arg)
			continue
		case err != nil:
			fail(arg, err)
			continue
		case !info.IsDir():
			if o.deidentify == "" || absolute(arg) != absolute(o.deidentify) { // a key is no input, whatever its name
				add(arg)
			}
			continue
		}
		exports := 0
		err = filepath.WalkDir(arg, func(path string, d fs.DirEntry, err error) error {
			switch hidden := strings.HasPrefix(d.Name(), ".") && path != arg; {
			case err != nil:
				fail(path, err)
				return nil
			case own[absolute(path)] && d.IsDir():
				return fs.SkipDir
			case d.IsDir() && hidden:
				found.leftOut.add(path + string(filepath.Separator))
				return fs.SkipDir
			case d.IsDir() || own[absolute(path)]:
				return nil
			case !hidden && d.Type().IsRegular() && slices.Contains(exportEndings, strings.ToLower(filepath.Ext(path))):
				exports++
				add(path)
			default:
				found.leftOut.add(path)
			}
			return nil
		})
		switch {
		case err != nil:
			fail(arg, err)
		case exports == 0 && o.allowEmpty:
			found.empty = append(found.empty, arg)
		case exports == 0:
			fail(arg, &schemas.Problem{File: arg, Cause: "the folder holds no export",
				Hint: "see that the download works; --allow-empty lets this pass. Files of a folder are taken by the ending of their name (" + strings.Join(exportEndings, " ") + "); name others one by one"})
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

// repeatedNames returns the base names that several inputs share.
func repeatedNames(inputs []input) map[string]bool {
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
