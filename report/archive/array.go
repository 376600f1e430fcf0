package archive

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"downlock/report/output"
	"downlock/schemas"
)

// An array is a run that the tasks of a scheduler share, on as many machines as there are.
// It has a folder of its own in the archive, in which tasks only add files, so that they
// need no lock and no run on the archive meets them:
//
//	arrays/TIME/plan.json       TIME is when it was planned, UTC; never changed
//	arrays/TIME/settings/       copies of profiles, packs and lists
//	arrays/TIME/tasks/00000     the inputs of a task, a line for each chunk
//	arrays/TIME/staged/000000.staged    the results of a chunk: a record of the chunk, then one for each input
//	arrays/TIME/staged/000000.HOST.PROCESS.x.unfinished   of a worker that is at it, or was
//	arrays/TIME/merged          the chunks that are in tables and ledger
//
// Each file but the copies begins with the SHA-256 of the rest; the plan has those of the copies.
const (
	arraysFolder     = "arrays"
	planName         = "plan.json"
	tasksFolder      = "tasks"
	mergedName       = "merged"
	stagedFolder     = "staged"
	unfinishedEnding = ".unfinished"
	arraySchema      = "downlock array 1"
)

// ArraySettings is the folder, in that of an array, with the copied files.
const ArraySettings = "settings"

// Array is an array that is planned.
type Array struct {
	Dir string
	ArrayPlan
	plan string // SHA-256 of the plan
	run  *Run
	disk disk
}

// ArrayPlan says what an array is to do, and with what.
type ArrayPlan struct {
	Schema  string    `json:"schema"`
	Planned time.Time `json:"planned"`
	Version string    `json:"version"` // of downlock
	Tasks   int       `json:"tasks"`
	Inputs  int       `json:"inputs"`
	Bytes   int64     `json:"bytes"` // of the inputs
	// Begins has the first chunk of each task, and the number of chunks at the end.
	Begins  []int           `json:"begins"`
	Sizes   []int64         `json:"sizes"`   // bytes of the inputs of each chunk
	Setting json.RawMessage `json:"setting"` // of the caller
	// Profile, Packs and Aerodromes are the hashes of what the caller read its settings from, as in Run.
	Profile    string   `json:"profile"`
	Packs      []string `json:"packs"`
	Aerodromes string   `json:"aerodromes,omitempty"`
	// Copies has the SHA-256 of each copied file, by its name.
	Copies map[string]string `json:"copies"`
}

// ArrayInput is an input of an array as it was when it was planned.
type ArrayInput struct {
	Path  string   `json:"path"`
	Files []string `json:"files"`
	Sight Sight    `json:"sight"`
	// Was and Before are those of stagedHead.
	Was    string `json:"was,omitempty"`
	Before string `json:"before,omitempty"`
}

// chunkInputs is about how many inputs a chunk has: what a worker that is killed loses.
const chunkInputs = 64

// Ask asks the ledger about an input that Open was given. current is true for one that was
// scanned before with the same profile, packs and version and looks as it did then.
func (a *Archive) Ask(in Input, sight Sight) (planned ArrayInput, current bool) {
	m := a.known[inputKey(a.place(in))]
	current = m.current && m.sight == a.seal(sight) && m.sight.tells()
	return ArrayInput{Path: a.place(in), Files: in.Files, Sight: sight, Was: m.recording, Before: m.mark}, current
}

// UnmergedArray returns the folder of an array that is not merged yet, "" for none.
func (a *Archive) UnmergedArray() (dir string, err error) {
	plans, err := filepath.Glob(filepath.Join(a.dir, arraysFolder, "*", planName))
	if err != nil {
		return "", err
	}
	for _, plan := range plans {
		r, err := OpenArray(filepath.Dir(plan))
		if err != nil {
			return "", err
		}
		if merged, err := r.merged(); err != nil || len(merged) < r.Chunks() {
			return r.Dir, err
		}
	}
	return "", nil
}

