// Package workbook reads the sheets of .xlsx workbooks (ECMA-376, Office Open XML) row by
// row. The input is the bytes of a file. The output is the cells of one sheet as a text
// export would hold them: numbers as they are stored, dates and times by ISO 8601, TRUE
// and FALSE, #N/A for an error, and the stored results of formulas.
//
// The package trusts no content: it unpacks a sheet as it reads it and keeps none of it,
// bounds the parts it needs whole (shared texts, styles, the list of sheets), refuses
// what is no well-formed XML, and leaves sizes and checksums to the zip reader, which
// compares them. It looks at nothing else in the file: no macros, links or pictures.
package workbook

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"path"
	"strings"

	"github.com/klauspost/compress/zip"
)

// Limits. A sheet has at most a million rows and sixteen thousand columns in the program
// the format comes from.
const (
	MostRows    = 1 << 20
	MostColumns = 1 << 14
	MostBytes   = 64 << 20 // of a file, which is held as a whole

	mostPart  = 32 << 20 // bytes, unpacked, of a part that is held as a whole
	mostToken = 1 << 20  // bytes of one tag or text
	mostDepth = 100      // elements inside each other
)

// Is reports whether a zip archive with these entries is a workbook, and not one of the
// binary kind (.xlsb), which is another format.
func Is(names []string) bool {
	contents, sheets := false, false
	for _, name := range names {
		if strings.EqualFold(name, "xl/workbook.bin") {
			return false
		}
		contents = contents || strings.EqualFold(name, "[Content_Types].xml")
		sheets = sheets || strings.HasPrefix(strings.ToLower(name), "xl/worksheets/")
	}
	return contents && sheets
}

// Begins reports whether a file that begins with head may be a workbook: a zip archive
// whose first entry is one of a workbook's.
func Begins(head []byte) bool {
	const nameAt = 30
	if len(head) < nameAt || !bytes.HasPrefix(head, []byte("PK\x03\x04")) {
		return false
	}
	name := head[nameAt:]
	for _, first := range []string{"[Content_Types].xml", "_rels/", "xl/", "docProps/"} {
		if bytes.HasPrefix(name, []byte(first)) {
			return true
		}
	}
	return false
}

// Sheet is one sheet of cells.
type Sheet struct {
	Name   string
	Hidden bool
	part   string
}

// Book is an open workbook.
type Book struct {
	Sheets []Sheet // in the order of the workbook; charts are left out

	parts    map[string]*zip.File
	date1904 bool // days are counted from 1 January 1904, not from 1900
	formats  []format
	texts    []string // shared by all sheets
	limit    int64
}

