package duckdb

import (
	"encoding/gob"
	"fmt"
	"os"
	"os/exec"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"downlock/report/trend"
)

// process is what a process said and took: seconds by the clock and of the
// processors, and the most memory at once in KiB.
type process struct {
	said            string
	wall, processor float64
	peak            int
}

var highWater = regexp.MustCompile(`VmHWM:\s+(\d+)`)

// run runs a process. Its peak is what Linux last said of it, asked every few
// milliseconds: what is left of it at the end counts its parent's memory too.
func run(b *testing.B, cmd *exec.Cmd) (p process) {
	b.Helper()
	var said strings.Builder
	cmd.Stdout, cmd.Stderr = &said, &said
	began := time.Now()
	if err := cmd.Start(); err != nil {
		b.Fatal(err)
	}
	ended := make(chan error, 1)
	go func() { ended <- cmd.Wait() }()
	status := fmt.Sprintf("/proc/%d/status", cmd.Process.Pid)
	for {
		select {
		case err := <-ended:
			p.wall = time.Since(began).Seconds()
			if p.said = said.String(); err != nil {
				b.Fatalf("%v: %v: %s", cmd.Args, err, p.said)
			}
			p.processor = (cmd.ProcessState.UserTime() + cmd.ProcessState.SystemTime()).Seconds()
			return p
		case <-time.After(5 * time.Millisecond):
			text, _ := os.ReadFile(status)
			if found := highWater.FindSubmatch(text); found != nil {
				peak, _ := strconv.Atoi(string(found[1]))
				p.peak = max(p.peak, peak)
			}
		}
	}
}

// TestAnswer is the process that asks DuckDB for BenchmarkMillion: it finds the
// queries in one file and leaves the answers in another.
func TestAnswer(t *testing.T) {
	if os.Getenv("TREND_QUERIES") == "" {
		t.Skip("a part of BenchmarkMillion")
	}
	var queries []trend.Query
	load(t, os.Getenv("TREND_QUERIES"), &queries)
	db := open(t)
	if _, err := db.Exec("SET threads = 2"); err != nil {
		t.Fatal(err)
	}
	found := map[string]map[string][]float64{}
	for _, q := range queries {
		found[q.Name] = numbers(t, db, q.SQL)
	}
	save(t, os.Getenv("TREND_ANSWERS"), found)
}

func save(t testing.TB, path string, what any) {
	t.Helper()
	file, err := os.Create(path)
	if err == nil {
		err = gob.NewEncoder(file).Encode(what)
	}
	if err != nil {
		t.Fatal(err)
	}
	file.Close()
}

func load(t testing.TB, path string, what any) {
	t.Helper()
	file, err := os.Open(path)
	if err == nil {
		err = gob.NewDecoder(file).Decode(what)
	}
	if err != nil {
		t.Fatal(err)
	}
	file.Close()
}
