package scan

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"runtime"

	"github.com/spf13/pflag"

	"downlock/cmd/downlock/command"
	"downlock/report"
	"downlock/report/archive"
	"downlock/schemas"
)

const mergeHelp = `usage: downlock merge [flags] --run RUN

Puts the results of the tasks of an array (see ` + "`downlock plan --help`" + `) into the tables and
the ledger of its archive. It first scans what the tasks did not: chunks without results,
or with damaged ones. Only merge writes to the archive. It commits month by month, which
limits its memory and the work that a kill undoes. After a kill, run it again. If another
run scanned an input after the plan was made, the result of that run stays.

flags:
      --run RUN        the folder that ` + "`downlock plan`" + ` printed
      --months M       commit at most M months; run it again for the rest (default all)
      --no-scan        merge what is there; list what is missing and end with 1
  -j, --jobs N         inputs read at the same time (default: one per core)
  -q, --quiet          no notes; errors and warnings only
      --fail-on LEVEL  end with 6 (8 if inputs failed too) if an event of severity LEVEL or
                       above was merged: low, medium or high
      --summary FILE   write the figures and failures to this file, besides
                       DIR/runs/TIME/batch.json
      --metrics FILE   write them as a text file for the Prometheus node exporter
      --log FORM       messages as log lines: text or json

On stdout: a line per flight as in scan, once its month is in the archive.

exit codes: 0 done, 1 some inputs failed or, with --no-scan, chunks are missing, 2 usage,
3 the plan is damaged or of another version, 4 the archive could not be written; the
results stay, 5 another run uses the archive, 6 events of the severity of --fail-on, 8 both 1 and
6, 130 or 143 stopped by SIGINT or SIGTERM before the commits
`

// mergeOptions are the flags of merge.
type mergeOptions struct {
	run    string
	months int
	noScan bool
	jobs   int
	scan   scanOptions // summary, metrics, quiet, log and failOn of it
}

// MergeCommand runs merge and returns the exit code.
func MergeCommand(args []string, stdout, stderr io.Writer) int {
	say := command.Messages{To: stderr}
	stop := watchSignals(say)
	defer stop.end()
	var m mergeOptions
	flags := pflag.NewFlagSet("merge", pflag.ContinueOnError)
	flags.StringVar(&m.run, "run", "", "")
	flags.IntVar(&m.months, "months", 0, "")
	flags.BoolVar(&m.noScan, "no-scan", false, "")
	flags.IntVarP(&m.jobs, "jobs", "j", runtime.NumCPU(), "")
	flags.BoolVarP(&m.scan.quiet, "quiet", "q", false, "")
	flags.StringVar(&m.scan.failOn, "fail-on", "", "")
	flags.StringVar(&m.scan.summary, "summary", "", "")
	flags.StringVar(&m.scan.metrics, "metrics", "", "")
	flags.StringVar(&m.scan.log, "log", "", "")
	command.Choices(flags, "fail-on", command.Severities...)
	command.Choices(flags, "log", command.LogText, command.LogJSON)
	if code, done := command.ParseFlags(flags, args, mergeHelp, stdout, stderr); done {
		return code
	}
	wrong, hint := "", ""
	switch {
	case m.run == "":
		wrong, hint = "merge needs --run RUN", "name the folder `downlock plan` printed"
	case flags.NArg() > 0:
		wrong, hint = "merge takes no INPUT", "the plan says which inputs to merge"
	case flags.Changed("months") && m.months < 1:
		wrong = fmt.Sprintf("--months %d: it takes at least one", m.months)
	default:
		wrong, hint = m.scan.reportMistake(m.jobs)
	}
	if wrong != "" {
		say.Error(wrong)
		say.Hint(hint)
		return command.ExitUsage
	}
	say = command.Messages{To: command.LogTo(stderr, m.scan.log)}
	stop.sayWith(say)
	s, code := openArray(m.run, m.jobs, m.scan.quiet, stop, say)
	if s == nil {
		return code
	}
	o := &s.options
	o.archive, o.failOn, o.summary, o.metrics, o.log = filepath.Dir(filepath.Dir(schemas.Absolute(m.run))), m.scan.failOn, m.scan.summary, m.scan.metrics, m.scan.log
	stop.begin(progress{})
	missing, code := s.complete(m.noScan)
	if code != command.ExitDone {
		return code
	}
	return s.merge(m.months, missing, stdout)
}

