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

// Demo holds the folders demo, with recordings of the TH-120, and demo440, with
// those of the TH-440. In each lie truth.json, with what really happened in
// them, and manifest, with a SHA-256 sum and a name a line.
//
//go:embed demo demo440
var Demo embed.FS

// DemoFolders names, for each folder of Demo, the shipped profile of its
// recordings.
var DemoFolders = []struct{ Folder, Profile string }{{"demo", "th120"}, {"demo440", "th440"}}

var demoSums = sync.OnceValue(func() map[string]string {
	sums := map[string]string{}
	for _, f := range DemoFolders {
		text, err := Demo.ReadFile(f.Folder + "/manifest")
		if err != nil {
			continue // compiled in; TestManifest reads it
		}
		for lines := bufio.NewScanner(bytes.NewReader(text)); lines.Scan(); {
			sum, _, found := strings.Cut(lines.Text(), "  ")
			if found {
				sums[sum] = f.Profile
			}
		}
	}
	return sums
})

// DemoProfile is the name of the shipped profile (schemas.ShippedProfileNamed)
// of the demonstration recording with this SHA-256 sum, "" where it is none.
func DemoProfile(sha256hex string) string { return demoSums()[sha256hex] }
