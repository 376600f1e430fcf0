package archive

import (
	"bufio"
	"errors"
	"io"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"strings"
)

// Source is an input that holds a recording, with the settings it was scanned with, as in
// Run and schemas.Profile.
type Source struct {
	Path         string // absolute; tokens where identity is withheld
	Profile      string // SHA-256, in hex
	Packs        []string
	Registration string
	FileDate     string
	Aerodromes   string
	Version      string
}

// Sources lists the inputs that the ledger knows a recording from, by the hash of its content; none
// where names were pruned. No lock is needed. The error is a schemas.Problem of a damaged
// ledger, or one of reading.
func Sources(dir, recording string) (sources []Source, err error) {
	if !isHash(recording) {
		return nil, nil
	}
	shard := filepath.Join(dir, recordingShard(recording))
	line, err := findLine(shard, recording)
	if err != nil || line == nil {
		return nil, err
	}
	held, err := decodeLine[recordingEntry](shard, line)
	if err != nil {
		return nil, err
	}
	shards, err := filepath.Glob(filepath.Join(dir, ledgerFolder, "inputs", "*.jsonl"))
	if err != nil {
		return nil, err
	}
	for _, h := range held.Holders {
		for _, shard := range shards { // the key of a path does not tell its folder
			line, err := findLine(shard, h.Input)
			if err != nil {
				return nil, err
			}
			if line == nil {
				continue
			}
			e, err := decodeLine[inputEntry](shard, line)
			if err != nil {
				return nil, err
			}
			sources = append(sources, Source{e.Path, e.Profile, e.Packs, e.Registration, e.FileDate, e.Aerodromes, e.Version})
			break
		}
	}
	return sources, nil
}

// SameSetting reports whether a source was scanned with the settings of the run, so that
// a scan now finds what the archive holds.
func (s *Source) SameSetting(run *Run) bool {
	setting := newSetting(run)
	return s.Profile == setting.Profile && s.Registration == setting.Registration && s.FileDate == setting.FileDate && s.Aerodromes == setting.Aerodromes &&
		s.Version == setting.Version && strings.Join(s.Packs, "\n") == strings.Join(setting.Packs, "\n")
}

func isHash(text string) bool {
	return len(text) >= 2 && strings.Trim(text, "0123456789abcdef") == ""
}

// findLine finds the line of a key in a shard; nil where there is none. Lines are sorted,
// so it halves the file: a shard may hold thousands.
func findLine(shard, key string) (line []byte, err error) {
	f, err := os.Open(shard)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return nil, err
	}
	for low, high := int64(0), info.Size(); low < high; { // the line begins at low or after it, before high
		middle := low + (high-low)/2
		begin, text, err := lineAfter(f, middle)
		if err != nil {
			return nil, damaged(shard, err)
		}
		found, _ := lineKey(text)
		switch {
		case text == nil || begin >= high || found > key:
			high = middle
		case found == key:
			return text, nil
		default:
			low = begin + int64(len(text)) + 1
		}
	}
	return nil, nil
}

// lineAfter reads the first line that begins at a place in the file or after it, and says
// where it begins; text is nil past the last line.
func lineAfter(f *os.File, at int64) (begin int64, text []byte, err error) {
	begin = max(0, at-1) // which ends a line where one begins at the place
	lines := bufio.NewScanner(io.NewSectionReader(f, begin, math.MaxInt64-begin))
	lines.Buffer(nil, maxLedgerLine)
	if at > 0 && lines.Scan() {
		begin += int64(len(lines.Bytes())) + 1
	}
	if lines.Scan() {
		text = lines.Bytes()
	}
	return begin, text, lines.Err()
}
