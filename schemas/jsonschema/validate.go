package jsonschema

import (
	"encoding/json"
	"maps"
	"math"
	"reflect"
	"slices"
	"strconv"
	"unicode/utf8"
)

// Validate returns what a schema has against a value, or nil.
func (s *Schema) Validate(value any) *Objection {
	return (&validation{root: s}).check(s, value)
}

// validation is the way of a value through a schema.
type validation struct {
	root *Schema
	at   []string // the keys that lead to the present value
}

// check returns the objections of a schema to a value, as one. A wrong type, or another
// value than the ones listed, is the only objection: the others would follow from it.
func (v *validation) check(s *Schema, value any) *Objection {
	switch {
	case s.Type != nil && !slices.ContainsFunc(s.Type, func(t string) bool { return isType(value, t) }):
		return v.objection("type", wrongType(value, s.Type))
	case s.Const != nil && !equal(value, s.Const):
		return v.objection("const", "must be "+display(s.Const))
	case s.Enum != nil && !slices.ContainsFunc(s.Enum, func(one any) bool { return equal(value, one) }):
		o := v.objection("enum", oneOf(s.Enum))
		o.Got, o.Words = value, s.Enum
		return o
	}
	var found objections
	if s.Ref != "" {
		found.add(v.check(v.root.definition(s.Ref), value))
	}
	switch value := value.(type) {
	case map[string]any:
		v.checkObject(s, value, &found)
	case []any:
		v.checkArray(s, value, &found)
	case string:
		v.checkString(s, value, &found)
	default:
		if n, ok := number(value); ok {
			v.checkNumber(s, n, &found)
		}
	}
	v.checkOthers(s, value, &found)
	return found.asOne()
}

// child checks a value inside the present one.
func (v *validation) child(s *Schema, value any, key string) *Objection {
	v.at = append(v.at, key)
	defer func() { v.at = v.at[:len(v.at)-1] }()
	return v.check(s, value)
}

func (v *validation) checkObject(s *Schema, object map[string]any, found *objections) {
	if s.MinProperties != nil && len(object) < *s.MinProperties {
		found.add(v.bound("minProperties", "is a group of", float64(len(object)), "have at least", float64(*s.MinProperties)))
	}
	if s.MaxProperties != nil && len(object) > *s.MaxProperties {
		found.add(v.bound("maxProperties", "is a group of", float64(len(object)), "have at most", float64(*s.MaxProperties)))
	}
	if missing := missingOf(s.Required, object); missing != nil {
		o := v.objection("required", "lacks "+quoteAll(missing))
		o.Names = missing
		found.add(o)
	}
	var unknown []string
	for _, name := range slices.Sorted(maps.Keys(object)) {
		if inner, ok := s.Properties[name]; ok {
			found.add(v.child(inner, object[name], name))
			continue
		}
		switch a := s.Additional; {
		case a == nil || a.any:
		case a.schema != nil:
			found.add(v.child(a.schema, object[name], name))
		default:
			unknown = append(unknown, name)
		}
	}
	if unknown != nil {
		o := v.objection("additionalProperties", "has "+quoteAll(unknown)+", which is not known here")
		o.Names, o.Known = unknown, slices.Sorted(maps.Keys(s.Properties))
		found.add(o)
	}
	for _, name := range slices.Sorted(maps.Keys(s.DependentRequired)) {
		if _, has := object[name]; !has {
			continue
		}
		if missing := missingOf(s.DependentRequired[name], object); missing != nil {
			found.add(v.objection("dependentRequired", "has "+strconv.Quote(name)+" and therefore needs "+quoteAll(missing)))
		}
	}
}

func missingOf(names []string, object map[string]any) (missing []string) {
	for _, name := range names {
		if _, has := object[name]; !has {
			missing = append(missing, name)
		}
	}
	return missing
}

func (v *validation) checkArray(s *Schema, array []any, found *objections) {
	if s.MinItems != nil && len(array) < *s.MinItems {
		found.add(v.bound("minItems", "is a list of", float64(len(array)), "have at least", float64(*s.MinItems)))
	}
	if s.MaxItems != nil && len(array) > *s.MaxItems {
		found.add(v.bound("maxItems", "is a list of", float64(len(array)), "have at most", float64(*s.MaxItems)))
	}
	if s.UniqueItems {
		if i, j, twice := repeated(array); twice {
			found.add(v.objection("uniqueItems", "has the same in places "+strconv.Itoa(i+1)+" and "+strconv.Itoa(j+1)+" of the list"))
		}
	}
	if s.Items != nil {
		for i, item := range array {
			found.add(v.child(s.Items, item, strconv.Itoa(i)))
		}
	}
}

