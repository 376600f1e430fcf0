package scan

import (
	"io"
	"os"

	"github.com/schollz/progressbar/v3"
	"golang.org/x/term"
)

// progress is a bar on a terminal and nothing anywhere else.
type progress struct{ bar *progressbar.ProgressBar }

func newProgress(to io.Writer, inputs int, quiet bool) progress {
	file, ok := to.(*os.File)
	if !ok || quiet || inputs < 2 || !term.IsTerminal(int(file.Fd())) {
		return progress{}
	}
	return progress{progressbar.NewOptions(inputs,
		progressbar.OptionSetWriter(to),
		progressbar.OptionSetDescription("scanning"),
		progressbar.OptionShowCount(),
		progressbar.OptionSetPredictTime(true),
		progressbar.OptionClearOnFinish(),
	)}
}

func (p progress) step() {
	if p.bar != nil {
		p.bar.Add(1)
	}
}

// clear removes the bar from the line, to make room for a message. The next step draws
// it again.
func (p progress) clear() {
	if p.bar != nil {
		p.bar.Clear()
	}
}
