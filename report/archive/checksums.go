package archive

import (
	"bufio"
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
)

// The archive lists its own files: every part of the five tables and every shard of the
// ledger, with size and SHA-256, so that one that is damaged, missing, of another time or
// foreign is noticed. The list is a file of lines of JSON after a line with the SHA-256 of
// the rest. An archive written before there was a list has none until the first commit to
// it, which reads all of it once.
//
// A commit compares the whole SHA-256 of every file it reads. A reader compares the size and
// the last 64 KiB alone, since a big archive takes long to read: there Parquet has its
// footer, which tells the place and the bounds of every column. What is damaged before
// that, the library notices by the checksum of the page.
//
// A change puts the list in place first, with both sums of every file that is about to
// change: whoever reads meanwhile, or after a run was cut off, knows that both are right
// and that the archive is neither the old nor the new one.
const (
	checksumsName   = "checksums"
	changingName    = "checksums.changing" // below the folder for new files alone
	checksumsSchema = "downlock checksums 1"
	tailLength      = 64 << 10
)

// fileSum is the content of a file in figures; the zero value is that of no file.
type fileSum struct {
	Bytes  int64  `json:"bytes"`
	SHA256 string `json:"sha256"`
	// Tail is the SHA-256 of the last tailLength bytes; "" for a file that is not longer.
	Tail string `json:"tail_sha256,omitempty"`
}

// listedFile is the entry of one file.
type listedFile struct {
	Key string `json:"key"` // path below the archive, with slashes
	fileSum
	Before *fileSum `json:"before,omitempty"` // in a list of files that are changing
	// Lost are recordings whose rows a part has lost and not got back yet, sorted. A part
	// that has lost all of them has no file.
	Lost []string `json:"lost,omitempty"`
}

// checksums is the list.
type checksums struct {
	Schema   string `json:"schema"`
	Identity string `json:"identity,omitempty"` // text of the identity file
	Changing bool   `json:"changing,omitempty"`

	files map[string]listedFile
}

// readChecksums reads a list; nil where there is none. The error is a schemas.Problem or
// one of reading.
func readChecksums(path string) (*checksums, error) {
	text, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	c, err := parseChecksums(text)
	if err != nil {
		return nil, damaged(path, err)
	}
	ofRuns := filepath.Base(filepath.Dir(path)) == runsFolder
	for _, key := range sortedKeys(c.files) {
		if strings.HasPrefix(key, runsFolder+"/") != ofRuns {
			return nil, damaged(path, errors.New("it lists "+key+", which belongs into another list"))
		}
	}
	return c, nil
}

// parseChecksums reads the text of a list.
func parseChecksums(text []byte) (*checksums, error) {
	body, ok := checkedBody(text)
	if !ok {
		return nil, errors.New("the list of checksums does not have the checksum of its first line")
	}
	lines := bufio.NewScanner(bytes.NewReader(body))
	lines.Buffer(nil, len(body)+1)
	c := &checksums{files: map[string]listedFile{}}
	if !lines.Scan() || json.Unmarshal(lines.Bytes(), c) != nil || c.Schema != checksumsSchema {
		return nil, fmt.Errorf("it should begin as %q", checksumsSchema)
	}
	for lines.Scan() {
		var f listedFile
		if err := json.Unmarshal(lines.Bytes(), &f); err != nil {
			return nil, err
		}
		if !filepath.IsLocal(filepath.FromSlash(f.Key)) {
			return nil, fmt.Errorf("%.80q is not a file of an archive", f.Key)
		}
		c.files[f.Key] = f
	}
	return c, lines.Err()
}

// text is the list as a file.
func (c *checksums) text() []byte {
	var body bytes.Buffer
	c.Schema = checksumsSchema
	body.Write(append(marshal(c), '\n'))
	for _, key := range sortedKeys(c.files) {
		body.Write(append(marshal(c.files[key]), '\n'))
	}
	return checkedText(body.Bytes())
}

// checkedText puts a line with the SHA-256 of a text before it.
func checkedText(body []byte) []byte {
	sum := sha256.Sum256(body)
	return append([]byte(hex.EncodeToString(sum[:])+"\n"), body...)
}

