package main

import (
	"crypto/sha256"
	"encoding/hex"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"downlock/report"
	"downlock/schemas"
	"downlock/testdata"
)

// exportEndings are the names files of a folder are taken by; a file named on
// the command line is read whatever its name. What a file holds is told from
// its content.
var exportEndings = []string{".csv", ".tsv", ".txt", ".gz", ".zst", ".parquet", ".arrow", ".feather", ".ipc"}

// findInputs lists the files to read, in order of the arguments and, in a
// folder, of name, each once. What cannot be read is a failure of its own.
// Hidden files and the output folder are left out.
func findInputs(args []string, out string) (files []string, failures []report.Failure, skipped int) {
	seen := map[string]bool{}
	add := func(path string) {
		if key := absolute(path); !seen[key] {
			seen[key] = true
			files = append(files, path)
		}
	}
	for _, arg := range args {
		info, err := os.Stat(arg)
		if err != nil {
			failures = append(failures, report.Failure{Input: arg, Err: err})
			continue
		}
		if !info.IsDir() {
			add(arg)
			continue
		}
		before := len(files)
		err = filepath.WalkDir(arg, func(path string, d fs.DirEntry, err error) error {
			switch hidden := strings.HasPrefix(d.Name(), ".") && path != arg; {
			case err != nil:
				failures = append(failures, report.Failure{Input: path, Err: err})
				return nil
			case d.IsDir() && (hidden || absolute(path) == absolute(out)):
				return fs.SkipDir
			case d.IsDir() || hidden || !d.Type().IsRegular():
				return nil
			case slices.Contains(exportEndings, strings.ToLower(filepath.Ext(path))):
				add(path)
			default:
				skipped++
			}
			return nil
		})
		if err == nil && len(files) == before {
			err = &schemas.Problem{File: arg, Cause: "the folder holds no export",
				Hint: "files of a folder are taken by the ending of their name (" + strings.Join(exportEndings, " ") + "); name others one by one"}
		}
		if err != nil {
			failures = append(failures, report.Failure{Input: arg, Err: err})
		}
	}
	return files, failures, skipped
}

func absolute(path string) string {
	if a, err := filepath.Abs(path); err == nil {
		return a
	}
	return filepath.Clean(path)
}

// repeatedNames finds the base names that several files share.
func repeatedNames(files []string) map[string]bool {
	count := map[string]int{}
	for _, f := range files {
		count[filepath.Base(f)]++
	}
	repeated := map[string]bool{}
	for name, n := range count {
		if n > 1 {
			repeated[name] = true
		}
	}
	return repeated
}

// firstForeign is the first of the files that is not shipped demo data, "" when
// all are.
func firstForeign(files []string) string {
	for _, f := range files {
		if sum, err := fileSum(f); err == nil && !testdata.IsDemo(sum) {
			return f
		}
	}
	return ""
}

func fileSum(path string) (string, error) {
	f, err := os.Open(path)
	if err != nil {
		return "", err
	}
	defer f.Close()
	h := sha256.New()
	if _, err := io.Copy(h, f); err != nil {
		return "", err
	}
	return hex.EncodeToString(h.Sum(nil)), nil
}
