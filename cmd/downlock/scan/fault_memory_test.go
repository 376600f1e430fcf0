//go:build linux

package scan

import (
	"encoding/binary"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"github.com/parquet-go/parquet-go/format"

	"downlock/cmd/downlock/command"
	"downlock/ingest/parquet/crafted"
)

// hostileInputs are Parquet files that cost a process its life once: a page of LZ4_RAW with
// one bit changed, for which room was made without end; a run of 2,147,483,647 places in a
// dictionary; and one whose fifty million rows are there.
func hostileInputs(t *testing.T) map[string][]byte {
	t.Helper()
	times, places := make([]float64, 400), make([]int32, 400)
	for i := range times {
		times[i], places[i] = float64(i), int32(i)
	}
	plain := crafted.Column{Name: "time", Doubles: times}
	indexed := crafted.Column{Name: "time", Doubles: times, Encoding: format.RLEDictionary, Places: places}
	runOf := func(run uint64) func([]byte) []byte {
		n := 0
		return func(old []byte) []byte {
			if n++; n%2 == 1 { // the dictionary
				return old
			}
			return append(append([]byte{9}, binary.AppendUvarint(nil, run<<1)...), 0, 0)
		}
	}
	files := map[string]*crafted.File{
		"bit.parquet":  {Rows: 400, Codec: format.Lz4Raw, Columns: []crafted.Column{plain}, Packed: func(p []byte) []byte { p[0] ^= 0x40; return p }},
		"run.parquet":  {Rows: 400, Columns: []crafted.Column{indexed}, Values: runOf(1<<31 - 1)},
		"rows.parquet": {Rows: 400, Columns: []crafted.Column{indexed}, Values: runOf(50_000_000)},
	}
	files["rows.parquet"].Header = func(h *format.PageHeader) {
		if h.DataPageHeader.Valid {
			h.DataPageHeader.V.NumValues = 50_000_000
		}
	}
	files["rows.parquet"].Footer = func(f *format.FileMetaData) { f.NumRows, f.RowGroups[0].NumRows = 50_000_000, 50_000_000 }
	out := map[string][]byte{}
	for name, file := range files {
		data, err := file.Bytes()
		if err != nil {
			t.Fatal(err)
		}
		out[name] = data
	}
	return out
}

// TestHostileInputs: each costs itself alone, is named with its cause and moved aside, and the
// run takes no more than a gigabyte beside --max-size.
func TestHostileInputs(t *testing.T) {
	t.Parallel()
	n := newNights(t, 3)
	for name, data := range hostileInputs(t) {
		if err := os.WriteFile(n.path(name), data, 0o666); err != nil {
			t.Fatal(err)
		}
	}
	aside := filepath.Join(t.TempDir(), "aside")
	cmd, messages := n.scan(filepath.Join(t.TempDir(), "archive"), "--quarantine", aside, "--max-size", "64", "--jobs", "1")
	cmd.Run()
	if cmd.ProcessState == nil || cmd.ProcessState.ExitCode() != command.ExitInputsFailed {
		t.Fatalf("%v: %s", cmd.ProcessState, messages)
	}
	for _, words := range []string{"2 flights from 6 inputs, 4 failed",
		`bit.parquet: column "`, "row group 1, page 1: its LZ4_RAW data are damaged",
		`run.parquet: column "`, "row group 1, page 2: its RLE_DICTIONARY values are damaged: a run of 2147483647 values",
		"rows.parquet: has 50000000 rows, which take"} {
		if !strings.Contains(messages.String(), words) {
			t.Errorf("the messages do not say %q: %s", words, messages)
		}
	}
	moved, _ := filepath.Glob(filepath.Join(aside, "*.parquet"))
	if len(moved) != 3 {
		t.Errorf("moved aside: %q", moved)
	}
	if peak := cmd.ProcessState.SysUsage().(*syscall.Rusage).Maxrss; peak > (64<<20+1<<30)>>10 { // KiB
		t.Errorf("%d MiB at its peak", peak>>10)
	}
}
