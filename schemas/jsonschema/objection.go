package jsonschema

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// Objection is one thing a schema has against a value, or the cause of one has Causes.
type Objection struct {
	At      []string // the keys and places in lists that lead to the value
	Keyword string   // of the schema; "" where it has only Causes
	Text    string   // in words, which go on from the name of the place
	Causes  []*Objection

	Names []string // required: those missing; additionalProperties: those not known
	Known []string // additionalProperties: those the schema names
	Got   any      // enum: the value
	Words []any    // enum: what it may be
}

// objections gathers what is said of one value.
type objections []*Objection

func (o *objections) add(one *Objection) {
	if one != nil {
		*o = append(*o, one)
	}
}

func (o objections) asOne() *Objection {
	switch len(o) {
	case 0:
		return nil
	case 1:
		return o[0]
	}
	return &Objection{Text: "validation failed", Causes: o}
}

// Leaves lists the objections in o that have no causes.
func (o *Objection) Leaves() (leaves []*Objection) {
	if len(o.Causes) == 0 {
		return []*Objection{o}
	}
	for _, c := range o.Causes {
		leaves = append(leaves, c.Leaves()...)
	}
	return leaves
}

func (v *validation) objection(keyword, text string) *Objection {
	return &Objection{At: slices.Clone(v.at), Keyword: keyword, Text: text}
}

// bound is the objection to a number, or a count, on the wrong side of a bound.
func (v *validation) bound(keyword, what string, got float64, must string, bound float64) *Objection {
	return v.objection(keyword, what+" "+figure(got)+", but must "+must+" "+figure(bound))
}

// typeNames are the types in the words of somebody who writes YAML, in the order they are
// named.
var typeNames = []struct{ name, words string }{
	{"null", "empty"}, {"boolean", "true or false"}, {"number", "a number"}, {"integer", "a whole number"},
	{"string", "text"}, {"array", "a list"}, {"object", "a group of entries"},
}

func wordsOf(types []string) string {
	var words []string
	for _, t := range typeNames {
		if slices.Contains(types, t.name) {
			words = append(words, t.words)
		}
	}
	return strings.Join(words, " or ")
}

func wrongType(value any, want types) string {
	return "is " + wordsOf([]string{typeOf(value)}) + ", but must be " + wordsOf(want)
}

func oneOf(words []any) string {
	shown := make([]string, len(words))
	for i, w := range words {
		shown[i] = display(w)
	}
	if len(words) == 1 {
		return "must be " + shown[0]
	}
	return "must be one of " + strings.Join(shown, ", ")
}

func display(value any) string {
	if text, ok := value.(string); ok {
		return strconv.Quote(text)
	}
	return fmt.Sprint(value)
}

func quoteAll(texts []string) string {
	quoted := make([]string, len(texts))
	for i, t := range texts {
		quoted[i] = strconv.Quote(t)
	}
	return strings.Join(quoted, ", ")
}

func figure(n float64) string { return strconv.FormatFloat(n, 'f', -1, 64) }
