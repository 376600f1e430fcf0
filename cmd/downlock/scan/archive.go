package scan

import (
	"encoding/json"
	"errors"
	"time"

	"downlock/cmd/downlock/command"
	"downlock/report/archive"
	"downlock/schemas"
)

// openArchive opens the archive for this run, where the user keeps one.
func (s *scan) openArchive() (code int) {
	if s.options.archive == "" {
		return command.ExitDone
	}
	a, err := archive.Open(s.options.archive, s.kept, archiveInputs(s.inputs))
	var locked *archive.LockedError
	switch {
	case errors.As(err, &locked):
		s.say.Error(locked.Error())
		s.say.Hint(locked.Hint())
		return command.ExitLocked
	case err != nil:
		s.say.Failure(err)
		return command.ExitOutput
	}
	s.archive, s.stager = a, a
	return command.ExitDone
}

func (s *scan) close() {
	if s.archive != nil {
		s.archive.Close()
	}
}

// unchanged reports whether the archive holds the input as it is now. It fails where the
// input is no longer the one an array was planned for.
func (s *scan) unchanged(o *outcome) (bool, error) {
	if chunk, ok := s.stager.(*archive.Chunk); ok {
		return false, chunk.SameSight(o.input.Input, o.sight)
	}
	if s.archive == nil || s.options.rescan {
		return false, nil
	}
	return s.archive.Unchanged(o.input.Input, o.sight, o.began)
}

// asListed reports whether the archive holds an input of objects as they were when they were listed,
// a thousand at a time: to ask about each would take most of a night in which few are new.
func (s *scan) asListed(in input) bool {
	if s.archive == nil || s.options.rescan || s.listed[in.Files[0]] == (archive.Sight{}) {
		return false
	}
	sight, err := in.Sight(s.sightListed)
	_, current := s.archive.Ask(in.Input, sight)
	return err == nil && current
}

// sightListed is the sight of an object when it was listed; else it is asked for.
func (s *scan) sightListed(path string) (archive.Sight, error) {
	if sight, ok := s.listed[path]; ok {
		return sight, nil
	}
	return archive.Look(path)
}

// stager takes the findings of inputs: an archive, or a chunk of an array.
type stager interface {
	StageRows(archive.Input, archive.Sight, time.Time, archive.Rows) error
	StageFailure(archive.Input, archive.Sight, time.Time, error) error
}

// keep stages the findings of the input.
func (s *scan) keep(o *outcome, found findings) error {
	if s.stager == nil {
		return nil
	}
	var err error
	if found.rows.Report, err = json.Marshal(inputReport{o.input.Path, o.flights}); err != nil {
		return err
	}
	return s.stager.StageRows(o.input.Input, o.sight, o.began, found.rows)
}

// keepFailure notes a failed input in the archive, so that the next run tries it
// again.
func (s *scan) keepFailure(o *outcome) {
	if s.stager == nil || o.err == nil || command.IsOutput(o.err) {
		return
	}
	if err := s.stager.StageFailure(o.input.Input, o.sight, o.began, o.err); err != nil {
		o.err = err
	}
}

// commit puts the staged findings into the archive, and brings its table of verdicts
// up to date with the events.
func (s *scan) commit(t *runTotals) error {
	if s.archive == nil {
		return nil
	}
	err := s.archive.Commit()
	var unmerged *archive.Unmerged
	if err != nil && !errors.As(err, &unmerged) {
		return err
	}
	t.fail(err)
	t.kept = true
	damaged, err := s.archive.KeepVerdicts()
	t.fail(err)
	if s.options.out == "" { // with reports readVerdicts has warned already
		s.warn(damaged)
	}
	return nil
}

// warn names damaged verdicts.
func (s *scan) warn(damaged schemas.Problems) {
	for _, p := range damaged {
		s.say.Doubt(p)
	}
}

// discard drops the staged findings of a run whose output cannot be written.
func (s *scan) discard() {
	if s.archive != nil {
		s.archive.Discard()
	}
}
