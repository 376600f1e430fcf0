// Package inspect is the subcommand that describes an export, and holds it against a
// profile.
package inspect

import (
	"fmt"
	"io"
	"os"
	"slices"

	"github.com/spf13/pflag"

	"downlock/cmd/downlock/command"
	"downlock/detect"
	"downlock/ingest/survey"
	"downlock/report/output"
	"downlock/schemas"
)

const inspectHelp = `usage: downlock inspect [flags] FILE...

Describes an export before there is a profile for it: the kind of file; how its time
runs (gaps, steps back, jumps, midnight); for every column the rate, offset, blanks,
lost samples, and the range or states; and the likely number of flights. It finds the
time column by its content.

With --profile it also says which parameters are mapped and found; each sampling
interval beside the longest that regulation allows; which rules can be evaluated, and
what the others lack; and what the consistency checks say about the profile.

It names files beside FILE that may be parts of the same recording (such as 1 Hz and
8 Hz in separate files), with the line for the profile that puts them together.

With --suggest, for one FILE, it writes a commented profile to start from. Columns are
mapped by name, unit, range and behaviour, with a confidence for each. The draft lists
what only you can decide, grouped by the rules that each group makes evaluable. After
that, --profile lists the open decisions until none is left. The draft is not used until
you pass it to scan.

The FILE - is standard input, up to 2 GiB, which is held in memory. A FILE that begins
with s3:// is an object in an object store (see ` + "`downlock help exports`" + `).

flags:
  -p, --profile FILE   compare the export with this profile
  -r, --rules FILE     with --profile: rule pack on top; may be repeated
      --suggest        write a draft profile
      --like FILE      with --suggest: take values, criteria, detents and systems from this
                       profile
  -o, --output FILE    with --suggest: write it there, not to stdout
      --sheet NAME     the sheet of a workbook that has several; overrides the profile
      --json           for scripts; schemas/inspect.schema.json defines the form

examples:
  downlock inspect demo/tarnholm-07.csv.gz
  downlock inspect --suggest --output my-type.yaml exports/first.csv.gz
  downlock inspect --profile my-type.yaml exports/first.csv.gz

exit codes: 0 done, 1 some inputs failed, 2 usage, 3 profile or rules invalid,
4 the output could not be written
`

// inspectOptions are the flags of inspect.
type inspectOptions struct {
	profile string
	rules   []string
	suggest bool
	like    string
	output  string
	sheet   string
	json    bool
}

// Command runs inspect and returns the exit code.
func Command(args []string, stdout, stderr io.Writer) int {
	say := command.Messages{To: stderr}
	var o inspectOptions
	flags := pflag.NewFlagSet("inspect", pflag.ContinueOnError)
	flags.StringVarP(&o.profile, "profile", "p", "", "")
	flags.StringArrayVarP(&o.rules, "rules", "r", nil, "")
	flags.BoolVar(&o.suggest, "suggest", false, "")
	flags.StringVar(&o.like, "like", "", "")
	flags.StringVarP(&o.output, "output", "o", "", "")
	flags.StringVar(&o.sheet, "sheet", "", "")
	flags.BoolVar(&o.json, "json", false, "")
	if code, done := command.ParseFlags(flags, args, inspectHelp, stdout, stderr); done {
		return code
	}
	if cause, hint := o.contradiction(flags); cause != "" {
		say.Error(cause)
		say.Hint(hint)
		return command.ExitUsage
	}
	i := inspection{options: o, say: say}
	if o.profile != "" {
		if code := i.prepare(); code != command.ExitDone {
			return code
		}
		if o.sheet != "" {
			i.profile.Sheet = o.sheet
		}
		i.options.sheet = i.profile.Sheet
	}
	return i.run(flags.Args(), stdout)
}

