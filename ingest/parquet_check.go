package ingest

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"

	"github.com/parquet-go/parquet-go/encoding/thrift"
	"github.com/parquet-go/parquet-go/format"
)

// maxPageBytes bounds one page of a Parquet column after decompression: writers
// make pages of about a megabyte.
const maxPageBytes = 128 << 20

// checkParquetFooter holds the length of the footer, in front of the last four
// bytes, against the file's: the library makes room for it first.
func checkParquetFooter(content []byte) error {
	const around = 4 + 4 + 4 // PAR1 at both ends, and the length
	if len(content) < around || !bytes.HasSuffix(content, []byte("PAR1")) {
		return errors.New("its end is missing")
	}
	if n := binary.LittleEndian.Uint32(content[len(content)-8:]); int64(n) > int64(len(content)-around) {
		return fmt.Errorf("its footer claims %d bytes", n)
	}
	return nil
}

// checkPages walks the page headers of a column chunk and refuses sizes and
// counts the chunk cannot hold: the Parquet library makes room for the size that a
// header states before it reads on, and a damaged one can state two gigabytes.
func checkPages(content []byte, chunk *format.ColumnMetaData, rows int64) error {
	start := chunk.DataPageOffset
	if d := chunk.DictionaryPageOffset; d > 0 && d < start {
		start = d
	}
	end := start + chunk.TotalCompressedSize
	if start < 4 || end < start || end > int64(len(content)) {
		return errors.New("its pages lie outside the file")
	}
	pages := content[start:end]
	reader := (&thrift.CompactProtocol{}).NewReaderFromBytes(nil) // takes no memory for what lies beyond its bytes
	decoder := thrift.NewDecoder(reader)
	var total, values int64
	for len(pages) > 0 {
		reader.ResetBytes(pages)
		var header format.PageHeader
		if err := decoder.Decode(&header); err != nil {
			return fmt.Errorf("a page header is damaged: %w", err)
		}
		pages = pages[reader.BytesRead():]
		packed, unpacked := int64(header.CompressedPageSize), int64(header.UncompressedPageSize)
		total += unpacked
		values += pageValues(&header)
		if packed < 0 || packed > int64(len(pages)) || unpacked < 0 || unpacked > maxPageBytes || total > maxContentBytes || values > rows {
			return fmt.Errorf("a page header is damaged: %d bytes, %d unpacked, %d values so far of %d rows", packed, unpacked, values, rows)
		}
		pages = pages[packed:]
	}
	return nil
}

// pageValues is how many cells a page says it has; a dictionary page has none,
// but as many entries as it likes within its bytes.
func pageValues(header *format.PageHeader) int64 {
	switch {
	case header.DataPageHeader.Valid:
		return int64(header.DataPageHeader.V.NumValues)
	case header.DataPageHeaderV2.Valid:
		return int64(header.DataPageHeaderV2.V.NumValues)
	}
	return 0
}
