package schemas

import (
	"fmt"
	"slices"
	"strings"

	"github.com/goccy/go-yaml/token"
)

// NameNow returns the present name for one that an earlier version used, or the name itself.
func NameNow(name string) string {
	if now, ok := words().Renamed[name]; ok {
		return now
	}
	return name
}

// mayBeOld says whether the document has an old name anywhere, which few have.
func (d *Document) mayBeOld() bool {
	for name := range words().Renamed {
		if slices.ContainsFunc(d.lines, func(line string) bool { return strings.Contains(line, name) }) {
			return true
		}
	}
	return false
}

// renamedKeys are the places of a profile whose keys are names that may be old.
var renamedKeys = Pattern(`^/(columns|values|limits|tables|criteria)/[^/]+$`)

// renewed returns the text with present names as keys where d has old ones; changed says
// whether there is one. Expressions and lists may keep old names: whoever looks a name up
// asks NameNow.
func (d *Document) renewed() (text []byte, changed bool) {
	var old []*token.Token
	for path, key := range d.keys {
		if t := key.GetToken(); NameNow(t.Value) != t.Value && renamedKeys().MatchString(path) {
			old = append(old, t)
		}
	}
	slices.SortFunc(old, func(a, b *token.Token) int { return b.Position.Column - a.Position.Column }) // places before stay
	lines := slices.Clone(d.lines)
	for _, t := range old {
		line := []rune(lines[t.Position.Line-1])
		before, rest := string(line[:t.Position.Column-1]), string(line[t.Position.Column-1:])
		lines[t.Position.Line-1] = before + strings.Replace(rest, t.Value, NameNow(t.Value), 1)
	}
	return []byte(strings.Join(lines, "\n")), len(old) > 0
}

// OldNames says which names of earlier versions the document was written with, each once,
// as notes to whoever wrote it.
func (d *Document) OldNames() []string { return d.old }

func (d *Document) oldNames() (notes []string) {
	for i, line := range d.lines {
		line, _, _ = strings.Cut(line, "#")
		for _, name := range nameWord().FindAllString(line, -1) {
			now := NameNow(name)
			note := fmt.Sprintf("%s is now called %s; the old name is still read", name, now)
			if now != name && !slices.ContainsFunc(notes, func(n string) bool { return strings.HasSuffix(n, note) }) {
				notes = append(notes, fmt.Sprintf("%s:%d: %s", d.File, i+1, note))
			}
		}
	}
	return notes
}

var nameWord = Pattern(`[A-Za-z_][A-Za-z0-9_]*`)
