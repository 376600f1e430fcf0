package ingest

import (
	"bytes"
	"strings"
	"testing"

	"github.com/klauspost/compress/gzip"
)

// The first bytes are those the formats' specifications state, written by hand; the pointer
// is the example of the specification of Git LFS.
func TestNotAnExport(t *testing.T) {
	t.Parallel()
	profile := profileOf(t, "column: time", testColumns)
	tar := make([]byte, 1024)
	copy(tar, "flight.csv")
	copy(tar[257:], "ustar\x0000")
	for _, tt := range []struct{ name, data, cause, hint string }{
		{"pointer.mat", "version https://git-lfs.github.com/spec/v1\noid sha256:4d7a214614ab2935c943f9e0ff69d22eadbb8f32b1258daaa5e2ca24d17e2393\nsize 12345\n",
			"is a Git LFS pointer: a few lines in place of the file of 12345 bytes", "git lfs pull"},
		{"page.csv", "\r\n<!DOCTYPE HTML PUBLIC \"-//W3C//DTD HTML 4.01//EN\">\n<html><head>\n<title>\n Sign in </title>", `is a web page, "Sign in", and not an export`, "sign in and download the file again"},
		{"page.parquet", "\xef\xbb\xbf<html lang=en>", "is a web page and not an export", "download the file again"},
		{"list.csv", "<?xml version=\"1.0\"?>\n<Error><Code>AccessDenied</Code>", "is an XML document, not an export", "as CSV"},
		{"data.csv", "{\n  \"flights\": [", "is a JSON document, not an export", "as CSV"},
		{"rows.csv", "[\n {\"time\": 0}", "is a JSON document, not an export", "as CSV"},
		{"none.csv", "{}", "is a JSON document, not an export", "as CSV"},
		{"report.csv", "%PDF-1.7\n", "is a PDF document, not an export", "as CSV"},
		{"old.xls", "\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1\x00\x00", "is an office document in the old binary format", "as CSV"},
		{"a.tar", string(tar), "is a tar archive", "unpack it"},
		{"a.xz", "\xfd7zXZ\x00\x00", "is packed with xz", "gzip, zstd or zip"},
		{"a.bz2", "BZh91AY&SY", "is packed with bzip2", "gzip, zstd or zip"},
		{"a.7z", "7z\xbc\xaf\x27\x1c", "is packed with 7-Zip", "gzip, zstd or zip"},
		{"a.png", "\x89PNG\r\n\x1a\n", "is a picture (PNG)", "export"},
		{"a.db", "SQLite format 3\x00", "is an SQLite database", "as CSV"},
	} {
		var packed bytes.Buffer
		z := gzip.NewWriter(&packed)
		z.Write([]byte(tt.data))
		z.Close()
		for kind, data := range map[string][]byte{"plain": []byte(tt.data), "gzip": packed.Bytes(), "zip": zipped(t, map[string][]byte{tt.name: []byte(tt.data)})} {
			_, err := ReadBytes(tt.name, data, profile)
			_, raw := OpenRawBytes(tt.name, data)
			for _, err := range []error{err, raw} {
				p := problemsOf(t, err)[0]
				if p.File != tt.name || !strings.HasPrefix(p.Cause, tt.cause) || !strings.Contains(p.Hint, tt.hint) {
					t.Errorf("%s, %s: %v, hint %q; want %s", tt.name, kind, p, p.Hint, tt.cause)
				}
			}
		}
	}
	// What begins in a like way and is an export all the same.
	for _, text := range []string{"[Flight 12]\ntime,CAS\n0,1\n", "{x},time,CAS\n,0,1\n", "<flight>\ntime,CAS\n0,1\n", "version 1\ntime,CAS\n0,1\n", "[0.0],time,CAS\n,0,1\n", "BZh,time,CAS\n,0,1\n"} {
		if r := read(t, text, profile); r.Series[0].Len() != 1 {
			t.Errorf("%q: %d samples", text, r.Series[0].Len())
		}
	}
}
