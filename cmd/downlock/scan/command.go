package scan

import (
	"bufio"
	"fmt"
	"io"
	"os"
	"runtime"
	"slices"
	"time"

	"github.com/spf13/pflag"

	"downlock/cmd/downlock/command"
	"downlock/ingest"
	"downlock/report"
	"downlock/report/identity"
	"downlock/schemas"
)

const scanHelp = `usage: downlock scan [flags] INPUT...

Reads each INPUT (a file, or a folder with the exports in and below it), finds
the flights and their events and writes, below the output folder, a folder per
flight with report.html, report.json and events.csv, and over all of them
index.html, index.json and events.csv.

An export is CSV (wide: a column per parameter; long: time, parameter, value),
plain, gzip, zstd or alone in a zip; a sheet of an .xlsx workbook; Parquet (wide or
long); an Arrow IPC file; or a MATLAB level 5 file. The content decides, not the name.

flags:
  -p, --profile FILE   aircraft profile; needed for all but shipped demo data
      --fleet FILE     in place of --profile, for inputs of several types or aircraft:
                       which profile each has, by the names of files; see below
  -r, --rules FILE     rule pack on top of the built-in one; may be repeated
  -o, --out DIR        output folder (default downlock-reports; with --archive
                       reports are written only where this is given)
      --samples WHICH  recorded samples in each report.html, to zoom into: all (at most
                       1 MB for two hours of 60 parameters), events (those around events;
                       the default) or none (no script on the page)
  -j, --jobs N         inputs read at the same time (default: one per core)
      --max-size MIB   refuse an input that is larger once unpacked (default 2048);
                       reading one takes at most 1 GiB of memory more
      --aircraft TEXT  registration of the aircraft the inputs are of
      --date YYYY-MM-DD
                       date of the first row of exports that have a clock and no date;
                       goes before the date in a file's name; an input that an archive
                       holds keeps the date it was scanned with until --rescan
      --aerodromes FILE
                       codes of aerodromes (CSV: code,latitude,longitude) for what
                       flights begin and end at; others go by their position
      --deidentify KEYFILE
                       withhold who flew when: names, paths, hashes and the
                       registration become tokens under the key in the file (16
                       bytes or more), dates become months; in all that is written
      --share          let others read what is written, as the umask says;
                       without it files are yours alone
      --sync           have every report on disk before it gets its name
      --allow-empty    an input folder without an export, or that is not there, is no
                       failure
      --at-least N     fewer inputs than N are a failure; what there is is scanned
  -q, --quiet          no progress bar, no notes; errors and warnings only

every night:
      --archive DIR    keep what is found in Parquet tables, by month, and skip
                       inputs scanned before that did not change since; each run
                       leaves its figures and failures in DIR/runs/TIME/batch.json
      --rescan         scan them again; with --archive
      --quarantine DIR move damaged inputs there; nothing is overwritten
      --fail-on LEVEL  end with 6, or 8 where inputs failed too, where an event of
                       severity low, medium or high, or above, was found; also one of
                       an earlier run on the archive that ended before it could say so
      --summary FILE   write the run's figures and failures there too, or without
                       an archive
      --metrics FILE   write them for a Prometheus node exporter's text files
      --log FORM       messages as log lines: text or json

over many machines (see ` + "`downlock plan --help`" + `):
      --run DIR        scan the inputs of one task of an array that was planned, in place of
                       INPUT; with --jobs, --quiet, --log and --metrics at most
      --task I         which task, from 0; without it the index that Slurm, Kubernetes or AWS
                       Batch sets for the task

a fleet file (schemas/fleet.schema.json), of which the first entry that fits a file counts:
  schema: downlock fleet 1
  inputs:
    - files: "{registration}_*.csv.gz"   # * is any text; the registration is read there
      profile: th120.yaml                # beside this file
      file_date: "*_{YYYYMMDD}_*"        # the date of exports without one; may be left out
    - files: large/*                     # with a slash: the folder above the file, too
      profile: th440.yaml
      registration: TH-LGR
An input that fits no entry fails, and the rest is scanned. In folders, files are taken by
their ending; those left out are named. A file named itself is read whatever its name.
Links are followed; a pipe, a device or a socket is refused. An INPUT that begins with
s3:// is an object, or all exports below a prefix, in an object store, which is only
read: ` + "`downlock help exports`" + ` says how to reach it. The INPUT - is standard
input, read once and up to --max-size; reports name it stdin. It needs --profile, and
does not go with --archive, which knows a recording by its file.

On stderr: what the run does, warnings, and the most severe occurrences.
On stdout: a line per flight, tab-separated, after a line of headings: events by
severity, how many of them are only possible, and occurrences, as which the events
of one cause count once; rules not evaluable, failed checks, and the report. With
--archive the lines come at the end, once the archive holds what they say; those of a
run that was cut off before come first.

examples:
  downlock scan --out reports demo
  downlock scan --profile my-type.yaml --rules my-limits.yaml --out reports exports/
  downlock scan -q --profile my-type.yaml --archive fleet downloads/
  unzip -p night.zip first.csv | downlock scan --profile my-type.yaml -
  downlock scan -q --fleet fleet.yaml --archive fleet --at-least 20 downloads/
  downlock scan -q --profile my-type.yaml --archive fleet s3://exports/2031/

exit codes: 0 done, 1 some inputs failed, 2 usage, 3 profile, fleet, rules, key or
list invalid, 4 the output or the archive could not be written, 5 another run uses the
archive, 6 events as --fail-on asks, 8 both 1 and 6, 130 or 143 stopped by SIGINT or
SIGTERM: what was finished is kept. 4, 130 and 143 go before the others; events that
they hide raise --fail-on in the next run on the archive.
`

