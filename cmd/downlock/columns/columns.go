// Package columns is the subcommand that writes the parameters of a recording as they
// were understood, for other programs.
package columns

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/spf13/pflag"

	"downlock/cmd/downlock/command"
	"downlock/detect"
	"downlock/ingest"
	"downlock/report/columns"
	"downlock/report/identity"
	"downlock/report/output"
	"downlock/schemas"
)

const columnsHelp = `usage: downlock columns [flags] INPUT... --out FILE.parquet|FILE.arrow

Writes one recording (one INPUT, or its parts) as the profile reads it, for pandas,
DuckDB and R: canonical names, units and states, each parameter with its own times.

The file is in long form, a row for each valid sample:
  stretch      from 1; time is not continuous from one stretch to the next
  flight       from 1; null outside flights
  parameter    canonical name; ` + "`schemas/parameters.yaml`" + ` lists them
  source_rank  1: the source that rules read; from 2: further sources, to compare
  unit         of value and accuracy; null for discretes and states
  time_s       on the recording's own axis
  time_utc     to the microsecond; null where the recording has no date
  value        a number; for a discrete 0 or 1; for a state its place in the list, from 0
  state        the word of a discrete (true, false) or a state; else null
  accuracy     ±; null where it is not known
  accuracy_is  stated (by the profile) or estimated (from the samples around)
  distrusted   the reason why no rule uses the sample; else null

The key downlock.columns of its metadata has, as JSON: the input and profile with their
hashes, repairs, notes, flights, failed consistency checks, parameters not recorded; and
for each parameter its column, intervals, accuracy and the samples left out.

scan reads the file like an export. The limits and criteria of the profile apply, its
columns do not, and the events are the same.

flags:
  -p, --profile FILE   aircraft profile; needed for all but shipped demo data
  -o, --out FILE       where to write, replacing what is there: .parquet or .arrow
      --max-size MIB   refuse an input that is larger when unpacked (default 2048)
      --date YYYY-MM-DD
                       date of the first row of an export with a clock and no date
      --deidentify KEYFILE
                       withhold whose flight it was and when, as scan does: names and
                       hashes become tokens, dates and positions are left out
      --share          let others read the file, as the umask says
  -q, --quiet          errors and warnings only

examples:
  downlock columns demo/tarnholm-08.csv.gz --out tarnholm-08.parquet
  DuckDB  SELECT parameter, unit, count(*), min(value), max(value) FROM 'tarnholm-08.parquet'
          WHERE distrusted IS NULL AND source_rank = 1 GROUP BY ALL
          SELECT decode(value)::JSON FROM parquet_kv_metadata('tarnholm-08.parquet')
          WHERE decode(key) = 'downlock.columns'
  pandas  pd.read_parquet('tarnholm-08.parquet').query('source_rank == 1').pivot(
              index=['stretch', 'time_s'], columns='parameter', values='value')

exit codes: 0 done, 1 the input failed, 2 usage, 3 profile or key invalid, 4 the
file could not be written

Results support a monitoring programme. They are no airworthiness decision, no
maintenance release and no finding about a person.
`

// options are the flags of columns.
type options struct {
	profile    string
	out        string
	kind       columns.Kind
	maxSize    int64 // MiB
	dateText   string
	date       time.Time // zero for none
	deidentify string
	key        *identity.Key // withholds identity; nil for none
	share      bool
	quiet      bool
}

// Command runs columns and returns the exit code.
func Command(args []string, stdout, stderr io.Writer) int {
	say := command.Messages{To: stderr}
	var o options
	flags := pflag.NewFlagSet("columns", pflag.ContinueOnError)
	flags.StringVarP(&o.profile, "profile", "p", "", "")
	flags.StringVarP(&o.out, "out", "o", "", "")
	flags.Int64Var(&o.maxSize, "max-size", ingest.DefaultMaxBytes>>20, "")
	flags.StringVar(&o.dateText, "date", "", "")
	flags.StringVar(&o.deidentify, "deidentify", "", "")
	flags.BoolVar(&o.share, "share", false, "")
	flags.BoolVarP(&o.quiet, "quiet", "q", false, "")
	if code, done := command.ParseFlags(flags, args, columnsHelp, stdout, stderr); done {
		return code
	}
	if wrong, hint := o.mistake(flags); wrong != "" {
		say.Error(wrong)
		say.Hint(hint)
		return command.ExitUsage
	}
	var ok bool
	if o.key, ok = command.ReadKey(o.deidentify, say); !ok {
		return command.ExitInvalid
	}
	profile, code := command.ChooseProfile(o.profile, flags.Args(), o.key, say)
	if profile == nil {
		return code
	}
	rules, err := detect.LoadRules()
	var detector *detect.Detector
	if err == nil {
		detector, err = detect.New(profile, rules)
	}
	if err != nil {
		say.Failure(err)
		return command.ExitInvalid
	}
	return o.write(flags.Args(), profile, detector, say)
}

