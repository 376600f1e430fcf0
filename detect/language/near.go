package language

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"downlock/schemas"
)

// synonyms are words that people use for one in a name of the language.
var synonyms = map[string]string{
	"height": "altitude", "alt": "altitude", "ra": "radio_altitude",
	"idle": "retarded", "closed": "retarded",
	"ias": "computed_airspeed", "cas": "computed_airspeed", "speed": "airspeed", "gs": "ground_speed",
	"squat": "strut", "undercarriage": "gear",
}

// mostNear bounds the names of a hint.
const mostNear = 3

// nearest returns a hint with the known names nearest to the written one: by its letters or,
// where no name is near, by the words it is made of. It returns "" when none is.
func nearest(written string, known []string) string {
	if hint := schemas.Suggest(written, known); hint != "" {
		return hint
	}
	wanted := wordsOf(written)
	type candidate struct {
		name          string
		shared, words int
	}
	var found []candidate
	for _, name := range known {
		words := wordsOf(name)
		c := candidate{name: name, words: len(words)}
		for _, w := range words {
			if slices.Contains(wanted, w) {
				c.shared++
			}
		}
		if c.shared > 0 && 2*c.shared > len(wanted) {
			found = append(found, c)
		}
	}
	slices.SortFunc(found, func(a, b candidate) int {
		return cmp.Or(b.shared-a.shared, a.words-b.words, cmp.Compare(a.name, b.name))
	})
	var names []string
	for _, c := range found[:min(len(found), mostNear)] {
		if c.shared == found[0].shared {
			names = append(names, c.name)
		}
	}
	switch len(names) {
	case 0:
		return ""
	case 1:
		return fmt.Sprintf("did you mean %s?", names[0])
	}
	return "did you mean one of " + strings.Join(names, ", ") + "?"
}

// wordsOf returns the words of a name, each as the names of the language have it, in the
// singular.
func wordsOf(name string) (words []string) {
	for _, w := range strings.Split(strings.ToLower(name), "_") {
		if s := synonyms[w]; s != "" {
			w = s
		}
		for _, part := range strings.Split(w, "_") {
			if part = strings.TrimSuffix(part, "s"); part != "" && !slices.Contains(words, part) {
				words = append(words, part)
			}
		}
	}
	return words
}
