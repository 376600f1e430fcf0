package ingest

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
	"path"
	"strings"

	"github.com/klauspost/compress/zip"

	"downlock/ingest/workbook"
	"downlock/schemas"
)

// encrypted is the bit of a zip entry's flags that says so.
const encrypted = 1

// openZip opens the one export in a zip archive, whose directory stands at its
// end, so that it is read as a whole. The names in it are shown and used for
// nothing else. The archive may be a workbook, which is content itself.
func (c *content) openZip(in *bufio.Reader, limit int64) (io.Reader, error) {
	head, _ := in.Peek(64)
	mayBeBook := workbook.Begins(head)
	if mayBeBook && c.raw.size > workbook.MostBytes {
		return nil, largeWorkbook(c.file, fmt.Sprintf("is a workbook of %d MiB", c.raw.size>>20))
	}
	var whole bytes.Buffer
	whole.Grow(int(min(max(c.raw.size, 0), limit)) + bytes.MinRead)
	most := limit
	if mayBeBook {
		most = min(limit, workbook.MostBytes)
	}
	if n, err := whole.ReadFrom(io.LimitReader(in, most+1)); err != nil {
		return nil, err
	} else if n > limit {
		return nil, tooLarge(c.file, limit)
	} else if n > most {
		return nil, largeWorkbook(c.file, "is a workbook")
	}
	archive, err := zip.NewReader(bytes.NewReader(whole.Bytes()), int64(whole.Len()))
	if err != nil {
		return nil, err
	}
	names := make([]string, len(archive.File))
	for i, f := range archive.File {
		names[i] = f.Name
	}
	if workbook.Is(names) {
		if whole.Len() > workbook.MostBytes {
			return nil, largeWorkbook(c.file, fmt.Sprintf("is a workbook of %d MiB", whole.Len()>>20))
		}
		c.workbook = whole.Bytes()
		return bytes.NewReader(nil), nil
	}
	entry, problem := onlyExport(c.file, archive.File)
	if problem != nil {
		return nil, problem
	}
	opened, err := entry.Open()
	if err != nil {
		return nil, fmt.Errorf("%q in it: %w", clip(entry.Name), err)
	}
	c.close = func() { opened.Close() }
	return opened, nil
}

// largeWorkbook is the problem of a workbook beyond what is held in memory as a whole.
func largeWorkbook(file, cause string) *schemas.Problem {
	return &schemas.Problem{File: file, Cause: fmt.Sprintf("%s; workbooks of at most %d MiB are read", cause, workbook.MostBytes>>20),
		Hint: "save the sheet as CSV, which may have any size and is read many times faster"}
}

// onlyExport picks the one file of an archive, besides folders and the hidden
// files that packing tools add.
func onlyExport(file string, entries []*zip.File) (*zip.File, *schemas.Problem) {
	var files []*zip.File
	var names []string
	for _, e := range entries {
		name := strings.ReplaceAll(e.Name, `\`, "/")
		if name == "[Content_Types].xml" || name == "mimetype" {
			return nil, &schemas.Problem{File: file, Cause: "is an office document, but not a workbook (.xlsx)", Hint: "save the sheet as .xlsx or CSV"}
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
			Hint: "unpack it and name the exports, or pack each export separately"}
	case files[0].Flags&encrypted != 0:
		return nil, &schemas.Problem{File: file, Cause: "is a zip archive with a password", Hint: "unpack it with its password and name the export in it"}
	}
	return files[0], nil
}

// checkParts reads the parts of a zip archive for their checksums, as far as the limit goes.
func checkParts(whole []byte, limit int64) error {
	archive, err := zip.NewReader(bytes.NewReader(whole), int64(len(whole)))
	if err != nil {
		return err
	}
	for _, part := range archive.File {
		in, err := part.Open()
		if err != nil {
			return fmt.Errorf("part %q: %w", clip(part.Name), err)
		}
		n, err := io.Copy(io.Discard, io.LimitReader(in, limit+1))
		in.Close()
		if err != nil {
			return fmt.Errorf("part %q: %w", clip(part.Name), err)
		}
		if limit -= n; limit < 0 {
			return nil
		}
	}
	return nil
}