// Open takes the bytes of a file and the most bytes a sheet may unpack to. An error
// states what is wrong with the file.
func Open(content []byte, limit int64) (*Book, error) {
	archive, err := zip.NewReader(bytes.NewReader(content), int64(len(content)))
	if err != nil {
		return nil, err
	}
	b := &Book{parts: map[string]*zip.File{}, limit: limit}
	for _, f := range archive.File {
		b.parts[strings.ToLower(strings.ReplaceAll(f.Name, `\`, "/"))] = f
	}
	main := "xl/workbook.xml"
	root, err := b.relations("")
	if err != nil {
		return nil, err
	}
	for _, r := range root {
		if r.is("officeDocument") {
			main = r.Target
		}
	}
	related, err := b.relations(main)
	if err != nil {
		return nil, err
	}
	if err := b.readSheets(main, related); err != nil {
		return nil, err
	}
	for _, r := range related {
		switch {
		case r.is("styles"):
			err = b.readStyles(r.Target)
		case r.is("sharedStrings"):
			err = b.readTexts(r.Target)
		}
		if err != nil {
			return nil, err
		}
	}
	return b, nil
}

// relation is one line of a list of relations; its target is the name of a part.
type relation struct {
	ID     string `xml:"Id,attr"`
	Type   string `xml:"Type,attr"`
	Target string `xml:"Target,attr"`
}

// is compares the last word of the type, of which there are two spellings.
func (r relation) is(kind string) bool { return strings.HasSuffix(r.Type, "/"+kind) }

// relations lists those of a part, "" for those of the file; none is no fault.
func (b *Book) relations(part string) ([]relation, error) {
	folder, name := path.Split(part)
	list := folder + "_rels/" + name + ".rels"
	if b.parts[strings.ToLower(list)] == nil {
		return nil, nil
	}
	var all []relation
	err := b.elements(list, func(d *decoder, e xml.StartElement) error {
		if e.Name.Local != "Relationship" {
			return nil
		}
		r := relation{ID: attribute(e, "Id"), Type: attribute(e, "Type"), Target: strings.ReplaceAll(attribute(e, "Target"), `\`, "/")}
		if strings.HasPrefix(r.Target, "/") {
			r.Target = r.Target[1:]
		} else {
			r.Target = path.Join(folder, r.Target)
		}
		all = append(all, r)
		return nil
	})
	return all, err
}

// readSheets reads the list of sheets, and from when days are counted.
func (b *Book) readSheets(part string, related []relation) error {
	targets := map[string]string{}
	for _, r := range related {
		if r.is("worksheet") {
			targets[r.ID] = r.Target
		}
	}
	return b.elements(part, func(d *decoder, e xml.StartElement) error {
		switch e.Name.Local {
		case "workbookPr":
			b.date1904 = isTrue(attribute(e, "date1904"))
		case "sheet":
			if target := targets[attribute(e, "id")]; target != "" {
				state := attribute(e, "state")
				b.Sheets = append(b.Sheets, Sheet{Name: attribute(e, "name"), Hidden: state != "" && state != "visible", part: target})
			}
		}
		return nil
	})
}

// readTexts reads the texts that cells refer to by number.
func (b *Book) readTexts(part string) error {
	return b.elements(part, func(d *decoder, e xml.StartElement) error {
		if e.Name.Local != "si" {
			return nil
		}
		text, err := d.richText()
		b.texts = append(b.texts, text)
		return err
	})
}

// elements calls visit for each element of a part that is held as a whole.
func (b *Book) elements(part string, visit func(*decoder, xml.StartElement) error) error {
	d, err := b.open(part, mostPart)
	if err != nil {
		return err
	}
	defer d.close()
	for {
		token, err := d.next()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
		if e, ok := token.(xml.StartElement); ok {
			if err := visit(d, e); err != nil {
				return err
			}
		}
	}
}

// decoder reads the XML of one part.
type decoder struct {
	part   string
	source io.ReadCloser
	limit  int64
	size   uint64 // of it, unpacked, as the file says
	read   int64  // bytes
	token  int64  // bytes read before the token at hand
	depth  int
	xml    *xml.Decoder
}

func (b *Book) open(part string, limit int64) (*decoder, error) {
	f := b.parts[strings.ToLower(part)]
	if f == nil {
		return nil, fmt.Errorf("it has no part %q", clip(part))
	}
	if f.UncompressedSize64 > uint64(limit) {
		return nil, &TooLargeError{part, limit}
	}
	source, err := f.Open()
	if err != nil {
		return nil, fmt.Errorf("part %q: %w", clip(part), err)
	}
	d := &decoder{part: part, source: source, limit: limit, size: f.UncompressedSize64}
	d.xml = xml.NewDecoder(d)
	d.xml.CharsetReader = func(charset string, _ io.Reader) (io.Reader, error) {
		return nil, fmt.Errorf("it is written in %q, not in UTF-8", clip(charset))
	}
	return d, nil
}

// TooLargeError says that a part unpacks to more than is read of it.
type TooLargeError struct {
	Part  string
	Limit int64
}

func (e *TooLargeError) Error() string {
	return fmt.Sprintf("part %q of it unpacks to more than %d bytes", clip(e.Part), e.Limit)
}

func (d *decoder) close() { d.source.Close() }

// Read hands on bytes to the XML decoder, within the limits: that of the part, and that
// of one token, which the decoder holds as a whole.
func (d *decoder) Read(p []byte) (int, error) {
	n, err := d.source.Read(p)
	if d.read += int64(n); d.read > d.limit {
		return 0, &TooLargeError{d.part, d.limit}
	}
	if d.read-d.token > mostToken {
		return 0, fmt.Errorf("a tag or text of more than %d bytes", mostToken)
	}
	return n, err
}

// next is the next token; io.EOF after the last one.
func (d *decoder) next() (xml.Token, error) {
	d.token = d.read
	token, err := d.xml.Token()
	var large *TooLargeError
	switch {
	case errors.Is(err, io.EOF), errors.As(err, &large):
		return nil, err
	case err != nil:
		return nil, fmt.Errorf("part %q, %d bytes into it: %w", clip(d.part), d.xml.InputOffset(), err)
	}
	switch token.(type) {
	case xml.StartElement:
		if d.depth++; d.depth > mostDepth {
			return nil, fmt.Errorf("part %q: more than %d elements inside each other", clip(d.part), mostDepth)
		}
	case xml.EndElement:
		d.depth--
	}
	return token, nil
}

// text is the text of the element at hand, up to its end.
func (d *decoder) text() (string, error) { return d.textOf(func(string) bool { return true }) }

// richText is the text of the element at hand, which lies in elements t; that of
// elements rPh is how to pronounce it.
func (d *decoder) richText() (string, error) {
	pronounced := false
	return d.textOf(func(element string) bool {
		pronounced = pronounced && element != "r" || element == "rPh"
		return element == "t" && !pronounced
	})
}

// textOf is the text directly inside the elements wanted, up to the end of the element
// at hand.
func (d *decoder) textOf(wanted func(element string) bool) (string, error) {
	var out strings.Builder
	outside, take := d.depth-1, wanted("")
	for {
		token, err := d.next()
		if err != nil {
			return "", ended(err)
		}
		switch t := token.(type) {
		case xml.StartElement:
			take = wanted(t.Name.Local)
		case xml.EndElement:
			if d.depth == outside {
				return out.String(), nil
			}
			take = false
		case xml.CharData:
			if take {
				if out.Len()+len(t) > mostToken {
					return "", fmt.Errorf("part %q: a text of more than %d bytes", clip(d.part), mostToken)
				}
				out.Write(t)
			}
		}
	}
}

// ended makes the end of the file inside an element a fault.
func ended(err error) error {
	if errors.Is(err, io.EOF) {
		return io.ErrUnexpectedEOF
	}
	return err
}

func attribute(e xml.StartElement, name string) string {
	for _, a := range e.Attr {
		if a.Name.Local == name {
			return a.Value
		}
	}
	return ""
}

func isTrue(text string) bool { return text == "1" || text == "true" }
