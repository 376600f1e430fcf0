// Package testdata carries the demonstration recordings: flights of an invented
// operator, made by package ingest/simulator, with the truth about each. They
// are compiled in, so that the command can write them out anywhere.
package testdata

import (
	"bufio"
	"bytes"
	"embed"
	"strings"
	"sync"
)

// Demo holds the folder demo: the recordings, truth.json with what really
// happened in them, and manifest with a SHA-256 sum and a name a line.
//
//go:embed demo
var Demo embed.FS

var demoSums = sync.OnceValue(func() map[string]bool {
	sums := map[string]bool{}
	text, err := Demo.ReadFile("demo/manifest")
	if err != nil {
		return sums // compiled in; TestManifest reads it
	}
	for lines := bufio.NewScanner(bytes.NewReader(text)); lines.Scan(); {
		sum, _, found := strings.Cut(lines.Text(), "  ")
		if found {
			sums[sum] = true
		}
	}
	return sums
})

// IsDemo reports whether a file with this SHA-256 sum, in lower-case hex, is one
// of the demonstration recordings.
func IsDemo(sha256hex string) bool { return demoSums()[sha256hex] }
