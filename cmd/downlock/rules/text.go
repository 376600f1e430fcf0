package rules

import (
	"fmt"
	"io"
	"strings"

	"downlock/cmd/downlock/command"
)

// textWidth is how wide text for people is written, in columns.
const textWidth = 100

// writeWrapped writes text broken at spaces, lines after the first further in.
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

// oneLine is text from a pack as it may be printed inside a line: no control
// characters, no line breaks, single spaces.
func oneLine(text string) string { return command.Printable(strings.Join(strings.Fields(text), " ")) }
