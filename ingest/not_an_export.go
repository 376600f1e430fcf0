package ingest

import (
	"bytes"
	"fmt"
	"regexp"
	"strings"
)

// otherFiles are files that stand where an export was expected, by their first bytes.
var otherFiles = []struct {
	magic, is, hint string
}{
	{"%PDF-", "a PDF document", "it is for printing: export the recording as CSV"},
	{"{\\rtf", "a text document (RTF)", "save it as plain text, or export the recording as CSV"},
	{"\x89PNG\r\n", "a picture (PNG)", "give the export that it was made from"},
	{"\xff\xd8\xff", "a picture (JPEG)", "give the export that it was made from"},
	{"SQLite format 3\x00", "an SQLite database", "export the recording's table as CSV or Parquet"},
	{"7z\xbc\xaf\x27\x1c", "packed with 7-Zip", unpackHint},
	{"Rar!\x1a\x07", "packed with RAR", unpackHint},
	{"BZh91AY&SY", "packed with bzip2", unpackHint},
	{"\xfd7zXZ\x00", "packed with xz", unpackHint},
}

const unpackHint = "unpack it, or pack it with gzip, zstd or zip"

const (
	lfsPointer    = "version https://git-lfs.github.com/spec/v1" // read: the specification of Git LFS, "The Pointer"
	webPageHint   = "the download returned a web page, often a login or an error: open the address in a browser, sign in and download the file again"
	markupHint    = "export the recording as CSV, Parquet or Arrow"
	foreignPeeked = 512
)

var (
	jsonStart = regexp.MustCompile(`^(\{\s*("[^"]*"\s*:|\})|\[\s*[\[{])`)
	lfsSize   = regexp.MustCompile(`(?m)^size ([0-9]{1,18})$`)
	pageTitle = regexp.MustCompile(`(?is)<title[^>]*>\s*([^<]*[^<\s])`)
)

// notAnExport tells files by their first bytes that are no export of a recording; cause is
// "" for all else. A text is one only where it cannot be the head of a CSV export too.
func notAnExport(head []byte) (cause, hint string) {
	for _, f := range otherFiles {
		if bytes.HasPrefix(head, []byte(f.magic)) {
			return "is " + f.is + ", not an export", f.hint
		}
	}
	if len(head) > 262 && string(head[257:262]) == "ustar" {
		return "is a tar archive, not an export", "unpack it and name the exports in it"
	}
	text := bytes.TrimSpace(bytes.TrimPrefix(head, []byte("\xef\xbb\xbf")))
	start := strings.ToLower(string(text[:min(len(text), 64)]))
	switch {
	case strings.HasPrefix(start, lfsPointer):
		size := ""
		if m := lfsSize.FindSubmatch(text); m != nil {
			size = fmt.Sprintf(" of %s bytes", m[1])
		}
		return "is a Git LFS pointer: a few lines in place of the file" + size, "fetch the file itself with git lfs pull, or download it from its own address"
	case hasAnyPrefix(start, "<!doctype html", "<html", "<head", "<body"):
		title := ""
		if m := pageTitle.FindSubmatch(text); m != nil {
			title = fmt.Sprintf(", %q,", clip(string(m[1])))
		}
		return "is a web page" + title + " and not an export", webPageHint
	case hasAnyPrefix(start, "<?xml", "<!doctype"):
		return "is an XML document, not an export", markupHint
	case jsonStart.Match(text):
		return "is a JSON document, not an export", markupHint
	}
	return "", ""
}

func hasAnyPrefix(text string, prefixes ...string) bool {
	for _, p := range prefixes {
		if strings.HasPrefix(text, p) {
			return true
		}
	}
	return false
}
