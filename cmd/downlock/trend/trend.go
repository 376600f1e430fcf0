// Package trend is the subcommand that compares the months and groups of an archive
// and lists the rules and measurements that get worse.
package trend

import (
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"regexp"
	"strings"

	"github.com/spf13/pflag"

	"downlock/cmd/downlock/command"
	"downlock/report/archive"
	"downlock/report/output"
	"downlock/report/trend"
	"downlock/report/trend/tally"
)

const trendHelp = `usage: downlock trend --archive DIR [flags]

Reads the tables of an archive (downlock scan --archive) and says what is getting
worse, where, and how sure that is. Writes trend.html, with the flights behind every
number; trend.json; and every table as CSV, Parquet and JSON.

A rate is per opportunity evaluated, or per flight evaluated where there are no
opportunities. The last twelve months are compared with the same months a year before.
Within the last twelve, every type, aircraft and other group is compared with the rest.
The tests are exact and corrected for their number. Fewer than five events are called a
small number and are never an alarm. The month of the last addition to the archive is
not over: it is shown, hollow in the charts, and not compared.

--count events answers how often a rule finds an event: every event counts under its
own rule. --count occurrences answers how often something happened: the events of one
cause in a flight count once, under the rule of the most severe one. So nine events that
follow from one gear selected late count as one. A rule that always follows from a more
severe one then has none, which is why events is the default. Rates, tests, charts,
indicators and SQL all count the same way.

flags:
  -a, --archive DIR      the archive to read
  -o, --out DIR          output folder                   (default downlock-trend)
      --from MONTH       first month to read, YYYY-MM       (default: the oldest)
      --to MONTH         last month to read, YYYY-MM        (default: the newest)
      --months N         months in each of the two periods compared
                         (default 12; with less than two years, the months after
                         the first year; with less than 18 months, half of the
                         months, which seasons then affect)
      --by COLUMN        also group flights by this column of the table flights,
                         besides aircraft and registration; may be repeated
      --airframe PATTERN if no registration is known: a regular expression for the
                         name of the recording; its first group is used instead
      --certain-only     count certain events only    (default: possible ones too)
      --count WHAT       events or occurrences, see above         (default events)
      --level X          significance level                        (default 0.05)
      --correction NAME  for the number of comparisons: holm (limits the chance of one
                         false alarm), benjamini-hochberg (limits the share of false
                         alarms)
                                                                   (default holm)
      --reports DIR      link flights to their reports below DIR, a folder that
                         scan --out wrote
      --indicators FILE  safety performance indicators (YAML); also writes
                         indicators.html, a one-page status
      --share            let others read what is written, as the umask says
      --sync             flush every file to disk before it gets its final name
  -q, --quiet            no notes; errors only

On stdout: a line per finding, tab-separated, after a line of headings.

examples:
  downlock trend --archive fleet --out trends
  downlock trend -a fleet --certain-only --months 6 --to 2026-06 --by arrival_aerodrome
  downlock trend -a fleet --airframe '^([A-Z]+-[0-9]+)_' --reports reports

exit codes: 0 done, 2 usage, 3 indicators invalid or too few months to compare,
4 the archive could not be read or has no flight with a date, or the output could
not be written, 7 an indicator is at an alert level
`

// Values of --count.
const (
	countEvents      = "events"
	countOccurrences = "occurrences"
)

// trendOptions are the flags of trend.
type trendOptions struct {
	tally              tally.Options
	trend              trend.Options
	airframe           string
	count              string
	out                string
	reports            string
	indicators         string
	share, sync, quiet bool
}

// Command runs trend and returns the exit code.
func Command(args []string, stdout, stderr io.Writer) int {
	say := command.Messages{To: stderr}
	var o trendOptions
	flags := pflag.NewFlagSet("trend", pflag.ContinueOnError)
	flags.StringVarP(&o.tally.Archive, "archive", "a", "", "")
	flags.StringVarP(&o.out, "out", "o", "downlock-trend", "")
	flags.StringVar(&o.tally.From, "from", "", "")
	flags.StringVar(&o.tally.To, "to", "", "")
	flags.IntVar(&o.trend.Months, "months", 0, "")
	flags.StringArrayVar(&o.tally.By, "by", nil, "")
	flags.StringVar(&o.airframe, "airframe", "", "")
	flags.BoolVar(&o.tally.CertainOnly, "certain-only", false, "")
	flags.StringVar(&o.count, "count", countEvents, "")
	flags.Float64Var(&o.trend.Level, "level", 0.05, "")
	flags.StringVar(&o.trend.Correction, "correction", trend.Holm, "")
	flags.StringVar(&o.reports, "reports", "", "")
	flags.StringVar(&o.indicators, "indicators", "", "")
	flags.BoolVar(&o.share, "share", false, "")
	flags.BoolVar(&o.sync, "sync", false, "")
	flags.BoolVarP(&o.quiet, "quiet", "q", false, "")
	command.Choices(flags, "count", countEvents, countOccurrences)
	command.Choices(flags, "correction", trend.Holm, trend.BenjaminiHochberg)
	if code, done := command.ParseFlags(flags, args, trendHelp, stdout, stderr); done {
		return code
	}
	if cause, hint := o.check(flags.Args()); cause != "" {
		say.Error(cause)
		say.Hint(hint)
		return command.ExitUsage
	}
	return o.run(stdout, say)
}

