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

Reads each INPUT: a file, or a folder with the exports in it and below it. Finds the
flights and their events. Writes a folder for each flight below the output folder,
with report.html, report.json and events.csv; and for the whole run index.html,
index.json and events.csv.

An export is CSV (wide: a column per parameter; long: time, parameter, value),
plain, in gzip, in zstd or as the only file in a zip; a sheet of an .xlsx workbook;
Parquet (wide or long); an Arrow IPC file; or a MATLAB level 5 file. The content
decides, not the name.

flags:
  -p, --profile FILE   aircraft profile; needed for all but shipped demo data
      --fleet FILE     in place of --profile, for several types or aircraft: which
                       file names belong to which profile; see below
  -r, --rules FILE     rule pack on top of the built-in one; may be repeated
  -o, --out DIR        output folder (default downlock-reports; with --archive
                       reports are written only where this is given)
      --samples WHICH  recorded samples kept in each report.html, to zoom into: all (at
                       most 1 MB for two hours of 60 parameters), events (those around
                       events; the default) or none (no script on the page)
  -j, --jobs N         inputs read at the same time (default: one per core)
      --max-size MIB   refuse an input that is larger when unpacked (default 2048);
                       reading one takes at most 1 GiB of memory in addition
      --aircraft TEXT  registration of the aircraft in the inputs
      --date YYYY-MM-DD
                       date of the first row of exports with a clock and no date;
                       overrides a date in the file name; an input that is already in
                       the archive keeps its date until --rescan
      --aerodromes FILE
                       codes of aerodromes (CSV: code,latitude,longitude), to name
                       where flights begin and end; others are named by position
      --deidentify KEYFILE
                       withhold whose flight it was and when: in everything that is
                       written, names, paths, hashes and the registration become
                       tokens under the key in the file (16 bytes or more), and dates
                       become months
      --share          let others read what is written, as the umask says;
                       without it only you can read the files
      --sync           flush every report to disk before it gets its final name
      --allow-empty    an input folder that is missing or has no export is no failure
      --at-least N     fewer than N inputs are a failure; they are still scanned
  -q, --quiet          no progress bar, no notes; errors and warnings only

every night:
      --archive DIR    keep the results in Parquet tables, by month, and skip inputs
                       that have not changed since they were scanned; each run writes
                       its figures and failures to DIR/runs/TIME/batch.json
      --rescan         with --archive: scan unchanged inputs again
      --quarantine DIR move damaged inputs there; nothing is overwritten
      --fail-on LEVEL  end with 6 (8 if inputs failed too) if an event of severity LEVEL or
                       above was found: low, medium or high; events of an earlier run
                       on the archive count if it ended before it could report them
      --summary FILE   write the run's figures and failures to this file, with or
                       without an archive
      --metrics FILE   write them as a text file for the Prometheus node exporter
      --log FORM       messages as log lines: text or json

over many machines (see ` + "`downlock plan --help`" + `):
      --run DIR        in place of INPUT: scan the inputs of one task of a planned array;
                       of the other flags only --jobs, --quiet, --log and --metrics may
                       be given
      --task I         which task, from 0 (default: the index that Slurm, Kubernetes or
                       AWS Batch sets for the task)

