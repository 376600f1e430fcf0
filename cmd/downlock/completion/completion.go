// Package completion is the subcommand that writes what a shell needs to complete the
// words of a downlock command line.
package completion

import (
	"io"
	"strings"

	"github.com/spf13/pflag"

	"downlock/cmd/downlock/command"
	"downlock/report/output"
	"downlock/schemas"
)

const completionHelp = `usage: downlock completion bash|zsh|fish

Writes a script to stdout. With it a shell completes subcommands, flags, the values of
flags that have a fixed set, and the names of files and folders. The Debian package
installs it for all three shells.

examples:
  downlock completion bash >~/.local/share/bash-completion/completions/downlock
  downlock completion zsh  >~/.zfunc/_downlock   # with fpath+=~/.zfunc before compinit
  downlock completion fish >~/.config/fish/completions/downlock.fish

exit codes: 0 done, 2 usage, 4 the script could not be written
`

// scripts has the writer of each shell's script.
var scripts = map[string]func(all []command.Description) string{"bash": bash, "zsh": zsh, "fish": fish}

// Describe says the flags of completion, for command.Describe.
func Describe(args []string, stdout, stderr io.Writer) int {
	return Command(nil, args, stdout, stderr)
}

// Command runs completion for all subcommands and returns the exit code.
func Command(all []command.Description, args []string, stdout, stderr io.Writer) int {
	say := command.Messages{To: stderr}
	flags := pflag.NewFlagSet("completion", pflag.ContinueOnError)
	if code, done := command.ParseFlags(flags, args, completionHelp, stdout, stderr); done {
		return code
	}
	script := scripts[flags.Arg(0)]
	if flags.NArg() != 1 || script == nil {
		say.Error("completion needs the name of a shell: bash, zsh or fish")
		hint := schemas.Suggest(flags.Arg(0), []string{"bash", "zsh", "fish"})
		if hint == "" {
			hint = "try `downlock completion bash`"
		}
		say.Hint(hint)
		return command.ExitUsage
	}
	if _, err := io.WriteString(stdout, script(all)); err != nil {
		say.Failure(&output.Error{Path: "standard output", Err: err})
		return command.ExitOutput
	}
	return command.ExitDone
}

// What the value of a flag may be.
type valueKind int

const (
	noValue valueKind = iota
	oneOf             // one of few words
	file
	folder
	anyText
)

// kindOf returns what the value of a flag may be, by the word that the help has for it.
func kindOf(f command.Flag) valueKind {
	switch {
	case f.Value == "":
		return noValue
	case f.Choices != nil:
		return oneOf
	case strings.HasSuffix(f.Value, "FILE") || f.Value == "RECORDING" || strings.HasPrefix(f.Value, "FILE"):
		return file
	case f.Value == "DIR":
		return folder
	}
	return anyText
}

// spellings returns the ways to write a flag on a command line.
func spellings(f command.Flag) []string {
	if f.Shorthand == "" {
		return []string{"--" + f.Name}
	}
	return []string{"--" + f.Name, "-" + f.Shorthand}
}

// brief returns the first part of the meaning of a flag, for the line that a shell has
// for it.
func brief(f command.Flag) string {
	text, _, _ := strings.Cut(f.Meaning, "; ")
	text, _, _ = strings.Cut(text, " (default")
	text, _, _ = strings.Cut(text, ": ")
	const most = 72
	if runes := []rune(text); len(runes) > most {
		cut := strings.LastIndexByte(string(runes[:most]), ' ')
		text = strings.TrimRight(text[:cut], ",.") + " …"
	}
	return text
}

// quoted returns text as one word of a shell, between single quotes.
func quoted(text string) string { return "'" + strings.ReplaceAll(text, "'", `'\''`) + "'" }
