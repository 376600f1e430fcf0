// Package verify is the subcommand that looks through an archive for damage, and mends it.
package verify

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"github.com/spf13/pflag"

	"downlock/cmd/downlock/command"
	"downlock/report/archive"
	"downlock/schemas"
)

const verifyHelp = `usage: downlock verify --archive DIR [flags]

Reads every byte of an archive and names the files that are not as downlock wrote them:
damaged, missing, exchanged with another file of the archive, or foreign. It also names the
recordings that have rows or entries in these files. The archive's list of checksums covers
the parts of tables, the ledger and the figures of runs. Verdicts and actions have a check in
their names, and are compared with their tables. Older archives have no checksums until the
next scan adds to them; until then verify finds damaged files, but not missing ones.

flags:
  -a, --archive DIR    the archive
      --repair         repair what can be repaired: exchanged files are put back; the
                       ledger, verdicts, actions and lists of checksums are made again
                       from the rest; recordings with lost rows are noted, and the next
                       scan reads those again whose files still exist. What is replaced
                       is kept in DIR/replaced
      --share          let others read what is written, as the umask says
      --json           for scripts; schemas/verify.schema.json defines the form

On stdout: a heading, then a tab-separated line per file; of recordings their number and
the first five names.

examples:
  downlock verify --archive fleet
  downlock verify --archive fleet --repair && downlock scan --archive fleet ...

exit codes: 0 nothing is wrong, or all of it was repaired, 1 something is wrong, or will be
repaired only when the next run has scanned recordings again, 2 usage, 4 the archive could not be read or
written, 5 a run uses the archive.
`

// verifyOptions are the flags of verify.
type verifyOptions struct {
	archive             string
	repair, share, json bool
}

// Command runs verify and returns the exit code.
func Command(args []string, stdout, stderr io.Writer) int {
	say := command.Messages{To: stderr}
	var o verifyOptions
	flags := pflag.NewFlagSet("verify", pflag.ContinueOnError)
	flags.StringVarP(&o.archive, "archive", "a", "", "")
	flags.BoolVar(&o.repair, "repair", false, "")
	flags.BoolVar(&o.share, "share", false, "")
	flags.BoolVar(&o.json, "json", false, "")
	if code, done := command.ParseFlags(flags, args, verifyHelp, stdout, stderr); done {
		return code
	}
	switch {
	case o.archive == "":
		say.Error("verify needs --archive DIR")
		say.Hint("name the folder `downlock scan --archive` writes")
		return command.ExitUsage
	case flags.NArg() > 0:
		say.Error("verify takes no argument " + command.Quote(flags.Arg(0)))
		say.Hint("name the archive with --archive")
		return command.ExitUsage
	}
	return o.run(stdout, say)
}

func (o *verifyOptions) run(stdout io.Writer, say command.Messages) int {
	var c *archive.Condition
	var err error
	if o.repair {
		c, err = archive.Repair(o.archive, time.Now(), o.share)
	} else {
		c, err = archive.Verify(o.archive)
	}
	if err != nil {
		say.Failure(err)
		var locked *archive.LockedError
		if errors.As(err, &locked) {
			return command.ExitLocked
		}
		return command.ExitOutput
	}
	lines := &command.Lines{To: stdout}
	if o.json {
		lines.Err = writeJSON(stdout, c)
	} else {
		writeLines(lines, c)
	}
	if err := lines.Failure(); err != nil {
		say.Failure(err)
		return command.ExitOutput
	}
	return o.conclude(c, say)
}

// mostNames bounds the names of recordings in a line.
const mostNames = 5

func writeLines(lines *command.Lines, c *archive.Condition) {
	lines.Line("file", "condition", "recordings", "names", "cause", "mended", "kept")
	for _, f := range c.Faults {
		var names []string
		for _, sha := range f.Recordings[:min(len(f.Recordings), mostNames)] {
			names = append(names, nameOf(c, sha))
		}
		if more := len(f.Recordings) - len(names); more > 0 {
			names = append(names, fmt.Sprintf("and %d more", more))
		}
		lines.Line(f.File, string(f.Kind), fmt.Sprint(len(f.Recordings)), strings.Join(names, ", "), f.Cause, f.Mended, f.Kept)
	}
}

// nameOf is the name of a recording or, where that is not known or was pruned, its hash.
func nameOf(c *archive.Condition, sha string) string {
	if name := c.Names[sha]; name != "" {
		return name
	}
	return sha
}

// conclude says what was found in one line, and returns the exit code.
func (o *verifyOptions) conclude(c *archive.Condition, say command.Messages) int {
	stays := slices.ContainsFunc(c.Faults, func(f archive.Fault) bool { return f.Mended == "" || f.Scan })
	scan := slices.ContainsFunc(c.Faults, func(f archive.Fault) bool { return f.Scan })
	text := fmt.Sprintf("%s: %s read", o.archive, command.Count(c.Files, "file"))
	switch {
	case len(c.Faults) == 0 && c.Listed:
		text += ", all as downlock wrote them"
	case len(c.Faults) == 0:
		text += ", no damage found"
	default:
		text += fmt.Sprintf(", %d not as downlock wrote them", len(c.Faults))
	}
	if !c.Listed && len(c.Faults) == 0 {
		text += "; the archive has no checksums yet, so a missing file is not noticed; the next scan that adds to it makes them"
	}
	say.Note(text)
	switch {
	case !stays:
		return command.ExitDone
	case scan && o.repair:
		say.Hint("scan the files of these recordings again, which restores their rows")
	case !o.repair:
		say.Hint("put files back from a copy of the archive, or add --repair, which repairs what it can and keeps what it replaces")
	default:
		say.Hint("put files back from a copy of the archive")
	}
	return command.ExitInputsFailed
}

// document is what --json writes, after schemas/verify.schema.json.
type document struct {
	Schema    string          `json:"schema"`
	Version   string          `json:"version"`
	Caution   string          `json:"caution"`
	Files     int             `json:"files"`
	Checksums bool            `json:"checksums"`
	Faults    []documentFault `json:"faults"`
}

type documentFault struct {
	File       string              `json:"file"`
	Condition  string              `json:"condition"`
	Cause      string              `json:"cause"`
	Recordings []documentRecording `json:"recordings"`
	Mended     string              `json:"mended,omitempty"`
	Kept       string              `json:"kept,omitempty"`
	Scan       bool                `json:"scan_again"`
}

type documentRecording struct {
	SHA256 string `json:"sha256"`
	Name   string `json:"name"`
}

const documentSchema = "downlock verification 1"

func writeJSON(to io.Writer, c *archive.Condition) error {
	d := document{Schema: documentSchema, Version: command.Version, Caution: schemas.Caution, Files: c.Files, Checksums: c.Listed, Faults: []documentFault{}}
	for _, f := range c.Faults {
		out := documentFault{File: command.Printable(f.File), Condition: string(f.Kind), Cause: command.Printable(f.Cause),
			Recordings: []documentRecording{}, Mended: f.Mended, Kept: command.Printable(f.Kept), Scan: f.Scan}
		for _, sha := range f.Recordings {
			out.Recordings = append(out.Recordings, documentRecording{sha, command.Printable(c.Names[sha])})
		}
		d.Faults = append(d.Faults, out)
	}
	text, err := json.MarshalIndent(d, "", " ")
	if err == nil {
		_, err = to.Write(append(text, '\n'))
	}
	return err
}
