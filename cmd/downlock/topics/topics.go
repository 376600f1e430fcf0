// Package topics holds the reference that `downlock help TOPIC` prints.
package topics

import (
	"embed"
	"io"
	"strings"

	"downlock/cmd/downlock/command"
)

//go:embed *.md
var files embed.FS

// names are the topics in the order in which a new user needs them.
var names = []string{"exports", "time", "certainty", "rules", "output", "archive", "tables", "trends", "indicators",
	"review", "confidentiality", "exit-codes", "cautions"}

// Text returns the text of a topic; ok is false where there is none of that name.
func Text(name string) (text string, ok bool) {
	b, err := files.ReadFile(name + ".md")
	return string(b), err == nil
}

// List is a line for each topic: its name and its heading.
func List() string {
	var b strings.Builder
	b.WriteString("topics:\n")
	for _, name := range names {
		text, _ := Text(name)
		heading, _, _ := strings.Cut(strings.TrimPrefix(text, "# "), "\n")
		topic, about, _ := strings.Cut(heading, ": ")
		b.WriteString("  downlock help " + topic)
		if about != "" {
			b.WriteString(strings.Repeat(" ", 17-len(topic)) + about)
		}
		b.WriteString("\n")
	}
	return b.String()
}

// Command runs `downlock help TOPIC...`.
func Command(args []string, stdout, stderr io.Writer) int {
	for i, name := range args {
		text, ok := Text(name)
		if !ok {
			say := command.Messages{To: stderr}
			say.Error("no topic " + command.Quote(name))
			say.Hint("the topics are " + strings.Join(names, ", ") + "; `downlock SUBCOMMAND --help` has the flags of a subcommand")
			return command.ExitUsage
		}
		if i > 0 {
			io.WriteString(stdout, "\n")
		}
		io.WriteString(stdout, text)
	}
	return command.ExitDone
}
