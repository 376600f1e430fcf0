package schemas

import (
	"errors"
	"strings"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/token"
)

// Problem makes a problem at the value that a path such as /rules/0/when leads to. If
// nothing is there, it takes the nearest existing value above.
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

// KeyProblem is like Problem but points at the key, not at the value.
func (d *Document) KeyProblem(path, cause, hint string) *Problem {
	if key, ok := d.keys[path]; ok {
		return d.at(key, cause, hint)
	}
	return d.Problem(path, cause, hint)
}

// TextProblem is like Problem but points at a character offset into the text at the
// path. The text may be plain, quoted or a block.
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

// inBlock moves a problem from the header of a block text to the character it means.
// A line break counts as one character, as in the value. The first line with text
// sets the indentation of all.
func (d *Document) inBlock(p *Problem, offset int) *Problem {
	indent := 0
	for line := p.Line + 1; line <= len(d.lines) && indent == 0; line++ {
		if text := d.line(line); strings.TrimSpace(text) != "" {
			indent = len(text) - len(strings.TrimLeft(text, " "))
		}
	}
	for line := p.Line + 1; line <= len(d.lines); line++ {
		text := []rune(d.line(line))
		n := max(len(text)-indent, 0)
		if offset > n {
			offset -= n + 1
			continue
		}
		p.Line, p.Source, p.Column = line, string(text), len(text)-n+offset+1
		return p
	}
	return p
}

func (d *Document) at(node ast.Node, cause, hint string) *Problem {
	// A block mapping's own token is its first colon.
	if n, ok := node.(*ast.MappingNode); ok && !n.IsFlowStyle && len(n.Values) > 0 {
		node = n.Values[0].Key
	}
	if node == nil {
		return &Problem{File: d.File, Cause: cause, Hint: hint}
	}
	return d.atToken(node.GetToken(), cause, hint)
}

func (d *Document) atToken(t *token.Token, cause, hint string) *Problem {
	p := &Problem{File: d.File, Cause: cause, Hint: hint}
	if t != nil && t.Position != nil {
		p.Line, p.Column, p.Source = t.Position.Line, t.Position.Column, d.line(t.Position.Line)
	}
	return p
}

func (d *Document) line(n int) string {
	if n < 1 || n > len(d.lines) {
		return ""
	}
	return strings.TrimRight(d.lines[n-1], "\r")
}

// yamlProblem turns an error of the YAML library into a Problem.
func (d *Document) yamlProblem(err error) *Problem {
	var at yaml.Error
	if errors.As(err, &at) && at.GetToken() != nil && at.GetToken().Position != nil {
		pos := at.GetToken().Position
		hint := ""
		if strings.Contains(d.line(pos.Line), ": {") {
			hint = "put a text that begins with { in quotes"
		}
		return &Problem{File: d.File, Line: pos.Line, Column: pos.Column, Cause: at.GetMessage(), Hint: hint, Source: d.line(pos.Line)}
	}
	first, _, _ := strings.Cut(err.Error(), "\n")
	return &Problem{File: d.File, Cause: first}
}
