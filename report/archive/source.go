package archive

import (
	"bufio"
	"bytes"
	"errors"
	"io"
	"io/fs"
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
// so it halves the file until few bytes are left: a shard may hold thousands.
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
	low, high := int64(0), info.Size() // the line begins at low or after it, before high
	for high-low > 64<<10 {
		middle := low + (high-low)/2
		_, begin, text, err := lineAfter(f, middle)
		if err != nil {
			return nil, damaged(shard, err)
		}
		found, _ := lineKey(text)
		if text == nil || begin >= high || found > key {
			high = middle
		} else {
			low = begin
		}
	}
	if low > 0 {
		low-- // so that the line at low is one after a line end
	}
	for at := low; ; {
		end, begin, text, err := lineAfter(f, at)
		if err != nil {
			return nil, damaged(shard, err)
		}
		found, ok := lineKey(text)
		if text == nil || !ok || found > key {
			return nil, nil
		}
		if found == key {
			return text, nil
		}
		at = max(begin, end-1)
	}
}

// lineAfter reads the first line that begins after a place in the file, or at its start
// for 0, and says where it begins and ends; text is nil past the last line.
func lineAfter(f *os.File, at int64) (end, begin int64, text []byte, err error) {
	r := bufio.NewReader(io.NewSectionReader(f, at, 1<<62))
	begin = at
	if at > 0 {
		skipped, err := r.ReadSlice('\n')
		for errors.Is(err, bufio.ErrBufferFull) {
			begin += int64(len(skipped))
			skipped, err = r.ReadSlice('\n')
		}
		begin += int64(len(skipped))
		if errors.Is(err, io.EOF) {
			return begin, begin, nil, nil
		}
		if err != nil {
			return 0, 0, nil, err
		}
	}
	for {
		piece, err := r.ReadSlice('\n')
		text = append(text, piece...)
		if len(text) > maxLedgerLine {
			return 0, 0, nil, errors.New("a line of it is too long")
		}
		switch {
		case errors.Is(err, bufio.ErrBufferFull):
			continue
		case err != nil && !errors.Is(err, io.EOF):
			return 0, 0, nil, err
		}
		end = begin + int64(len(text))
		if len(text) == 0 {
			return end, begin, nil, nil
		}
		return end, begin, bytes.TrimSuffix(text, []byte("\n")), nil
	}
}