// contradiction returns the reason why the flags do not go together, "" when they do.
func (o inspectOptions) contradiction(flags *pflag.FlagSet) (cause, hint string) {
	switch {
	case flags.NArg() == 0:
		return "inspect needs at least one export", "try `downlock inspect demo/tarnholm-07.csv.gz`"
	case o.suggest && flags.NArg() > 1:
		return "--suggest makes a profile from one export", "name one that is typical"
	case command.Typed(flags.Lookup("like")) && (!o.suggest || o.like == ""):
		return "--like goes with --suggest and needs a profile", "`downlock inspect --suggest --like known-type.yaml FILE`"
	case o.suggest && o.profile != "":
		return "--suggest and --profile do not go together", "make the draft first, then compare exports with it by --profile"
	case command.Typed(flags.Lookup("output")) && (!o.suggest || o.json):
		return "--output goes with --suggest, without --json", "redirect standard output to keep anything else"
	case flags.Changed("output") && o.output == "":
		return "--output needs a file", ""
	case command.Typed(flags.Lookup("rules")) && o.profile == "":
		return "--rules goes with --profile", ""
	}
	return "", ""
}

// inspection is the work on all files: the flags, and the profile if there is one.
type inspection struct {
	options  inspectOptions
	profile  *schemas.Profile
	rules    *detect.RuleSet
	detector *detect.Detector
	say      command.Messages
}

// prepare reads the profile and the rules.
func (i *inspection) prepare() (code int) {
	var err error
	if i.profile, err = schemas.ReadProfile(i.options.profile); err == nil {
		if i.rules, err = detect.LoadRules(i.options.rules...); err == nil {
			i.detector, err = detect.New(i.profile, i.rules)
		}
	}
	if err != nil {
		i.say.Failure(err)
		return command.ExitInvalid
	}
	i.say.Notes(slices.Concat(i.profile.Document().OldNames(), i.rules.OldNames))
	return command.ExitDone
}

// run inspects the files and writes the results.
func (i *inspection) run(files []string, stdout io.Writer) int {
	doc := inspectDocument{Schema: inspectSchema, Version: command.Version, Caution: schemas.Caution, Files: []inspectedFile{}, Failed: []failedFile{}}
	drafts := ""
	for _, path := range files {
		f, err := i.one(path)
		if err != nil {
			i.say.Failure(err)
			doc.Failed = append(doc.Failed, failedFile{path, err.Error()})
			continue
		}
		doc.Files = append(doc.Files, f)
		drafts += f.Draft
	}
	i.hintParts(doc.Files)
	var err error
	switch {
	case i.options.json:
		err = doc.encode(stdout)
	case i.options.suggest && i.options.output != "" && drafts != "":
		if err = os.WriteFile(i.options.output, []byte(drafts), 0o666); err == nil {
			i.say.Note(i.options.output + ": a draft, with what is yours to decide marked DECIDE")
			i.say.Hint("edit it, then see what is left to decide with `downlock inspect --profile " + i.options.output + " " + files[0] + "`")
		}
	case i.options.suggest:
		_, err = io.WriteString(stdout, drafts)
	default:
		err = doc.write(stdout)
	}
	switch {
	case err != nil:
		path := i.options.output
		if path == "" {
			path = "standard output"
		}
		i.say.Failure(&output.Error{Path: path, Err: err})
		return command.ExitOutput
	case len(doc.Failed) > 0:
		return command.ExitInputsFailed
	}
	return command.ExitDone
}

// one inspects one file.
func (i *inspection) one(path string) (f inspectedFile, err error) {
	defer func() {
		if r := recover(); r != nil {
			err = fmt.Errorf("%s: downlock failed on this file (%v); please report this with the file", path, r)
		}
	}()
	from := source{path: path}
	if path == command.Stdin {
		if from, err = stdinSource(os.Stdin); err != nil {
			return f, err
		}
	}
	from.sheet = i.options.sheet
	raw, err := from.open()
	if err != nil {
		return f, err
	}
	found, err := survey.Of(raw)
	if err != nil {
		return f, err
	}
	f = inspectedFile{Path: from.path, Survey: found}
	if i.options.suggest {
		f.Suggestions = found.Suggest()
		f.Draft, err = i.draft(from, found, f.Suggestions)
		return f, err
	}
	if i.profile != nil {
		recording, err := from.read(i.profile)
		if err != nil {
			return f, err
		}
		f.Mapping = newMapping(i.detector, recording, found)
		if f.Mapping.Open, err = i.openDecisions(recording, f.Mapping.Rules); err != nil {
			return f, err
		}
	}
	return f, nil
}
