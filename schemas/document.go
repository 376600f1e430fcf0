package schemas

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"strconv"
	"strings"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/parser"
	"github.com/goccy/go-yaml/token"
	"github.com/santhosh-tekuri/jsonschema/v6"
	"golang.org/x/text/language"
	"golang.org/x/text/message"
)

// maxDocumentBytes bounds a profile or rule pack: the shipped ones are 1 % of
// it, and a larger one is not meant for this.
const maxDocumentBytes = 1 << 20

// maxNesting bounds how deep a document may nest; the schemas need 6.
const maxNesting = 40

// Document is a YAML file with the position of everything in it, so that a
// problem found later, even inside an expression, points into the file.
type Document struct {
	File  string
	lines []string
	data  []byte
	nodes map[string]ast.Node // by path: the value
	keys  map[string]ast.Node // by path: the key that leads to the value
}

// ParseDocument parses one YAML document. Anchors and aliases are refused: no
// profile or pack needs them and they can grow without bound.
func ParseDocument(file string, data []byte) (*Document, error) {
	d := &Document{File: file, data: data, nodes: map[string]ast.Node{}, keys: map[string]ast.Node{}}
	if len(data) > maxDocumentBytes {
		return nil, Problems{{File: file, Cause: fmt.Sprintf("is %d bytes; a profile or rule pack has at most %d", len(data), maxDocumentBytes),
			Hint: "check that this is the file you meant"}}
	}
	d.lines = strings.Split(string(data), "\n")
	parsed, err := parser.ParseBytes(data, 0)
	if err != nil {
		return nil, Problems{d.yamlProblem(err)}
	}
	if len(parsed.Docs) == 0 || parsed.Docs[0].Body == nil {
		return nil, Problems{{File: file, Cause: "is empty", Hint: "see `downlock --help` for a shipped example to start from"}}
	}
	if len(parsed.Docs) > 1 {
		return nil, Problems{d.at(parsed.Docs[1].Body, "a second YAML document; one file holds one", "put it in a file of its own")}
	}
	if p := d.index("", parsed.Docs[0].Body, 0); p != nil {
		return nil, Problems{p}
	}
	return d, nil
}

// index notes where everything is; it returns a problem for what is refused.
func (d *Document) index(path string, node ast.Node, depth int) *Problem {
	if depth > maxNesting {
		return d.at(node, "nested too deep", "the deepest place a profile or pack needs is 6 levels down")
	}
	d.nodes[path] = node
	switch n := node.(type) {
	case *ast.MappingNode:
		for _, pair := range n.Values {
			if p := d.indexPair(path, pair, depth); p != nil {
				return p
			}
		}
	case *ast.MappingValueNode:
		return d.indexPair(path, n, depth)
	case *ast.SequenceNode:
		for i, item := range n.Values {
			if p := d.index(path+"/"+strconv.Itoa(i), item, depth+1); p != nil {
				return p
			}
		}
	case *ast.AnchorNode, *ast.AliasNode:
		return d.at(node, "YAML anchors and aliases are not read here", "write the value out")
	case *ast.TagNode:
		return d.at(node, "YAML tags are not read here", "quote the value if it must be text")
	}
	return nil
}

func (d *Document) indexPair(path string, pair *ast.MappingValueNode, depth int) *Problem {
	if pair.Key.IsMergeKey() {
		return d.at(pair.Key, "YAML merge keys are not read here", "write the values out")
	}
	child := path + "/" + pair.Key.GetToken().Value
	d.keys[child] = pair.Key
	return d.index(child, pair.Value, depth+1)
}

// Decode fills out from the document; unknown fields are left to the schema.
func (d *Document) Decode(out any) error {
	if err := yaml.Unmarshal(d.data, out); err != nil {
		return Problems{d.yamlProblem(err)}
	}
	return nil
}

// Validate holds the document against a compiled schema and returns Problems
// in the order of the document, or nil.
func (d *Document) Validate(schema *jsonschema.Schema) error {
	var value any
	if err := yaml.Unmarshal(d.data, &value); err != nil {
		return Problems{d.yamlProblem(err)}
	}
	text, err := json.Marshal(value)
	if err != nil {
		return Problems{{File: d.File, Cause: "holds a value JSON has no form for: " + err.Error(), Hint: "numbers must be finite and keys must be text"}}
	}
	plain, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
	if err != nil {
		return Problems{{File: d.File, Cause: err.Error()}}
	}
	var invalid *jsonschema.ValidationError
	if err := schema.Validate(plain); errors.As(err, &invalid) {
		return d.schemaProblems(invalid)
	}
	return nil
}

