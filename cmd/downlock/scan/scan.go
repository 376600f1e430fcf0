// Package scan is the subcommand that reads exports and writes the reports of their
// flights, an archive, or both. The function scan.one shows the whole way of an input.
package scan

import (
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"downlock/cmd/downlock/command"
	"downlock/detect"
	"downlock/ingest"
	"downlock/report"
	"downlock/report/archive"
	"downlock/schemas"
)

// scan holds the parts of a run that all inputs share.
type scan struct {
	options  scanOptions
	inputs   []input
	unplaced []report.Failure // files that the fleet does not know
	report   *report.Run
	kept     *archive.Run     // the part of the run that the archive notes
	archive  *archive.Archive // nil for none
	stager   stager           // that takes the findings; nil for none
	stop     *stopping
	say      command.Messages
	memory   memoryLimit
	listed   map[string]archive.Sight // of objects, when they were listed
}

// newScan reads the rules and the profile, or the fleet, and opens the archive. It returns nil and an
// exit code when one of them fails.
func newScan(o scanOptions, files []string, stop *stopping, say command.Messages) (*scan, int) {
	s, all, code := prepareScan(o, files, stop, say)
	if code == command.ExitDone {
		s.takeInputs(files, all)
		code = s.openArchive()
	}
	if code == command.ExitDone {
		code = s.readVerdicts()
	}
	if code != command.ExitDone {
		if s != nil {
			s.close()
		}
		return nil, code
	}
	return s, command.ExitDone
}

// Clock tells when an input is looked at, which says whether it has been at rest since. Tests set it
// forward where the files they have just written shall look at rest.
var Clock = time.Now

// prepareScan reads the rules and the profile, or the fleet.
func prepareScan(o scanOptions, files []string, stop *stopping, say command.Messages) (*scan, settings, int) {
	packs := make([]string, len(o.rules))
	for i, path := range o.rules {
		packs[i] = o.copyOf(path)
	}
	rules, err := detect.LoadRules(packs...)
	if err != nil {
		say.Failure(err)
		return nil, settings{}, command.ExitInvalid
	}
	say.Notes(rules.OldNames)
	all, code := readSettings(o, files, rules, say)
	if code != command.ExitDone {
		return nil, all, code
	}
	run := &report.Run{Version: command.Version, Profile: all.summary, Samples: report.SampleChoice(o.samples), Sync: o.sync,
		Share: o.share, Identity: o.key, Aerodromes: o.key.Sum(o.places.SHA256())}
	for _, p := range rules.Packs {
		run.Packs = append(run.Packs, report.Pack{Name: p.Name, SHA256: p.SHA256})
	}
	s := &scan{options: o, report: run, stop: stop, say: say}
	s.kept = &archive.Run{Began: time.Now(), Version: command.Version, Profile: run.Profile, Packs: rules.Packs, Aerodromes: run.Aerodromes, Identity: o.key, Share: o.share}
	return s, all, command.ExitDone
}

// takeInputs makes inputs of the files, each in its setting.
func (s *scan) takeInputs(files []string, all settings) {
	placed, unplaced := all.place(files)
	s.inputs, s.unplaced = groupInputs(placed), unplaced
	showInputs(s.inputs, s.options.key)
	for i := range s.inputs {
		s.inputs[i].Run = archiveRun(s.kept, s.inputs[i])
	}
	s.report.RepeatedNames = repeatedNames(s.inputs)
}

// outcome is the result of one input.
type outcome struct {
	input   input
	sight   archive.Sight // as it was when it was read
	began   time.Time
	unbegun bool // the run was stopped before
	skipped bool // unchanged since it was scanned before
	unsound bool // the input is damaged; the error will not pass
	flights []flightLine
	entries []report.FlightEntry // none without an output folder
	note    string
	repairs []string // to its time
	doubts  []string // parts that are missing, columns that stand there twice
	err     error
}

// one takes one input all the way. It looks whether the input is new, reads it,
// withholds its identity where asked, finds the flights and their events, writes the
// reports and stages the findings for the archive.
func (s *scan) one(input input) (o outcome) {
	o = outcome{input: input, began: Clock()}
	if o.unbegun = s.stop.asked(); o.unbegun {
		return o
	}
	defer func() {
		if r := recover(); r != nil {
			o.err = fmt.Errorf("%s: downlock failed on this file (%v); please report this with the file", input.Path, r)
		}
		s.withhold(&o)
		s.keepFailure(&o)
	}()
	if o.skipped = s.asListed(input); o.skipped {
		return o
	}
	if o.sight, o.unbegun, o.err = s.look(input); o.unbegun || o.err != nil {
		return o
	}
	if o.skipped, o.err = s.unchanged(&o); o.skipped || o.err != nil {
		return o
	}
	if o.unbegun, o.err = s.tryOpen(input); o.unbegun || o.err != nil {
		return o
	}
	recording, err := s.read(&o)
	if err != nil {
		o.err = err
		return o
	}
	defer s.memory.keep(recording)()
	shown := s.options.key.Recording(recording, s.identity(input))
	o.repairs = repairsOf(shown)
	o.doubts = append(ingest.MissingParts(input.Files, input.profile), ingest.ReadOnce(recording)...)
	found, err := s.detect(input, recording, shown)
	if err != nil {
		o.err = err
		return o
	}
	if len(found.flights) == 0 {
		if o.note, o.err = input.detector.WhyNoFlight(shown); o.err != nil {
			return o
		}
	}
	if o.err = s.writeReports(&o, found); o.err == nil {
		o.err = s.keep(&o, found)
	}
	return o
}

