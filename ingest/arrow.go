package ingest

import (
	"bytes"
	"errors"
	"fmt"
	"slices"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/bitutil"
	"github.com/apache/arrow/go/v17/arrow/ipc"
	"github.com/apache/arrow/go/v17/arrow/memory"

	"downlock/ingest/parquet"
	"downlock/schemas"
)

// arrowFile reads the flat columns of an Arrow IPC file.
type arrowFile struct {
	file    *ipc.FileReader
	memory  *boundedAllocator
	size    int64 // of the file
	blocks  []arrowBlock
	plain   bool // batches may be read straight
	reading *reading
	labels  []string
	records []arrow.Record
	total   int
}

func (r *reading) openArrow(content []byte) (*arrowFile, error) {
	r.part = "its footer"
	blocks, err := checkArrowFooter(content, r.room())
	if errors.Is(err, parquet.ErrTooLarge) {
		return nil, tooLarge(r.file, r.room()-roomBeside)
	}
	if err != nil {
		return nil, r.problem(fmt.Sprintf("is not a readable Arrow file: %v", err), damagedHint)
	}
	memory := &boundedAllocator{left: r.arrowRoom(len(content)), tooLarge: tooLarge(r.file, r.room()-roomBeside)}
	file, err := ipc.NewFileReader(bytes.NewReader(content), ipc.WithAllocator(memory))
	if err != nil {
		return nil, r.problem(fmt.Sprintf("is not a readable Arrow file: %v", err), damagedHint)
	}
	a := &arrowFile{file: file, memory: memory, size: int64(len(content)), blocks: blocks, plain: isStraight(file.Schema()), reading: r}
	for _, field := range file.Schema().Fields() {
		a.labels = append(a.labels, field.Name)
	}
	return a, nil
}

// load loads every batch, once; the garbage collector takes them back.
func (a *arrowFile) load() error {
	if a.records != nil {
		return nil
	}
	for i := range a.file.NumRecords() {
		record, err := a.batch(i)
		if err != nil {
			return err
		}
		a.records = append(a.records, record)
		if a.total += int(min(record.NumRows(), maxRows+1)); a.total > maxRows {
			break // checkSize refuses it
		}
	}
	return nil
}

// batch loads a batch.
func (a *arrowFile) batch(i int) (arrow.Record, error) {
	a.reading.part = fmt.Sprintf("batch %d", i+1)
	err := a.blocks[i].check(a.reading.room())
	if errors.Is(err, parquet.ErrTooLarge) {
		return nil, tooLarge(a.reading.file, a.reading.room()-roomBeside)
	}
	var record arrow.Record
	read := false
	if err == nil && a.plain {
		record, read, err = a.blocks[i].straight(a.file.Schema())
	}
	if err == nil && !read {
		record, err = a.file.RecordAt(i)
	}
	if err == nil {
		return record, nil
	}
	return nil, fmt.Errorf("batch %d cannot be read: %w", i+1, err)
}

func (a *arrowFile) metadata() string {
	metadata := a.file.Schema().Metadata()
	text, _ := metadata.GetValue(schemas.CanonicalKey)
	return text
}

func (a *arrowFile) parts() int { return a.file.NumRecords() }

func (a *arrowFile) part(index int, names []string) (columns []*column, err error) {
	record, err := a.batch(index)
	if err != nil {
		return nil, err
	}
	defer record.Release()
	rows := int(record.NumRows())
	for _, name := range names {
		at := slices.Index(a.labels, name)
		if at < 0 {
			return nil, missingColumn(name)
		}
		c := &column{}
		if err := c.appendArrow(record.Column(at), rows+1); err != nil { // a copy: the batch is let go of
			return nil, fmt.Errorf("column %q cannot be read: %w", name, err)
		}
		if c.rows() != rows {
			return nil, fmt.Errorf("column %q has %d cells, batch %d %d rows", name, c.rows(), index+1, rows)
		}
		c.spread()
		columns = append(columns, c)
	}
	return columns, nil
}

func (a *arrowFile) names() []string { return a.labels }

func (a *arrowFile) rows() int { return a.total }

func (a *arrowFile) held() int64 { return a.size + a.memory.taken }

func (a *arrowFile) cellBytes(index int) int64 {
	of := a.file.Schema().Field(index).Type
	if dictionary, ok := of.(*arrow.DictionaryType); ok {
		of = dictionary.ValueType
	}
	switch {
	case !arrowText(of):
		return numberBytes
	case of.ID() == arrow.STRING || of.ID() == arrow.LARGE_STRING || of.ID() == arrow.BOOL || of.ID() == arrow.NULL:
		return sharedBytes
	}
	return timeBytes
}

func (a *arrowFile) release(*column) {}

func (a *arrowFile) column(index int) (*column, error) {
	c := &column{}
	for _, record := range a.records {
		if err := c.appendArrow(record.Column(index), a.total); err != nil {
			return nil, err
		}
	}
	return c, nil
}

