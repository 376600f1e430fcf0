package parquet

import (
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"iter"

	"github.com/parquet-go/parquet-go/encoding"
	"github.com/parquet-go/parquet-go/encoding/thrift"
	"github.com/parquet-go/parquet-go/format"
)

// plainDictionary is how older writers name the encodings of a dictionary and of the places in
// it (Encodings.md, PLAIN_DICTIONARY = 2).
const plainDictionary format.Encoding = 2

// Page is a page of a column, valid until the next one.
type Page struct {
	// Values are those that are no nulls, Present in all. If the page is Indexed, its
	// cells are Places in the dictionary instead, and Values is not set.
	Values  encoding.Values
	Indexed bool
	Places  []int32
	Present int
	// Levels is 1 for a cell that is present, 0 for a null; nil where no cell is null.
	Levels []uint8
	// Dictionary says that Values are those that the places of later pages refer to. It
	// has no cells.
	Dictionary bool
}

// Pages walks the pages of a column in a row group. All together have a cell for each of
// its rows. The last page may come with an error.
func (f *File) Pages(column *Column, group int) iter.Seq2[*Page, error] {
	return func(yield func(*Page, error) bool) {
		w, err := f.openChunk(column, group)
		if err != nil {
			yield(nil, fmt.Errorf("row group %d: %w", group+1, err))
			return
		}
		for n := 1; len(w.pages) > 0; n++ {
			page, err := w.next()
			if errors.Is(err, ErrTooLarge) {
				yield(nil, err)
				return
			}
			if err != nil {
				err = fmt.Errorf("row group %d, page %d: %w", group+1, n, err)
			}
			if page == nil && err == nil { // of another kind
				continue
			}
			if !yield(page, err) || err != nil {
				return
			}
		}
		if w.left != 0 {
			yield(nil, fmt.Errorf("row group %d: its pages lack %d of %d cells", group+1, w.left, f.GroupRows(group)))
		}
	}
}

// chunkWalk walks the pages of a column in a row group.
type chunkWalk struct {
	file     *File
	column   *Column
	about    *format.ColumnMetaData
	pages    []byte // that follow
	left     int64  // cells that follow
	distinct int    // entries of the dictionary
	indexed  bool   // there is one
}

func (f *File) openChunk(column *Column, group int) (*chunkWalk, error) {
	chunk := &f.about.RowGroups[group].Columns[column.place]
	about := &chunk.MetaData
	switch {
	case chunk.FilePath != "":
		return nil, errors.New("its pages lie in another file")
	case chunk.CryptoMetadata.Value != nil:
		return nil, errors.New("its pages are encrypted")
	case about.Type != column.Kind:
		return nil, fmt.Errorf("its pages are of type %s, the column is %s", about.Type, column.Kind)
	}
	start := about.DataPageOffset
	if d := about.DictionaryPageOffset; d > 0 && d < start {
		start = d
	}
	end := start + about.TotalCompressedSize
	if start < 4 || end < start || end > int64(len(f.content)) {
		return nil, errors.New("its pages lie outside the file")
	}
	if group == 0 { // it may be read again
		f.total -= f.sizes[column.place]
		f.sizes[column.place] = 0
	}
	return &chunkWalk{file: f, column: column, about: about, pages: f.content[start:end], left: f.GroupRows(group)}, nil
}

// next reads the next page; nil for one that has no values.
func (w *chunkWalk) next() (*Page, error) {
	size, err := checkThrift(w.pages)
	if err != nil {
		return nil, fmt.Errorf("its header is damaged: %w", err)
	}
	var header format.PageHeader
	d := &w.file.page
	if err := d.decodeHeader(w.pages[:size], &header); err != nil {
		return nil, fmt.Errorf("its header is damaged: %w", err)
	}
	w.pages = w.pages[size:]
	packed, unpacked := int64(header.CompressedPageSize), int64(header.UncompressedPageSize)
	if packed < 0 || packed > int64(len(w.pages)) || unpacked < 0 || unpacked > maxPageBytes {
		return nil, fmt.Errorf("its header is damaged: %d bytes of %d, %d unpacked", packed, len(w.pages), unpacked)
	}
	data := w.pages[:packed]
	w.pages = w.pages[packed:]
	if header.CRC != 0 && uint32(header.CRC) != crc32.ChecksumIEEE(data) {
		return nil, errors.New("its checksum does not match its data")
	}
	if err := w.file.count(w.column, unpacked); err != nil {
		return nil, err
	}
	switch {
	case header.Type == format.DictionaryPage && header.DictionaryPageHeader.Valid:
		return w.dictionary(&header.DictionaryPageHeader.V, data, int(unpacked))
	case header.Type == format.DataPage && header.DataPageHeader.Valid:
		return w.first(&header.DataPageHeader.V, data, int(unpacked))
	case header.Type == format.DataPageV2 && header.DataPageHeaderV2.Valid:
		return w.second(&header.DataPageHeaderV2.V, data, int(unpacked))
	case header.Type == format.IndexPage:
		return nil, nil
	}
	return nil, fmt.Errorf("its header is damaged: a page of type %d", header.Type)
}

