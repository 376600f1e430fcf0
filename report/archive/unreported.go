package archive

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
)

// The findings of a run are in the tables before anybody is told of them, and a run may
// be cut off in between, or before: what it had staged is put into the tables by the next
// run, which skips those inputs. So that their events are told all the same, exactly once
// over the runs, a commit also puts a file in its place that lists what its run is still
// to report:
//
//	SHA-256 of the rest, hex
//	{"run":"runs/TIME/batch.json"}
//	{"sum":..., "told":..., "report":...}    an input; sum is that of its staged file
//
// The run has reported them once the batch.json is there that the file names, which is
// one renaming. An exit code of it that says nothing of events, as after a signal, leaves
// the file there: the next run does not tell them again, and lets its code say them.
const unreportedName = "unreported"

// Unreported is an input that an earlier run scanned and did not report to the end.
type Unreported struct {
	Report json.RawMessage `json:"report"` // as in Rows
	// Told says that the earlier run reported it, save in its exit code.
	Told bool   `json:"told"`
	Sum  string `json:"sum"`
}

type unreportedHead struct {
	Run string `json:"run"`
}

// EarlierRuns lists the inputs of earlier runs that this run is to report.
func (a *Archive) EarlierRuns() []Unreported { return a.earlier }

// takeOver finishes a run that was cut off, and takes over what it did not report.
func (a *Archive) takeOver() error {
	run, err := a.readUnreported()
	if err != nil {
		return err
	}
	place := filepath.Join(a.dir, unreportedName)
	switch figures, err := os.ReadFile(filepath.Join(a.dir, run)); {
	case run == "" || errors.Is(err, fs.ErrNotExist):
	case err != nil:
		return err
	case raised(figures):
		a.earlier = nil
		if err := a.disk.remove(place); err != nil {
			return outputError(place, err)
		}
	default:
		for i := range a.earlier {
			a.earlier[i].Told = true
		}
	}
	if err := a.renewUnreported(); err != nil {
		return err
	}
	if err := a.commit(); err != nil {
		return err
	}
	_, err = a.readUnreported() // with what was staged
	return err
}

// renewUnreported makes the file that of this run.
func (a *Archive) renewUnreported() error {
	if len(a.earlier) == 0 {
		return nil
	}
	over := &changeover{}
	over.begin()
	err := a.writeUnreported(over, func(func(stagedHead) error) error { return nil })
	if err == nil {
		err = a.moveGroups(over, &unsynced{})
	}
	if removing := a.disk.remove(a.newFile("")); err == nil {
		err = removing
	}
	return err
}

// raised reports whether the exit code in the figures of a run said its events: not that
// of one that a signal or an error of writing ended.
func raised(figures []byte) bool {
	var b struct {
		Code int `json:"exit_code"`
	}
	return json.Unmarshal(figures, &b) == nil && b.Code != codeOutput && b.Code < codeSignal
}

// The exit codes that hide those of events; see schemas/batch.schema.json.
const (
	codeOutput = 4
	codeSignal = 128 // and above
)

// readUnreported reads the file and returns the name of the figures it waits for, "" where
// there is no file.
func (a *Archive) readUnreported() (run string, err error) {
	a.earlier = nil
	path := filepath.Join(a.dir, unreportedName)
	data, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		return "", nil
	}
	if err != nil {
		return "", err
	}
	body, ok := checkedBody(data)
	if !ok {
		return "", damaged(path, errors.New("it is not as it was written"))
	}
	var head unreportedHead
	dec := json.NewDecoder(bytes.NewReader(body))
	if err := dec.Decode(&head); err != nil {
		return "", damaged(path, err)
	}
	for dec.More() {
		var u Unreported
		if err := dec.Decode(&u); err != nil {
			return "", damaged(path, err)
		}
		a.earlier = append(a.earlier, u)
	}
	return head.Run, nil
}

// writeUnreported writes the file anew: what earlier runs left, and the staged inputs
// that each hands to report. An input that was in it before its staged file could be
// removed is in it once.
func (a *Archive) writeUnreported(over *changeover, each func(report func(stagedHead) error) error) error {
	var body bytes.Buffer
	enc := json.NewEncoder(&body)
	enc.SetEscapeHTML(false)
	err := enc.Encode(unreportedHead{a.figures})
	known := map[string]bool{}
	for _, u := range a.earlier {
		known[u.Sum] = true
		err = errors.Join(err, enc.Encode(u))
	}
	inputs := len(a.earlier)
	err = errors.Join(err, each(func(head stagedHead) error {
		if head.Report == nil || known[head.sum] {
			return nil
		}
		inputs++
		return enc.Encode(Unreported{Report: head.Report, Sum: head.sum})
	}))
	if err != nil || inputs == 0 {
		return err
	}
	over.add(unreportedName, true)
	return writeFile(a.disk, a.newFile(unreportedName), filepath.Join(a.dir, unreportedName), true, func(w io.Writer) error {
		_, err := w.Write(checkedText(body.Bytes()))
		return err
	})
}
