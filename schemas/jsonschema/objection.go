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
	Text    string   // in words, without the place
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

func (v *validation) bound(keyword string, got, want float64) *Objection {
	return v.objection(keyword, keyword+": got "+grouped(got)+", want "+grouped(want))
}

// typeOrder is the order in which types are named.
var typeOrder = []string{"null", "boolean", "number", "integer", "string", "array", "object"}

func wrongType(value any, want types) string {
	var names []string
	for _, name := range typeOrder {
		if slices.Contains(want, name) {
			names = append(names, name)
		}
	}
	return "got " + typeOf(value) + ", want " + strings.Join(names, " or ")
}

func oneOf(words []any) string {
	if len(words) == 1 {
		return "value must be " + display(words[0])
	}
	shown := make([]string, len(words))
	for i, w := range words {
		shown[i] = display(w)
	}
	return "value must be one of " + strings.Join(shown, ", ")
}

func missingText(names []string) string {
	if len(names) == 1 {
		return "missing property " + quote(names[0])
	}
	return "missing properties " + quoteAll(names)
}

func display(value any) string {
	if text, ok := value.(string); ok {
		return quote(text)
	}
	return fmt.Sprint(value)
}

// quote puts a text in single quotes, and writes what cannot be seen as Go does.
func quote(text string) string {
	text = strconv.Quote(text)
	text = strings.ReplaceAll(text, `\"`, `"`)
	return "'" + strings.ReplaceAll(text[1:len(text)-1], `'`, `\'`) + "'"
}

func quoteAll(texts []string) string {
	quoted := make([]string, len(texts))
	for i, t := range texts {
		quoted[i] = quote(t)
	}
	return strings.Join(quoted, ", ")
}

// grouped writes a number with commas between the thousands, as English does.
func grouped(n float64) string {
	text := strconv.FormatFloat(n, 'f', -1, 64)
	whole, fraction, broken := strings.Cut(text, ".")
	sign := ""
	if whole[0] == '-' {
		sign, whole = "-", whole[1:]
	}
	for i := len(whole) - 3; i > 0; i -= 3 {
		whole = whole[:i] + "," + whole[i:]
	}
	if broken {
		whole += "." + fraction
	}
	return sign + whole
}