// appendArrow appends an array's cells: numbers as numbers, all else as the
// text a CSV export would have. The numbers of an array that has all rows and no null are
// not copied.
func (c *column) appendArrow(values arrow.Array, rows int) error {
	if dictionary, ok := values.(*array.Dictionary); ok {
		return c.appendDictionary(dictionary)
	}
	first := c.total
	present := c.takeNulls(values)
	each := func(use func(i int)) {
		for _, place := range present {
			use(int(place) - first)
		}
		for i := 0; !c.sparse && i < values.Len(); i++ {
			use(i)
		}
	}
	doubles, isDouble := values.(*array.Float64)
	number := arrowNumber(values)
	switch {
	case isDouble && !c.sparse && values.Len() == rows:
		c.numbers = doubles.Float64Values()
	case isDouble && !c.sparse:
		c.numbers = append(slices.Grow(c.numbers, rows-first), doubles.Float64Values()...)
	case isDouble:
		all := doubles.Float64Values()
		c.numbers = slices.Grow(c.numbers, len(present))
		for _, place := range present {
			c.numbers = append(c.numbers, all[int(place)-first])
		}
	case number != nil:
		c.numbers = slices.Grow(c.numbers, values.Len())
		each(func(i int) { c.numbers = append(c.numbers, number(i)) })
	case arrowText(values.DataType()):
		c.text, c.boolean = true, values.DataType().ID() == arrow.BOOL
		each(func(i int) { c.texts = append(c.texts, values.ValueStr(i)) })
	default:
		return fmt.Errorf("columns of type %s are not supported; write it as float64 or utf8", values.DataType())
	}
	return nil
}

// takeNulls adds the rows of an array. From the first null on the column is sparse; then the
// rows of the array that are no nulls are returned.
func (c *column) takeNulls(values arrow.Array) (present []int32) {
	n, first := values.Len(), c.total
	c.total += n
	bitmap, offset := values.NullBitmapBytes(), values.Data().Offset()
	if !c.sparse {
		i := 0
		for i < n && (len(bitmap) == 0 || bitutil.BitIsSet(bitmap, offset+i)) {
			i++
		}
		if i == n {
			return nil
		}
		c.sparse = true
		c.appendPlaces(nil, 0, first)
	}
	begin := len(c.places)
	c.places = slices.Grow(c.places, n)
	for i := range n {
		if len(bitmap) == 0 || bitutil.BitIsSet(bitmap, offset+i) {
			c.places = append(c.places, int32(first+i))
		}
	}
	present = c.places[begin:]
	c.nulls += n - len(present)
	return present
}

// appendDictionary reads the distinct values once and refers to them.
func (c *column) appendDictionary(values *array.Dictionary) error {
	var distinct column
	if err := distinct.appendArrow(values.Dictionary(), values.Dictionary().Len()); err != nil {
		return err
	}
	distinct.spread()
	places := make([]int32, values.Len())
	for i := range places {
		places[i] = -1
		if values.IsValid(i) {
			places[i] = int32(values.GetValueIndex(i))
		}
	}
	c.appendCells(&distinct, places)
	return nil
}

// arrowNumber returns access to an array of other numbers; nil for another array.
func arrowNumber(values arrow.Array) func(i int) float64 {
	switch a := values.(type) {
	case *array.Float32:
		return func(i int) float64 { return float64(a.Value(i)) }
	case *array.Float16:
		return func(i int) float64 { return float64(a.Value(i).Float32()) }
	case *array.Int8:
		return func(i int) float64 { return float64(a.Value(i)) }
	case *array.Int16:
		return func(i int) float64 { return float64(a.Value(i)) }
	case *array.Int32:
		return func(i int) float64 { return float64(a.Value(i)) }
	case *array.Int64:
		return func(i int) float64 { return float64(a.Value(i)) }
	case *array.Uint8:
		return func(i int) float64 { return float64(a.Value(i)) }
	case *array.Uint16:
		return func(i int) float64 { return float64(a.Value(i)) }
	case *array.Uint32:
		return func(i int) float64 { return float64(a.Value(i)) }
	case *array.Uint64:
		return func(i int) float64 { return float64(a.Value(i)) }
	}
	return nil
}

// arrowText reports whether the text Arrow prints for a value of the type is
// the text a CSV export would have.
func arrowText(t arrow.DataType) bool {
	switch t.ID() {
	case arrow.STRING, arrow.LARGE_STRING, arrow.BOOL, arrow.NULL, arrow.TIMESTAMP, arrow.TIME32, arrow.TIME64,
		arrow.DATE32, arrow.DATE64, arrow.DECIMAL128, arrow.DECIMAL256:
		return true
	}
	return false
}

// arrowRoom is how many bytes the batches of an Arrow file may take: those of the limit,
// and with the file itself no more than half a gigabyte beyond.
func (r *reading) arrowRoom(size int) int64 {
	return min(r.room(), r.room()-roomBeside+512<<20-int64(size))
}

// boundedAllocator allocates for the Arrow reader up to a limit: running out of memory ends the
// program past all recovery, while this panic is recovered by guarded.
type boundedAllocator struct {
	memory.GoAllocator
	left     int64 // bytes
	taken    int64
	tooLarge *schemas.Problem
}

func (a *boundedAllocator) take(size int) {
	if size < 0 || int64(size) > a.left {
		panic(a.tooLarge)
	}
	a.left -= int64(size)
	a.taken += int64(size)
}

func (a *boundedAllocator) Allocate(size int) []byte {
	a.take(size)
	return a.GoAllocator.Allocate(size)
}

func (a *boundedAllocator) Reallocate(size int, b []byte) []byte {
	a.take(max(size-len(b), 0))
	return a.GoAllocator.Reallocate(size, b)
}

func (a *boundedAllocator) Free(b []byte) {
	a.left += int64(len(b))
	a.taken -= int64(len(b))
}
