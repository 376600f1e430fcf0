package archive

import (
	"bytes"
	"cmp"
	"crypto/rand"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"downlock/report/output"
	"downlock/schemas"
)

// Chunk gathers the results of the inputs of a chunk of an array, and puts them into the
// array's folder as one file. Stage methods may be called by several goroutines.
type Chunk struct {
	array   *Array
	number  int
	began   time.Time
	file    outFile
	name    string                 // of the file, until it has its place
	planned map[string]*ArrayInput // by path

	mutex   sync.Mutex
	records map[string][]byte // by path
	head    chunkHead
}

// chunkHead is the first record of a chunk.
type chunkHead struct {
	Plan    string  `json:"plan"` // its SHA-256
	Chunk   int     `json:"chunk"`
	Inputs  int     `json:"inputs"`
	Failed  int     `json:"failed"`
	Flights int     `json:"flights"`
	Seconds float64 `json:"seconds"` // that the worker took
}

func (r *Array) chunkPath(n int) string {
	return filepath.Join(r.Dir, stagedFolder, fmt.Sprintf("%06d%s", n, stagedEnding))
}

// Begin begins a chunk; it returns nil where its results are there already, of this worker or
// another. The file it makes has the name of the host and the process, and tells others that
// somebody is at the chunk.
func (r *Array) Begin(n int, inputs []ArrayInput) (*Chunk, error) {
	if merged, err := r.merged(); err != nil || merged[n] {
		return nil, err
	}
	if _, err := os.Stat(r.chunkPath(n)); err == nil {
		return nil, nil
	}
	host, _ := os.Hostname()
	place := filepath.Join(r.Dir, stagedFolder)
	var random [8]byte
	rand.Read(random[:]) // never fails, says its documentation
	name := fmt.Sprintf("%06d.%s.%d.%x%s", n, strings.ReplaceAll(host, ".", "-"), os.Getpid(), random, unfinishedEnding)
	name = filepath.Join(place, name)
	_, err := os.Stat(place) // an array that was removed is not begun anew
	var file outFile
	if err == nil {
		file, err = r.disk.create(name)
	}
	if err != nil {
		return nil, &output.Error{Path: place, Err: err}
	}
	c := &Chunk{array: r, number: n, began: time.Now(), file: file, name: name, planned: map[string]*ArrayInput{}, records: map[string][]byte{}}
	for i := range inputs {
		c.planned[inputs[i].Path] = &inputs[i]
	}
	return c, nil
}

// of returns an archive that knows of the input what the plan does.
func (c *Chunk) of(in Input) (*Archive, *ArrayInput, error) {
	planned := c.planned[in.Path]
	if planned == nil {
		return nil, nil, fmt.Errorf("%s is not an input of chunk %d", in.Path, c.number)
	}
	return &Archive{run: c.array.run, known: map[string]remembered{inputKey(schemas.Absolute(in.Path)): {recording: planned.Was}}}, planned, nil
}

// StageRows keeps the rows of an input. Its size and times are those of the plan.
func (c *Chunk) StageRows(in Input, _ Sight, _ time.Time, rows Rows) error {
	a, planned, err := c.of(in)
	if err != nil {
		return err
	}
	head := a.rowsHead(in, planned.Sight, c.array.Planned, rows)
	c.count(0, len(rows.flights))
	return c.add(in, head, planned, rows.flights)
}

// StageFailure notes that an input could not be scanned.
func (c *Chunk) StageFailure(in Input, _ Sight, _ time.Time, cause error) error {
	a, planned, err := c.of(in)
	if err != nil {
		return err
	}
	c.count(1, 0)
	return c.add(in, a.failureHead(in, planned.Sight, c.array.Planned, cause), planned, nil)
}

func (c *Chunk) count(failed, flights int) {
	c.mutex.Lock()
	defer c.mutex.Unlock()
	c.head.Failed, c.head.Flights = c.head.Failed+failed, c.head.Flights+flights
}

func (c *Chunk) add(in Input, head stagedHead, planned *ArrayInput, flights []flightRows) error {
	head.Before = planned.Before
	record, err := newRecord(head, flights)
	if err != nil {
		return err
	}
	c.mutex.Lock()
	defer c.mutex.Unlock()
	c.records[in.Path] = record
	now := time.Now()
	os.Chtimes(c.name, now, now) // a sign of life; nothing depends on it
	return nil
}

// SameSight makes sure that an input looks as it did when it was planned.
func (c *Chunk) SameSight(in Input, sight Sight) error {
	planned := c.planned[in.Path]
	if planned != nil && (planned.Sight.Size != sight.Size || planned.Sight.Modified != sight.Modified || planned.Sight.ETag != sight.ETag) {
		return &schemas.Problem{File: in.Path, Cause: "changed since it was planned", Hint: "the next scan or plan takes it as it is now"}
	}
	return nil
}

// End puts the results of the chunk in their place, unless another worker did so meanwhile.
// The error is an output.Error.
func (c *Chunk) End() error {
	if len(c.records) != len(c.planned) {
		return errors.Join(fmt.Errorf("chunk %d has results of %d inputs, not of %d", c.number, len(c.records), len(c.planned)), c.Drop())
	}
	c.head.Plan, c.head.Chunk, c.head.Inputs, c.head.Seconds = c.array.plan, c.number, len(c.records), time.Since(c.began).Seconds()
	first, err := headRecord(c.head, nil)
	if err != nil {
		return err
	}
	all := bytes.NewBuffer(first)
	for _, path := range sortedKeys(c.records) {
		all.Write(c.records[path])
	}
	place := c.array.chunkPath(c.number)
	_, err = c.file.Write(all.Bytes())
	if err == nil {
		err = c.file.Sync()
	}
	err = cmp.Or(err, c.file.Close())
	if err == nil {
		if _, there := os.Stat(place); there == nil { // the task was run twice
			return outputError(place, c.array.disk.remove(c.name))
		}
		err = c.array.disk.rename(c.name, place)
	}
	if err == nil {
		err = c.array.disk.syncFolder(filepath.Dir(place))
	}
	if err != nil {
		c.array.disk.remove(c.name)
	}
	return outputError(place, err)
}

// Drop gives a chunk up.
func (c *Chunk) Drop() error {
	c.file.Close()
	return outputError(c.name, c.array.disk.remove(c.name))
}

// readChunk reads the first record of a chunk, and hands out those of its inputs where each is
// given. there is false where the chunk has no results; the error is errRecord where they are
// damaged or of another plan, each's own, or one of reading.
func (r *Array) readChunk(n int, each func(at int64, head stagedHead, rows []byte) error) (first chunkHead, there bool, err error) {
	errEnough := errors.New("enough")
	inputs := -1
	err = eachRecord(r.chunkPath(n), func(at int64, _ string, line, rows []byte) error {
		if inputs++; inputs == 0 {
			if json.Unmarshal(line, &first) != nil || first.Plan != r.plan || first.Chunk != n {
				return errRecord
			}
			if each == nil {
				return errEnough
			}
			return nil
		}
		var head stagedHead
		if json.Unmarshal(line, &head) != nil || head.Entry.Key == "" {
			return errRecord
		}
		return each(at, head, rows)
	})
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return first, false, nil
	case errors.Is(err, errEnough):
		return first, true, nil
	case err == nil && inputs != first.Inputs:
		err = errRecord
	}
	return first, true, err
}
