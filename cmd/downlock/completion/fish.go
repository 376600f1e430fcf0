package completion

import (
	"fmt"
	"strings"

	"downlock/cmd/downlock/command"
)

// fish returns the script for fish, 3 and later.
func fish(all []command.Description) string {
	var b strings.Builder
	b.WriteString("# completions of downlock for fish, written by `downlock completion fish`\n")
	b.WriteString("complete -c downlock -n __fish_use_subcommand -f\n")
	b.WriteString("complete -c downlock -n __fish_use_subcommand -l version -d 'version, commit and date'\n")
	b.WriteString("complete -c downlock -l help -d 'flags, defaults and examples'\n")
	for _, d := range all {
		fmt.Fprintf(&b, "complete -c downlock -n __fish_use_subcommand -a %s -d %s\n", d.Name, quotedFish(d.Summary))
		when := fmt.Sprintf("complete -c downlock -n '__fish_seen_subcommand_from %s'", d.Name)
		if d.Words != nil {
			fmt.Fprintf(&b, "%s -a %s\n", when, quotedFish(strings.Join(d.Words, " ")))
		}
		for _, f := range d.Flags {
			fmt.Fprintf(&b, "%s -l %s", when, f.Name)
			if f.Shorthand != "" {
				fmt.Fprintf(&b, " -s %s", f.Shorthand)
			}
			switch kindOf(f) {
			case oneOf:
				fmt.Fprintf(&b, " -x -a %s", quotedFish(strings.Join(f.Choices, " ")))
			case file:
				b.WriteString(" -r -F")
			case folder:
				b.WriteString(" -x -a '(__fish_complete_directories)'")
			case anyText:
				b.WriteString(" -x")
			}
			fmt.Fprintf(&b, " -d %s\n", quotedFish(brief(f)))
		}
	}
	return b.String()
}

// quotedFish returns text as one word of fish, between single quotes.
func quotedFish(text string) string {
	return "'" + strings.NewReplacer(`\`, `\\`, `'`, `\'`).Replace(text) + "'"
}
