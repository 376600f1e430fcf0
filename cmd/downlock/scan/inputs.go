package scan

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"downlock/cmd/downlock/command"
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
	leftOut  leftOut
	followed []string                 // links out of a folder
	lost     []string                 // links to nothing, and in a circle
	empty    []string                 // folders without an export, where that is allowed
	gone     []string                 // inputs that are not there, where that is allowed
	listed   map[string]archive.Sight // of the objects, as their store listed them
}

// findInputs lists the files to read. A file or folder that cannot be read is a failure
// of its own, and so are a pipe and a device, and a folder without an export unless the
// options allow it. Hidden files and the folders that the run writes to are left out.
func findInputs(args []string, o scanOptions) (found foundInputs) {
	found.listed = map[string]archive.Sight{}
	s := search{found: &found, own: map[string]bool{}, seen: map[string]bool{}}
	for _, path := range append([]string{o.out, o.archive, o.quarantine, o.profile, o.fleet, o.aerodromes, o.deidentify, o.summary, o.metrics}, o.rules...) {
		if path != "" {
			s.own[schemas.Absolute(path)], s.own[resolved(path)] = true, true
		}
	}
	for _, arg := range args {
		if arg == command.Stdin {
			if !s.seen[arg] {
				s.seen[arg] = true
				found.files = append(found.files, arg)
			}
			continue
		}
		if schemas.IsObject(arg) {
			s.objects(arg, o.allowEmpty)
			continue
		}
		info, err := os.Stat(arg)
		switch {
		case errors.Is(err, fs.ErrNotExist) && o.allowEmpty && schemas.OtherAddress(arg) == nil:
			found.gone = append(found.gone, arg)
			continue
		case err != nil || !info.IsDir():
			err = ingest.CheckFile(arg)
		}
		switch {
		case err != nil:
			s.fail(arg, err)
			continue
		case !info.IsDir():
			if o.deidentify == "" || schemas.Absolute(arg) != schemas.Absolute(o.deidentify) { // a key is no input, whatever its name
				s.add(arg)
			}
			continue
		}
		switch exports := s.folder(arg); {
		case exports > 0:
		case o.allowEmpty:
			found.empty = append(found.empty, arg)
		default:
			s.fail(arg, &schemas.Problem{File: arg, Cause: "the folder has no export", Hint: emptyHint})
		}
	}
	return found
}

var emptyHint = "check that the download works; --allow-empty accepts an empty folder. In a folder, files are chosen by the ending of their names (" + strings.Join(exportEndings, " ") + "); name other files one by one"

// takenFor names a folder that is an input and where the run is to write, "" for none.
func (o *scanOptions) takenFor(args []string) (folder, flag string) {
	for _, arg := range args {
		for _, own := range []struct{ folder, flag string }{{o.archive, "--archive"}, {o.quarantine, "--quarantine"}, {o.out, "--out"}} {
			if own.folder != "" && resolved(arg) == resolved(own.folder) {
				return arg, own.flag
			}
		}
	}
	return "", ""
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
