package archive

import (
	"bufio"
	"errors"
	"io"
	"io/fs"
	"os"
	"strings"

	"downlock/schemas"
)

// A shard is a part of the ledger: lines of JSON, sorted by their key, which is
// always the first field and of fixed length, so that lines nobody asks for are
// carried over as they are. Ten years of two thousand flights a night are 7
// million lines; a night rewrites those of its own shards only.
const (
	keyBefore = `{"key":"`
	keyAfter  = '"'
)

// shardLine is one line, without its line end; empty text takes the line out.
type shardLine struct {
	key  string
	text []byte
}

// damaged is the problem of a file of the archive that does not hold the bytes
// downlock wrote.
func damaged(path string, cause error) *schemas.Problem {
	return &schemas.Problem{File: path, Cause: "the archive is damaged here: " + cause.Error(),
		Hint: "put the file back from a copy of the archive, or move it away and scan its recordings again with --rescan"}
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
		if !ok || key <= last {
			problem := damaged(path, errors.New("no line of a ledger, or out of order"))
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
		w.Write(text) // an error stays, and comes with the line end
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
