package command

import (
	"runtime/debug"
	"strings"
	"time"
)

// Build returns the version with the commit it was built from, the commit's date (UTC)
// and the Go version.
func Build() string {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return Version
	}
	return buildText(info)
}

func buildText(info *debug.BuildInfo) string {
	of := map[string]string{}
	for _, s := range info.Settings {
		of[s.Key] = s.Value
	}
	var parts []string
	switch revision := of["vcs.revision"]; {
	case revision != "":
		text := "commit " + revision[:min(len(revision), 12)]
		if of["vcs.modified"] == "true" {
			text += " with changes"
		}
		parts = append(parts, text)
	case info.Main.Version != "" && info.Main.Version != "(devel)":
		parts = append(parts, "module "+info.Main.Version)
	default:
		parts = append(parts, "commit not known")
	}
	if at, err := time.Parse(time.RFC3339, of["vcs.time"]); err == nil {
		parts = append(parts, at.UTC().Format(time.DateOnly))
	}
	parts = append(parts, info.GoVersion)
	return Version + " (" + strings.Join(parts, ", ") + ")"
}