// checkedBody returns the text after the line with its SHA-256; ok is false where that is
// another one.
func checkedBody(text []byte) (body []byte, ok bool) {
	const sumLength = 2*sha256.Size + 1
	if len(text) < sumLength {
		return nil, false
	}
	body = text[sumLength:]
	sum := sha256.Sum256(body)
	return body, string(text[:sumLength]) == hex.EncodeToString(sum[:])+"\n"
}

// sumFile reads a file; the sum of one that is not there is zero.
func sumFile(path string) (fileSum, error) {
	return sumOf(path, true)
}

// tailOf reads the size and the tail of a file; SHA256 is "" unless that is all of it.
func tailOf(path string) (fileSum, error) {
	return sumOf(path, false)
}

// sumOfText is the sum of a file of that text.
func sumOfText(text []byte) fileSum {
	whole := sha256.Sum256(text)
	s := fileSum{Bytes: int64(len(text)), SHA256: hex.EncodeToString(whole[:])}
	if len(text) > tailLength {
		tail := sha256.Sum256(text[len(text)-tailLength:])
		s.Tail = hex.EncodeToString(tail[:])
	}
	return s
}

func sumOf(path string, whole bool) (s fileSum, err error) {
	f, err := os.Open(path)
	if errors.Is(err, fs.ErrNotExist) {
		return s, nil
	}
	if err != nil {
		return s, err
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return s, err
	}
	s.Bytes = info.Size()
	hashed := func(from int64) string {
		h := sha256.New()
		if err == nil {
			_, err = io.Copy(h, io.NewSectionReader(f, from, s.Bytes-from))
		}
		return hex.EncodeToString(h.Sum(nil))
	}
	if s.Bytes > tailLength {
		s.Tail = hashed(s.Bytes - tailLength)
	}
	if whole || s.Bytes <= tailLength {
		s.SHA256 = hashed(0)
	}
	return s, err
}

// looksLike reports whether a file may be the one of the sum, by its size and tail.
func (s fileSum) looksLike(other fileSum) bool {
	return s.Bytes == other.Bytes && s.Tail == other.Tail && (s.SHA256 == other.SHA256 || s.Tail != "")
}

// exists reports whether the sum is that of a file.
func (s fileSum) exists() bool { return s.SHA256 != "" || s.Tail != "" }

// allows reports whether the file may have the sum, which compare decides.
func (f listedFile) allows(s fileSum, compare func(a, b fileSum) bool) bool {
	return compare(f.fileSum, s) || f.Before != nil && compare(*f.Before, s)
}

func sameSum(a, b fileSum) bool { return a == b }

// fault words how a file differs from its entry; nil where it does not.
func (f listedFile) fault(s fileSum, compare func(a, b fileSum) bool) error {
	switch {
	case f.allows(s, compare):
		return nil
	case !s.exists():
		return errors.New("the file is missing")
	case !f.exists():
		return errors.New("the file is none of this archive")
	case f.Bytes != s.Bytes:
		return fmt.Errorf("it has %d bytes where downlock wrote %d", s.Bytes, f.Bytes)
	}
	return errors.New("its bytes are not those downlock wrote")
}

// isListed reports whether the path of a file is of a kind that is listed.
func isListed(key string) bool {
	return strings.HasPrefix(key, tablesFolder+"/") || strings.HasPrefix(key, ledgerFolder+"/")
}

// listedFiles are the files below the archive of the kinds that are listed: parts of the five
// tables, and shards of the ledger.
func listedFiles(dir string) (names []string, err error) {
	patterns := []string{filepath.Join(ledgerFolder, "inputs", "*"+shardEnding), filepath.Join(ledgerFolder, "recordings", "*"+shardEnding)}
	for i := range tables {
		patterns = append(patterns, partPath(tables[i].name, "*"))
	}
	for _, pattern := range patterns {
		found, err := fs.Glob(os.DirFS(dir), filepath.ToSlash(pattern))
		if err != nil {
			return nil, err
		}
		names = append(names, found...)
	}
	return names, nil
}

// loadChecksums reads the list for a run. After a change that was cut off each file is the
// one or the other; the list then holds the one that is there.
func (a *Archive) loadChecksums() error {
	c, err := readChecksums(filepath.Join(a.dir, checksumsName))
	if err == nil && c == nil {
		err = lostChecksums(a.dir)
	}
	if err != nil || c == nil {
		return err
	}
	for key, f := range c.files {
		if f.Before == nil {
			continue
		}
		now, err := sumFile(filepath.Join(a.dir, filepath.FromSlash(key)))
		if err != nil {
			return err
		}
		if now == *f.Before {
			f.fileSum = now
		}
		f.Before = nil
		c.put(f)
	}
	a.sums = c
	return nil
}