// complete scans the chunks without whole results, unless it is to list them only. A code other
// than that of a run that is done ends the merge.
func (s *arrayScan) complete(listOnly bool) (missing []int, code int) {
	fail := func(err error) ([]int, int) {
		s.say.Failure(err)
		if command.IsOutput(err) {
			return nil, command.ExitOutput
		}
		return nil, command.ExitInvalid
	}
	missing, damaged, err := s.array.Missing()
	if err != nil {
		return fail(err)
	}
	for _, p := range damaged {
		s.say.Doubt(p)
	}
	if len(missing) == 0 {
		return nil, command.ExitDone
	}
	if listOnly {
		s.say.Error(fmt.Sprintf("%s: %s without results", s.array.Dir, command.Count(len(missing), "chunk")))
		s.say.Hint(mergeHint(s.array.Dir, missing))
		return missing, command.ExitDone
	}
	if !s.options.quiet {
		s.say.Note(fmt.Sprintf("%s without results; their inputs are scanned now", command.Count(len(missing), "chunk")))
	}
	wanted := map[int]bool{}
	for _, n := range missing {
		wanted[n] = true
	}
	for task := range s.array.Tasks {
		of := false
		for n := s.array.Begins[task]; n < s.array.Begins[task+1]; n++ {
			of = of || wanted[n]
		}
		if !of {
			continue
		}
		err := s.array.EachChunk(task, func(number int, planned []archive.ArrayInput) error {
			if !wanted[number] || s.stop.asked() {
				return nil
			}
			_, err := s.scanChunk(number, planned)
			return err
		})
		if err != nil {
			return fail(err)
		}
	}
	if s.stop.asked() {
		return nil, command.ExitSignal + s.stop.signal()
	}
	return nil, command.ExitDone
}

// merge commits the results and returns the exit code. missing are chunks that have none.
func (s *arrayScan) merge(months int, missing []int, stdout io.Writer) int {
	s.kept.Work = "merge of " + s.array.Dir + ", "
	if code := s.openArchive(); code != command.ExitDone {
		return code
	}
	defer s.close()
	t := newRunTotals(s.kept.Began, 0, nil)
	for _, n := range missing {
		t.failures = append(t.failures, report.Failure{Input: fmt.Sprintf("chunk %d", n), Err: errors.New("no task has scanned it")})
	}
	lines := newResultLines(stdout, false)
	merged, err := s.archive.MergeArray(s.array, months, func(_ string, inputs []archive.MergedInput) {
		for _, in := range inputs {
			t.addMerged(in, lines)
		}
	})
	t.inputs = t.scanned + t.skipped + len(t.failures)
	if err == nil {
		err = s.archive.Unmerged()
		t.kept = true
		damaged, keeping := s.archive.KeepVerdicts()
		s.warn(damaged)
		t.fail(err)
		t.fail(keeping)
	} else {
		t.fail(err)
	}
	t.fail(lines.Failure())
	s.record(t, lines)
	if t.output != nil {
		s.say.Failure(t.output)
	} else if !s.options.quiet {
		s.say.Note(mergeLine(t, merged))
	}
	return t.exitCode(s.options.failOn)
}

// addMerged adds an input of an array, and writes the lines of its flights.
func (t *runTotals) addMerged(in archive.MergedInput, lines *resultLines) {
	t.bytes += in.Size
	if in.Cause != "" {
		t.failures = append(t.failures, report.Failure{Input: in.Path, Err: errors.New(in.Cause)})
		return
	}
	t.scanned++
	var of inputReport
	if json.Unmarshal(in.Report, &of) == nil { // it has the form of this version, which wrote it
		t.addFlights(of.Flights, nil)
		lines.write(of)
	}
}

func mergeLine(t *runTotals, m archive.Merged) string {
	text := fmt.Sprintf("%s from %s merged, %d failed", command.Count(t.flights, "flight"), command.Count(t.scanned, "input"), len(t.failures))
	for _, part := range []struct {
		n    int
		text string
	}{{m.Already, "%d were merged before"}, {m.Superseded, "%d were scanned by another run since the plan; the results of that run stay"}, {m.MonthsLeft, "%d months are left for the next merge"}} {
		if part.n > 0 {
			text += "; " + fmt.Sprintf(part.text, part.n)
		}
	}
	return text
}
