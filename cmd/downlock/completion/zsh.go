package completion

import (
	"fmt"
	"strings"

	"downlock/cmd/downlock/command"
)

// zsh returns the script for zsh, a function that compinit finds as _downlock.
func zsh(all []command.Description) string {
	var b strings.Builder
	b.WriteString(`#compdef downlock
# completions of downlock for zsh, written by ` + "`downlock completion zsh`" + `
_downlock() {
	local -a subcommands
	if ((CURRENT == 2)); then
		subcommands=(
`)
	for _, d := range all {
		fmt.Fprintf(&b, "\t\t\t%s\n", quoted(d.Name+":"+strings.ReplaceAll(d.Summary, ":", `\:`)))
	}
	b.WriteString(`			'--help:the subcommands and exit codes'
			'--version:version, commit and date'
		)
		_describe subcommand subcommands
		return
	fi
	shift words
	((CURRENT--))
	case $words[1] in
`)
	for _, d := range all {
		fmt.Fprintf(&b, "\t%s)\n\t\t_arguments \\\n\t\t\t'--help[flags, defaults and examples]' \\\n", d.Name)
		for _, f := range d.Flags {
			fmt.Fprintf(&b, "\t\t\t%s \\\n", zshFlag(f))
		}
		if d.Words != nil {
			fmt.Fprintf(&b, "\t\t\t%s \\\n", quoted("1:word:("+strings.Join(d.Words, " ")+")"))
		}
		b.WriteString("\t\t\t'*:file:_files'\n\t\t;;\n")
	}
	b.WriteString(`	esac
}
if [[ $funcstack[1] == _downlock ]]; then _downlock "$@"; else compdef _downlock downlock; fi
`)
	return b.String()
}

// zshFlag returns a flag as _arguments takes it.
func zshFlag(f command.Flag) string {
	meaning := "[" + strings.NewReplacer("[", `\[`, "]", `\]`, ":", `\:`).Replace(brief(f)) + "]"
	value := strings.ToLower(f.Value)
	switch kindOf(f) {
	case noValue:
		value = ""
	case oneOf:
		value = ":" + value + ":(" + strings.Join(f.Choices, " ") + ")"
	case file:
		value = ":" + value + ":_files"
	case folder:
		value = ":" + value + ":_files -/"
	case anyText:
		value = ":" + value + ": "
	}
	long, equals := "--"+f.Name, ""
	if value != "" {
		equals = "="
	}
	if f.Shorthand == "" {
		return quoted("*" + long + equals + meaning + value)
	}
	return quoted("*"+long+equals+meaning+value) + " " + quoted("*-"+f.Shorthand+meaning+value)
}