// repairsOf lists the repairs to the time of a recording's stretches, each once.
func repairsOf(r *ingest.Recording) (all []string) {
	for _, stretch := range r.Stretches() {
		for _, repair := range stretch.Repairs {
			if !slices.Contains(all, repair) {
				all = append(all, repair)
			}
		}
	}
	return all
}

// read reads the input, and fails when the input changed meanwhile.
func (s *scan) read(o *outcome) (*ingest.Recording, error) {
	defer s.memory.read(s.options.maxSize << 20)()
	recording, err := s.options.readFiles(o.input)
	after, looking := o.input.Look()
	switch {
	case looking != nil:
		return nil, looking
	case after != o.sight:
		return nil, &schemas.Problem{File: o.input.Path, Cause: "changed while it was read",
			Hint: "it may still be being copied; scan it again when that is done"}
	case err != nil:
		var problem *schemas.Problem
		o.unsound = errors.As(err, &problem)
		return nil, err
	}
	return recording, nil
}

// run scans the files, writes the index and the archive and returns the exit code.
func (s *scan) run(found foundInputs, stdout, stderr io.Writer) int {
	failures := showFailures(append(found.failures, s.unplaced...), s.options.key)
	t := newRunTotals(s.kept.Began, len(s.inputs), append(failures, s.tooFew()...))
	t.leftOut = found.leftOut.shown(s.options.key)
	s.tell(found, t.leftOut)
	for _, f := range t.failures {
		s.say.Failure(f.Err)
	}
	if !s.options.quiet {
		s.begin()
	}
	bar := newProgress(stderr, len(s.inputs), s.options.quiet)
	lines := newResultLines(stdout, s.archive != nil)
	s.stop.begin(bar)
	s.resume(t, lines)
	forEach(s.inputs, s.options.jobs, s.one, func(o outcome) (goOn bool) {
		if command.IsOutput(o.err) {
			t.fail(o.err)
			return false
		}
		t.add(o)
		if !o.skipped {
			bar.clear() // to make room for lines and messages
		}
		lines.write(inputReport{o.input.Path, o.flights})
		s.sayOf(o)
		bar.step()
		return true
	})
	bar.clear()
	if t.output == nil {
		t.fail(s.finish(t))
	} else {
		s.discard()
	}
	t.fail(lines.Failure())
	t.signal = s.stop.signal()
	s.record(t, lines)
	if t.output != nil {
		s.say.Failure(t.output)
	} else if !s.options.quiet {
		s.sayWorst(t)
		s.say.Note(t.line(s.options))
	}
	return t.exitCode(s.options.failOn)
}

// sayOf says what is to be said of an input that was scanned.
func (s *scan) sayOf(o outcome) {
	if doubts := append(o.repairs, o.doubts...); len(doubts) > 0 {
		s.say.Warning(o.input.Path + ": " + strings.Join(doubts, "; "))
	}
	if o.err != nil {
		s.say.Failure(o.err)
	} else if o.note != "" && !s.options.quiet {
		s.say.Note(o.input.Path + ": " + o.note)
	}
}

// tell says what is to be said of the folders before their exports are read.
func (s *scan) tell(found foundInputs, left leftOut) {
	left.warn(s.say)
	each := func(paths []string, say func(string), text string) {
		for _, path := range shownPaths(paths, s.options.key) {
			say(path + ": " + text)
		}
	}
	each(found.lost, s.say.Warning, "a link that leads nowhere, or to a folder that it is in; not followed")
	each(found.followed, s.say.Warning, "a link out of the folder; followed")
	each(found.gone, s.say.Warning, "is missing, which --allow-empty accepts")
	if !s.options.quiet {
		each(found.empty, s.say.Note, "the folder has no export")
	}
}

// tooFew is a failure where fewer inputs were found than the user asks for.
func (s *scan) tooFew() []report.Failure {
	if len(s.inputs) >= s.options.atLeast {
		return nil
	}
	const name = "the inputs"
	return []report.Failure{{Input: name, Err: &schemas.Problem{File: name,
		Cause: fmt.Sprintf("%s found, but --at-least asks for %d", command.Count(len(s.inputs), "input"), s.options.atLeast),
		Hint:  "check that the download is complete"}}}
}

// finish writes the files of the whole run: the archive and the index. Then it moves
// damaged inputs aside, which the archive has noted by now.
func (s *scan) finish(t *runTotals) error {
	if err := s.commit(t); err != nil {
		return err
	}
	if s.options.out != "" {
		s.report.Skipped = t.skipped
		if err := report.WriteIndex(s.options.out, s.report, &t.index, t.failures); err != nil {
			return err
		}
	}
	s.quarantine(t)
	return nil
}
