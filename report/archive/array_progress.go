package archive

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"downlock/report/output"
	"downlock/schemas"
)

// Progress says how far an array has come.
type Progress struct {
	Merged  int // chunks that are in tables and ledger
	Done    int // chunks with results that are not
	Running []Worker
	Missing []int            // chunks without results, those a worker is at too
	Damaged schemas.Problems // results that are not as they were written, which count as missing
	Failed  int              // inputs, of the chunks that are done
	Flights int              // of the chunks that are done
	Seconds float64          // that the chunks took that are done
	Bytes   int64            // of their inputs
	Left    int64            // bytes of the inputs of the chunks that are missing
}

// Worker is one that is at a chunk: it gave a sign of life in the last quiet time.
type Worker struct {
	Chunk         int
	Host, Process string
	Seen          time.Time
}

// quietTime is how long a worker may be silent before it counts as gone: as long as one large
// input takes.
const quietTime = 10 * time.Minute

// Progress reads how far the array has come at a time.
func (r *Array) Progress(now time.Time) (p Progress, err error) {
	merged, err := r.merged()
	if err != nil {
		return p, err
	}
	p.Merged = len(merged)
	for n := range r.Chunks() {
		if merged[n] {
			continue
		}
		first, there, err := r.readChunk(n, nil)
		switch {
		case errors.Is(err, errRecord):
			p.Damaged = append(p.Damaged, r.damagedChunk(n))
			fallthrough
		case err == nil && !there:
			p.Missing, p.Left = append(p.Missing, n), p.Left+r.Sizes[n]
			continue
		case err != nil:
			return p, err
		}
		p.Done++
		p.Failed, p.Flights = p.Failed+first.Failed, p.Flights+first.Flights
		p.Seconds, p.Bytes = p.Seconds+first.Seconds, p.Bytes+r.Sizes[n]
	}
	entries, err := os.ReadDir(filepath.Join(r.Dir, stagedFolder))
	for _, e := range entries {
		var w Worker
		parts := strings.Split(e.Name(), ".")
		info, looking := e.Info()
		if looking != nil || len(parts) != 5 || !strings.HasSuffix(e.Name(), unfinishedEnding) {
			continue
		}
		if w.Chunk, looking = strconv.Atoi(parts[0]); looking != nil {
			continue
		}
		w.Host, w.Process, w.Seen = parts[1], parts[2], info.ModTime()
		if now.Sub(w.Seen) < quietTime {
			p.Running = append(p.Running, w)
		}
	}
	return p, err
}

func (r *Array) damagedChunk(n int) *schemas.Problem {
	return &schemas.Problem{File: r.chunkPath(n), Cause: fmt.Sprintf("the results of chunk %d are not as a worker wrote them", n),
		Hint: "its inputs are scanned again; see whether the disk is sound"}
}

// Missing lists the chunks that have no whole results. Results that are damaged, which it reads
// to the end to know, are removed.
func (r *Array) Missing() (missing []int, damaged schemas.Problems, err error) {
	merged, err := r.merged()
	if err != nil {
		return nil, nil, err
	}
	for n := range r.Chunks() {
		if merged[n] {
			continue
		}
		_, there, err := r.readChunk(n, func(int64, stagedHead, []byte) error { return nil })
		switch {
		case errors.Is(err, errRecord):
			damaged = append(damaged, r.damagedChunk(n))
			if err := r.disk.remove(r.chunkPath(n)); err != nil {
				return nil, nil, &output.Error{Path: r.chunkPath(n), Err: err}
			}
			fallthrough
		case err == nil && !there:
			missing = append(missing, n)
		case err != nil:
			return nil, nil, err
		}
	}
	return missing, damaged, nil
}