a fleet file (schemas/fleet.schema.json); for each file the first entry that fits counts:
  schema: downlock fleet 1
  inputs:
    - files: "{registration}_*.csv.gz"   # * is any text; {registration} is read from the name
      profile: th120.yaml                # a path beside this file
      file_date: "*_{YYYYMMDD}_*"        # optional: where the name has the date
    - files: large/*                     # with a slash: also the folder of the file
      profile: th440.yaml
      registration: TH-LGR
An input that fits no entry fails; the others are scanned. In a folder, files are chosen
by the ending of their names; skipped files are named. A file that you name is read
whatever its name is. Links are followed; a pipe, a device or a socket is refused. An INPUT
that begins with s3:// is an object, or all exports below a prefix, in an object store;
` + "`downlock help exports`" + ` says how to reach one. Nothing is written there. The INPUT - is
standard input, read once and up to --max-size; reports call it stdin. It needs
--profile, and cannot be used with --archive, which identifies a recording by its file.

On stderr: what the run does, warnings, and the most severe occurrences.
On stdout: a heading, then a tab-separated line per flight: events by severity, how
many of them are only possible, occurrences (the events of one cause count once),
rules not evaluable, failed consistency checks, and the report. With --archive the lines
come at the end, when the archive holds what they say. Lines of an earlier run that was
interrupted come first.

examples:
  downlock scan --out reports demo
  downlock scan --profile my-type.yaml --rules my-limits.yaml --out reports exports/
  downlock scan -q --profile my-type.yaml --archive fleet downloads/
  unzip -p night.zip first.csv | downlock scan --profile my-type.yaml -
  downlock scan -q --fleet fleet.yaml --archive fleet --at-least 20 downloads/
  downlock scan -q --profile my-type.yaml --archive fleet s3://exports/2031/

exit codes: 0 done, 1 some inputs failed, 2 usage, 3 profile, fleet, rules, key or
list invalid, 4 the output or the archive could not be written, 5 another run uses the
archive, 6 events of the severity of --fail-on, 8 both 1 and 6, 130 or 143 stopped by SIGINT or
SIGTERM; what was finished is kept. 4, 130 and 143 take precedence; events that they
hide count for --fail-on in the next run on the archive.
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
			say.Error("--date " + command.Quote(o.dateText) + " is not a date")
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
		return "standard input and --archive do not go together: the archive identifies a recording by its file", "write it to a file, and name that"
	case slices.Contains(flags.Args(), command.Stdin) && o.profile == "":
		return "standard input needs --profile", "`downlock scan --profile my-type.yaml -`"
	case flags.Changed("fleet") && o.fleet == "":
		return "--fleet needs a file", ""
	case o.fleet != "" && o.profile != "":
		return "--fleet and --profile do not go together", "the fleet file names the profiles"
	case o.fleet != "" && o.aircraft != "":
		return "--fleet and --aircraft do not go together", "the fleet file says which aircraft each input is of"
	case o.atLeast < 0:
		return fmt.Sprintf("--at-least %d: it takes a number of inputs", o.atLeast), ""
	case !slices.Contains([]report.SampleChoice{report.AllSamples, report.EventSamples, report.NoSamples}, report.SampleChoice(o.samples)):
		return "--samples " + command.Quote(o.samples) + " is not a choice", "use all, events or none"
	case o.maxSize < 1 || o.maxSize > 1<<20:
		return fmt.Sprintf("--max-size %d: it takes 1 to %d MiB", o.maxSize, 1<<20), ""
	case o.out == "":
		return "--out needs a folder", ""
	case flags.Changed("archive") && o.archive == "":
		return "--archive needs a folder", ""
	case flags.Changed("deidentify") && o.deidentify == "":
		return "--deidentify needs a key file", "make one with `head -c 32 /dev/urandom >KEYFILE && chmod 600 KEYFILE`"
	case o.rescan && o.archive == "":
		return "--rescan is for inputs that an archive has", "add --archive DIR, or leave --rescan out: without an archive everything is scanned"
	}
	return o.reportMistake(o.jobs)
}

// reportMistake is mistake for the flags that several commands have.
func (o *scanOptions) reportMistake(jobs int) (wrong, hint string) {
	switch {
	case jobs < 1:
		return fmt.Sprintf("--jobs %d: it takes at least one", jobs), ""
	case o.failOn != "" && !slices.Contains(command.Severities, o.failOn):
		return "--fail-on " + command.Quote(o.failOn) + " is not a severity", "use low, medium or high"
	case o.log != "" && o.log != command.LogText && o.log != command.LogJSON:
		return "--log " + command.Quote(o.log) + " is not a log format", "use text or json"
	}
	return "", ""
}