// scanOptions are the flags of scan.
type scanOptions struct {
	profile    string
	fleet      string
	rules      []string
	out        string // "" for no reports
	samples    string
	jobs       int
	maxSize    int64 // MiB
	packAbove  int   // a recording with more samples is packed
	sync       bool
	allowEmpty bool
	atLeast    int // inputs
	quiet      bool
	archive    string
	rescan     bool
	quarantine string
	failOn     string
	summary    string
	metrics    string
	log        string
	aircraft   string
	dateText   string
	date       time.Time // of the first row of exports without a date; zero for none
	stdin      *bufio.Reader
	aerodromes string
	places     schemas.Aerodromes // in the file aerodromes
	deidentify string
	key        *identity.Key // withholds identity; nil for none
	share      bool
	copies     map[string]string // of the files of the settings of an array, by their paths
}

// Command runs scan and returns the exit code.
func Command(args []string, stdout, stderr io.Writer) int {
	say := command.Messages{To: stderr}
	stop := watchSignals(say)
	defer stop.end()
	o := scanOptions{packAbove: ingest.ManySamples, stdin: bufio.NewReader(os.Stdin)}
	flags := pflag.NewFlagSet("scan", pflag.ContinueOnError)
	flags.StringVarP(&o.profile, "profile", "p", "", "")
	flags.StringVar(&o.fleet, "fleet", "", "")
	flags.StringArrayVarP(&o.rules, "rules", "r", nil, "")
	flags.StringVarP(&o.out, "out", "o", "downlock-reports", "")
	flags.StringVar(&o.samples, "samples", string(report.EventSamples), "")
	flags.IntVarP(&o.jobs, "jobs", "j", runtime.NumCPU(), "")
	flags.Int64Var(&o.maxSize, "max-size", ingest.DefaultMaxBytes>>20, "")
	flags.BoolVar(&o.sync, "sync", false, "")
	flags.BoolVar(&o.allowEmpty, "allow-empty", false, "")
	flags.IntVar(&o.atLeast, "at-least", 0, "")
	flags.BoolVarP(&o.quiet, "quiet", "q", false, "")
	flags.StringVar(&o.archive, "archive", "", "")
	flags.BoolVar(&o.rescan, "rescan", false, "")
	flags.StringVar(&o.quarantine, "quarantine", "", "")
	flags.StringVar(&o.failOn, "fail-on", "", "")
	flags.StringVar(&o.summary, "summary", "", "")
	flags.StringVar(&o.metrics, "metrics", "", "")
	flags.StringVar(&o.log, "log", "", "")
	flags.StringVar(&o.aircraft, "aircraft", "", "")
	flags.StringVar(&o.dateText, "date", "", "")
	flags.StringVar(&o.aerodromes, "aerodromes", "", "")
	flags.StringVar(&o.deidentify, "deidentify", "", "")
	flags.BoolVar(&o.share, "share", false, "")
	var task taskOptions
	flags.StringVar(&task.run, "run", "", "")
	flags.IntVar(&task.task, "task", 0, "")
	command.Choices(flags, "samples", string(report.AllSamples), string(report.EventSamples), string(report.NoSamples))
	command.Choices(flags, "fail-on", command.Severities...)
	command.Choices(flags, "log", command.LogText, command.LogJSON)
	if code, done := command.ParseFlags(flags, args, scanHelp, stdout, stderr); done {
		return code
	}
	if flags.Changed("date") {
		var err error
		if o.date, err = time.Parse(time.DateOnly, o.dateText); err != nil {
			say.Error("--date " + command.Quote(o.dateText) + " is no date")
			say.Hint("write it as YYYY-MM-DD")
			return command.ExitUsage
		}
	}
	if flags.Changed("run") || flags.Changed("task") {
		return task.command(flags, o, stop, command.LogTo(stderr, o.log))
	}
	if wrong, hint := o.mistake(flags); wrong != "" {
		say.Error(wrong)
		say.Hint(hint)
		return command.ExitUsage
	}
	if o.archive != "" && !flags.Changed("out") {
		o.out = ""
	}
	if folder, flag := o.takenFor(flags.Args()); folder != "" {
		say.Error(folder + " is an input and the folder of " + flag + ", which is left out of the inputs")
		say.Hint("name the folder of the exports, and another one for " + flag)
		return command.ExitUsage
	}
	stderr = command.LogTo(stderr, o.log)
	say = command.Messages{To: stderr}
	stop.sayWith(say)
	key, ok := command.ReadKey(o.deidentify, say)
	if !ok {
		return command.ExitInvalid
	}
	o.key = key
	if flags.Changed("aerodromes") {
		places, err := schemas.ReadAerodromes(o.aerodromes)
		if err != nil {
			say.Failure(err)
			return command.ExitInvalid
		}
		o.places = places
	}
	found := findInputs(flags.Args(), o)
	s, code := newScan(o, found.files, stop, say)
	if s == nil {
		return code
	}
	defer s.close()
	s.listed = found.listed
	return s.run(found, stdout, stderr)
}

