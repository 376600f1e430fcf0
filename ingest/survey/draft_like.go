package survey

import (
	"fmt"
	"regexp"
	"strings"

	"downlock/schemas"
)

// likeEntries are the entries of a profile about the type, not about its exports.
var likeEntries = []string{"parameters", "legs", "engines", "systems", "flaps", "throttle", "values", "limits", "tables", "criteria"}

// DraftLike writes a profile of this export's columns with the values, limits, tables,
// criteria, detents and systems of a profile of a known type, as that is written. The
// error is schemas.Problems where that profile, or what comes of both, is none.
func (s *Survey) DraftLike(suggestions []Suggestion, file string, like []byte) (string, error) {
	known, err := schemas.ParseProfile(file, like)
	if err != nil {
		return "", err
	}
	if err := s.recognised(suggestions); err != nil {
		return "", err
	}
	d := draft{survey: s}
	d.comment("", "Draft of a profile for exports like %s: their columns, and what %s says about the type.", s.Name, file)
	d.comment("", "DECIDE marks what only you can say about the columns. DECIDE: is this aircraft of that type and procedure in every figure?")
	d.line("schema: downlock profile 1")
	d.line("aircraft: %s", quoted(known.Aircraft))
	d.line("title: draft from a survey, with the figures of a known type, not checked # DECIDE")
	d.time()
	d.columns(suggestions)
	text := string(like)
	for _, name := range likeEntries {
		if part := entryOf(text, name); part != "" {
			d.text.WriteString(part + "\n")
		}
	}
	if _, err := schemas.ParseProfile(file, []byte(d.text.String())); err != nil && anyInForce(suggestions) {
		return "", fmt.Errorf("%s does not fit this export's columns: write its entries one to a block, as in the demonstration's profile: %w", file, err)
	}
	return d.text.String(), nil
}

func anyInForce(suggestions []Suggestion) bool {
	for _, s := range suggestions {
		if s.Confidence != Doubtful {
			return true
		}
	}
	return false
}

var entryStart = regexp.MustCompile(`(?m)^[A-Za-z_"']`)

// entryOf cuts a top-level entry out of the text of a profile, with its comments.
func entryOf(text, name string) string {
	start := regexp.MustCompile(`(?m)^["']?` + name + `["']?\s*:`).FindStringIndex(text)
	if start == nil {
		return ""
	}
	rest := text[start[1]:]
	if next := entryStart.FindStringIndex(rest); next != nil {
		rest = rest[:next[0]]
	}
	lines := strings.Split(strings.TrimRight(rest, "\n "), "\n")
	for len(lines) > 1 && (strings.HasPrefix(lines[len(lines)-1], "#") || strings.TrimSpace(lines[len(lines)-1]) == "" || lines[len(lines)-1] == "---" || lines[len(lines)-1] == "...") {
		lines = lines[:len(lines)-1] // comments of the entry after it
	}
	return strings.TrimSuffix(text[start[0]:start[1]]+strings.Join(lines, "\n"), "\r") + "\n"
}