// repeated finds the first item that equals an earlier one. Lists are short: the schemas
// bound their length, or there are few words they may hold.
func repeated(array []any) (i, j int, twice bool) {
	for j := range array {
		for i := range j {
			if equal(array[i], array[j]) {
				return i, j, true
			}
		}
	}
	return 0, 0, false
}

func (v *validation) checkString(s *Schema, text string, found *objections) {
	if s.MinLength != nil || s.MaxLength != nil {
		n := utf8.RuneCountInString(text)
		if s.MinLength != nil && n < *s.MinLength {
			found.add(v.bound("minLength", "is text of length", float64(n), "have at least", float64(*s.MinLength)))
		}
		if s.MaxLength != nil && n > *s.MaxLength {
			found.add(v.bound("maxLength", "is text of length", float64(n), "have at most", float64(*s.MaxLength)))
		}
	}
	if s.Pattern != nil && !s.Pattern.compiled().MatchString(text) {
		found.add(v.objection("pattern", "is "+strconv.Quote(text)+", which does not have the form "+s.Pattern.text))
	}
}

func (v *validation) checkNumber(s *Schema, n float64, found *objections) {
	if s.Minimum != nil && n < *s.Minimum {
		found.add(v.bound("minimum", "is", n, "be at least", *s.Minimum))
	}
	if s.Maximum != nil && n > *s.Maximum {
		found.add(v.bound("maximum", "is", n, "be at most", *s.Maximum))
	}
	if s.ExclusiveMinimum != nil && n <= *s.ExclusiveMinimum {
		found.add(v.bound("exclusiveMinimum", "is", n, "be more than", *s.ExclusiveMinimum))
	}
}

// checkOthers checks a value against the schemas that stand beside each other in one.
func (v *validation) checkOthers(s *Schema, value any, found *objections) {
	if s.Not != nil && v.check(s.Not, value) == nil {
		found.add(v.objection("not", "is not allowed here"))
	}
	for _, each := range s.AllOf {
		found.add(v.check(each, value))
	}
	if objections, fits := v.each(s.AnyOf, value); s.AnyOf != nil && len(fits) == 0 {
		o := v.objection("anyOf", "fits none of the forms allowed here")
		o.Causes = objections
		found.add(o)
	}
	if objections, fits := v.each(s.OneOf, value); s.OneOf != nil && len(fits) != 1 {
		o := v.objection("oneOf", "fits none of the forms allowed here")
		if len(fits) > 1 {
			o.Text, objections = "fits several of the forms allowed here, and must fit one", nil
		}
		o.Causes = objections
		found.add(o)
	}
	switch {
	case s.If == nil:
	case v.check(s.If, value) == nil:
		if s.Then != nil {
			found.add(v.check(s.Then, value))
		}
	case s.Else != nil:
		found.add(v.check(s.Else, value))
	}
}

// each returns the objections of schemas to a value, and the places of those that have none.
func (v *validation) each(schemas []*Schema, value any) (objections []*Objection, fits []int) {
	for i, s := range schemas {
		if o := v.check(s, value); o != nil {
			objections = append(objections, o)
		} else {
			fits = append(fits, i)
		}
	}
	return objections, fits
}

// isType says whether a value has a type. An integer is a number without a fraction,
// however it is written.
func isType(value any, name string) bool {
	if name == "integer" {
		n, ok := number(value)
		return ok && n == math.Trunc(n)
	}
	return typeOf(value) == name
}

func typeOf(value any) string {
	switch value.(type) {
	case nil:
		return "null"
	case bool:
		return "boolean"
	case string:
		return "string"
	case []any:
		return "array"
	case map[string]any:
		return "object"
	}
	return "number"
}

// number returns a number as encoding/json or a YAML library decodes it.
func number(value any) (n float64, ok bool) {
	switch value := value.(type) {
	case float64:
		return value, true
	case uint64:
		return float64(value), true
	case int64:
		return float64(value), true
	case int:
		return float64(value), true
	case json.Number:
		n, err := value.Float64()
		return n, err == nil
	}
	return 0, false
}

func equal(a, b any) bool {
	if x, ok := number(a); ok {
		y, ok := number(b)
		return ok && x == y
	}
	return reflect.DeepEqual(a, b)
}
