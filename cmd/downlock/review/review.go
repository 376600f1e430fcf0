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

const reviewHelp = `usage: downlock review --archive DIR [filter]
       downlock review --archive DIR show EVENT [--reports DIR] [--rules FILE]
       downlock review --archive DIR set EVENT... | - | --ids FILE | filter
                       --by NAME [--verdict VERDICT] [actions]
       downlock review --archive DIR clip EVENT --csv FILE [--around SECONDS]
       downlock review --archive DIR carry

Lists the open events of an archive: those without a verdict, those that need
follow-up, and those that have changed since their verdict. Shows one event with its
history; sets a verdict and actions on events; writes the samples around one. Events of
one cause are one occurrence: the most severe comes first, the others below it with
indented titles. Verdicts are added, and never changed or lost, even if the event is
scanned again; the last one counts. Reports written later show it: scan --archive DIR
--rescan --out REPORTS.

filter, for the list and for set; set changes exactly the events in the list:
      --severity LEVEL low, medium or high
      --certainty TEXT certain or possible
      --rule ID        only events of this rule
      --aircraft TEXT  registration or type
      --aerodrome TEXT aerodrome of departure or arrival
      --month YYYY-MM  only this month; unknown: flights without a date
      --from YYYY-MM   this month and later
      --to YYYY-MM     this month and earlier
      --state TEXT     open (default), not looked at, follow-up, outdated, valid,
                       false, all
      --all            the same as --state all

flags:
  -a, --archive DIR    the archive

list:
      --export FILE    write every verdict as a row of a Parquet table instead

show:
      --reports DIR    a folder that scan --out wrote: also show where the report is
  -r, --rules FILE     rule pack on top of the built-in one, for meaning, limit and
                       caution; may be repeated

set: on all named events or on none. If one of them is not in the archive, nothing is set.
      EVENT...         ids; - reads them from standard input
      --ids FILE       ids from a file, such as a saved list of review: in a line with
                       tabs the first column is the id
      --verdict TEXT   valid: it happened as reported; false: it did not, and the
                       cause says why it was reported; follow-up: more must be
                       found out
      --cause TEXT     why it is false: a wrong profile, a faulty sensor
      --comment TEXT   any remark; no names, it is shown as written
      --by NAME        who gives the verdict
      --occurrence     also set it on the other events of the same occurrences
      --deidentify KEYFILE
                       the name becomes a token; needed if the archive was scanned
                       with it
      --share          let others read and add, as the umask says

actions of set, with or without a verdict; the last one of each kind counts:
      --assigned-to TEXT
                       a role in small letters, such as fleet-safety, or two to four
                       capitals; no names; none removes it
      --due YYYY-MM-DD date by which it is to be done; none removes it
      --maintenance yes|no
                       whether it was referred to maintenance
      --crew-contact yes|no
                       whether the gatekeeper has talked to the crew. Only the
                       operator's gatekeeper records it, with --by gatekeeper. No name
                       is kept. Nothing checks who has the role: control who may write

clip reads the recording at the path in the ledger, with the profile it was scanned
with. It does not work in an archive without identities, which holds no samples:
      --csv FILE       where to write; - is standard output
      --around SECONDS before the start and after the end  (default 60)
  -p, --profile FILE   as for scan; not needed for shipped demo data
      --fleet FILE     as for scan, in place of --profile

carry: ids are made from the content of a recording; old archives made them from its
compressed bytes. carry adds verdicts on old ids to the present ids of the same events:
those of the same recording, flight, rule and start. It says what it did for each. The
old verdicts stay where they are, and so do those without a present event. A second
carry adds nothing.

On stdout: for the list, a heading, then a tab-separated line per event. The column
occurrence is the occurrence_id of reports and tables; events of one cause share it. For
set, the files it added. Actions are a table too: DIR/tables/actions.

examples:
  downlock review --archive fleet --severity high
  downlock review --archive fleet set E0123456789ab --verdict false \
      --cause "strut switch polarity in the profile" --by "Analyst A"
  downlock review --archive fleet set --rule slow-leg --aircraft TH-KXN --occurrence \
      --verdict valid --maintenance yes --due 2031-07-15 --by "Analyst A"
  downlock review --archive fleet clip E0123456789ab --around 60 --csv around.csv

exit codes: 0 done, 1 some verdicts or actions are damaged and were left out, or the
recording of clip is missing or changed, 2 usage or no such event, 3 key, profile or rules
invalid, 4 the archive could not be read or written.
`

// reviewOptions are the flags of review.
type reviewOptions struct {
	archive, export             string
	filter                      filter
	reports                     string
	rules                       []string
	ids                         string
	verdict, cause, comment, by string
	action                      map[review.ActionKind]*string
	deidentify                  string
	share, occurrence           bool
	csv, profile, fleet         string
	around                      float64 // s
}

