// Package prune is the subcommand that removes old reports, rows and figures of runs.
package prune

import (
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/pflag"

	"downlock/cmd/downlock/command"
	"downlock/report"
	"downlock/report/archive"
)

const pruneHelp = `usage: downlock prune --older-than DAYS [--reports DIR] [--archive DIR --rows --runs] [flags]

Removes old data about single flights: the report folders of flights that began more
than DAYS ago. The tables of an archive and its ledger stay. It removes only files that
scan writes, by name. It follows no link, and refuses a folder that scan did not write.

flags:
      --older-than DAYS  such as 90d; a flight whose date is withheld is older when its
                         whole month is
      --reports DIR      the output folder of scan
      --archive DIR      the archive; nothing in it is removed without --rows or --runs
      --rows             also remove the rows of whole months that are older, and the
                         names and paths of their recordings; only in an archive
                         with names, since tokens tell nobody who flew. Verdicts
                         stay.
      --runs             also remove the figures of runs that are older, which name the
                         inputs that failed
      --dry-run          say what would be removed, and remove nothing
      --share            let others read what is written, as the umask says

On stdout: a line per folder of a flight, per month and per run removed.

example:
  downlock prune --older-than 90d --reports reports --dry-run

exit codes: 0 done, 2 usage, 4 a folder is not downlock's, or could not be
changed, 5 another run uses the archive.
`

// pruneOptions are the flags of prune.
type pruneOptions struct {
	reports, archive, olderThan string
	rows, runs, dryRun, share   bool
}

// Command runs prune and returns the exit code.
func Command(args []string, stdout, stderr io.Writer) int {
	return prune(args, time.Now(), stdout, stderr)
}

// prune is Command with a clock that tests set.
func prune(args []string, now time.Time, stdout, stderr io.Writer) int {
	say := command.Messages{To: stderr}
	var o pruneOptions
	flags := pflag.NewFlagSet("prune", pflag.ContinueOnError)
	flags.StringVar(&o.reports, "reports", "", "")
	flags.StringVar(&o.archive, "archive", "", "")
	flags.StringVar(&o.olderThan, "older-than", "", "")
	flags.BoolVar(&o.rows, "rows", false, "")
	flags.BoolVar(&o.runs, "runs", false, "")
	flags.BoolVar(&o.dryRun, "dry-run", false, "")
	flags.BoolVar(&o.share, "share", false, "")
	if code, done := command.ParseFlags(flags, args, pruneHelp, stdout, stderr); done {
		return code
	}
	if wrong, hint := o.mistake(flags); wrong != "" {
		say.Error(wrong)
		say.Hint(hint)
		return command.ExitUsage
	}
	days, _ := parseDays(o.olderThan)
	before := now.UTC().AddDate(0, 0, -days)
	for _, part := range []struct {
		wanted bool
		prune  func(time.Time, io.Writer, command.Messages) int
	}{{o.reports != "", o.pruneReports}, {o.rows, o.pruneRows}, {o.runs, o.pruneRuns}} {
		if !part.wanted {
			continue
		}
		if code := part.prune(before, stdout, say); code != command.ExitDone {
			return code
		}
	}
	return command.ExitDone
}

// mistake returns a mistake in the command line and a hint, "" when there is none.
func (o *pruneOptions) mistake(flags *pflag.FlagSet) (wrong, hint string) {
	_, ok := parseDays(o.olderThan)
	switch {
	case flags.NArg() > 0:
		return "prune takes no argument " + command.Quote(flags.Arg(0)), "name the folder with --reports"
	case !ok:
		return "--older-than " + command.Quote(o.olderThan) + " is not a number of days", "write it as 90d; at least 1d"
	case (o.rows || o.runs) && o.archive == "":
		return "--rows and --runs need --archive DIR", ""
	case o.reports == "" && !o.rows && !o.runs:
		return "there is nothing to prune", "name a folder of reports with --reports, or an archive with --archive DIR and --rows or --runs"
	}
	return "", ""
}

// parseDays reads a number of days, such as 90d, from 1 to 36,500.
func parseDays(text string) (days int, ok bool) {
	const most = 36500
	digits, ok := strings.CutSuffix(text, "d")
	days, err := strconv.Atoi(digits)
	return days, ok && err == nil && days >= 1 && days <= most
}

func (o *pruneOptions) pruneReports(before time.Time, stdout io.Writer, say command.Messages) int {
	p, err := report.Prune(o.reports, before, o.dryRun)
	for _, name := range p.Removed {
		fmt.Fprintln(stdout, command.Printable(name))
	}
	for _, name := range p.Foreign {
		say.Warning(name + ": the folder is kept, because it has something that downlock did not write")
	}
	if err != nil {
		say.Failure(err)
		return command.ExitOutput
	}
	say.Note(fmt.Sprintf("%s %s, %d kept, %d without a date kept", command.Count(len(p.Removed), "flight"), o.removed(), p.Kept, len(p.Undated)))
	if p.Listed {
		say.Note("the index and its tables still list them until the next scan writes them")
	}
	return command.ExitDone
}

func (o *pruneOptions) pruneRows(before time.Time, stdout io.Writer, say command.Messages) int {
	p, err := archive.Prune(o.archive, before, o.dryRun, o.share)
	if err != nil {
		return failed(err, say)
	}
	for _, month := range p.Months {
		fmt.Fprintln(stdout, "month="+command.Printable(month))
	}
	say.Note(fmt.Sprintf("%s of rows %s, with the names of %s", command.Count(len(p.Months), "month"), o.removed(), command.Count(p.Recordings, "recording")))
	return command.ExitDone
}

func (o *pruneOptions) pruneRuns(before time.Time, stdout io.Writer, say command.Messages) int {
	names, err := archive.PruneRuns(o.archive, before, o.dryRun, o.share)
	for _, name := range names {
		fmt.Fprintln(stdout, command.Printable(name))
	}
	if err != nil {
		return failed(err, say)
	}
	say.Note(fmt.Sprintf("figures of %s %s", command.Count(len(names), "run"), o.removed()))
	return command.ExitDone
}

// failed prints an error of an archive and returns the exit code for it.
func failed(err error, say command.Messages) int {
	var locked *archive.LockedError
	if errors.As(err, &locked) {
		say.Error(locked.Error())
		say.Hint(locked.Hint())
		return command.ExitLocked
	}
	say.Failure(err)
	return command.ExitOutput
}

func (o *pruneOptions) removed() string {
	if o.dryRun {
		return "would be removed"
	}
	return "removed"
}