// mistake returns a mistake in the command line and a hint, "" when there is none.
func (o *scanOptions) mistake(flags *pflag.FlagSet) (wrong, hint string) {
	switch {
	case flags.NArg() == 0:
		return "scan needs at least one input", "try `downlock scan --profile my-type.yaml exports/`"
	case slices.Contains(flags.Args(), command.Stdin) && o.archive != "":
		return "standard input and --archive do not go together: the archive knows a recording by its file", "write it to a file of its own, and name that"
	case slices.Contains(flags.Args(), command.Stdin) && o.profile == "":
		return "standard input needs --profile", "`downlock scan --profile my-type.yaml -`"
	case flags.Changed("fleet") && o.fleet == "":
		return "--fleet needs a file", ""
	case o.fleet != "" && o.profile != "":
		return "--fleet and --profile do not go together", "the fleet file names the profiles"
	case o.fleet != "" && o.aircraft != "":
		return "--fleet and --aircraft do not go together", "the fleet file says of each input which aircraft it is of"
	case o.atLeast < 0:
		return fmt.Sprintf("--at-least %d: it takes a number of inputs", o.atLeast), ""
	case !slices.Contains([]report.SampleChoice{report.AllSamples, report.EventSamples, report.NoSamples}, report.SampleChoice(o.samples)):
		return "--samples " + command.Quote(o.samples) + " is no choice", "use all, events or none"
	case o.maxSize < 1 || o.maxSize > 1<<20:
		return fmt.Sprintf("--max-size %d: it takes 1 to %d MiB", o.maxSize, 1<<20), ""
	case o.out == "":
		return "--out needs a folder", ""
	case flags.Changed("archive") && o.archive == "":
		return "--archive needs a folder", ""
	case flags.Changed("deidentify") && o.deidentify == "":
		return "--deidentify needs a key file", "make one with `head -c 32 /dev/urandom >KEYFILE && chmod 600 KEYFILE`"
	case o.rescan && o.archive == "":
		return "--rescan is for inputs an archive knows", "add --archive DIR, or leave --rescan out: without an archive everything is scanned"
	}
	return o.reportMistake(o.jobs)
}

// reportMistake is mistake for the flags that several commands have.
func (o *scanOptions) reportMistake(jobs int) (wrong, hint string) {
	switch {
	case jobs < 1:
		return fmt.Sprintf("--jobs %d: it takes at least one", jobs), ""
	case o.failOn != "" && !slices.Contains(command.Severities, o.failOn):
		return "--fail-on " + command.Quote(o.failOn) + " is no severity", "use low, medium or high"
	case o.log != "" && o.log != command.LogText && o.log != command.LogJSON:
		return "--log " + command.Quote(o.log) + " is no form of a log", "use text or json"
	}
	return "", ""
}
