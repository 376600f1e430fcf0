package scan

import (
	"encoding/json"
	"fmt"
	"io"
	"math"
	"path/filepath"
	"slices"
	"time"

	"downlock/cmd/downlock/command"
	"downlock/ingest"
	"downlock/report"
	"downlock/report/archive"
	"downlock/schemas"
)

// arraySetting is what the plan of an array keeps of the flags of scan.
type arraySetting struct {
	Profile    string            `json:"profile,omitempty"`
	Fleet      string            `json:"fleet,omitempty"`
	Rules      []string          `json:"rules,omitempty"`
	Aerodromes string            `json:"aerodromes,omitempty"`
	Aircraft   string            `json:"aircraft,omitempty"`
	Date       time.Time         `json:"date,omitzero"`
	MaxSize    int64             `json:"max_size"` // MiB
	Share      bool              `json:"share,omitempty"`
	Copies     map[string]string `json:"copies"` // name of the copy, by the path of the file
}

// options returns the options of a scan for an array.
func (s arraySetting) options(r *archive.Array, jobs int, quiet bool) scanOptions {
	o := scanOptions{profile: s.Profile, fleet: s.Fleet, rules: s.Rules, aerodromes: s.Aerodromes, aircraft: s.Aircraft, date: s.Date,
		maxSize: s.MaxSize, share: s.Share, samples: string(report.EventSamples), packAbove: ingest.ManySamples, jobs: jobs, quiet: quiet, copies: map[string]string{}}
	for path, name := range s.Copies {
		o.copies[path] = filepath.Join(r.Dir, archive.ArraySettings, name)
	}
	return o
}

// arrayScan is a scan of the inputs of an array.
type arrayScan struct {
	*scan
	array    *archive.Array
	settings settings
	jobs     int
}

// openArray reads the plan of an array and its settings. It returns nil and an exit code when one
// of them is not as it was planned.
func openArray(dir string, jobs int, quiet bool, stop *stopping, say command.Messages) (*arrayScan, int) {
	r, err := archive.OpenArray(dir)
	var setting arraySetting
	if err == nil {
		err = r.CheckCopies()
	}
	if err == nil && r.Version != command.Version {
		err = &schemas.Problem{File: dir, Cause: fmt.Sprintf("was planned by downlock %s; this is %s", r.Version, command.Version),
			Hint: "run the version that planned it on every machine, or plan again with this one"}
	}
	if err == nil {
		err = json.Unmarshal(r.Setting, &setting)
	}
	if err != nil {
		say.Failure(err)
		return nil, command.ExitInvalid
	}
	o := setting.options(r, jobs, quiet)
	if o.aerodromes != "" {
		if o.places, err = schemas.ReadAerodromes(o.copyOf(o.aerodromes)); err != nil {
			say.Failure(err)
			return nil, command.ExitInvalid
		}
	}
	s, all, code := prepareScan(o, nil, stop, say)
	if code != command.ExitDone {
		return nil, code
	}
	if err := r.Use(s.kept); err != nil {
		say.Failure(err)
		return nil, command.ExitInvalid
	}
	return &arrayScan{s, r, all, jobs}, command.ExitDone
}

// inputsOf returns the inputs of a chunk, each in its setting.
func (s *arrayScan) inputsOf(planned []archive.ArrayInput) (inputs []input, err error) {
	for _, p := range planned {
		setting, err := s.settings.of(p.Files[0])
		if err != nil {
			return nil, err
		}
		in := input{archive.Input{Path: p.Path, Files: p.Files}, setting}
		in.Run = archiveRun(s.kept, in)
		inputs = append(inputs, in)
	}
	return inputs, nil
}

// chunkResult says what became of a chunk.
type chunkResult struct {
	inputs, failed, flights int
	bytes                   int64
	skipped                 bool // its results were there
	stopped                 bool
}

