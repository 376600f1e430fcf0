package archive

import (
	"errors"
	"fmt"
	"slices"

	"downlock/schemas"
)

// blocked is the error of a month or a shard that nothing can be merged into.
type blocked struct {
	month, shard string // one of them
	err          error
}

func (b *blocked) Error() string { return b.err.Error() }

func (b *blocked) Unwrap() error { return b.err }

// holds reports whether a staged input needs the month or the shard.
func (b *blocked) holds(p *plan, s *staged) bool {
	if b.shard != "" {
		return s.shard == b.shard || s.scanned && (recordingShard(s.sha) == b.shard || s.was != "" && recordingShard(s.was) == b.shard)
	}
	return s.scanned && slices.ContainsFunc(p.months[b.month], func(c *recordingChange) bool { return c.sha == s.sha || c.sha == s.was })
}

// Unmerged is the error of a commit that damaged files of the archive kept some inputs
// from. All others are in the archive.
type Unmerged struct {
	schemas.Problems // of the files
	Inputs           int
}

func (e *Unmerged) Error() string { return e.Problems.Error() }

func (e *Unmerged) Unwrap() error { return e.Problems }

// note adds a problem, once for each file.
func (e *Unmerged) note(p *schemas.Problem) {
	if !slices.ContainsFunc(e.Problems, func(other *schemas.Problem) bool { return other.File == p.File }) {
		e.Problems = append(e.Problems, p)
	}
}

// prepareSound writes the new files for the staged inputs, all but those that damaged
// files are in the way of. Where none is left there is no change.
func (a *Archive) prepareSound(all []staged) (*changeover, error) {
	for {
		p, err := a.newPlan(all)
		var over *changeover
		if err == nil {
			over, err = a.prepare(p)
		}
		var in *blocked
		var problem *schemas.Problem
		if !errors.As(err, &in) || !errors.As(err, &problem) {
			return over, err
		}
		sound := slices.DeleteFunc(slices.Clone(all), func(s staged) bool { return in.holds(p, &s) })
		a.unmerged.Inputs += len(all) - len(sound)
		problem.Hint = fmt.Sprintf("%s. The other inputs are in the archive; this file is in the way of %d, which the next run scans again: keep their files", problem.Hint, len(all)-len(sound))
		a.unmerged.note(problem)
		if len(sound) == len(all) { // cannot happen; it would not end
			return nil, err
		}
		if all = sound; len(all) == 0 {
			return &changeover{}, nil
		}
		if err := a.disk.remove(a.newFile("")); err != nil {
			return nil, outputError(a.newFile(""), err)
		}
	}
}
