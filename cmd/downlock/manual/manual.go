// Package manual is the subcommand that writes manual pages: one for downlock, one for
// each subcommand, from the flags as the subcommands declare them and from their help.
package manual

import (
	"fmt"
	"io"
	"os"
	"path/filepath"

	"github.com/spf13/pflag"

	"downlock/cmd/downlock/command"
	"downlock/report/output"
)

const manHelp = `usage: downlock man DIR

Writes the manual pages downlock.1, downlock-scan.1 and so on into DIR, which is made
if it is missing. The Debian package has them; ` + "`man -l DIR/downlock-scan.1`" + ` shows one.

On stdout: a line per page.

example:
  downlock man ~/.local/share/man/man1

exit codes: 0 done, 2 usage, 4 a page could not be written
`

// Describe says the flags of man, for command.Describe.
func Describe(args []string, stdout, stderr io.Writer) int {
	return Command("", nil, args, stdout, stderr)
}

// Command runs man and returns the exit code. help is the help of downlock itself.
func Command(help string, all []command.Description, args []string, stdout, stderr io.Writer) int {
	say := command.Messages{To: stderr}
	flags := pflag.NewFlagSet("man", pflag.ContinueOnError)
	if code, done := command.ParseFlags(flags, args, manHelp, stdout, stderr); done {
		return code
	}
	if flags.NArg() != 1 {
		say.Error("man needs one folder to write to")
		say.Hint("try `downlock man man1`, then `man -l man1/downlock.1`")
		return command.ExitUsage
	}
	dir := flags.Arg(0)
	if err := os.MkdirAll(dir, 0o777); err != nil {
		say.Failure(&output.Error{Path: dir, Err: err})
		return command.ExitOutput
	}
	pages := []page{{"downlock", "find configuration events in flight-recorder exports", mainPage(help, all)}}
	for _, d := range all {
		pages = append(pages, page{"downlock-" + d.Name, d.Summary, subcommandPage(d)})
	}
	for _, p := range pages {
		path := filepath.Join(dir, p.name+".1")
		if err := command.WriteWhole(path, []byte(p.roff()), true); err != nil {
			say.Failure(err)
			return command.ExitOutput
		}
		fmt.Fprintln(stdout, path)
	}
	return command.ExitDone
}