// PlanArray writes the plan of an array over inputs, and returns its folder. Chunks and tasks
// get about as many bytes as each other. copies are the files that tasks read their settings
// from, by name. The error is an output.Error.
func (a *Archive) PlanArray(inputs []ArrayInput, tasks int, setting json.RawMessage, copies map[string][]byte) (dir string, err error) {
	p := ArrayPlan{Schema: arraySchema, Planned: a.run.Began.UTC(), Version: a.run.Version, Tasks: tasks, Inputs: len(inputs), Setting: setting,
		Profile: a.run.Profile.SHA256, Packs: packNames(a.run), Aerodromes: a.run.Aerodromes, Copies: map[string]string{}}
	files := map[string][]byte{}
	for name, data := range copies {
		p.Copies[name] = sumOfText(data).SHA256
		files[filepath.Join(ArraySettings, name)] = data
	}
	sizes := make([]int64, len(inputs))
	for i, in := range inputs {
		sizes[i] = in.Sight.Size
		p.Bytes += in.Sight.Size
	}
	chunks := balance(sizes, max((len(inputs)+chunkInputs-1)/chunkInputs, min(tasks, len(inputs))), chunkInputs)
	weights := make([]int64, len(chunks))
	for i, chunk := range chunks {
		for _, n := range chunk {
			weights[i] += sizes[n]
		}
	}
	p.Begins = []int{0}
	for task, list := range balance(weights, tasks, len(chunks)) {
		var lines bytes.Buffer
		enc := json.NewEncoder(&lines)
		enc.SetEscapeHTML(false)
		for _, c := range list {
			chunk := make([]ArrayInput, len(chunks[c]))
			for i, n := range chunks[c] {
				chunk[i] = inputs[n]
			}
			if err := enc.Encode(chunk); err != nil {
				return "", err
			}
			p.Sizes = append(p.Sizes, weights[c])
		}
		codec, _ := recordCodec()
		files[taskName(task)] = checkedText(codec.EncodeAll(lines.Bytes(), nil))
		p.Begins = append(p.Begins, len(p.Sizes))
	}
	text, err := json.MarshalIndent(p, "", " ")
	if err != nil {
		return "", err
	}
	files[planName] = checkedText(append(text, '\n'))
	dir = filepath.Join(a.dir, arraysFolder, a.run.Began.UTC().Format(runTime))
	return dir, a.writeArray(dir, files)
}

// writeArray writes the files of a plan, plan.json last: without it the folder is none.
func (a *Archive) writeArray(dir string, files map[string][]byte) error {
	names := sortedKeys(files)
	slices.Reverse(names) // tasks, settings, plan.json
	for _, name := range names {
		path := filepath.Join(dir, name)
		err := writeFile(a.disk, path+unfinishedEnding, path, true, func(w io.Writer) error {
			_, err := w.Write(files[name])
			return err
		})
		if err == nil {
			err = outputError(path, a.disk.rename(path+unfinishedEnding, path))
		}
		if err == nil {
			err = outputError(path, a.disk.syncFolder(filepath.Dir(path)))
		}
		if err != nil {
			return err
		}
	}
	err := a.disk.folder(filepath.Join(dir, stagedFolder))
	for _, folder := range []string{dir, filepath.Dir(dir), a.dir} { // where the new names stand
		if err == nil {
			err = a.disk.syncFolder(folder)
		}
	}
	return outputError(dir, err)
}

func taskName(task int) string { return filepath.Join(tasksFolder, fmt.Sprintf("%05d", task)) }

