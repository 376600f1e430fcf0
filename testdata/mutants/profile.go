package main

import (
	"fmt"
	"os"
	"path"
	"strings"
)

// block is a stretch of statements that a test reached, in lines and columns; the end is
// outside.
type block struct{ fromLine, fromColumn, toLine, toColumn int }

func (b block) holds(line, column int) bool {
	return (line > b.fromLine || line == b.fromLine && column >= b.fromColumn) &&
		(line < b.toLine || line == b.toLine && column < b.toColumn)
}

// within is true of a block that lies in another one.
func (b block) within(o block) bool {
	return o.holds(b.fromLine, b.fromColumn)
}

// profiled is a block of a coverage profile and whether it was reached.
type profiled struct {
	block
	reached bool
}

// readProfile reads a coverage profile: the blocks by the base name of their file.
func readProfile(name string) (map[string][]profiled, error) {
	text, err := os.ReadFile(name)
	if err != nil {
		return nil, err
	}
	out := map[string][]profiled{}
	for i, line := range strings.Split(strings.TrimSpace(string(text)), "\n") {
		if i == 0 {
			continue // the mode
		}
		at := strings.LastIndexByte(line, ':')
		var p profiled
		var statements, count int
		if _, err := fmt.Sscanf(line[at+1:], "%d.%d,%d.%d %d %d", &p.fromLine, &p.fromColumn, &p.toLine, &p.toColumn, &statements, &count); err != nil {
			return nil, fmt.Errorf("%s:%d: %w", name, i+1, err)
		}
		p.reached = count > 0
		file := path.Base(line[:at])
		out[file] = append(out[file], p)
	}
	return out, nil
}

// reachedBy is true where the block of the mutant's place was reached: the innermost one
// around it, or around the nearest statement that has one.
func (m *mutant) reachedBy(t *test) bool {
	if len(m.place.anchors) == 0 {
		return true
	}
	blocks := t.blocks[path.Base(m.file)]
	for _, at := range m.place.anchors {
		line, column, _ := m.source.line(at)
		var inner *profiled
		for i, b := range blocks {
			if b.holds(line, column) && (inner == nil || b.within(inner.block)) {
				inner = &blocks[i]
			}
		}
		if inner != nil {
			return inner.reached
		}
	}
	return len(t.blocks) > 0 // no block: code that coverage does not count
}
