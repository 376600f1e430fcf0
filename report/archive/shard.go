package archive

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
	"io/fs"
	"os"
	"slices"
	"strconv"
	"strings"

	"downlock/schemas"
)

// A shard is a part of the ledger: lines of JSON, sorted by their key, which is
// always the first field and of fixed length, so that lines nobody asks for are
// carried over as they are. Ten years of two thousand flights a night are 7
// million lines; a night rewrites those of its own shards only.
//
// The last field is the CRC-32C of the line before it, in hex, so that of a damaged shard
// the other lines can be told from the damaged ones. Lines from before there were checks
// have none until they are carried over.
const (
	keyBefore   = `{"key":"`
	keyAfter    = '"'
	checkBefore = `,"check":"`
	checkAfter  = `"}`
	shardEnding = ".jsonl"
)

var castagnoli = crc32.MakeTable(crc32.Castagnoli)

// withCheck adds the check to a line that has none.
func withCheck(text []byte) []byte {
	body, end := bytes.CutSuffix(text, []byte("}"))
	if _, checked := splitCheck(text); checked || !end {
		return text
	}
	return fmt.Appendf(slices.Clip(body), "%s%08x%s", checkBefore, crc32.Checksum(text, castagnoli), checkAfter)
}

// splitCheck returns the sum in the check of a line; checked is false for a line without.
func splitCheck(text []byte) (sum uint32, checked bool) {
	const length = len(checkBefore) + 8 + len(checkAfter)
	if len(text) < length {
		return 0, false
	}
	field := string(text[len(text)-length:])
	digits, before := strings.CutPrefix(field, checkBefore)
	digits, after := strings.CutSuffix(digits, checkAfter)
	n, err := strconv.ParseUint(digits, 16, 32)
	return uint32(n), before && after && err == nil
}

// isIntact reports whether a line has the check it says, or none.
func isIntact(text []byte) bool {
	sum, checked := splitCheck(text)
	if !checked {
		return true
	}
	body := text[:len(text)-len(checkBefore)-8-len(checkAfter)]
	return crc32.Update(crc32.Checksum(body, castagnoli), castagnoli, []byte("}")) == sum
}

// shardLine is one line, without its line end; empty text takes the line out.
type shardLine struct {
	key  string
	text []byte
}

// damaged is the problem of a file of the archive that does not hold the bytes
// downlock wrote.
func damaged(path string, cause error) *schemas.Problem {
	return &schemas.Problem{File: path, Cause: "the archive is damaged here: " + cause.Error(),
		Hint: "put the file back from a copy of the archive; `downlock verify --archive DIR` says what else is damaged and what that costs, and with --repair it mends what it can"}
}

// readShard hands out the lines of a shard in order; a missing one has none.
// The text is good until each returns.
func readShard(path string, each func(key string, text []byte) error) error {
	f, err := os.Open(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return err
	}
	defer f.Close()
	lines := bufio.NewScanner(f)
	lines.Buffer(nil, maxLedgerLine)
	last := ""
	for n := 1; lines.Scan(); n++ {
		key, ok := lineKey(lines.Bytes())
		cause := ""
		switch {
		case !ok || key <= last:
			cause = "no line of a ledger, or out of order"
		case !isIntact(lines.Bytes()):
			cause = "the line does not have the check at its end"
		}
		if cause != "" {
			problem := damaged(path, errors.New(cause))
			problem.Line = n
			return problem
		}
		last = key
		if err := each(key, lines.Bytes()); err != nil {
			return err
		}
	}
	if err := lines.Err(); err != nil {
		return damaged(path, err)
	}
	return nil
}

// maxLedgerLine bounds a line: a recording held by ten thousand inputs.
const maxLedgerLine = 1 << 20

func lineKey(text []byte) (string, bool) {
	rest, ok := strings.CutPrefix(string(text[:min(len(text), 100)]), keyBefore)
	if !ok {
		return "", false
	}
	end := strings.IndexByte(rest, keyAfter)
	if end < 0 {
		return "", false
	}
	return rest[:end], true
}

// mergeShard writes the lines of a shard with some of them changed; changes are
// sorted by key. It reports whether any line is left.
func mergeShard(path string, changes []shardLine, out io.Writer) (lines int, err error) {
	w := bufio.NewWriter(out)
	write := func(text []byte) error {
		if len(text) == 0 {
			return nil
		}
		lines++
		w.Write(withCheck(text)) // an error stays, and comes with the line end
		return w.WriteByte('\n')
	}
	writeBelow := func(key string) error {
		for len(changes) > 0 && (key == "" || changes[0].key < key) {
			if err := write(changes[0].text); err != nil {
				return err
			}
			changes = changes[1:]
		}
		return nil
	}
	err = readShard(path, func(key string, text []byte) error {
		if err := writeBelow(key); err != nil {
			return err
		}
		if len(changes) > 0 && changes[0].key == key {
			text = changes[0].text
			changes = changes[1:]
		}
		return write(text)
	})
	if err == nil {
		err = writeBelow("")
	}
	if err == nil {
		err = w.Flush()
	}
	return lines, err
}