// lostChecksums is the problem of an archive whose lines of the ledger have checks, as
// those in an archive with a list have, and that has no list.
func lostChecksums(dir string) error {
	shards, err := fs.Glob(os.DirFS(dir), ledgerFolder+"/*/*"+shardEnding)
	if err != nil || len(shards) == 0 {
		return err
	}
	for _, shard := range shards {
		text, err := firstLine(filepath.Join(dir, shard))
		if err != nil {
			return err
		}
		if _, checked := splitCheck(text); checked {
			return damaged(filepath.Join(dir, checksumsName), errors.New("the list of checksums is missing"))
		}
	}
	return nil
}

func firstLine(path string) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	text, err := bufio.NewReader(io.LimitReader(f, maxLedgerLine)).ReadBytes('\n')
	if errors.Is(err, io.EOF) {
		err = nil
	}
	return bytes.TrimSuffix(text, []byte("\n")), err
}

// put notes a file; one that is not there and has lost no row leaves the list.
func (c *checksums) put(f listedFile) {
	if !f.exists() && len(f.Lost) == 0 && f.Before == nil {
		delete(c.files, f.Key)
		return
	}
	c.files[f.Key] = f
}

// clone returns a copy that can be changed.
func (c *checksums) clone() *checksums {
	out := &checksums{Identity: c.Identity, files: map[string]listedFile{}}
	for key, f := range c.files {
		out.files[key] = f
	}
	return out
}

// check compares a file that a commit is about to read with the list. An archive without a
// list has none to compare with.
func (a *Archive) check(name string) error {
	if a.sums == nil {
		return nil
	}
	path := filepath.Join(a.dir, name)
	s, err := sumFile(path)
	if err != nil {
		return damaged(path, err)
	}
	if fault := a.sums.files[filepath.ToSlash(name)].fault(s, sameSum); fault != nil {
		return damaged(path, fault)
	}
	return nil
}

// nextChecksums are the lists of a change: while it is under way, and once it is done. An
// archive without a list gets one of all its files. Files that are there already as they
// will be are taken out of the change.
func (a *Archive) nextChecksums(over *changeover) (changing, after *checksums, err error) {
	now := a.sums
	if now == nil {
		if now, err = a.firstChecksums(); err != nil {
			return nil, nil, err
		}
	}
	changing, after = now.clone(), now.clone()
	changing.Changing = true
	for i, group := range over.groups {
		moves := group[:0]
		for _, step := range group {
			key := filepath.ToSlash(step.name)
			if !isListed(key) {
				moves = append(moves, step)
				continue
			}
			f := listedFile{Key: key, Lost: over.lost[key]}
			if step.stays {
				if f.fileSum, err = sumFile(a.newFile(step.name)); err != nil {
					return nil, nil, err
				}
			}
			after.put(f)
			before := now.files[key].fileSum
			if f.fileSum == before {
				continue
			}
			f.Before = &before
			changing.put(f)
			moves = append(moves, step)
		}
		over.groups[i] = moves
	}
	return changing, after, nil
}

// firstChecksums sums all files of an archive that has no list.
func (a *Archive) firstChecksums() (*checksums, error) {
	c := &checksums{files: map[string]listedFile{}}
	mark, err := os.ReadFile(filepath.Join(a.dir, markName))
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, err
	}
	c.Identity = string(mark)
	names, err := listedFiles(a.dir)
	if err != nil {
		return nil, err
	}
	for _, name := range names {
		s, err := sumFile(filepath.Join(a.dir, name))
		if err != nil {
			return nil, err
		}
		c.put(listedFile{Key: name, fileSum: s})
	}
	return c, nil
}

// isPart reports whether the path of a listed file is that of a part, and returns its table
// and month.
func isPart(key string) (table, month string, ok bool) {
	parts := strings.Split(key, "/")
	if len(parts) != 4 || parts[0] != tablesFolder {
		return "", "", false
	}
	month, ok = strings.CutPrefix(parts[2], "month=")
	return parts[1], month, ok
}
