package survey

import (
	_ "embed"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"sync"
	"unicode"

	"github.com/goccy/go-yaml"
)

//go:embed words.yaml
var wordsYAML []byte

// dictionary is words.yaml, read once.
type dictionary struct {
	Phrases         map[string]string
	Words           map[string]string
	Noise           []string
	Against         []string
	Legs            []string // words of names about a leg
	Patterns        map[string][]string
	Units           map[string][]string
	States          map[string][]string
	MeansTrue       []string `yaml:"means_true"`
	MeansFalse      []string `yaml:"means_false"`
	Opposites       [][]string
	Sourced         []string
	Computers       []string
	EngineComputers []string `yaml:"engine_computers"`

	UnitEndings []string          `yaml:"unit_endings"`
	LetterUnits []string          `yaml:"letter_units"`
	UnitPairs   map[string]string `yaml:"unit_pairs"`

	patterns map[string][]pattern
	units    map[string][]unitRange
	concepts map[string]bool // every word a pattern uses
}

// pattern is the set of words a name must and may contain.
type pattern struct{ need, may []string }

// unitRange is a unit and the range of largest values a flight is likely to show in
// it.
type unitRange struct {
	unit      string
	low, high float64
}

// words is read once; the file is compiled in and a test reads it first, so an
// error here is a broken build.
var words = sync.OnceValue(func() *dictionary {
	var d dictionary
	if err := yaml.UnmarshalWithOptions(wordsYAML, &d, yaml.DisallowUnknownField()); err != nil {
		panic(fmt.Sprintf("survey: words.yaml: %v", err))
	}
	d.patterns, d.units, d.concepts = map[string][]pattern{}, map[string][]unitRange{}, map[string]bool{}
	for parameter, texts := range d.Patterns {
		for _, text := range texts {
			var p pattern
			for _, word := range strings.Fields(text) {
				bare := strings.Trim(word, "[]")
				d.concepts[bare] = true
				if bare == word {
					p.need = append(p.need, word)
				} else {
					p.may = append(p.may, bare)
				}
			}
			d.patterns[parameter] = append(d.patterns[parameter], p)
		}
	}
	for parameter, texts := range d.Units {
		for _, text := range texts {
			f := strings.Fields(text)
			low, _ := strconv.ParseFloat(f[1], 64)
			high, _ := strconv.ParseFloat(f[2], 64)
			d.units[parameter] = append(d.units[parameter], unitRange{f[0], low, high})
		}
	}
	return &d
})

// wordsOf splits a column name into the words of the dictionary, each once.
func wordsOf(name string) []string {
	d := words()
	// Phrases are looked for as written, and again with every word spelled out: pwr lvr
	// is a power lever.
	var meant []string
	for _, word := range d.phrases(d.withoutUnits(pieces(name))) {
		for _, part := range d.parted(word) {
			meant = append(meant, strings.Fields(d.meaning(part))...)
		}
	}
	var out []string
	for _, word := range d.phrases(meant) {
		if !slices.Contains(out, word) && !slices.Contains(d.Noise, word) {
			out = append(out, word)
		}
	}
	// A single n beside words of legs is the nose leg, as l and r are left and right.
	if n := slices.Index(out, "n"); n >= 0 && slices.ContainsFunc(out, isOfLegs) && !slices.Contains(out, "nose") {
		out[n] = "nose"
	}
	return out
}

// withoutUnits leaves out the computers a value comes from, with their number. The
// number of an engine's computer is that of the engine.
func (d *dictionary) withoutUnits(words []string) (out []string) {
	for i, word := range words {
		of := func(list []string, at int) bool { return at >= 0 && slices.Contains(list, words[at]) }
		if !of(d.Computers, i) && !of(d.EngineComputers, i) && !(isNumber(word) && of(d.Computers, i-1)) {
			out = append(out, word)
		}
	}
	return out
}

// parted splits a word of several known ones, such as nlgdnlk. Where it can be split
// in several ways, the first word is as long as it can be.
func (d *dictionary) parted(word string) []string {
	if d.knows(word) || len(word) < 4 || len(word) > longestWord || len(strings.Fields(d.meaning(word))) > 1 || d.meaning(word) != word {
		return []string{word}
	}
	if parts := d.split(word); parts != nil {
		return parts
	}
	return []string{word}
}

// longestWord bounds the words that are split, in bytes.
const longestWord = 24

func (d *dictionary) split(word string) []string {
	if d.knows(word) {
		return []string{word}
	}
	for length := len(word) - 2; length >= 2; length-- {
		if d.knows(word[:length]) {
			if rest := d.split(word[length:]); rest != nil {
				return append([]string{word[:length]}, rest...)
			}
		}
	}
	return nil
}

// knows reports whether a word of two letters and more means something.
func (d *dictionary) knows(word string) bool {
	if len(word) < 2 {
		return false
	}
	_, listed := d.Words[word]
	return listed || d.concepts[word] || slices.Contains(d.Noise, word) || slices.Contains(d.Against, word)
}

