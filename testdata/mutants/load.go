package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"go/ast"
	"go/importer"
	"go/parser"
	"go/token"
	"go/types"
	"io"
	"os"
	"path/filepath"
	"runtime"
)

// source is one file of the package: its bytes, its tree, and the places in it that
// have mutants.
type source struct {
	name   string // absolute
	text   []byte
	tree   *ast.File
	places []*place
}

// checkedPackage is a package with types, and its mutants.
type checkedPackage struct {
	path, dir string
	fset      *token.FileSet
	files     []*source
	types     *types.Package
	info      *types.Info
	imports   types.Importer
	mutants   []*mutant
}

// listed is the part of `go list -json` that counts here.
type listed struct {
	ImportPath, Dir, Export, Name       string
	GoFiles, TestImports, XTestImports  []string
	TestGoFiles, XTestGoFiles, CgoFiles []string
	DepOnly                             bool
	Error                               *struct{ Err string }
}

func list(args ...string) ([]listed, error) {
	out, err := goTool("", append([]string{"list", "-json"}, args...)...)
	if err != nil {
		return nil, err
	}
	var all []listed
	for decoder := json.NewDecoder(bytes.NewReader(out)); ; {
		var l listed
		if err := decoder.Decode(&l); errors.Is(err, io.EOF) {
			return all, nil
		} else if err != nil {
			return nil, err
		}
		if l.Error != nil {
			return nil, errors.New(l.Error.Err)
		}
		all = append(all, l)
	}
}

// load reads and checks the package at a path such as ./detect/readings.
func load(path string) (*checkedPackage, error) {
	named, err := list(path)
	if err != nil {
		return nil, err
	}
	if len(named) != 1 {
		return nil, fmt.Errorf("%s is %d packages; name one", path, len(named))
	}
	ours := named[0]
	all, err := list("-export", "-deps", path, "cmp", "os", "strconv") // those the helpers import
	if err != nil {
		return nil, err
	}
	exports := map[string]string{}
	for _, l := range all {
		exports[l.ImportPath] = l.Export
	}
	p := &checkedPackage{path: ours.ImportPath, dir: ours.Dir, fset: token.NewFileSet()}
	p.imports = importer.ForCompiler(p.fset, "gc", func(path string) (io.ReadCloser, error) {
		return os.Open(exports[path])
	})
	for _, name := range ours.GoFiles {
		s := &source{name: filepath.Join(ours.Dir, name)}
		if s.text, err = os.ReadFile(s.name); err != nil {
			return nil, err
		}
		if s.tree, err = parser.ParseFile(p.fset, s.name, s.text, parser.ParseComments); err != nil {
			return nil, err
		}
		p.files = append(p.files, s)
	}
	p.info = &types.Info{Types: map[ast.Expr]types.TypeAndValue{}, Uses: map[*ast.Ident]types.Object{}, Defs: map[*ast.Ident]types.Object{}}
	p.types, err = p.config(nil).Check(p.path, p.fset, p.trees(), p.info)
	return p, err
}

func (p *checkedPackage) trees() []*ast.File {
	var out []*ast.File
	for _, s := range p.files {
		out = append(out, s.tree)
	}
	return out
}

func (p *checkedPackage) config(onError func(error)) *types.Config {
	return &types.Config{Importer: p.imports, Error: onError, Sizes: types.SizesFor("gc", runtime.GOARCH)}
}
