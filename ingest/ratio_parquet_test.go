package ingest

import (
	"bytes"
	"context"
	"errors"
	"io"
	"math"
	"slices"
	"syscall"
	"testing"
	"time"

	"github.com/apache/arrow/go/v17/arrow/memory"
	"github.com/apache/arrow/go/v17/parquet/file"
	"github.com/apache/arrow/go/v17/parquet/pqarrow"
	parquetgo "github.com/parquet-go/parquet-go"

	"downlock/ingest/export"
)

// BenchmarkRatioParquet reports the processor time of Read on Parquet, over that of arrow/go
// and of parquet-go reading the same 26 columns of 65, in turns. Each takes its least of all
// turns.
func BenchmarkRatioParquet(b *testing.B) {
	for name, rates := range map[string][]float64{"sparse": {8, 4, 4, 2, 2, 2, 2, 1, 1, 1, 1, 1, 1, 1, 0.5, 0.25}, "dense": {8}} {
		b.Run(name, func(b *testing.B) {
			table, profile := benchTable(rates)
			data := benchExport(export.WideParquet, table)
			wanted := []string{"time_s"}
			for _, sources := range profile.Columns {
				wanted = append(wanted, sources[0].Column)
			}
			readers := []func(){
				func() {
					if _, err := (Limits{}).read("bench", bytes.NewReader(data), int64(len(data)), profile, noHash{}); err != nil {
						b.Fatal(err)
					}
				},
				func() { readWithArrow(b, data, wanted) },
				func() { readWithParquetGo(b, data, wanted) },
			}
			least := []float64{math.Inf(1), math.Inf(1), math.Inf(1)}
			for b.Loop() {
				for i, read := range readers {
					before := processorTime()
					read()
					least[i] = min(least[i], (processorTime() - before).Seconds())
				}
			}
			b.ReportMetric(least[0]*1000, "ms")
			b.ReportMetric(least[0]/least[1], "x-arrow")
			b.ReportMetric(least[0]/least[2], "x-parquet-go")
			b.ReportMetric(0, "ns/op")
		})
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
