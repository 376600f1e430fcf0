package scan

import (
	"fmt"
	"strings"

	"downlock/cmd/downlock/command"
	"downlock/report/identity"
)

// mostNamed is how many of the files left out are named.
const mostNamed = 10

// leftOut are the files of folders that are not read, since their names are not those of
// exports: how many, and the first of them.
type leftOut struct {
	Files int      `json:"files"`
	First []string `json:"first"` // once shown was called
	paths []string
}

func (l *leftOut) add(path string) {
	l.Files++
	l.paths = append(l.paths, path)
}

// shown returns them with names that may be shown, the first of them in order.
func (l leftOut) shown(key *identity.Key) leftOut {
	l.First = shownPaths(l.paths, key)
	l.First = l.First[:min(len(l.First), mostNamed)]
	for i, name := range l.First {
		l.First[i] = command.OneLine(name)
	}
	return l
}

// warn names the files on the console, also in a quiet run: a flight may be among them.
func (l leftOut) warn(say command.Messages) {
	if l.Files == 0 {
		return
	}
	names := strings.Join(l.First, ", ")
	if more := l.Files - len(l.First); more > 0 {
		names += fmt.Sprintf(" and %d more", more)
	}
	why := "their names are not those of an export"
	if l.Files == 1 {
		why = "its name is not that of an export"
	}
	say.Warning(command.Count(l.Files, "file") + " skipped: " + why + " (" + names + ")")
	say.Hint("a file that you name is read whatever its name is")
}
