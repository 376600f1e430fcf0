package ingest

import (
	"bytes"
	"encoding/csv"
	"hash"
	"hash/fnv"
	"strings"
	"testing"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/memory"
)

// columnarOf makes an Arrow and a Parquet file of a CSV text, every cell as text and
// blank ones null.
func columnarOf(t *testing.T, text string) map[string][]byte {
	t.Helper()
	rows, err := csv.NewReader(strings.NewReader(text)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var fields []arrow.Field
	for i, name := range rows[0] {
		kind := arrow.DataType(arrow.BinaryTypes.String)
		if i == 0 && !strings.Contains(rows[1][0], ":") {
			kind = arrow.PrimitiveTypes.Float64
		}
		fields = append(fields, arrow.Field{Name: name, Type: kind, Nullable: true})
	}
	b := array.NewRecordBuilder(memory.DefaultAllocator, arrow.NewSchema(fields, nil))
	for _, row := range rows[1:] {
		for i, cell := range row {
			if cell == "" {
				b.Field(i).AppendNull()
			} else if err := b.Field(i).AppendValueFromString(cell); err != nil {
				t.Fatal(err)
			}
		}
	}
	record := b.NewRecord()
	out := map[string][]byte{}
	for name, write := range map[string]func(*bytes.Buffer, arrow.Record) error{"Arrow": writeArrow, "Parquet": writeParquet} {
		var buffer bytes.Buffer
		if err := write(&buffer, record); err != nil {
			t.Fatal(err)
		}
		out[name] = buffer.Bytes()
	}
	return out
}

// nopHash is where the bytes of a file go that nobody asks the hash of.
func nopHash() hash.Hash { return fnv.New32() }
