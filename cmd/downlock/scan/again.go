package scan

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"downlock/cmd/downlock/command"
	"downlock/detect"
	"downlock/ingest"
	"downlock/ingest/objects"
	"downlock/report"
	"downlock/report/archive"
	"downlock/schemas"
)

// Again makes the reports of recordings again that an archive knows, one by one, with the
// settings they were scanned with.
type Again struct {
	options scanOptions
	archive string
	rules   *detect.RuleSet
	verdict func(*detect.Flight, *detect.Event) *report.Verdict
}

// AgainOptions are the settings, as the flags of scan of the same names.
type AgainOptions struct {
	Archive, Profile, Fleet, Aircraft, Aerodromes string
	Rules                                         []string
	// Verdict returns the verdict of review on an event, as in report.Run.
	Verdict func(*detect.Flight, *detect.Event) *report.Verdict
}

// NewAgain reads the rules and the list of aerodromes, and returns nil and an exit code
// when one of them is invalid. Profiles are read when a recording is.
func NewAgain(o AgainOptions, say command.Messages) (*Again, int) {
	rules, err := detect.LoadRules(o.Rules...)
	if err != nil {
		say.Failure(err)
		return nil, command.ExitInvalid
	}
	a := &Again{scanOptions{profile: o.Profile, fleet: o.Fleet, aircraft: o.Aircraft, maxSize: ingest.DefaultMaxBytes >> 20, packAbove: ingest.ManySamples, out: "-"},
		o.Archive, rules, o.Verdict}
	if o.Aerodromes != "" {
		if a.options.places, err = schemas.ReadAerodromes(o.Aerodromes); err != nil {
			say.Failure(err)
			return nil, command.ExitInvalid
		}
	}
	return a, command.ExitDone
}

// Rules returns the rules in force.
func (a *Again) Rules() *detect.RuleSet { return a.rules }

// Report makes the page of a flight of a recording, which goes by the hash of its content. The error
// says why it cannot: the file is gone or was changed, or it was scanned with other
// settings, so that the page would show other findings than the archive.
func (a *Again) Report(ctx context.Context, recording string, number int) (page []byte, err error) {
	sources, err := archive.Sources(a.archive, recording)
	if err != nil {
		return nil, err
	}
	err = errors.New("the archive does not say which file it is from")
	for i := range sources {
		if page, err = a.report(ctx, &sources[i], recording, number); err == nil {
			return page, nil
		}
	}
	return nil, err
}

func (a *Again) report(ctx context.Context, source *archive.Source, recording string, number int) (page []byte, err error) {
	defer func() {
		if r := recover(); r != nil {
			err = fmt.Errorf("downlock failed on its recording (%v)", r)
		}
	}()
	in, s, read, err := a.read(ctx, source, recording)
	if err != nil {
		return nil, err
	}
	if !source.SameSetting(archiveRun(s.kept, in)) {
		return nil, errors.New("it was scanned with another profile, registration, version or other rules than those given here")
	}
	found, err := s.detect(in, read, read)
	if err != nil {
		return nil, err
	}
	for i, flight := range found.flights {
		if flight.Number == number {
			return found.reports[i].Page(), nil
		}
	}
	return nil, errors.New("its recording no longer contains it")
}

// read reads the recording of a source, and makes sure that it is the one.
func (a *Again) read(ctx context.Context, source *archive.Source, recording string) (in input, s *scan, read *ingest.Recording, err error) {
	in, s, err = a.input(source)
	if err != nil {
		return in, s, nil, err
	}
	s.stop = stoppedBy(ctx)
	o := outcome{input: in}
	if o.sight, err = in.Look(); err != nil {
		return in, s, nil, errors.New("its recording is no longer where it was")
	}
	if read, err = s.read(&o); err != nil {
		return in, s, nil, errors.New("its recording can no longer be read")
	}
	if read.Content() != recording {
		return in, s, nil, errors.New("its file has changed since")
	}
	return in, s, read, nil
}

