package scan

import (
	"fmt"
	"slices"
	"strings"

	"downlock/cmd/downlock/command"
	"downlock/detect"
	"downlock/report"
	"downlock/report/archive"
	"downlock/report/identity"
	"downlock/report/review"
	"downlock/schemas"
)

// resultProfile returns the profile for results: with the registration of the command
// line, and without names where identity is withheld.
func (o scanOptions) resultProfile(p *schemas.Profile) *schemas.Profile {
	if o.aircraft != "" {
		named := *p
		named.Registration = o.aircraft
		p = &named
	}
	return o.key.Profile(p)
}

// showInputs replaces the paths of the inputs with paths that may be shown. Tokens stand in
// their own order from there on, in lines, index and logs, and in the times at which files
// are written: the order of names, which often hold dates, would tell them.
func showInputs(inputs []input, key *identity.Key) {
	for i := range inputs {
		inputs[i].Path = key.Input(inputs[i].Path, nil, "").Shown
	}
	if key != nil {
		slices.SortStableFunc(inputs, func(a, b input) int { return strings.Compare(a.Path, b.Path) })
	}
}

// shownPaths returns paths as they may be shown; tokens in their own order.
func shownPaths(paths []string, key *identity.Key) []string {
	shown := make([]string, len(paths))
	for i, path := range paths {
		shown[i] = key.Input(path, nil, "").Shown
	}
	if key != nil {
		slices.Sort(shown)
	}
	return shown
}

// showFailures returns the failures without withheld names.
func showFailures(failures []report.Failure, key *identity.Key) []report.Failure {
	shown := make([]report.Failure, len(failures))
	for i, f := range failures {
		in := key.Input(f.Input, nil, "")
		shown[i] = report.Failure{Input: in.Shown, Err: in.Error(f.Err)}
	}
	if key != nil {
		slices.SortStableFunc(shown, func(a, b report.Failure) int { return strings.Compare(a.Input, b.Input) })
	}
	return shown
}

// identity returns the name of an input that may be shown, and the names it replaces.
func (s *scan) identity(in input) identity.Input {
	return s.options.key.Input(inputName(in.Files, in.profile), in.Files, in.profile.File)
}

// withhold removes withheld names from the messages of an outcome. An error of writing
// names a place below the output folder, which holds tokens already.
func (s *scan) withhold(o *outcome) {
	in := s.identity(o.input)
	o.note = in.Text(o.note)
	for i, text := range o.doubts {
		o.doubts[i] = in.Text(text)
	}
	if !command.IsOutput(o.err) {
		o.err = in.Error(o.err)
	}
}

// readVerdicts lets reports show the verdicts on their events.
func (s *scan) readVerdicts() (code int) {
	if s.archive == nil || s.options.out == "" {
		return command.ExitDone
	}
	latest, damaged, err := review.Latest(s.options.archive)
	if err != nil {
		s.say.Failure(err)
		return command.ExitOutput
	}
	s.warn(damaged)
	s.report.Verdict = func(f *detect.Flight, e *detect.Event) *report.Verdict {
		v, ok := latest[e.ID]
		if !ok {
			return nil
		}
		return &report.Verdict{Finding: string(v.Finding), Cause: v.Cause, Comment: v.Comment, By: v.By,
			At: v.At.Format("2006-01-02T15:04:05Z"), Outdated: v.Outdated(archive.EventRow(f, e))}
	}
	return command.ExitDone
}

// movedNote returns the note that a damaged file of an input was moved aside. Its new
// place holds its name, so it is left out where identity is withheld.
func (s *scan) movedNote(in input, path, place string) string {
	if s.options.key != nil {
		return fmt.Sprintf("%s: moved to %s", in.Path, s.options.quarantine)
	}
	return path + ": moved to " + place
}
