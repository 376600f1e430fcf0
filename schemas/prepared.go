package schemas

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"maps"
	"reflect"
	"slices"
	"strconv"
	"strings"
)

// A document that is compiled in is compiled in a second time as the value it decodes to:
// reading YAML takes some hundred times as long, and every run begins with it. The prepared
// form is a line for each text, number or yes and no of the value, in the order of its
// fields, and needs no parser. It begins with a hash of the document and of the fields. Where
// either has changed since, the document itself is read, and a test asks for the form to be
// prepared anew.

// Prepare returns the prepared form of a document that decodes to the value that the pointer
// leads to.
func Prepare(document []byte, value any) ([]byte, error) {
	v := reflect.ValueOf(value).Elem()
	return appendPrepared([]byte(hashOf(document, v.Type())+"\n"), v)
}

func appendPrepared(out []byte, v reflect.Value) (_ []byte, err error) {
	switch v.Kind() {
	case reflect.String:
		out = strconv.AppendQuote(out, v.String())
	case reflect.Bool:
		out = strconv.AppendBool(out, v.Bool())
	case reflect.Float64:
		out = strconv.AppendFloat(out, v.Float(), 'g', -1, 64)
	case reflect.Pointer, reflect.Slice, reflect.Map:
		if v.IsNil() {
			return append(out, "-\n"...), nil
		}
		if v.Kind() == reflect.Pointer {
			return appendPrepared(append(out, "+\n"...), v.Elem())
		}
		out = append(strconv.AppendInt(out, int64(v.Len()), 10), '\n')
		if words, ok := v.Interface().(map[string]string); ok {
			for _, key := range slices.Sorted(maps.Keys(words)) {
				out = fmt.Appendf(out, "%q\n%q\n", key, words[key])
			}
			return out, nil
		}
		for i := 0; i < v.Len() && err == nil; i++ {
			out, err = appendPrepared(out, v.Index(i))
		}
		return out, err
	case reflect.Array:
		for i := 0; i < v.Len() && err == nil; i++ {
			out, err = appendPrepared(out, v.Index(i))
		}
		return out, err
	case reflect.Struct:
		for i := 0; i < v.NumField() && err == nil; i++ {
			if v.Type().Field(i).IsExported() {
				out, err = appendPrepared(out, v.Field(i))
			}
		}
		return out, err
	default:
		return nil, fmt.Errorf("there is no prepared form of a %s", v.Type())
	}
	return append(out, '\n'), nil
}

// ReadPrepared fills the value that a pointer leads to from a prepared form; ok is false
// where that is not of this document.
func ReadPrepared(document []byte, prepared string, value any) (ok bool) {
	v := reflect.ValueOf(value).Elem()
	hash, rest, _ := strings.Cut(prepared, "\n")
	if hash != hashOf(document, v.Type()) {
		return false
	}
	r := preparedReader{rest: rest}
	r.read(v)
	return r.err == nil && r.rest == ""
}

type preparedReader struct {
	rest string
	err  error
}

// read fills v, and once something is wrong no more.
func (r *preparedReader) read(v reflect.Value) {
	switch v.Kind() {
	case reflect.String:
		v.SetString(read(r, strconv.Unquote))
	case reflect.Bool:
		v.SetBool(read(r, strconv.ParseBool))
	case reflect.Float64:
		v.SetFloat(read(r, func(line string) (float64, error) { return strconv.ParseFloat(line, 64) }))
	case reflect.Pointer:
		if read(r, asWritten) == "+" {
			v.Set(reflect.New(v.Type().Elem()))
			r.read(v.Elem())
		}
	case reflect.Slice:
		if n := r.length(); n >= 0 {
			v.Set(reflect.MakeSlice(v.Type(), n, n))
			for i := range n {
				r.read(v.Index(i))
			}
		}
	case reflect.Map:
		if n := r.length(); n >= 0 {
			words := make(map[string]string, n)
			for range n {
				key := read(r, strconv.Unquote)
				words[key] = read(r, strconv.Unquote)
			}
			v.Set(reflect.ValueOf(words))
		}
	case reflect.Array:
		for i := range v.Len() {
			r.read(v.Index(i))
		}
	case reflect.Struct:
		for i, t := 0, v.Type(); i < t.NumField(); i++ {
			if t.Field(i).IsExported() {
				r.read(v.Field(i))
			}
		}
	}
}

// length reads how many there are, -1 for a list or map that is nil.
func (r *preparedReader) length() int {
	return read(r, func(line string) (int, error) {
		if line == "-" {
			return -1, nil
		}
		n, err := strconv.Atoi(line)
		return min(n, len(r.rest)), err // each has a line
	})
}

func asWritten(line string) (string, error) { return line, nil }

// read reads a line, and returns nothing where something was wrong before or is with it.
func read[T any](r *preparedReader, parse func(line string) (T, error)) (value T) {
	if r.err != nil {
		return value
	}
	line, rest, ok := strings.Cut(r.rest, "\n")
	if r.rest = rest; !ok {
		r.err = io.ErrUnexpectedEOF
		return value
	}
	value, r.err = parse(line)
	return value
}

// hashOf is the hash of a document and of the fields it decodes to.
func hashOf(document []byte, t reflect.Type) string {
	hash := sha256.New()
	hash.Write(document)
	hash.Write([]byte(fieldsOf(t)))
	return hex.EncodeToString(hash.Sum(nil))
}

// fieldsOf names the fields of a type, those inside them included.
func fieldsOf(t reflect.Type) string {
	switch t.Kind() {
	case reflect.Pointer, reflect.Slice, reflect.Array:
		return t.Kind().String() + " " + fieldsOf(t.Elem())
	case reflect.Struct:
		text := "{"
		for i := range t.NumField() {
			if f := t.Field(i); f.IsExported() {
				text += f.Name + " " + fieldsOf(f.Type) + ";"
			}
		}
		return text + "}"
	}
	return t.Kind().String()
}
