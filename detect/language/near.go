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
	"squat": "strut", "undercarriage": "gear", "position": "angle",
}

// mostNear bounds the names of a hint.
const mostNear = 3

// nearest returns a hint with the known names nearest to the written one: those made of the
// same words, else the one nearest by its letters, else those that share most of the words.
// Letters come second, since by them radio_height is nearest to landing_weight. It returns ""
// when none is near.
func nearest(written string, known []string) string {
	wanted := wordsOf(written)
	found := sharing(wanted, known)
	if len(found) > 0 && found[0].shared == len(wanted) {
		return hintOf(found)
	}
	if hint := schemas.Suggest(written, known); hint != "" {
		return hint
	}
	return hintOf(found)
}

// candidate is a known name and how many of the wanted words it shares.
type candidate struct {
	name          string
	shared, words int
}

// sharing returns the names that share most of the wanted words, the best first.
func sharing(wanted, known []string) (found []candidate) {
	for _, name := range known {
		words := wordsOf(name)
		c := candidate{name: name, words: len(words)}
		for _, w := range words {
			if slices.Contains(wanted, w) {
				c.shared++
			}
		}
		if 2*c.shared > len(wanted) {
			found = append(found, c)
		}
	}
	slices.SortFunc(found, func(a, b candidate) int {
		return cmp.Or(b.shared-a.shared, a.words-b.words, cmp.Compare(a.name, b.name))
	})
	return found
}

// hintOf names the first of the candidates, and the others that are as near.
func hintOf(found []candidate) string {
	var names []string
	for _, c := range found[:min(len(found), mostNear)] {
		if c.shared == found[0].shared && c.words == found[0].words {
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