var month = regexp.MustCompile(`^[0-9]{4}-(0[1-9]|1[0-2])$`)

// check returns a mistake in the flags and a hint, "" when there is none, and completes
// the options.
func (o *trendOptions) check(rest []string) (cause, hint string) {
	switch {
	case o.tally.Archive == "":
		return "trend needs --archive", "`downlock scan --archive DIR` makes an archive"
	case len(rest) > 0:
		return "trend takes no argument " + command.Quote(rest[0]), "name the archive with --archive"
	case o.out == "":
		return "--out needs a folder", ""
	case o.trend.Months < 0:
		return fmt.Sprintf("--months %d: it takes at least one", o.trend.Months), ""
	case o.count != countEvents && o.count != countOccurrences:
		return "--count " + command.Quote(o.count) + " is not known", "use events or occurrences"
	case !(o.trend.Level > 0 && o.trend.Level < 1):
		return fmt.Sprintf("--level %v: it takes a number between 0 and 1", o.trend.Level), "0.05 is usual"
	case o.trend.Correction != trend.Holm && o.trend.Correction != trend.BenjaminiHochberg:
		return "--correction " + command.Quote(o.trend.Correction) + " is not known", "use holm or benjamini-hochberg"
	}
	for _, name := range []string{o.tally.From, o.tally.To} {
		if name != "" && !month.MatchString(name) {
			return command.Quote(name) + " is not a month", "write YYYY-MM"
		}
	}
	if o.airframe != "" {
		pattern, err := regexp.Compile(o.airframe)
		if err != nil {
			return "--airframe: " + strings.TrimPrefix(err.Error(), "error parsing regexp: "), "Go's regular expressions; the first group (in parentheses) is the aircraft"
		}
		if pattern.NumSubexp() == 0 {
			return "--airframe has no group", "put the part that names the aircraft in parentheses"
		}
		o.tally.Airframe = pattern
	}
	o.tally.By = append(o.tally.By, tally.TypeColumn)
	o.trend.Archive, o.trend.AirframePattern, o.trend.CertainOnly, o.trend.Version = o.tally.Archive, o.airframe, o.tally.CertainOnly, command.Version
	o.tally.Occurrences = o.count == countOccurrences
	o.trend.Occurrences = o.tally.Occurrences
	o.tally.Recordings = o.reports != ""
	return "", ""
}

// run adds up the archive, compares and writes the results.
func (o *trendOptions) run(stdout io.Writer, say command.Messages) int {
	doubts, ok := command.CheckArchive(o.tally.Archive, o.quiet, say)
	if !ok {
		return command.ExitOutput
	}
	o.trend.Doubts, o.trend.RunMonth = doubts, archive.RunMonth(o.tally.Archive)
	rejected, damaged, err := trend.FalseEvents(o.tally.Archive)
	if err != nil {
		say.Failure(err)
		return command.ExitOutput
	}
	for _, p := range damaged {
		say.Warning(p.Error())
	}
	o.tally.Rejected, o.trend.Reviewed = rejected, rejected != nil
	t, err := tally.Read(o.tally)
	var column *tally.NotGroupable
	if errors.As(err, &column) {
		say.Failure(err)
		return command.ExitUsage
	}
	if err != nil {
		say.Failure(err)
		return command.ExitOutput
	}
	tr, err := trend.New(t, o.trend)
	if err != nil {
		say.Failure(err)
		return command.ExitInvalid
	}
	if err := tr.ReadFlights(o.tally); err != nil {
		say.Failure(err)
		return command.ExitOutput
	}
	tr.Link(o.reportLinks(t))
	indicators, code := o.readIndicators(tr, say)
	if code != command.ExitDone {
		return code
	}
	if err := tr.Write(o.out, o.sync, o.share); err != nil {
		say.Failure(err)
		return command.ExitOutput
	}
	if err := writeFindings(stdout, tr); err != nil {
		say.Failure(&output.Error{Path: "standard output", Err: err})
		return command.ExitOutput
	}
	if !o.quiet {
		say.Note(fmt.Sprintf("%s over %s; open %s", command.Count(len(tr.Findings), "finding"), command.Count(len(t.Months), "month"), filepath.Join(o.out, trend.PageName)))
	}
	return o.judge(tr, indicators, say)
}

func (o *trendOptions) readIndicators(tr *trend.Trend, say command.Messages) (*trend.Indicators, int) {
	if o.indicators == "" {
		return nil, command.ExitDone
	}
	in, err := tr.ReadIndicators(o.indicators)
	if err != nil {
		say.Failure(err)
		return nil, command.ExitInvalid
	}
	return in, command.ExitDone
}

// judge writes the indicators and names those at an alert level.
func (o *trendOptions) judge(tr *trend.Trend, in *trend.Indicators, say command.Messages) int {
	if in == nil {
		return command.ExitDone
	}
	statuses := tr.Judge(in)
	if err := tr.WriteIndicators(o.out, in, statuses, o.sync, o.share); err != nil {
		say.Failure(err)
		return command.ExitOutput
	}
	code := command.ExitDone
	for _, s := range statuses {
		if s.Alert != "" {
			say.Warning(fmt.Sprintf("indicator %s is at an alert level in %s: %s", s.ID, s.Latest().Name, s.Alert))
			code = command.ExitAlert
		}
	}
	return code
}