// scanChunk scans the inputs of a chunk, unless its results are there.
func (s *arrayScan) scanChunk(number int, planned []archive.ArrayInput) (c chunkResult, err error) {
	inputs, err := s.inputsOf(planned)
	if err != nil {
		return c, err
	}
	chunk, err := s.array.Begin(number, planned)
	if err != nil || chunk == nil {
		return chunkResult{skipped: true}, err
	}
	s.stager = chunk
	forEach(inputs, s.jobs, s.one, func(o outcome) bool {
		if command.IsOutput(o.err) {
			err = o.err
			return false
		}
		if o.unbegun {
			c.stopped = true
			return false
		}
		c.inputs, c.flights, c.bytes = c.inputs+1, c.flights+len(o.flights), c.bytes+o.sight.Size
		s.sayOf(o)
		if o.err != nil {
			c.failed++
		}
		return true
	})
	if err != nil || c.stopped {
		if dropping := chunk.Drop(); err == nil {
			err = dropping
		}
		return c, err
	}
	return c, chunk.End()
}

// settingFiles lists the files that the options name settings by, and their texts: the profile, or
// the fleet with its profiles, packs and the list of aerodromes.
func (o scanOptions) settingFiles() (paths []string, err error) {
	paths = append(paths, o.rules...)
	if o.aerodromes != "" {
		paths = append(paths, o.aerodromes)
	}
	if o.fleet == "" {
		return append(paths, o.profile), nil
	}
	paths = append(paths, o.fleet)
	_, err = o.readFleet(func(path string) (*schemas.Profile, error) {
		if !slices.Contains(paths, path) {
			paths = append(paths, path)
		}
		return schemas.ReadProfile(path)
	})
	return paths, err
}

// showArray writes how far an array has come.
func showArray(r *archive.Array, stdout io.Writer, say command.Messages) int {
	p, err := r.Progress(time.Now())
	if err != nil {
		say.Failure(err)
		return command.ExitOutput
	}
	for _, damaged := range p.Damaged {
		say.Doubt(damaged)
	}
	lines := command.Lines{To: stdout}
	lines.Line("planned", fmt.Sprintf("%s, %s, %s, %.1f MB", command.Count(r.Tasks, "task"), command.Count(r.Chunks(), "chunk"), command.Count(r.Inputs, "input"), float64(r.Bytes)/1e6))
	lines.Line("merged", command.Count(p.Merged, "chunk"))
	lines.Line("done", fmt.Sprintf("%s, %s, %s of them failed", command.Count(p.Done, "chunk"), command.Count(p.Flights, "flight"), command.Count(p.Failed, "input")))
	lines.Line("running", command.Count(len(p.Running), "worker"))
	for _, w := range p.Running {
		lines.Line("", fmt.Sprintf("chunk %d on %s, process %s, last seen %s", w.Chunk, w.Host, w.Process, w.Seen.UTC().Format(time.DateTime+" UTC")))
	}
	lines.Line("missing", command.Count(len(p.Missing), "chunk"))
	for task := range r.Tasks {
		missing := 0
		for _, n := range p.Missing {
			if n >= r.Begins[task] && n < r.Begins[task+1] {
				missing++
			}
		}
		if missing > 0 {
			lines.Line("", fmt.Sprintf("task %d: %d of %d chunks", task, missing, r.Begins[task+1]-r.Begins[task]))
		}
	}
	left := "unknown: no chunk is done yet"
	switch {
	case len(p.Missing) == 0:
		left = "nothing"
	case p.Bytes > 0:
		seconds := p.Seconds * float64(p.Left) / float64(p.Bytes)
		left = fmt.Sprintf("about %s of one task, as the chunks that are done took %.1f MB/s", time.Duration(math.Ceil(seconds))*time.Second, float64(p.Bytes)/1e6/p.Seconds)
	}
	lines.Line("left", left)
	if err := lines.Failure(); err != nil {
		say.Failure(err)
		return command.ExitOutput
	}
	return command.ExitDone
}
