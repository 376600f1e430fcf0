package inspect

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"unicode"

	"downlock/ingest"
)

// mostParts bounds how many files of a folder are opened to see whether they are parts of
// the recording that is inspected.
const mostParts = 8

// partName splits the name of a file before its last word: flight-8hz.csv.gz is flight and
// -8hz.csv.gz. A last word without a letter counts flights or days and is no part; ok is
// false then, and where there is no word before it.
func partName(name string) (stem, ending string, ok bool) {
	word, _, _ := strings.Cut(name, ".")
	i := strings.LastIndexAny(word, "-_ ")
	if i < 1 || !strings.ContainsFunc(word[i:], unicode.IsLetter) {
		return "", "", false
	}
	return name[:i], name[i:], true
}

// partsHint returns a hint that a file and others beside it may be parts of one
// recording, "" for none. Parts share the stem of their names and the kind of file, and
// less than half of their columns; exports of other flights share their columns too.
func partsHint(path string, columns []string, known []string) string {
	folder, name := filepath.Split(path)
	stem, ending, ok := partName(name)
	if !ok || slices.ContainsFunc(known, func(part string) bool { return strings.HasSuffix(name, part) }) {
		return ""
	}
	_, kind, _ := strings.Cut(ending, ".")
	beside, err := os.ReadDir(filepath.Clean(folder))
	if err != nil {
		return "" // a hint is not worth a message of its own
	}
	endings, opened := []string{ending}, 0
	for _, f := range beside {
		s, e, ok := partName(f.Name())
		_, k, _ := strings.Cut(e, ".")
		if !ok || s != stem || k != kind || e == ending || !f.Type().IsRegular() {
			continue
		}
		if opened++; opened > mostParts {
			return "" // so many are a folder of flights
		}
		raw, err := ingest.OpenRaw(filepath.Join(folder, f.Name()))
		if err != nil {
			continue
		}
		shared := 0
		for _, c := range raw.Columns {
			if slices.Contains(columns, c.Name) {
				shared++
			}
		}
		if 2*shared < min(len(columns), len(raw.Columns)) {
			endings = append(endings, e)
		}
	}
	if len(endings) == 1 {
		return ""
	}
	slices.Sort(endings)
	quoted := make([]string, len(endings))
	for i, e := range endings {
		quoted[i] = fmt.Sprintf("%q", e)
	}
	return fmt.Sprintf("%s: files beside it begin with the same %q and have other columns; if they are one recording, add to the profile   parts: [%s]",
		path, stem, strings.Join(quoted, ", "))
}

// hintParts says once for each recording that its files may be parts.
func (i *inspection) hintParts(files []inspectedFile) {
	var known []string
	if i.profile != nil {
		known = i.profile.Parts
	}
	said := map[string]bool{} // stems, with their folders
	for _, f := range files {
		stem, _, ok := partName(filepath.Base(f.Path))
		key := filepath.Join(filepath.Dir(f.Path), stem)
		if !ok || said[key] {
			continue
		}
		var columns []string
		for _, c := range f.Survey.Columns {
			columns = append(columns, c.Name)
		}
		if hint := partsHint(f.Path, columns, known); hint != "" {
			said[key] = true
			i.say.Note(hint)
		}
	}
}
