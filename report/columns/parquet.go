package columns

import (
	"io"

	"github.com/parquet-go/parquet-go"

	pages "downlock/ingest/parquet"
	"downlock/schemas"
)

// parquetSink writes Parquet, a row group or more for each source.
type parquetSink struct {
	out *parquet.GenericWriter[schemas.CanonicalRow]
}

func newParquet(w io.Writer, metadata string) *parquetSink {
	return &parquetSink{parquet.NewGenericWriter[schemas.CanonicalRow](w,
		parquet.CreatedBy("downlock", "", ""),
		parquet.KeyValueMetadata(schemas.CanonicalKey, metadata),
		parquet.Compression(pages.Zstd),
		parquet.DataPageVersion(2),
		parquet.MaxRowsPerRowGroup(4*rowsAtOnce),
	)}
}

func (p *parquetSink) write(rows []schemas.CanonicalRow) error {
	_, err := p.out.Write(rows)
	return err
}

func (p *parquetSink) endSource() error { return p.out.Flush() }

func (p *parquetSink) close() error { return p.out.Close() }
