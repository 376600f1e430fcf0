package language

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/expr-lang/expr/file"
)

// units are the units that people write behind a number. The language has none there.
var units = []string{"ft", "feet", "kt", "kts", "knots", "s", "sec", "seconds", "g", "deg", "degrees", "fpm", "m", "nm", "psi", "percent"}

// operators are what other languages write for an operator of this one.
var operators = map[string]string{"=": "==", "<>": "!=", "=>": ">=", "=<": "<=", "&": "and", "|": "or"}

// unexpected is a message of the parser on a token that may not stand where it does.
var unexpected = regexp.MustCompile(`^unexpected token (\w+)(?:\("(.*)"\))?$`)

// syntaxMistake says in the words of this language what the parser objects to.
func syntaxMistake(expression string, e *file.Error) *Error {
	runes := []rune(expression)
	at := min(max(e.From, 0), len(runes))
	for _, w := range wordsAround(runes, at) {
		small := strings.ToLower(w.text)
		switch {
		case w.text != small && slices.Contains([]string{"and", "or", "not"}, small):
			return &Error{w.at, fmt.Sprintf("unknown word %q", w.text), "write " + small + " in small letters"}
		case w.afterNumber && slices.Contains(units, small):
			return &Error{w.at, fmt.Sprintf("write the number without a unit, not with %q", w.text),
				"leave the unit out: a number has the unit of the name it is compared with; `downlock rules --language` lists them"}
		}
	}
	m := unexpected.FindStringSubmatch(e.Message)
	switch {
	case m == nil:
		return &Error{at, e.Message, ""}
	case m[1] == "EOF":
		return &Error{at, "the expression ends before it is complete", "an operator needs something on both sides, and each bracket needs its other half"}
	}
	hint := ""
	if right := operators[operatorAt(runes, at)]; right != "" {
		hint = "write " + right
	}
	return &Error{at, fmt.Sprintf("%q is not expected here", m[2]), hint}
}

// word is a word of an expression.
type word struct {
	text        string
	at          int  // its offset
	afterNumber bool // a number stands before it, with or without blanks between
}

// wordsAround returns the word before an offset and the one at it or behind it: the parser
// points at the first token that does not fit, which may follow the mistaken one.
func wordsAround(runes []rune, at int) (around []word) {
	letter := func(r rune) bool { return unicode.IsLetter(r) || r == '_' }
	digit := func(r rune) bool { return unicode.IsDigit(r) }
	var before, here *word
	for i := 0; i < len(runes); {
		switch {
		case runes[i] == '"' || runes[i] == '\'':
			quote := runes[i]
			for i++; i < len(runes) && runes[i] != quote; i++ {
			}
			i++
		case letter(runes[i]):
			begin := i
			for i < len(runes) && (letter(runes[i]) || digit(runes[i])) {
				i++
			}
			earlier, _ := utf8.DecodeLastRuneInString(strings.TrimRight(string(runes[:begin]), " "))
			w := &word{string(runes[begin:i]), begin, digit(earlier)}
			if i <= at {
				before = w
			} else if here == nil {
				here = w
			}
		default:
			i++
		}
	}
	for _, w := range []*word{before, here} {
		if w != nil {
			around = append(around, *w)
		}
	}
	return around
}

// operatorAt returns the signs around an offset.
func operatorAt(runes []rune, at int) string {
	sign := func(i int) bool { return i >= 0 && i < len(runes) && strings.ContainsRune("=<>&|!", runes[i]) }
	begin, end := at, at
	for sign(begin - 1) {
		begin--
	}
	for sign(end) {
		end++
	}
	return string(runes[begin:end])
}