func (d *Document) schemaProblems(invalid *jsonschema.ValidationError) Problems {
	var found Problems
	printer := message.NewPrinter(language.English)
	var walk func(e *jsonschema.ValidationError)
	walk = func(e *jsonschema.ValidationError) {
		if len(e.Causes) > 0 {
			for _, c := range e.Causes {
				walk(c)
			}
			return
		}
		path := ""
		for _, key := range e.InstanceLocation {
			path += "/" + key
		}
		where := strings.ReplaceAll(strings.TrimPrefix(path, "/"), "/", ".")
		if where == "" {
			where = "the document"
		}
		found = append(found, d.Problem(path, where+": "+e.ErrorKind.LocalizedString(printer), ""))
	}
	walk(invalid)
	return found.InOrder()
}

// Problem makes a problem at the value a path such as /rules/0/when leads to,
// or at the nearest thing above it that exists.
func (d *Document) Problem(path, cause, hint string) *Problem {
	for {
		if node, ok := d.nodes[path]; ok {
			if key, ok := d.keys[path]; ok {
				if _, scalar := node.(ast.ScalarNode); !scalar {
					node = key
				}
			}
			return d.at(node, cause, hint)
		}
		cut := strings.LastIndexByte(path, '/')
		if cut < 0 {
			return &Problem{File: d.File, Cause: cause, Hint: hint}
		}
		path = path[:cut]
	}
}

// KeyProblem is Problem, pointing at the key rather than the value.
func (d *Document) KeyProblem(path, cause, hint string) *Problem {
	if key, ok := d.keys[path]; ok {
		return d.at(key, cause, hint)
	}
	return d.Problem(path, cause, hint)
}

// TextProblem is Problem at a character offset into the text the path leads to,
// whether the text is plain, quoted or a block.
func (d *Document) TextProblem(path string, offset int, cause, hint string) *Problem {
	p := d.Problem(path, cause, hint)
	node, ok := d.nodes[path]
	if !ok || p.Line == 0 {
		return p
	}
	if _, block := node.(*ast.LiteralNode); block {
		return d.inBlock(p, offset)
	}
	tok := node.GetToken()
	column := p.Column + offset
	if tok.Type == token.SingleQuoteType || tok.Type == token.DoubleQuoteType {
		column++
	}
	if column <= len([]rune(p.Source)) {
		p.Column = column
	}
	return p
}

// inBlock moves a problem from the header of a block text to the character it
// means: one line break counts one character, as in the value.
func (d *Document) inBlock(p *Problem, offset int) *Problem {
	for line := p.Line; line < len(d.lines); line++ {
		text := d.line(line + 1)
		trimmed := strings.TrimLeft(text, " ")
		if n := len([]rune(trimmed)); offset > n {
			offset -= n + 1
			continue
		}
		p.Line, p.Source = line+1, text
		p.Column = len(text) - len(trimmed) + offset + 1
		return p
	}
	return p
}

func (d *Document) at(node ast.Node, cause, hint string) *Problem {
	p := &Problem{File: d.File, Cause: cause, Hint: hint}
	if node == nil || node.GetToken() == nil || node.GetToken().Position == nil {
		return p
	}
	at := node.GetToken().Position
	p.Line, p.Column, p.Source = at.Line, at.Column, d.line(at.Line)
	return p
}

func (d *Document) line(n int) string {
	if n < 1 || n > len(d.lines) {
		return ""
	}
	return strings.TrimRight(d.lines[n-1], "\r")
}

// yamlProblem turns an error of the YAML library into ours.
func (d *Document) yamlProblem(err error) *Problem {
	var at yaml.Error
	if errors.As(err, &at) && at.GetToken() != nil && at.GetToken().Position != nil {
		pos := at.GetToken().Position
		return &Problem{File: d.File, Line: pos.Line, Column: pos.Column, Cause: at.GetMessage(), Source: d.line(pos.Line)}
	}
	first, _, _ := strings.Cut(err.Error(), "\n")
	return &Problem{File: d.File, Cause: first}
}
