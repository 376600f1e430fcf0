package ingest

import (
	"bytes"
	"context"
	"errors"
	"io"
	"slices"
	"syscall"
	"testing"
	"time"

	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/ipc"
	"github.com/apache/arrow/go/v17/arrow/memory"
	"github.com/apache/arrow/go/v17/parquet/file"
	"github.com/apache/arrow/go/v17/parquet/pqarrow"
	parquetgo "github.com/parquet-go/parquet-go"

	"downlock/ingest/export"
)

// BenchmarkRatioParquet reports the processor time of Read on Parquet, over that of arrow/go
// and of parquet-go reading the same 26 columns of 65, in turns.
func BenchmarkRatioParquet(b *testing.B) {
	ratioColumnar(b, export.WideParquet, map[string]columnReader{"x-arrow": readWithArrow, "x-parquet-go": readWithParquetGo})
}

// BenchmarkRatioArrow does so on Arrow IPC files, over arrow/go, which reads all columns of a
// batch and adds up the values of those 26 that are no nulls.
func BenchmarkRatioArrow(b *testing.B) {
	ratioColumnar(b, export.WideArrow, map[string]columnReader{"x-arrow": readIPCWithArrow})
}

// columnReader reads some columns of a file.
type columnReader func(b *testing.B, data []byte, wanted []string)

// ratioColumnar takes the least of all turns of each reader.
func ratioColumnar(b *testing.B, layout export.Layout, others map[string]columnReader) {
	for name, rates := range map[string][]float64{"sparse": {8, 4, 4, 2, 2, 2, 2, 1, 1, 1, 1, 1, 1, 1, 0.5, 0.25}, "dense": {8}} {
		b.Run(name, func(b *testing.B) {
			table, profile := benchTable(rates)
			data := benchExport(layout, table)
			wanted := []string{"time_s"}
			for _, sources := range profile.Columns {
				wanted = append(wanted, sources[0].Column)
			}
			least := map[string]time.Duration{}
			take := func(name string, read func()) {
				before := processorTime()
				read()
				took := processorTime() - before
				if known, ok := least[name]; !ok || took < known {
					least[name] = took
				}
			}
			for b.Loop() {
				take("", func() {
					if _, err := (Limits{}).read("bench", bytes.NewReader(data), int64(len(data)), profile, noHash{}); err != nil {
						b.Fatal(err)
					}
				})
				for name, read := range others {
					take(name, func() { read(b, data, wanted) })
				}
			}
			for name := range others {
				b.ReportMetric(least[""].Seconds()/least[name].Seconds(), name)
			}
			b.ReportMetric(least[""].Seconds()*1000, "ms")
			b.ReportMetric(0, "ns/op")
		})
	}
}

func readIPCWithArrow(b *testing.B, data []byte, wanted []string) {
	in, err := ipc.NewFileReader(bytes.NewReader(data))
	if err != nil {
		b.Fatal(err)
	}
	defer in.Close()
	sum, columns := 0.0, 0
	for i := range in.NumRecords() {
		record, err := in.Record(i)
		if err != nil {
			b.Fatal(err)
		}
		for k, field := range in.Schema().Fields() {
			if !slices.Contains(wanted, field.Name) {
				continue
			}
			columns++
			switch values := record.Column(k).(type) {
			case *array.Float64:
				for n, v := range values.Float64Values() {
					if values.IsValid(n) {
						sum += v
					}
				}
			case *array.String:
				for n := range values.Len() {
					if values.IsValid(n) {
						sum += float64(len(values.Value(n)))
					}
				}
			}
		}
	}
	if sum == 0 || columns != len(wanted) {
		b.Fatal(sum, columns)
	}
}

func readWithArrow(b *testing.B, data []byte, wanted []string) {
	in, err := file.NewParquetReader(bytes.NewReader(data))
	if err != nil {
		b.Fatal(err)
	}
	defer in.Close()
	reader, err := pqarrow.NewFileReader(in, pqarrow.ArrowReadProperties{BatchSize: 1 << 16}, memory.DefaultAllocator)
	if err != nil {
		b.Fatal(err)
	}
	var columns []int
	for i := range in.MetaData().Schema.NumColumns() {
		if slices.Contains(wanted, in.MetaData().Schema.Column(i).Name()) {
			columns = append(columns, i)
		}
	}
	records, err := reader.GetRecordReader(context.Background(), columns, nil)
	if err != nil {
		b.Fatal(err)
	}
	defer records.Release()
	rows := int64(0)
	for records.Next() {
		rows += records.Record().NumRows()
	}
	if rows == 0 || len(columns) != len(wanted) || records.Err() != nil && !errors.Is(records.Err(), io.EOF) {
		b.Fatal(rows, len(columns), records.Err())
	}
}

func readWithParquetGo(b *testing.B, data []byte, wanted []string) {
	in, err := parquetgo.OpenFile(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		b.Fatal(err)
	}
	values := make([]parquetgo.Value, 1<<12)
	for _, group := range in.RowGroups() {
		for i, chunk := range group.ColumnChunks() {
			if !slices.Contains(wanted, in.Schema().Columns()[i][0]) {
				continue
			}
			pages := chunk.Pages()
			for {
				page, err := pages.ReadPage()
				if errors.Is(err, io.EOF) {
					break
				} else if err != nil {
					b.Fatal(err)
				}
				for reader := page.Values(); ; {
					if _, err := reader.ReadValues(values); errors.Is(err, io.EOF) {
						break
					} else if err != nil {
						b.Fatal(err)
					}
				}
				parquetgo.Release(page)
			}
			pages.Close()
		}
	}
}

// processorTime is the time all threads of the process have been running.
func processorTime() time.Duration {
	var usage syscall.Rusage
	if syscall.Getrusage(syscall.RUSAGE_SELF, &usage) != nil {
		return 0
	}
	return time.Duration(usage.Utime.Nano() + usage.Stime.Nano())
}