// Command runs review and returns the exit code.
func Command(args []string, stdin io.Reader, stdout, stderr io.Writer) int {
	say := command.Messages{To: stderr}
	o := reviewOptions{action: map[review.ActionKind]*string{}}
	flags := pflag.NewFlagSet("review", pflag.ContinueOnError)
	flags.StringVarP(&o.archive, "archive", "a", "", "")
	flags.StringVar(&o.filter.rule, "rule", "", "")
	flags.StringVar(&o.filter.severity, "severity", "", "")
	flags.StringVar(&o.filter.certainty, "certainty", "", "")
	flags.StringVar(&o.filter.aircraft, "aircraft", "", "")
	flags.StringVar(&o.filter.aerodrome, "aerodrome", "", "")
	flags.StringVar(&o.filter.month, "month", "", "")
	flags.StringVar(&o.filter.from, "from", "", "")
	flags.StringVar(&o.filter.to, "to", "", "")
	flags.StringVar(&o.filter.state, "state", stateOpen, "")
	flags.BoolVar(&o.filter.all, "all", false, "")
	flags.StringVar(&o.export, "export", "", "")
	flags.StringVar(&o.reports, "reports", "", "")
	flags.StringArrayVarP(&o.rules, "rules", "r", nil, "")
	flags.StringVar(&o.ids, "ids", "", "")
	flags.StringVar(&o.verdict, "verdict", "", "")
	flags.StringVar(&o.cause, "cause", "", "")
	flags.StringVar(&o.comment, "comment", "", "")
	flags.StringVar(&o.by, "by", "", "")
	for _, kind := range review.ActionKinds {
		o.action[kind] = flags.String(string(kind), "", "")
	}
	flags.StringVar(&o.deidentify, "deidentify", "", "")
	flags.BoolVar(&o.occurrence, "occurrence", false, "")
	flags.BoolVar(&o.share, "share", false, "")
	flags.StringVar(&o.csv, "csv", "", "")
	flags.StringVarP(&o.profile, "profile", "p", "", "")
	flags.StringVar(&o.fleet, "fleet", "", "")
	flags.Float64Var(&o.around, "around", 60, "")
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
		return o.set(flags.Args()[1:], stdin, stdout, say)
	case toClip:
		return o.clip(flags.Arg(1), stdout, say)
	case toCarry:
		return o.carry(stdout, say)
	}
	if o.export != "" {
		return o.writeTable(say)
	}
	return o.list(stdout, say)
}

// The words for the things review does.
const (
	toList  = "list"
	toShow  = "show"
	toSet   = "set"
	toClip  = "clip"
	toCarry = "carry"
)

// reviewFlags are the flags that belong to one thing review does.
var reviewFlags = map[string][]string{
	toList:  append([]string{"export"}, filterFlags...),
	toShow:  {"reports", "rules"},
	toSet:   append([]string{"ids", "verdict", "cause", "comment", "by", "assigned-to", "due", "maintenance", "crew-contact", "occurrence", "deidentify", "share"}, filterFlags...),
	toClip:  {"csv", "around", "profile", "fleet", "rules", "share"},
	toCarry: {"share"},
}

// mistake returns a mistake in the command line and a hint, "" when there is none.
func (o *reviewOptions) mistake(flags *pflag.FlagSet) (wrong, hint string) {
	what := toList
	if flags.NArg() > 0 {
		what = flags.Arg(0)
	}
	own, known := reviewFlags[what]
	foreign, filtered := "", false
	flags.Visit(func(f *pflag.Flag) {
		if f.Name != "archive" && command.Typed(f) && !slices.Contains(own, f.Name) && !(f.Name == "share" && o.export != "") {
			foreign = f.Name
		}
		filtered = filtered || command.Typed(f) && slices.Contains(filterFlags, f.Name)
	})
	switch {
	case o.archive == "":
		return "review needs --archive DIR", "name the folder `downlock scan --archive` writes"
	case !known:
		return "review has no subcommand " + command.Quote(what), "use show EVENT, set EVENT, clip EVENT or carry; without one, review lists events"
	case (what == toShow || what == toClip) && flags.NArg() != 2:
		return "review " + what + " needs one event", "`downlock review --archive DIR` lists those that are open"
	case (what == toList || what == toCarry) && flags.NArg() > 1:
		return "review " + what + " takes no argument " + command.Quote(flags.Arg(1)), ""
	case foreign != "":
		return "--" + foreign + " cannot be used here", "`downlock review --help` explains each flag"
	case what == toClip && o.csv == "":
		return "clip needs --csv FILE", "- is standard output"
	case what == toClip && !(o.around >= 0 && o.around <= maxAround):
		return fmt.Sprintf("--around takes 0 to %d seconds", maxAround), ""
	case o.profile != "" && o.fleet != "":
		return "--profile and --fleet do not go together", ""
	}
	if what == toSet {
		if wrong, hint = o.mistakeOfSet(flags.NArg()-1, filtered); wrong != "" {
			return wrong, hint
		}
	}
	return o.filter.mistake()
}

// maxAround bounds the seconds of a clip to a day: more than any flight has.
const maxAround = 24 * 3600

// mistakeOfSet returns a mistake in the flags of set, which names so many events.
func (o *reviewOptions) mistakeOfSet(named int, filtered bool) (wrong, hint string) {
	listed := named > 0 || o.ids != ""
	switch {
	case !listed && !filtered:
		return "review set needs events", "name ids, - or --ids FILE, or a filter such as --rule ID; `downlock review --archive DIR` lists those that are open"
	case listed && filtered:
		return "set takes ids or a filter, not both", "save the list of review with the filter, edit it, and give it by --ids"
	case o.verdict == "" && len(o.actions()) == 0:
		return "set needs --verdict, or an action: --assigned-to, --due, --maintenance or --crew-contact", "a verdict is valid, false or follow-up"
	case o.verdict != "" && !slices.Contains(review.Findings, review.Finding(o.verdict)):
		return "--verdict " + command.Quote(o.verdict) + " is not a verdict", "use valid, false or follow-up"
	case o.verdict == string(review.False) && o.cause == "":
		return "a false event needs --cause", "say why it was reported, such as a wrong profile or a faulty sensor"
	case o.verdict == "" && o.cause+o.comment != "":
		return "--cause and --comment belong to a verdict", "add --verdict"
	case strings.TrimSpace(o.by) == "":
		return "set needs --by NAME", ""
	}
	for _, a := range o.actions() {
		if wrong, hint = a.Mistake(); wrong != "" {
			return wrong, hint
		}
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
