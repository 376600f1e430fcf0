package export

import (
	"embed"
	"fmt"
	"strconv"
	"strings"
)

//go:embed styles
var styleTexts embed.FS

// Styles returns those of a file of the folder styles: tuned, heldout or unseen. The head
// of tuned says how they are written.
func Styles(file string) ([]Style, error) {
	data, err := styleTexts.ReadFile("styles/" + file + ".txt")
	if err != nil {
		return nil, err
	}
	var out []Style
	n := 0
	for line := range strings.Lines(string(data)) {
		n++
		line = strings.TrimSpace(line)
		if line == "" || line[0] == '#' {
			continue
		}
		fields := strings.Split(line, " | ")
		err := error(nil)
		if name, ok := strings.CutPrefix(fields[0], "style "); ok {
			var s Style
			s, err = parseStyle(name, fields[1:])
			out = append(out, s)
		} else {
			var c StyledColumn
			c, err = parseStyledColumn(fields)
			out[len(out)-1].Columns = append(out[len(out)-1].Columns, c)
		}
		if err != nil {
			return nil, fmt.Errorf("%s.txt:%d: %w", file, n, err)
		}
	}
	return out, nil
}

func parseStyle(name string, options []string) (Style, error) {
	s := Style{Name: name, TimeName: "time", Format: Format{Layout: WideCSV}}
	for _, option := range options {
		key, value, _ := strings.Cut(option, " ")
		switch key {
		case "as":
			s.Format.Layout = Layout(value)
		case "encoding":
			s.Encoding = value
			if encodings[value] == nil {
				return s, fmt.Errorf("unknown encoding %q", value)
			}
		case "time":
			s.TimeName = value
		case "separator":
			s.Separator = []rune(value)[0]
		case "rows":
			s.Rows = true
		case "units":
			s.UnitsColumn = true
		default:
			return s, fmt.Errorf("unknown option %q", option)
		}
	}
	return s, nil
}

func parseStyledColumn(fields []string) (StyledColumn, error) {
	if len(fields) < 2 {
		return StyledColumn{}, fmt.Errorf("a column has a parameter and a header")
	}
	c := StyledColumn{Parameter: fields[0], From: fields[0], Header: fields[1], Factor: 1, Bit: -1}
	if c.Parameter == "-" {
		c.Parameter = ""
	}
	for _, option := range fields[2:] {
		key, value, _ := strings.Cut(option, " ")
		var err error
		switch key {
		case "in":
			c.Unit = value
		case "row":
			c.UnitCell = value
		case "from":
			c.From = value
		case "x":
			c.Factor, err = strconv.ParseFloat(value, 64)
		case "bit":
			c.Bit, err = strconv.Atoi(value)
		case "level":
			c.Level = value
		case "words":
			c.Words[0], c.Words[1], _ = strings.Cut(value, " ")
		case "cells":
			c.Cells = map[string]string{}
			for _, pair := range strings.Fields(value) {
				cell, instead, _ := strings.Cut(pair, "=")
				c.Cells[cell] = instead
			}
		case "points":
			for _, pair := range strings.Fields(value) {
				var p [2]float64
				if _, err := fmt.Sscanf(pair, "%g=%g", &p[0], &p[1]); err != nil {
					return c, fmt.Errorf("%q: %w", pair, err)
				}
				c.Points = append(c.Points, p)
			}
		default:
			err = fmt.Errorf("unknown option %q", option)
		}
		if err != nil {
			return c, err
		}
	}
	return c, nil
}
