package rules

import (
	"fmt"
	"io"
	"strings"

	"downlock/cmd/downlock/command"
)

// textWidth is the width of text for people in columns.
const textWidth = 100

// writeWrapped writes text in lines of at most textWidth where its spaces allow. Lines
// after the first are indented by four more.
func writeWrapped(to io.Writer, indent int, text string) {
	line := strings.Repeat(" ", indent)
	empty := true
	for _, word := range strings.Fields(text) {
		if !empty && len([]rune(line))+1+len([]rune(word)) > textWidth {
			fmt.Fprintln(to, line)
			line, empty = strings.Repeat(" ", indent+4), true
		}
		if !empty {
			line += " "
		}
		line, empty = line+word, false
	}
	fmt.Fprintln(to, line)
}

// oneLine returns text from a pack in a form that may stand inside a line: without
// control characters and line breaks, with single spaces.
func oneLine(text string) string { return command.Printable(strings.Join(strings.Fields(text), " ")) }
