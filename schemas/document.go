package schemas

import (
	"fmt"
	"strconv"
	"strings"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/lexer"
	"github.com/goccy/go-yaml/parser"
	"github.com/goccy/go-yaml/token"

	"downlock/schemas/jsonschema"
)

// maxDocumentBytes bounds a profile or rule pack. The shipped ones take 5 % of it.
const maxDocumentBytes = 256 << 10

// maxNesting bounds the nesting of a document; the schemas need 6 levels.
const maxNesting = 40

const nestingHint = "the deepest place a profile or pack needs is 6 levels down"

// Document is a YAML file with the position of every value in it. A problem found
// later, even inside an expression, therefore points into the file.
type Document struct {
	File  string
	lines []string
	data  []byte
	nodes map[string]ast.Node // by path: the value
	keys  map[string]ast.Node // by path: the key that leads to the value
	old   []string            // see OldNames
}

// ParseDocument parses one YAML document. Anchors and aliases are refused: no
// profile or pack needs them and they can grow without bound.
func ParseDocument(file string, data []byte) (*Document, error) {
	d := &Document{File: file, data: data, nodes: map[string]ast.Node{}, keys: map[string]ast.Node{}}
	if len(data) > maxDocumentBytes {
		return nil, Problems{{File: file, Cause: fmt.Sprintf("is %d bytes; a profile or rule pack has at most %d", len(data), maxDocumentBytes),
			Hint: "check that this is the intended file"}}
	}
	d.lines = strings.Split(string(data), "\n")
	tokens := lexer.Tokenize(string(data))
	if p := d.tooDeep(tokens); p != nil {
		return nil, Problems{p}
	}
	parsed, err := parser.Parse(tokens, 0)
	if err != nil {
		return nil, Problems{d.yamlProblem(err)}
	}
	if len(parsed.Docs) == 0 || parsed.Docs[0].Body == nil {
		return nil, Problems{{File: file, Cause: "is empty", Hint: "see `downlock --help` for a shipped example to start from"}}
	}
	if len(parsed.Docs) > 1 {
		return nil, Problems{d.at(parsed.Docs[1].Body, "a second YAML document; a file may have only one", "put it in another file")}
	}
	if p := d.index("", parsed.Docs[0].Body, 0); p != nil {
		return nil, Problems{p}
	}
	if !d.mayBeOld() {
		return d, nil
	}
	old := d.oldNames()
	if text, changed := d.renewed(); changed {
		now, err := ParseDocument(file, text)
		if now != nil {
			now.old = old
		}
		return now, err
	}
	d.old = old
	return d, nil
}

// tooDeep refuses deep nesting before the parser sees it. The YAML library's time and
// memory grow with the square of the depth, and 1 MB of brackets ended a process.
func (d *Document) tooDeep(tokens token.Tokens) *Problem {
	var brackets, dashes, line int
	for _, t := range tokens {
		if t.Position.Line != line {
			dashes, line = 0, t.Position.Line
		}
		switch t.Type {
		case token.SequenceStartType, token.MappingStartType:
			brackets++
		case token.SequenceEndType, token.MappingEndType:
			brackets--
		case token.SequenceEntryType, token.MappingKeyType:
			dashes++
		}
		if brackets > maxNesting || dashes > maxNesting {
			return d.atToken(t, "nested too deep", nestingHint)
		}
	}
	return nil
}

// index notes the position of every value. It returns a problem for a refused one.
func (d *Document) index(path string, node ast.Node, depth int) *Problem {
	if depth > maxNesting {
		return d.at(node, "nested too deep", nestingHint)
	}
	d.nodes[path] = node
	switch n := node.(type) {
	case *ast.MappingNode:
		for _, pair := range n.Values {
			if p := d.indexPair(path, pair, depth); p != nil {
				return p
			}
		}
	case *ast.SequenceNode:
		for i, item := range n.Values {
			if p := d.index(path+"/"+strconv.Itoa(i), item, depth+1); p != nil {
				return p
			}
		}
	case *ast.AnchorNode, *ast.AliasNode:
		return d.at(node, "YAML anchors and aliases are not supported here", "write the value out; put a text that begins with * or & in quotes")
	case *ast.NanNode, *ast.InfinityNode:
		return d.at(node, "a number must be finite", "leave it out if there is no such number")
	case *ast.TagNode:
		return d.at(node, "YAML tags are not supported here", "quote the value if it must be text")
	}
	return nil
}

func (d *Document) indexPair(path string, pair *ast.MappingValueNode, depth int) *Problem {
	if pair.Key.IsMergeKey() {
		return d.at(pair.Key, "YAML merge keys are not supported here", "write the values out")
	}
	child := path + "/" + pair.Key.GetToken().Value
	d.keys[child] = pair.Key
	return d.index(child, pair.Value, depth+1)
}

// Decode fills out from the document. The schema reports unknown fields.
func (d *Document) Decode(out any) error {
	if err := yaml.NodeToValue(d.nodes[""], out); err != nil {
		return Problems{d.yamlProblem(err)}
	}
	return nil
}

// Validate checks the document against a schema. It returns Problems in the order of the
// document, or nil.
func (d *Document) Validate(schema *jsonschema.Schema) error {
	var value any
	if err := yaml.NodeToValue(d.nodes[""], &value); err != nil {
		return Problems{d.yamlProblem(err)}
	}
	if objection := schema.Validate(value); objection != nil {
		return d.schemaProblems(objection)
	}
	return nil
}
