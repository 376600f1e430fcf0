package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"go/types"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
)

// switchVariable holds the number of the mutant that is awake.
const switchVariable = "MUTANT"

// helpers is the file that the overlay adds to the package. Every helper is the original
// operation until the mutant's number, or one after it, is the one awake.
const helpers = `package %s

import (
	"cmp"
	"os"
	"strconv"
)

var mutantAwake = func() int { n, _ := strconv.Atoi(os.Getenv("` + switchVariable + `")); return n }()

type mutantNumber interface {
	~int | ~int8 | ~int16 | ~int32 | ~int64 | ~uint | ~uint8 | ~uint16 | ~uint32 | ~uint64 | ~uintptr | ~float32 | ~float64
}

func mutantIs(n int) bool { return n == mutantAwake }

func mutantLess[T cmp.Ordered](n int, a, b T) bool {
	switch mutantAwake - n {
	case 0:
		return a <= b
	case 1:
		return a >= b
	}
	return a < b
}

func mutantAtMost[T cmp.Ordered](n int, a, b T) bool {
	switch mutantAwake - n {
	case 0:
		return a < b
	case 1:
		return a > b
	}
	return a <= b
}

func mutantMore[T cmp.Ordered](n int, a, b T) bool {
	switch mutantAwake - n {
	case 0:
		return a >= b
	case 1:
		return a <= b
	}
	return a > b
}

func mutantAtLeast[T cmp.Ordered](n int, a, b T) bool {
	switch mutantAwake - n {
	case 0:
		return a > b
	case 1:
		return a < b
	}
	return a >= b
}

func mutantAdd[T mutantNumber](n int, a, b T) T {
	if mutantIs(n) {
		return a - b
	}
	return a + b
}

func mutantSub[T mutantNumber](n int, a, b T) T {
	if mutantIs(n) {
		return a + b
	}
	return a - b
}

func mutantMul[T mutantNumber](n int, a, b T) T {
	if mutantIs(n) {
		return a / b
	}
	return a * b
}

func mutantQuo[T mutantNumber](n int, a, b T) T {
	if mutantIs(n) {
		return a * b
	}
	return a / b
}

func mutantMore1[T mutantNumber](n int, a T) T {
	if mutantIs(n) {
		return a + 1
	}
	return a
}

func mutantTwice[T mutantNumber](n int, a T) T {
	if mutantIs(n) {
		return 2 * a
	}
	return a
}

func mutantMin[T cmp.Ordered](n int, a T, more ...T) T {
	for _, b := range more {
		if mutantIs(n) {
			a = max(a, b)
		} else {
			a = min(a, b)
		}
	}
	return a
}

func mutantMax[T cmp.Ordered](n int, a T, more ...T) T {
	for _, b := range more {
		if mutantIs(n) {
			a = min(a, b)
		} else {
			a = max(a, b)
		}
	}
	return a
}
`

func (p *checkedPackage) helpers() string { return fmt.Sprintf(helpers, p.types.Name()) }

// marks are written around each place, so that an error can be taken to its place.
var marks = regexp.MustCompile(`/\*<(\d+)\*/|/\*(\d+)>\*/`)

// dropUncompilable numbers the mutants, and leaves out the places the compiler refuses: an
// operand that is constant after all, a type that cannot be inferred.
func (p *checkedPackage) dropUncompilable() error {
	for {
		p.number()
		refused, err := p.refused()
		if err != nil || len(refused) == 0 {
			return err
		}
		for _, s := range p.files {
			s.places = slices.DeleteFunc(s.places, func(x *place) bool { return refused[x.mutants[0].number] })
		}
	}
}

// refused type-checks the package with all its mutants and returns the first numbers of
// the places with errors.
func (p *checkedPackage) refused() (map[int]bool, error) {
	fset := token.NewFileSet()
	texts := map[string]string{}
	var trees []*ast.File
	parse := func(name, text string) error {
		tree, err := parser.ParseFile(fset, name, text, parser.SkipObjectResolution)
		texts[name], trees = text, append(trees, tree)
		return err
	}
	for _, s := range p.files {
		if err := parse(s.name, s.render()); err != nil {
			return nil, fmt.Errorf("the text with mutants: %w", err)
		}
	}
	if err := parse(filepath.Join(p.dir, helperFile), p.helpers()); err != nil {
		return nil, err
	}
	out := map[int]bool{}
	var lost error
	config := p.config(func(err error) {
		var e types.Error
		if !errors.As(err, &e) {
			lost = err
			return
		}
		at := e.Fset.Position(e.Pos)
		if n := placeAt(texts[at.Filename], at.Offset); n > 0 {
			out[n] = true
		} else if !e.Soft {
			lost = fmt.Errorf("the text with mutants: %w", err)
		}
	})
	_, _ = config.Check(p.path, fset, trees, nil) // the errors went to the function above
	if len(out) > 0 {
		return out, nil
	}
	return nil, lost
}

// placeAt returns the first number of the innermost place around an offset, or 0.
func placeAt(text string, offset int) int {
	var open []int
	for _, m := range marks.FindAllStringSubmatchIndex(text, -1) {
		if m[0] > offset {
			break
		}
		if m[2] >= 0 {
			n, _ := strconv.Atoi(text[m[2]:m[3]])
			open = append(open, n)
		} else {
			open = open[:len(open)-1]
		}
	}
	if len(open) == 0 {
		return 0
	}
	return open[len(open)-1]
}

const helperFile = "mutants_awake.go"

// overlay writes the files with mutants below a folder, and the description that
// the go command takes; it returns the description's name.
func (p *checkedPackage) overlay(work string) (string, error) {
	replace := map[string]string{}
	put := func(name, text string) error {
		replace[name] = filepath.Join(work, filepath.Base(name))
		return os.WriteFile(replace[name], []byte(text), 0o600)
	}
	for _, s := range p.files {
		if err := put(s.name, s.render()); err != nil {
			return "", err
		}
	}
	if err := put(filepath.Join(p.dir, helperFile), p.helpers()); err != nil {
		return "", err
	}
	text, err := json.Marshal(map[string]any{"Replace": replace})
	if err != nil {
		return "", err
	}
	name := filepath.Join(work, "overlay.json")
	return name, os.WriteFile(name, text, 0o600)
}
