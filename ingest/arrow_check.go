package ingest

import (
	"encoding/binary"
	"errors"
	"fmt"

	flatbuffers "github.com/google/flatbuffers/go"
)

// maxSchemaDepth bounds how deep the types of an Arrow file may nest: exports
// are flat, and the Arrow library descends without a limit of its own.
const maxSchemaDepth = 16

var errArrowFooter = errors.New("its footer is damaged")

// Field positions in the tables of an Arrow IPC file's footer, from the format's
// published File.fbs and Schema.fbs: 4 + 2 × the field's place.
const (
	footerSchema   = 6
	footerMetadata = 12
	schemaFields   = 6
	schemaMetadata = 8
	fieldChildren  = 14
	fieldMetadata  = 16
)

// checkArrowFooter walks the schema and the batches in the footer and refuses counts that the
// footer has no room for, and batches outside the file: the Arrow library makes room for as
// many fields as a count says, and running out of memory cannot be recovered from. It
// returns the record batches, and panics on offsets out of bounds.
func checkArrowFooter(content []byte, room int64) (batches []arrowBlock, err error) {
	const trailer = 4 + len("ARROW1")
	if len(content) < 2*trailer {
		return nil, errArrowFooter
	}
	end := len(content) - trailer
	size := int(binary.LittleEndian.Uint32(content[end:]))
	if size < 8 || size > end {
		return nil, errArrowFooter
	}
	footer := content[end-size : end]
	check := footerCheck{room: len(footer) / 4} // an entry of any list takes four bytes at least
	root := flatbuffers.Table{Bytes: footer, Pos: flatbuffers.GetUOffsetT(footer)}
	if err := check.list(root, footerMetadata); err != nil {
		return nil, err
	}
	at := root.Offset(footerSchema)
	if at == 0 {
		return nil, errArrowFooter
	}
	schema := flatbuffers.Table{Bytes: footer, Pos: root.Indirect(root.Pos + flatbuffers.UOffsetT(at))}
	if err := check.list(schema, schemaMetadata); err != nil {
		return nil, err
	}
	if err := check.fields(schema, schemaFields, 0); err != nil {
		return nil, err
	}
	dictionaries, err := checkArrowBlocks(content, root, footerDictionaries)
	if err != nil {
		return nil, err
	}
	for i, block := range dictionaries {
		if err := block.check(room); err != nil {
			return nil, fmt.Errorf("dictionary %d is damaged: %w", i+1, err)
		}
	}
	return checkArrowBlocks(content, root, footerBatches)
}

// footerCheck counts down the entries a footer has room for.
type footerCheck struct{ room int }

// list takes the entries of a list off the room that is left.
func (c *footerCheck) list(table flatbuffers.Table, field flatbuffers.VOffsetT) error {
	at := table.Offset(field)
	if at == 0 {
		return nil
	}
	n := table.VectorLen(flatbuffers.UOffsetT(at))
	if n < 0 || n > c.room {
		return errArrowFooter
	}
	c.room -= n
	return nil
}

// fields checks a list of fields and those below them.
func (c *footerCheck) fields(table flatbuffers.Table, field flatbuffers.VOffsetT, depth int) error {
	if err := c.list(table, field); err != nil || table.Offset(field) == 0 {
		return err
	}
	if depth > maxSchemaDepth {
		return errors.New("its columns nest too deep")
	}
	at := flatbuffers.UOffsetT(table.Offset(field))
	start := table.Vector(at)
	for i := range table.VectorLen(at) {
		child := flatbuffers.Table{Bytes: table.Bytes, Pos: table.Indirect(start + flatbuffers.UOffsetT(i)*4)}
		if err := c.list(child, fieldMetadata); err != nil {
			return err
		}
		if err := c.fields(child, fieldChildren, depth+1); err != nil {
			return err
		}
	}
	return nil
}
