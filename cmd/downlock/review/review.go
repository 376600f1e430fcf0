// Package review is the subcommand that lists the events of an archive and sets the
// verdicts of analysts on them.
package review

import (
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"github.com/spf13/pflag"

	"downlock/cmd/downlock/command"
	"downlock/report/review"
	"downlock/schemas"
)

const reviewHelp = `usage: downlock review --archive DIR [flags]
       downlock review --archive DIR [flags] show EVENT
       downlock review --archive DIR [flags] set EVENT --verdict VERDICT --by NAME

Lists the events of an archive that are open: nobody has looked at them yet, they
need follow-up, or they have changed since somebody looked; shows one event with
its history; or sets a verdict on one. Events of one cause are one occurrence:
the most severe comes first, the others below it, their titles indented. Verdicts
are added and never changed or lost, also when the event is scanned again; the
last one counts. Reports written after it show it: scan --archive DIR --rescan
--out REPORTS.

flags:
      --archive DIR    the archive

list:
      --rule ID        events of this rule alone
      --severity LEVEL low, medium or high
      --month YYYY-MM  of this month alone
      --all            also those that are settled
      --export FILE    write every verdict as a row of a Parquet table instead

set:
      --verdict TEXT   valid: it happened as reported; false: it did not, and the
                       cause says why it was reported; follow-up: more has to be
                       found out
      --cause TEXT     why it is false: a wrong profile, a faulty sensor
      --comment TEXT   anything else; no names, it is shown as it stands
      --by NAME        who says so
      --occurrence     the same verdict on every event of the occurrence of EVENT
      --deidentify KEYFILE
                       the name becomes a token; needed where the archive was
                       scanned so
      --share          let others read and add, as the umask says

On stdout: a line per event, tab-separated, after a line of headings. The column
occurrence is the occurrence_id of reports and tables, shared by events of one cause.

examples:
  downlock review --archive fleet --severity high
  downlock review --archive fleet set E0123456789ab --verdict false \
      --cause "strut switch polarity in the profile" --by "Analyst A"
  downlock review --archive fleet set E0123456789ab --verdict valid --occurrence \
      --by "Analyst A"

exit codes: 0 done, 1 some verdicts are damaged and were left out, 2 usage or no
such event, 3 key invalid, 4 the archive could not be read or written.
`

// reviewOptions are the flags of review.
type reviewOptions struct {
	archive, rule, severity, month, export string
	all                                    bool
	verdict, cause, comment, by            string
	deidentify                             string
	share, occurrence                      bool
}

// Command runs review and returns the exit code.
func Command(args []string, stdout, stderr io.Writer) int {
	say := command.Messages{To: stderr}
	var o reviewOptions
	flags := pflag.NewFlagSet("review", pflag.ContinueOnError)
	flags.StringVar(&o.archive, "archive", "", "")
	flags.StringVar(&o.rule, "rule", "", "")
	flags.StringVar(&o.severity, "severity", "", "")
	flags.StringVar(&o.month, "month", "", "")
	flags.BoolVar(&o.all, "all", false, "")
	flags.StringVar(&o.export, "export", "", "")
	flags.StringVar(&o.verdict, "verdict", "", "")
	flags.StringVar(&o.cause, "cause", "", "")
	flags.StringVar(&o.comment, "comment", "", "")
	flags.StringVar(&o.by, "by", "", "")
	flags.StringVar(&o.deidentify, "deidentify", "", "")
	flags.BoolVar(&o.occurrence, "occurrence", false, "")
	flags.BoolVar(&o.share, "share", false, "")
	command.Choices(flags, "severity", command.Severities...)
	command.Choices(flags, "verdict", string(review.Valid), string(review.False), string(review.FollowUp))
	if code, done := command.ParseFlags(flags, args, reviewHelp, stdout, stderr); done {
		return code
	}
	if wrong, hint := o.mistake(flags); wrong != "" {
		say.Error(wrong)
		say.Hint(hint)
		return command.ExitUsage
	}
	if _, ok := command.CheckArchive(o.archive, true, say); !ok {
		return command.ExitOutput
	}
	switch flags.Arg(0) {
	case toShow:
		return o.show(flags.Arg(1), stdout, say)
	case toSet:
		return o.set(flags.Arg(1), stdout, say)
	}
	if o.export != "" {
		return o.writeTable(say)
	}
	return o.list(stdout, say)
}

// The words for the things review does.
const (
	toList = "list"
	toShow = "show"
	toSet  = "set"
)

// reviewFlags are the flags that belong to one thing review does.
var reviewFlags = map[string][]string{
	toList: {"rule", "severity", "month", "all", "export"},
	toShow: {},
	toSet:  {"verdict", "cause", "comment", "by", "occurrence", "deidentify", "share"},
}

