package schemas

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"downlock/schemas/jsonschema"
)

// schemaProblems turns the objections of a JSON Schema into problems that point into
// the document. Each suggests the nearest name or word allowed there.
func (d *Document) schemaProblems(objection *jsonschema.Objection) Problems {
	var found Problems
	var walk func(o *jsonschema.Objection)
	walk = func(o *jsonschema.Objection) {
		if entries := oneNeeded(o); entries != nil {
			at, where := placeOf(o)
			found = append(found, d.Problem(at, fmt.Sprintf("%s has none of the entries %s", where, strings.Join(entries, ", ")), "add one of them"))
			return
		}
		for _, c := range o.Causes {
			walk(c)
		}
		if len(o.Causes) == 0 {
			found = append(found, d.schemaProblem(o)...)
		}
	}
	walk(objection)
	return found.InOrder()
}

func (d *Document) schemaProblem(o *jsonschema.Objection) (found Problems) {
	at, where := placeOf(o)
	switch o.Keyword {
	case "additionalProperties":
		for _, name := range o.Names {
			hint := Suggest(name, o.Known)
			if hint == "" {
				hint = "it may have " + strings.Join(o.Known, ", ")
			}
			found = append(found, d.KeyProblem(at+"/"+name, fmt.Sprintf("%s has no entry %q", where, name), hint))
		}
		return found
	case "enum":
		return Problems{d.Problem(at, where+" "+o.Text, Suggest(fmt.Sprint(o.Got), asText(o.Words)))}
	}
	return Problems{d.Problem(at, where+" "+o.Text, "")}
}

// placeOf returns the path of the value an objection is about, and its name in words.
func placeOf(o *jsonschema.Objection) (at, where string) {
	if len(o.At) == 0 {
		return "", "the document"
	}
	return "/" + strings.Join(o.At, "/"), placeName(o.At)
}

// placeName returns a path in words, with the entries of a list counted from 1, as people
// count: rules/2/severity/by is "rule 3, severity.by".
func placeName(keys []string) string {
	name, inList := "", false
	for _, key := range keys {
		n, err := strconv.Atoi(key)
		switch {
		case err == nil && inList:
			name += fmt.Sprintf(".%d", n+1)
		case err == nil:
			name = fmt.Sprintf("%s %d", singular(name), n+1)
		case name == "":
			name = key
		case inList:
			name += ", " + key
		default:
			name += "." + key
		}
		inList = err == nil
	}
	return name
}

// singular names one of a list: a rule of rules, a class of classes.
func singular(list string) string {
	if one, ok := strings.CutSuffix(list, "sses"); ok {
		return one + "ss"
	}
	return strings.TrimSuffix(list, "s")
}

// oneNeeded returns the entries of which the document needs one and has none, or nil.
func oneNeeded(o *jsonschema.Objection) (entries []string) {
	if o.Keyword != "anyOf" {
		return nil
	}
	for _, c := range o.Causes {
		if c.Keyword != "required" {
			return nil
		}
		for _, name := range c.Names {
			if !slices.Contains(entries, name) {
				entries = append(entries, name)
			}
		}
	}
	return entries
}

func asText(values []any) []string {
	out := make([]string, len(values))
	for i, v := range values {
		out[i] = fmt.Sprint(v)
	}
	return out
}