// count adds to the bytes unpacked so far, of the pages of all columns.
func (f *File) count(column *Column, bytes int64) error {
	f.sizes[column.place] += bytes
	if f.total += bytes; f.total > f.limit {
		return ErrTooLarge
	}
	return nil
}

func (w *chunkWalk) dictionary(header *format.DictionaryPageHeader, data []byte, size int) (*Page, error) {
	if w.indexed {
		return nil, errors.New("a second dictionary")
	}
	plain, err := w.file.page.unpack(w.about.Codec, data, size)
	if err != nil {
		return nil, err
	}
	n := int(header.NumValues)
	if header.Encoding != format.Plain && header.Encoding != plainDictionary {
		return nil, fmt.Errorf("a dictionary in the encoding %s", header.Encoding)
	}
	w.indexed, w.distinct = true, n
	page := &Page{Present: n, Dictionary: true}
	page.Values, err = w.file.page.values(w.column.Kind, format.Plain, plain, n)
	return page, err
}

// cells takes the cells of a page off those that follow.
func (w *chunkWalk) cells(n int32) (int, error) {
	if n < 0 || int64(n) > w.left {
		return 0, fmt.Errorf("its header is damaged: %d cells where %d are left", n, w.left)
	}
	w.left -= int64(n)
	return int(n), nil
}

// first reads a page of the first version: levels and values are packed together.
func (w *chunkWalk) first(header *format.DataPageHeader, data []byte, size int) (*Page, error) {
	n, err := w.cells(header.NumValues)
	if err != nil {
		return nil, err
	}
	plain, err := w.file.page.unpack(w.about.Codec, data, size)
	if err != nil {
		return nil, err
	}
	var levels []byte
	if w.column.optional {
		if header.DefinitionLevelEncoding != format.RLE {
			return nil, fmt.Errorf("levels in the encoding %s are not supported", header.DefinitionLevelEncoding)
		}
		if len(plain) < 4 || int64(binary.LittleEndian.Uint32(plain)) > int64(len(plain)-4) {
			return nil, errors.New("its levels are longer than the page")
		}
		end := 4 + int(binary.LittleEndian.Uint32(plain))
		levels, plain = plain[4:end], plain[end:]
	}
	return w.page(header.Encoding, levels, plain, n)
}

// second reads a page of the second version: the levels are not packed.
func (w *chunkWalk) second(header *format.DataPageHeaderV2, data []byte, size int) (*Page, error) {
	n, err := w.cells(header.NumValues)
	if err != nil {
		return nil, err
	}
	repetition, definition := int64(header.RepetitionLevelsByteLength), int64(header.DefinitionLevelsByteLength)
	if repetition < 0 || definition < 0 || repetition+definition > int64(min(len(data), size)) {
		return nil, errors.New("its levels are longer than the page")
	}
	levels := data[repetition : repetition+definition]
	data, size = data[repetition+definition:], size-int(repetition+definition)
	codec := w.about.Codec
	if header.IsCompressed.Valid && !header.IsCompressed.V {
		codec = format.Uncompressed
	}
	plain, err := w.file.page.unpack(codec, data, size)
	if err != nil {
		return nil, err
	}
	page, err := w.page(header.Encoding, levels, plain, n)
	if err == nil && n-page.Present != int(header.NumNulls) {
		err = fmt.Errorf("%d nulls where its header says %d", n-page.Present, header.NumNulls)
	}
	return page, err
}

// page decodes levels and values.
func (w *chunkWalk) page(enc format.Encoding, levels, plain []byte, n int) (page *Page, err error) {
	d := &w.file.page
	page = &Page{Present: n}
	if w.column.optional {
		if page.Levels, page.Present, err = d.presence(levels, n); err != nil {
			return nil, fmt.Errorf("its levels are damaged: %w", err)
		}
	}
	page.Indexed = enc == plainDictionary || enc == format.RLEDictionary
	if !page.Indexed {
		page.Values, err = d.values(w.column.Kind, enc, plain, page.Present)
	} else if !w.indexed {
		err = errors.New("it refers to a dictionary, and there is none before it")
	} else {
		page.Places, err = d.places(plain, page.Present, w.distinct)
	}
	if err != nil {
		return nil, fmt.Errorf("its %s values are damaged: %w", enc, err)
	}
	return page, nil
}

func (d *decoder) decodeHeader(data []byte, header *format.PageHeader) error {
	if d.header == nil {
		d.header = (&thrift.CompactProtocol{}).NewReaderFromBytes(nil)
		d.thrift = thrift.NewDecoder(d.header)
	}
	d.header.ResetBytes(data)
	return d.thrift.Decode(header)
}
