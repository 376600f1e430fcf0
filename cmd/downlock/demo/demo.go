// Package demo is the subcommand that writes the invented demo exports.
package demo

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"github.com/spf13/pflag"

	"downlock/cmd/downlock/command"
	"downlock/report/output"
	"downlock/schemas"
	"downlock/testdata"
)

const demoHelp = `usage: downlock demo [flags] DIR

Writes the demo exports of the invented operator Tarnholm Air and its invented
twin jet TH-120 into DIR, with truth.json (what really happens in each) and
th120.yaml (the profile, a start for your own). DIR is made if it is missing; files
of the same name are replaced.

With --years it writes the archive of an invented fleet into DIR instead, for trying
trend, review and desk. DIR must be empty or missing. It also says what is wrong in that
fleet, which trend should find. The archive has no recordings, so its flights have no
reports; those of the demo exports have, after ` + "`downlock scan --archive DIR demo`" + ` has added them.

flags:
      --type TYPE   th120, or th440 for the exports of a larger type with tilting
                    trucks and body-gear steering   (default th120)
      --years N     write an archive of N years, 2 to 10

On stdout: a line per file, or the archive.

examples:
  downlock demo demo && downlock scan --out reports demo
  downlock demo --years 2 fleet && downlock trend --archive fleet --out trends

exit codes: 0 done, 2 usage, 4 something could not be written
`

// Command runs demo and returns the exit code.
func Command(args []string, stdout, stderr io.Writer) int {
	say := command.Messages{To: stderr}
	flags := pflag.NewFlagSet("demo", pflag.ContinueOnError)
	kind := flags.String("type", testdata.DemoFolders[0].Profile, "")
	years := flags.Int("years", 0, "")
	command.Choices(flags, "type", "th120", "th440")
	if code, done := command.ParseFlags(flags, args, demoHelp, stdout, stderr); done {
		return code
	}
	if flags.NArg() != 1 {
		say.Error("demo needs one folder to write to")
		say.Hint("try `downlock demo demo`")
		return command.ExitUsage
	}
	if flags.Changed("years") {
		return writeYears(flags.Arg(0), *years, stdout, say)
	}
	names, err := Write(flags.Arg(0), *kind)
	if errors.Is(err, errNoType) {
		say.Error(fmt.Sprintf("--type %s: there is no such type", *kind))
		say.Hint("use th120 or th440")
		return command.ExitUsage
	}
	if err != nil {
		say.Failure(err)
		return command.ExitOutput
	}
	say.Note(fmt.Sprintf("wrote invented exports of the type %s, their truth and their profile to %s", *kind, flags.Arg(0)))
	for _, name := range names {
		fmt.Fprintln(stdout, filepath.Join(flags.Arg(0), name))
	}
	return command.ExitDone
}

// errNoType is returned for a type of aircraft that has no demo files.
var errNoType = errors.New("no such type")

// Write writes the demo files of a type, named by its profile, into dir, and returns
// their names in order. The error is errNoType for an unknown type, else an
// output.Error.
func Write(dir, kind string) (names []string, err error) {
	folder := ""
	for _, f := range testdata.DemoFolders {
		if f.Profile == kind {
			folder = f.Folder
		}
	}
	if folder == "" {
		return nil, errNoType
	}
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return nil, &output.Error{Path: dir, Err: err}
	}
	write := func(name string, data []byte) error {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, data, 0o666); err != nil {
			return &output.Error{Path: path, Err: err}
		}
		names = append(names, name)
		return nil
	}
	entries, err := fs.ReadDir(testdata.Demo, folder)
	if err != nil {
		return nil, err
	}
	for _, e := range entries {
		if e.Name() == "manifest" {
			continue
		}
		data, err := fs.ReadFile(testdata.Demo, folder+"/"+e.Name())
		if err != nil {
			return nil, err
		}
		if err := write(e.Name(), data); err != nil {
			return nil, err
		}
	}
	return names, write(kind+".yaml", schemas.ShippedProfileTextNamed(kind))
}