// Flight reads a recording again, which goes by the hash of its content, and returns the
// part of it that a flight is in: its times are those of the flight's events. The profile
// must be the one it was scanned with, since that says which column is which parameter.
// The error says why it cannot, and names the file.
func (a *Again) Flight(ctx context.Context, recording, id string) (*ingest.Recording, error) {
	sources, err := archive.Sources(a.archive, recording)
	if err != nil {
		return nil, err
	}
	err = errors.New("the archive does not say which file it is from: names may have been pruned")
	for i := range sources {
		var read *ingest.Recording
		if read, err = a.flight(ctx, &sources[i], recording, id); err == nil {
			return read, nil
		}
		err = fmt.Errorf("%s: %w", sources[i].Path, err)
	}
	return nil, err
}

func (a *Again) flight(ctx context.Context, source *archive.Source, recording, id string) (found *ingest.Recording, err error) {
	defer func() {
		if r := recover(); r != nil {
			err = fmt.Errorf("downlock failed on its recording (%v)", r)
		}
	}()
	in, _, read, err := a.read(ctx, source, recording)
	if err != nil {
		return nil, err
	}
	if source.Profile != in.profile.SHA256 {
		return nil, errors.New("it was scanned with another profile than the one given here")
	}
	for result, err := range in.detector.Results(read) {
		if err != nil {
			return nil, err
		}
		if result.Flight.ID == id {
			return result.Recording(), nil
		}
	}
	return nil, errors.New("its recording no longer contains the flight")
}

// input finds the files of a source and the setting they are read in.
func (a *Again) input(source *archive.Source) (in input, s *scan, err error) {
	paths, err := filesOf(source.Path)
	if err != nil {
		return input{}, nil, errors.New("its recording is no longer where it was")
	}
	all, code := readSettings(a.options, paths, a.rules, command.Messages{To: io.Discard})
	if code != command.ExitDone {
		if len(paths) != 1 || paths[0] != source.Path {
			return input{}, nil, errors.New("its recording is no longer where it was, or it is in parts and no profile was given that fits it")
		}
		return input{}, nil, errors.New("no profile was given that fits its recording")
	}
	placed, _ := all.place(paths)
	run := &report.Run{Version: command.Version, Profile: all.summary, Aerodromes: a.options.places.SHA256(), Verdict: a.verdict, Samples: report.AllSamples}
	for _, p := range a.rules.Packs {
		run.Packs = append(run.Packs, report.Pack{Name: p.Name, SHA256: p.SHA256})
	}
	s = &scan{options: a.options, report: run}
	s.kept = &archive.Run{Version: command.Version, Profile: all.summary, Packs: a.rules.Packs, Aerodromes: run.Aerodromes}
	for _, in := range groupInputs(placed) {
		if in.Path == source.Path {
			return in, s, nil
		}
	}
	return input{}, nil, errors.New("its recording is no longer where it was")
}

// filesOf returns the file or object of a path; where there is none all that are beside it, since the
// recording of that name may be in parts.
func filesOf(path string) (paths []string, err error) {
	if schemas.IsObject(path) {
		if _, err := objects.Stat(path); err == nil {
			return []string{path}, nil
		}
		folder := strings.TrimSuffix(path, filepath.Base(path))
		found, err := objects.List(folder)
		for _, o := range found {
			if !strings.Contains(strings.TrimPrefix(o.Address, folder), "/") {
				paths = append(paths, o.Address)
			}
		}
		return paths, err
	}
	if info, err := os.Stat(path); err == nil && info.Mode().IsRegular() {
		return []string{path}, nil
	}
	entries, err := os.ReadDir(filepath.Dir(path))
	for _, e := range entries {
		if e.Type().IsRegular() {
			paths = append(paths, filepath.Join(filepath.Dir(path), e.Name()))
		}
	}
	return paths, err
}