// phrases replaces the phrases among the words.
func (d *dictionary) phrases(words []string) []string {
	text := " " + strings.Join(words, " ") + " "
	for _, phrase := range phrasesByLength() {
		text = strings.ReplaceAll(text, " "+phrase+" ", " "+d.Phrases[phrase]+" ")
	}
	return strings.Fields(text)
}

func isOfLegs(word string) bool { return slices.Contains(words().Legs, word) }

var phrasesByLength = sync.OnceValue(func() []string {
	var phrases []string
	for p := range words().Phrases {
		phrases = append(phrases, p)
	}
	slices.SortFunc(phrases, func(a, b string) int {
		if len(a) != len(b) {
			return len(b) - len(a)
		}
		return strings.Compare(a, b)
	})
	return phrases
})

// meaning returns the meaning of a word. A shortened word means the one word of the
// patterns that begins with it.
func (d *dictionary) meaning(word string) string {
	if m, ok := d.Words[word]; ok {
		return m
	}
	if one, many := strings.CutSuffix(word, "s"); many && !d.concepts[word] && (d.concepts[one] || d.Words[one] != "" || slices.Contains(d.Noise, one)) {
		return d.meaning(one)
	}
	if d.concepts[word] || len(word) < 4 || slices.Contains(d.Noise, word) {
		return word
	}
	begun := ""
	for concept := range d.concepts {
		if strings.HasPrefix(concept, word) {
			if begun != "" {
				return word
			}
			begun = concept
		}
	}
	if begun != "" {
		return begun
	}
	return word
}

// pieces splits a name at blanks, marks and capitals, and between letters and digits,
// in small letters. n1 stays together.
func pieces(name string) []string {
	var out []string
	var current []rune
	end := func() {
		if len(current) > 0 {
			out = append(out, strings.ToLower(string(current)))
			current = nil
		}
	}
	runes := []rune(name)
	for i, r := range runes {
		switch {
		case !unicode.IsLetter(r) && !unicode.IsDigit(r):
			end()
			continue
		case len(current) > 0 && unicode.IsDigit(r) != unicode.IsDigit(runes[i-1]),
			len(current) > 0 && unicode.IsUpper(r) && unicode.IsLower(runes[i-1]):
			end()
		case len(current) == 1 && current[0] >= '1' && current[0] <= '3' && unicode.IsDigit(r) && len(out) > 0 && out[len(out)-1] == "n":
			end() // N11 is N1 of engine 1
		}
		current = append(current, r)
	}
	end()
	for i := 0; i+1 < len(out); i++ {
		if out[i] == "n" && (out[i+1] == "1" || out[i+1] == "2" || out[i+1] == "3") {
			out = slices.Replace(out, i, i+2, "n"+out[i+1])
		}
	}
	return out
}

// nameScore returns how well the words of a column name fit a parameter, from 0 to 1.
// It is 1 when every required word is there and every other one is optional. Words
// that name another quantity divide the score by three.
func nameScore(said []string, parameter string) float64 {
	best := 0.0
	for _, p := range words().patterns[parameter] {
		best = max(best, p.score(said))
	}
	return best
}

// which returns the words with what says which of several is meant in the way the
// parameter counts: left and right engines are 1 and 2, and the number or side of a
// source falls away. less is taken from the score: of several sources the first fits
// best.
func which(said []string, parameter string) (words []string, less float64) {
	switch {
	case countsEngines(parameter):
		if slices.ContainsFunc(said, isNumber) {
			return said, 0
		}
		words = slices.Clone(said)
		for i, word := range words {
			if n := slices.Index([]string{"left", "right"}, word); n >= 0 {
				words[i] = strconv.Itoa(n + 1)
			}
		}
		return words, 0
	case isSourced(parameter):
		for _, word := range said {
			if n := slices.Index([]string{"left", "right"}, word); n >= 0 && parameter != "flap_angle" { // each side's flap is a parameter
				less += 0.02 * float64(n+1)
			} else if isNumber(word) {
				less += 0.02 * float64(word[0]-'0')
			} else {
				words = append(words, word)
			}
		}
		return words, less
	}
	return said, 0
}

func isNumber(word string) bool { return len(word) == 1 && word[0] >= '1' && word[0] <= '4' }

func isSourced(parameter string) bool { return slices.Contains(words().Sourced, parameter) }

// countsEngines reports whether a parameter is recorded for each engine.
func countsEngines(parameter string) bool {
	for _, family := range []string{"throttle_angle_", "engine_", "thrust_reverser_"} {
		if strings.HasPrefix(parameter, family) {
			return true
		}
	}
	return false
}

func (p pattern) score(said []string) float64 {
	found, known, against := 0, 0, false
	for _, word := range said {
		need, may := slices.Contains(p.need, word), slices.Contains(p.may, word)
		if need {
			found++
		}
		if need || may {
			known++
		} else if slices.Contains(words().Against, word) {
			against = true
		}
	}
	if len(said) == 0 || found == 0 {
		return 0
	}
	score := float64(known) / float64(len(said))
	if missing := len(p.need) - found; missing > 0 {
		score *= 0.6 * float64(found) / float64(len(p.need))
	}
	if against {
		score /= 3
	}
	return score
}
