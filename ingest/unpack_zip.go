package ingest

import (
	"bytes"
	"fmt"
	"io"
	"path"
	"strings"

	"github.com/klauspost/compress/zip"

	"downlock/schemas"
)

// encrypted is the bit of a zip entry's flags that says so.
const encrypted = 1

// openZip opens the one export in a zip archive, whose directory stands at its
// end, so that it is read as a whole. The names in it are shown and used for
// nothing else.
func openZip(file string, in io.Reader, limit int64) (content io.Reader, closeIt func(), err error) {
	var whole bytes.Buffer
	if n, err := whole.ReadFrom(io.LimitReader(in, limit+1)); err != nil {
		return nil, nil, err
	} else if n > limit {
		return nil, nil, tooLarge(file, limit)
	}
	archive, err := zip.NewReader(bytes.NewReader(whole.Bytes()), int64(whole.Len()))
	if err != nil {
		return nil, nil, err
	}
	entry, problem := onlyExport(file, archive.File)
	if problem != nil {
		return nil, nil, problem
	}
	opened, err := entry.Open()
	if err != nil {
		return nil, nil, fmt.Errorf("%q in it: %w", clip(entry.Name), err)
	}
	return opened, func() { opened.Close() }, nil
}

// onlyExport picks the one file of an archive, besides folders and the hidden
// files that packing tools add.
func onlyExport(file string, entries []*zip.File) (*zip.File, *schemas.Problem) {
	var files []*zip.File
	var names []string
	for _, e := range entries {
		name := strings.ReplaceAll(e.Name, `\`, "/")
		if name == "[Content_Types].xml" {
			return nil, &schemas.Problem{File: file, Cause: "is a spreadsheet or another office document", Hint: "save it as CSV"}
		}
		hidden := strings.HasPrefix(path.Base(name), ".") || strings.HasPrefix(name, "__MACOSX/")
		if hidden || strings.HasSuffix(name, "/") || e.Mode().IsDir() {
			continue
		}
		files, names = append(files, e), append(names, e.Name)
	}
	switch {
	case len(files) == 0:
		return nil, &schemas.Problem{File: file, Cause: "is a zip archive with no file in it", Hint: "pack the export again"}
	case len(files) > 1:
		return nil, &schemas.Problem{File: file, Cause: fmt.Sprintf("is a zip archive with %d files in it: %s", len(files), listed(names)),
			Hint: "unpack it and name the exports, or pack each export alone"}
	case files[0].Flags&encrypted != 0:
		return nil, &schemas.Problem{File: file, Cause: "is a zip archive with a password", Hint: "unpack it with its password and name the export in it"}
	}
	return files[0], nil
}
