package columns

import (
	"io"
	"slices"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/ipc"
	"github.com/apache/arrow/go/v17/arrow/memory"

	"downlock/ingest/export"
	"downlock/schemas"
)

// arrowSink writes an Arrow IPC file, a record batch or more for each source. Texts are
// dictionaries, the same ones in every batch: a file may not change them on the way.
type arrowSink struct {
	out    *ipc.FileWriter
	schema *arrow.Schema
	words  *array.String
	places map[string]int16 // of the words
}

var (
	wordType = &arrow.DictionaryType{IndexType: arrow.PrimitiveTypes.Int16, ValueType: arrow.BinaryTypes.String}
	utcType  = &arrow.TimestampType{Unit: arrow.Microsecond, TimeZone: "UTC"}
)

// arrowFields are the columns of schemas.CanonicalRow in their order.
var arrowFields = []arrow.Field{
	{Name: "stretch", Type: arrow.PrimitiveTypes.Int32},
	{Name: "flight", Type: arrow.PrimitiveTypes.Int32, Nullable: true},
	{Name: "parameter", Type: wordType},
	{Name: "source_rank", Type: arrow.PrimitiveTypes.Int32},
	{Name: "unit", Type: wordType, Nullable: true},
	{Name: "time_s", Type: arrow.PrimitiveTypes.Float64},
	{Name: "time_utc", Type: utcType, Nullable: true},
	{Name: "value", Type: arrow.PrimitiveTypes.Float64},
	{Name: "state", Type: wordType, Nullable: true},
	{Name: "accuracy", Type: arrow.PrimitiveTypes.Float64, Nullable: true},
	{Name: "accuracy_is", Type: wordType, Nullable: true},
	{Name: "distrusted", Type: wordType, Nullable: true},
}

func (c *Columns) newArrow(w io.Writer, metadata string) (*arrowSink, error) {
	stated := arrow.NewMetadata([]string{schemas.CanonicalKey}, []string{metadata})
	a := &arrowSink{schema: arrow.NewSchema(arrowFields, &stated), places: map[string]int16{}}
	words := []string{"true", "false", schemas.AccuracyStated, schemas.AccuracyEstimated, excursion}
	for i := range c.sources {
		s := &c.sources[i]
		words = append(words, s.Parameter.Name, s.Parameter.Unit, s.distrusted)
		words = append(words, s.Parameter.States...)
	}
	slices.Sort(words)
	words = slices.Compact(words)
	b := array.NewStringBuilder(memory.DefaultAllocator)
	for i, word := range words {
		a.places[word] = int16(i)
		b.Append(word)
	}
	a.words = b.NewStringArray()
	var err error
	a.out, err = ipc.NewFileWriter(&export.Positioned{W: w}, ipc.WithSchema(a.schema), ipc.WithZstd())
	return a, err
}

func (a *arrowSink) write(rows []schemas.CanonicalRow) error {
	if len(rows) == 0 {
		return nil
	}
	columns := []arrow.Array{
		integers(rows, func(r *schemas.CanonicalRow) int32 { return r.Stretch }),
		integers(rows, func(r *schemas.CanonicalRow) int32 { return r.Flight }),
		a.texts(rows, func(r *schemas.CanonicalRow) string { return r.Parameter }),
		integers(rows, func(r *schemas.CanonicalRow) int32 { return r.SourceRank }),
		a.texts(rows, func(r *schemas.CanonicalRow) string { return r.Unit }),
		numbers(rows, func(r *schemas.CanonicalRow) (float64, bool) { return r.TimeS, true }),
		instants(rows),
		numbers(rows, func(r *schemas.CanonicalRow) (float64, bool) { return r.Value, true }),
		a.texts(rows, func(r *schemas.CanonicalRow) string { return r.State }),
		numbers(rows, func(r *schemas.CanonicalRow) (float64, bool) { return r.Accuracy, r.Accuracy != 0 }),
		a.texts(rows, func(r *schemas.CanonicalRow) string { return r.AccuracyIs }),
		a.texts(rows, func(r *schemas.CanonicalRow) string { return r.Distrusted }),
	}
	record := array.NewRecord(a.schema, columns, int64(len(rows)))
	defer record.Release()
	return a.out.Write(record)
}

func (a *arrowSink) endSource() error { return nil }

func (a *arrowSink) close() error { return a.out.Close() }

// integers makes a column of integers; 0 is null, which none of the others has.
func integers(rows []schemas.CanonicalRow, of func(*schemas.CanonicalRow) int32) arrow.Array {
	b := array.NewInt32Builder(memory.DefaultAllocator)
	for i := range rows {
		if v := of(&rows[i]); v != 0 {
			b.Append(v)
		} else {
			b.AppendNull()
		}
	}
	return b.NewArray()
}

func numbers(rows []schemas.CanonicalRow, of func(*schemas.CanonicalRow) (v float64, known bool)) arrow.Array {
	b := array.NewFloat64Builder(memory.DefaultAllocator)
	for i := range rows {
		if v, known := of(&rows[i]); known {
			b.Append(v)
		} else {
			b.AppendNull()
		}
	}
	return b.NewArray()
}

func instants(rows []schemas.CanonicalRow) arrow.Array {
	b := array.NewTimestampBuilder(memory.DefaultAllocator, utcType)
	for i := range rows {
		if at := rows[i].TimeUTC; !at.IsZero() {
			b.Append(arrow.Timestamp(at.UnixMicro()))
		} else {
			b.AppendNull()
		}
	}
	return b.NewArray()
}

// texts makes a dictionary column; "" is null.
func (a *arrowSink) texts(rows []schemas.CanonicalRow, of func(*schemas.CanonicalRow) string) arrow.Array {
	b := array.NewInt16Builder(memory.DefaultAllocator)
	for i := range rows {
		if word := of(&rows[i]); word != "" {
			b.Append(a.places[word])
		} else {
			b.AppendNull()
		}
	}
	return array.NewDictionaryArray(wordType, b.NewArray(), a.words)
}