// mistake returns a mistake in the command line and a hint, "" when there is none.
func (o *reviewOptions) mistake(flags *pflag.FlagSet) (wrong, hint string) {
	what := toList
	if flags.NArg() > 0 {
		what = flags.Arg(0)
	}
	own, known := reviewFlags[what]
	foreign := ""
	flags.Visit(func(f *pflag.Flag) {
		if f.Name != "archive" && command.Typed(f) && !slices.Contains(own, f.Name) && !(f.Name == "share" && o.export != "") {
			foreign = f.Name
		}
	})
	switch {
	case o.archive == "":
		return "review needs --archive DIR", "name the folder `downlock scan --archive` writes"
	case !known:
		return "review knows no " + command.Quote(what), "use show EVENT, set EVENT, or neither to list"
	case what != toList && flags.NArg() != 2:
		return "review " + what + " needs one event", "`downlock review --archive DIR` lists those that are open"
	case foreign != "":
		return "--" + foreign + " has no meaning here", "`downlock review --help` says what each flag is for"
	case o.severity != "" && !slices.Contains(command.Severities, o.severity):
		return "--severity " + command.Quote(o.severity) + " is no severity", "use low, medium or high"
	case o.month != "" && o.month != "unknown" && !isMonth(o.month):
		return "--month " + command.Quote(o.month) + " is no month", "write it as 2031-06, or unknown for flights without a date"
	case what == toSet && !slices.Contains(review.Findings, review.Finding(o.verdict)):
		return "--verdict " + command.Quote(o.verdict) + " is no verdict", "use valid, false or follow-up"
	case what == toSet && o.verdict == string(review.False) && o.cause == "":
		return "a false event needs --cause", "say why it was reported: a wrong profile, a faulty sensor"
	case what == toSet && strings.TrimSpace(o.by) == "":
		return "set needs --by NAME", ""
	}
	return "", ""
}

func isMonth(text string) bool {
	_, err := time.Parse("2006-01", text)
	return err == nil && len(text) == len("2006-01")
}

// readVerdicts returns the verdict that counts for each event, and names damaged
// files.
func (o *reviewOptions) readVerdicts(say command.Messages) (latest map[string]review.Verdict, code int) {
	latest, damaged, err := review.Latest(o.archive)
	if err != nil {
		say.Failure(err)
		return nil, command.ExitOutput
	}
	return latest, reportDamaged(damaged, say)
}

func reportDamaged(damaged schemas.Problems, say command.Messages) (code int) {
	for _, p := range damaged {
		say.Problem(p)
	}
	if len(damaged) > 0 {
		return command.ExitInputsFailed
	}
	return command.ExitDone
}

// below indents the title of an event below the first of its occurrence. Ids stay as
// they are, for scripts.
const below = "  "

// list writes a line for each event that is open, or for each event with --all.
func (o *reviewOptions) list(stdout io.Writer, say command.Messages) int {
	latest, code := o.readVerdicts(say)
	if latest == nil {
		return code
	}
	lines := &command.Lines{To: stdout}
	lines.Line("event", "month", "severity", "certainty", "rule", "title", "flight", "occurrence", "review")
	open, all, causes := 0, 0, 0
	above, openAbove := "", "" // the occurrences of the last line and of the last event that is open
	err := eachOccurrence(o.archive, o.month, func(month string, e *schemas.EventRow) error {
		if o.rule != "" && e.Rule != o.rule || o.severity != "" && e.Severity != o.severity {
			return nil
		}
		all++
		occurrence, title := occurrenceOf(e), e.Title
		v, seen := latest[e.EventID]
		if !seen || v.Open(*e) {
			open++
			if occurrence != openAbove {
				causes, openAbove = causes+1, occurrence
			}
		} else if !o.all {
			return nil
		}
		if occurrence == above {
			title = below + title
		}
		above = occurrence
		lines.Line(e.EventID, month, e.Severity, e.Certainty, e.Rule, title, e.FlightID, occurrence, standing(v, seen, e))
		return lines.Err
	})
	if err == nil {
		err = lines.Err
	}
	if err != nil {
		say.Failure(err)
		return command.ExitOutput
	}
	say.Note(fmt.Sprintf("%d of %s open, of %s", open, command.Count(all, "event"), command.Count(causes, "occurrence")))
	return code
}

// standing returns the state of the review of an event, in words.
func standing(v review.Verdict, seen bool, e *schemas.EventRow) string {
	switch {
	case !seen:
		return "open"
	case v.Outdated(*e):
		return string(v.Finding) + ", outdated"
	}
	return string(v.Finding)
}