// mistake returns a mistake in the command line and a hint, "" when there is none.
func (o *options) mistake(flags *pflag.FlagSet) (wrong, hint string) {
	var known bool
	o.kind, known = columns.KindOf(o.out)
	switch {
	case flags.NArg() == 0:
		return "columns needs an input", "try `downlock columns --profile my-type.yaml flight.csv --out flight.parquet`"
	case o.out == "":
		return "columns needs --out FILE", "name a file that ends in .parquet or .arrow"
	case !known:
		return "--out " + command.Quote(o.out) + ": the name must end in .parquet or .arrow, which decides the format", "DuckDB, pandas and R all read .parquet"
	case o.maxSize < 1 || o.maxSize > 1<<20:
		return fmt.Sprintf("--max-size %d: it takes 1 to %d MiB", o.maxSize, 1<<20), ""
	case flags.Changed("deidentify") && o.deidentify == "":
		return "--deidentify needs a key file", "make one with `head -c 32 /dev/urandom >KEYFILE && chmod 600 KEYFILE`"
	}
	if flags.Changed("date") {
		var err error
		if o.date, err = time.Parse(time.DateOnly, o.dateText); err != nil {
			return "--date " + command.Quote(o.dateText) + " is not a date", "write it as YYYY-MM-DD"
		}
	}
	for _, name := range append(slices.Clone(flags.Args()), o.profile, o.deidentify) {
		if sameFile(name, o.out) {
			return "--out " + command.Quote(o.out) + " is an input of this command, and would be overwritten", "name another file"
		}
	}
	if info, err := os.Stat(o.out); err == nil && info.IsDir() {
		return "--out " + command.Quote(o.out) + " is a folder", "name a file that is not there yet"
	}
	return "", ""
}

func sameFile(a, b string) bool {
	first, err := os.Stat(a)
	second, missing := os.Stat(b)
	return err == nil && missing == nil && os.SameFile(first, second)
}

// write reads the recording, holds it against the profile and writes its columns.
func (o *options) write(inputs []string, profile *schemas.Profile, detector *detect.Detector, say command.Messages) int {
	groups := ingest.GroupParts(inputs, profile)
	if len(groups) > 1 {
		say.Error(fmt.Sprintf("the inputs are %d recordings, but a file holds one", len(groups)))
		say.Hint("write a file for each; DuckDB reads them together: FROM read_parquet('*.parquet', filename = true)")
		return command.ExitUsage
	}
	path := ingest.PartsPath(groups[0], profile)
	in := o.key.Input(path, groups[0], profile.File)
	recording, err := ingest.Limits{MaxBytes: o.maxSize << 20, PackAbove: ingest.ManySamples, Date: o.date}.ReadParts(groups[0], profile)
	if err != nil {
		say.Failure(in.Error(err))
		return command.ExitInputsFailed
	}
	shownProfile := o.key.Profile(profile)
	if o.key != nil { // a token could not be compared with the profile the columns are read back with
		withheld := *shownProfile
		withheld.SHA256 = ""
		shownProfile = &withheld
	}
	made, err := columns.New(command.Version, o.key.Recording(recording, in), shownProfile, detector)
	if err != nil {
		say.Failure(in.Error(err))
		return command.ExitInputsFailed
	}
	dir, name := filepath.Split(o.out)
	err = output.Write(filepath.Clean(dir), output.Options{Share: o.share}, output.File{Name: name, More: func(w io.Writer) error { return made.Write(w, o.kind) }})
	if err != nil {
		say.Failure(err)
		return command.ExitOutput
	}
	o.report(in.Shown, made.Stated(), say)
	return command.ExitDone
}

// report says what was written, and first what a reader must know of it.
func (o *options) report(input string, stated schemas.Canonical, say command.Messages) {
	parameters, samples, flights := map[string]bool{}, 0, 0
	var warned []string
	warn := func(text string) {
		if !slices.Contains(warned, text) {
			warned = append(warned, text)
			say.Warning(input + ": " + text)
		}
	}
	for _, stretch := range stated.Stretches {
		for _, repair := range stretch.Repairs {
			warn(repair)
		}
		for _, c := range stretch.Failed {
			warn("consistency check failed: " + c.Title + ": " + c.Evidence + "; distrusted: " + strings.Join(c.Parameters, ", "))
			say.Hint(c.Hint)
		}
		for _, p := range stretch.Parameters {
			parameters[p.Parameter] = true
			samples += p.Samples
		}
		flights += len(stretch.Flights)
	}
	if !o.quiet {
		say.Note(fmt.Sprintf("%s: %s of %s, %s", o.out, command.Count(samples, "sample"), command.Count(len(parameters), "parameter"), command.Count(flights, "flight")))
	}
}
