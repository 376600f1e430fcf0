package main

import (
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"runtime"

	"github.com/spf13/pflag"

	"downlock/detect"
	"downlock/ingest"
	"downlock/report"
	"downlock/schemas"
)

const scanHelp = `usage: downlock scan [flags] INPUT...

Reads each INPUT (a file, or a folder with the exports in and below it), finds
the flights and their events and writes, below the output folder, a folder per
flight with report.html, report.json and events.csv, and over all of them
index.html, index.json and events.csv.

An export is CSV (wide: a column per parameter; long: time, parameter, value),
plain, gzip or zstd; Parquet (wide or long); or an Arrow IPC file. The content
decides, not the name.

flags:
  -p, --profile FILE   aircraft profile; needed for all but shipped demo data
  -r, --rules FILE     rule pack on top of the built-in one; may be repeated
  -o, --out DIR        output folder                (default downlock-reports)
  -j, --jobs N         inputs read at the same time (default: one per core)
      --sync           have every report on disk before it gets its name
  -q, --quiet          no progress bar, no notes; errors only

On stdout: a line per flight, tab-separated, after a line of headings.

examples:
  downlock scan --out reports demo
  downlock scan --profile my-type.yaml --rules my-limits.yaml --out reports exports/

exit codes: 0 done, 1 some inputs failed, 2 usage, 3 profile or rules invalid,
4 the output could not be written
`

// scanOptions are the flags of scan.
type scanOptions struct {
	profile string
	rules   []string
	out     string
	jobs    int
	sync    bool
	quiet   bool
}

func scanCommand(args []string, stdout, stderr io.Writer) int {
	say := messages{stderr}
	var o scanOptions
	flags := pflag.NewFlagSet("scan", pflag.ContinueOnError)
	flags.StringVarP(&o.profile, "profile", "p", "", "")
	flags.StringArrayVarP(&o.rules, "rules", "r", nil, "")
	flags.StringVarP(&o.out, "out", "o", "downlock-reports", "")
	flags.IntVarP(&o.jobs, "jobs", "j", runtime.NumCPU(), "")
	flags.BoolVar(&o.sync, "sync", false, "")
	flags.BoolVarP(&o.quiet, "quiet", "q", false, "")
	if code, done := parseFlags(flags, args, scanHelp, stdout, stderr); done {
		return code
	}
	switch {
	case flags.NArg() == 0:
		say.error("scan needs at least one input")
		say.hint("try `downlock scan --profile my-type.yaml exports/`")
		return exitUsage
	case o.jobs < 1:
		say.error(fmt.Sprintf("--jobs %d: it takes at least one", o.jobs))
		return exitUsage
	case o.out == "":
		say.error("--out needs a folder")
		return exitUsage
	}
	files, failures, skipped := findInputs(flags.Args(), o.out)
	s, code := newScan(o, files, say)
	if s == nil {
		return code
	}
	if skipped > 0 && !o.quiet {
		say.note(count(skipped, "file") + " of the folders left out: by the name no export")
	}
	return s.run(files, failures, stdout, stderr)
}

// scan is what the inputs of a run have in common.
type scan struct {
	options  scanOptions
	profile  *schemas.Profile
	detector *detect.Detector
	report   *report.Run
	say      messages
}

// newScan reads profile and rules; nil with an exit code when that fails.
func newScan(o scanOptions, files []string, say messages) (*scan, int) {
	profile, code := chooseProfile(o, files, say)
	if profile == nil {
		return nil, code
	}
	rules, err := detect.LoadRules(o.rules...)
	if err != nil {
		say.failure(err)
		return nil, exitInvalid
	}
	detector, err := detect.New(profile, rules)
	if err != nil {
		say.failure(err)
		return nil, exitInvalid
	}
	run := &report.Run{Version: version, Profile: profile, RepeatedNames: repeatedNames(files), Sync: o.sync}
	for _, p := range rules.Packs {
		run.Packs = append(run.Packs, report.Pack{Name: p.Name, SHA256: p.SHA256})
	}
	return &scan{options: o, profile: profile, detector: detector, report: run, say: say}, exitDone
}

// chooseProfile reads the profile, or takes the shipped one for demo data.
func chooseProfile(o scanOptions, files []string, say messages) (*schemas.Profile, int) {
	if o.profile != "" {
		p, err := schemas.ReadProfile(o.profile)
		if err != nil {
			say.failure(err)
			return nil, exitInvalid
		}
		return p, exitDone
	}
	if foreign := firstForeign(files); foreign != "" {
		say.error(fmt.Sprintf("%s is not shipped demo data and needs a profile: which column is which parameter, in what unit, and the limits of the type", foreign))
		say.hint("`downlock demo DIR` writes " + demoProfile + ", a commented profile to start from; then use --profile FILE")
		return nil, exitUsage
	}
	p, err := schemas.ShippedProfile()
	if err != nil {
		say.failure(err)
		return nil, exitInvalid
	}
	return p, exitDone
}

// outcome is what became of one input.
type outcome struct {
	input   string
	entries []report.FlightEntry
	note    string
	err     error
}

// one takes one input all the way: read it, find the flights and their events,
// write the reports.
func (s *scan) one(input string) (o outcome) {
	o.input = input
	defer func() {
		if r := recover(); r != nil {
			o.err = fmt.Errorf("%s: downlock failed on this file (%v); please report it with the file", input, r)
		}
	}()
	recording, err := ingest.Read(input, s.profile)
	if err != nil {
		o.err = err
		return o
	}
	results := s.detector.Detect(recording)
	if len(results) == 0 {
		o.note, o.err = s.detector.WhyNoFlight(recording)
	}
	for _, result := range results {
		entry, err := report.WriteFlight(s.options.out, s.report, result)
		if err != nil {
			o.err = err
			return o
		}
		o.entries = append(o.entries, entry)
	}
	return o
}

// run scans the files and writes the index; failures are those found before.
func (s *scan) run(files []string, failures []report.Failure, stdout, stderr io.Writer) int {
	inputs := len(files) + len(failures)
	for _, f := range failures {
		s.say.failure(f.Err)
	}
	bar := newProgress(stderr, len(files), s.options.quiet)
	lines := newResultLines(stdout, s.options.out)
	var entries []report.FlightEntry
	var output *report.OutputError
	forEach(files, s.options.jobs, s.one, func(o outcome) (goOn bool) {
		bar.step()
		entries = append(entries, o.entries...)
		lines.write(o)
		if errors.As(o.err, &output) {
			return false
		}
		if o.err != nil {
			bar.clear()
			s.say.failure(o.err)
			failures = append(failures, report.Failure{Input: o.input, Err: o.err})
		} else if o.note != "" && !s.options.quiet {
			bar.clear()
			s.say.note(o.input + ": " + o.note)
		}
		return true
	})
	bar.clear()
	if output != nil {
		s.say.failure(output)
		return exitOutput
	}
	if err := report.WriteIndex(s.options.out, s.report, entries, failures); err != nil {
		s.say.failure(err)
		return exitOutput
	}
	if err := lines.err; err != nil {
		s.say.failure(&report.OutputError{Path: "standard output", Err: err})
		return exitOutput
	}
	if !s.options.quiet {
		s.say.note(fmt.Sprintf("%s from %s, %d failed; open %s", count(len(entries), "flight"), count(inputs, "input"), len(failures), filepath.Join(s.options.out, "index.html")))
	}
	if len(failures) > 0 {
		return exitInputsFailed
	}
	return exitDone
}