// OpenArray reads the plan in the folder of an array. The error is a schemas.Problem.
func OpenArray(dir string) (*Array, error) {
	path := filepath.Join(dir, planName)
	text, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, &schemas.Problem{File: dir, Cause: "is not an array: it has no " + planName, Hint: "name the folder `downlock plan` printed; its end is arrays/ and a time"}
	}
	if err != nil {
		return nil, &schemas.Problem{File: path, Cause: "cannot be read: " + err.Error()}
	}
	r := &Array{Dir: dir, disk: realDisk{}}
	body, ok := checkedBody(text)
	if !ok || json.Unmarshal(body, &r.ArrayPlan) != nil || r.Schema != arraySchema || len(r.Begins) != r.Tasks+1 || len(r.Sizes) != r.Chunks() {
		return nil, damagedPlan(path)
	}
	r.plan = sumOfText(text).SHA256
	return r, nil
}

func damagedPlan(path string) *schemas.Problem {
	return &schemas.Problem{File: path, Cause: "the plan is damaged here: it is not as it was written",
		Hint: "put the file back from a copy, or plan again after removing the folder of this plan; the archive itself has lost nothing"}
}

// Chunks is the number of chunks.
func (r *Array) Chunks() int { return r.Begins[len(r.Begins)-1] }

// CheckCopies compares the copied files with the plan. The error is a schemas.Problem.
func (r *Array) CheckCopies() error {
	for name, sum := range r.Copies {
		path := filepath.Join(r.Dir, ArraySettings, name)
		if s, err := sumFile(path); err != nil || s.SHA256 != sum {
			return damagedPlan(path)
		}
	}
	return nil
}

// Use sets the run that chunks are scanned in. The error is a schemas.Problem where it is not the
// one of the plan.
func (r *Array) Use(run *Run) error {
	for _, c := range []struct{ what, planned, here string }{
		{"downlock", r.Version, run.Version}, {"profile or fleet", r.Profile, run.Profile.SHA256},
		{"rules", strings.Join(r.Packs, ", "), strings.Join(packNames(run), ", ")}, {"list of aerodromes", r.Aerodromes, run.Aerodromes},
	} {
		if c.planned != c.here {
			return &schemas.Problem{File: r.Dir, Cause: fmt.Sprintf("was planned with another %s: %s, here %s", c.what, c.planned, c.here),
				Hint: "run the downlock that planned it on every machine, or plan again with this one"}
		}
	}
	of := *run
	of.Began = r.Planned
	r.run, r.disk = &of, realDisk{run.Share}
	return nil
}

// EachChunk hands out the chunks of a task with their inputs. The error is a schemas.Problem or each's own.
func (r *Array) EachChunk(task int, each func(chunk int, inputs []ArrayInput) error) error {
	path := filepath.Join(r.Dir, taskName(task))
	text, err := os.ReadFile(path)
	if err != nil {
		return damagedPlan(path)
	}
	body, ok := checkedBody(text)
	if !ok {
		return damagedPlan(path)
	}
	_, codec := recordCodec()
	lines, err := codec.DecodeAll(body, nil)
	if err != nil {
		return damagedPlan(path)
	}
	dec := json.NewDecoder(bufio.NewReader(bytes.NewReader(lines)))
	for chunk := r.Begins[task]; chunk < r.Begins[task+1]; chunk++ {
		var inputs []ArrayInput
		if err := dec.Decode(&inputs); err != nil {
			return damagedPlan(path)
		}
		if err := each(chunk, inputs); err != nil {
			return err
		}
	}
	return nil
}

// merged are the chunks that are in tables and ledger.
func (r *Array) merged() (chunks map[int]bool, err error) {
	path := filepath.Join(r.Dir, mergedName)
	text, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		return map[int]bool{}, nil
	}
	if err != nil {
		return nil, &output.Error{Path: path, Err: err}
	}
	var list []int
	body, ok := checkedBody(text)
	if !ok || json.Unmarshal(body, &list) != nil {
		return nil, &schemas.Problem{File: path, Cause: "is not as it was written", Hint: "remove it: the next merge looks at every chunk again"}
	}
	chunks = map[int]bool{}
	for _, c := range list {
		chunks[c] = true
	}
	return chunks, nil
}
