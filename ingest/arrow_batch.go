package ingest

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"

	flatbuffers "github.com/google/flatbuffers/go"
	"github.com/klauspost/compress/zstd"

	"downlock/ingest/parquet"
)

// Field positions in the tables of a batch, from the format's published Message.fbs and
// File.fbs: 4 + 2 × the field's place.
const (
	footerDictionaries = 8
	footerBatches      = 10
	messageHeaderType  = 6
	messageHeader      = 8
	dictionaryData     = 6
	batchRows          = 4
	batchNodes         = 6
	batchBuffers       = 8
	batchCompression   = 10
	batchVariadic      = 12
	compressionCodec   = 4
)

// Values of enumerations, from the same.
const (
	headerDictionary = 2
	headerBatch      = 3
	codecLZ4         = 0
	codecZstd        = 1
)

// arrowBlock is a batch as the footer lists it: its message and its body in the file.
type arrowBlock struct{ message, body []byte }

// checkArrowBlocks holds the places of all batches against the file. A block takes 24 bytes:
// its offset, the size of its message, and that of its body.
func checkArrowBlocks(content []byte, root flatbuffers.Table, field flatbuffers.VOffsetT) (blocks []arrowBlock, err error) {
	at := flatbuffers.UOffsetT(root.Offset(field))
	if at == 0 {
		return nil, nil
	}
	n, start := root.VectorLen(at), root.Vector(at)
	if n < 0 || n > (len(root.Bytes)-int(start))/24 {
		return nil, errArrowFooter
	}
	for i := range n {
		block := root.Bytes[int(start)+24*i:]
		offset, message, body := int64(binary.LittleEndian.Uint64(block)), int64(int32(binary.LittleEndian.Uint32(block[8:]))), int64(binary.LittleEndian.Uint64(block[16:]))
		end := int64(len(content))
		if offset < 0 || offset > end || message < 8 || message > end-offset || body < 0 || body > end-offset-message {
			return nil, fmt.Errorf("its footer is damaged: batch %d of %d lies outside the file", i+1, n)
		}
		blocks = append(blocks, arrowBlock{content[offset : offset+message], content[offset+message : offset+message+body]})
	}
	return blocks, nil
}

// check holds the counts and sizes in the message of a batch against its body and against room,
// the bytes that are read of the file. It panics on offsets out of bounds.
func (b arrowBlock) check(room int64) error {
	batch, err := b.header()
	if err != nil {
		return err
	}
	if rows := batch.GetInt64Slot(batchRows, 0); rows < 0 || rows > maxRows {
		return fmt.Errorf("it claims %d rows; at most %d are read", rows, maxRows)
	}
	nodes, err := pairsAt(batch, batchNodes) // rows and nulls of a column
	if err != nil {
		return err
	}
	for i, node := range nodes {
		if rows, nulls := node[0], node[1]; rows < 0 || rows > math.MaxInt32 || nulls < -1 || nulls > rows {
			return fmt.Errorf("column %d claims %d cells and %d nulls", i+1, rows, nulls)
		}
	}
	buffers, err := pairsAt(batch, batchBuffers) // offset and size
	if err != nil {
		return err
	}
	codec := -1
	if compression, ok := tableAt(batch, batchCompression); ok {
		codec = int(compression.GetByteSlot(compressionCodec, codecLZ4))
	}
	for i, buffer := range buffers {
		offset, size := buffer[0], buffer[1]
		if offset < 0 || size < 0 || offset > int64(len(b.body)) || size > int64(len(b.body))-offset {
			return fmt.Errorf("buffer %d of %d lies outside it", i+1, len(buffers))
		}
		if codec >= 0 && size > 0 {
			if err := checkArrowBuffer(b.body[offset:offset+size], codec, room); err != nil {
				return fmt.Errorf("buffer %d of %d is damaged: %w", i+1, len(buffers), err)
			}
		}
	}
	return checkVariadic(batch, len(buffers))
}

// header returns the table of a batch of records, or of a dictionary's batch.
func (b arrowBlock) header() (batch flatbuffers.Table, err error) {
	metadata := b.message[4:]
	if binary.LittleEndian.Uint32(b.message) == math.MaxUint32 { // since version 0.15 of the format
		metadata = b.message[8:]
	}
	message := flatbuffers.Table{Bytes: metadata, Pos: flatbuffers.GetUOffsetT(metadata)}
	batch, ok := tableAt(message, messageHeader)
	if !ok {
		return batch, errors.New("it has no header")
	}
	switch kind := message.GetByteSlot(messageHeaderType, 0); kind {
	case headerBatch:
	case headerDictionary:
		if batch, ok = tableAt(batch, dictionaryData); !ok {
			return batch, errors.New("it has no data")
		}
	default:
		return batch, fmt.Errorf("a message of kind %d", kind)
	}
	return batch, nil
}

// checkArrowBuffer checks a packed buffer: its size unpacked, then the data.
func checkArrowBuffer(data []byte, codec int, room int64) error {
	if len(data) < 8 {
		return errors.New("it has no size")
	}
	size := int64(binary.LittleEndian.Uint64(data))
	if data = data[8:]; size == -1 { // it is not packed
		return nil
	}
	most := int64(len(data))
	switch codec {
	case codecLZ4:
		most = 255*most + 64 // a byte makes 255 at most
	case codecZstd:
		most = (most/4 + 1) * (128 << 10) // a block of four bytes makes 128 KiB at most
	default:
		return fmt.Errorf("codec %d is not supported", codec)
	}
	switch {
	case size < 0 || size > most:
		return fmt.Errorf("%d bytes that claim to unpack to %d", len(data), size)
	case size > room:
		return parquet.ErrTooLarge
	case codec == codecZstd:
		return checkZstdFrames(data, max(size, 8<<20))
	}
	return nil
}

// checkZstdFrames walks the frames and blocks of zstd data and refuses a window above a
// size: a decoder makes that much room. Source of the layout: RFC 8878, section 3.1.1.
func checkZstdFrames(data []byte, most int64) error {
	for len(data) > 0 {
		var header zstd.Header
		if err := header.Decode(data); err != nil {
			return err
		}
		window := header.WindowSize
		if header.SingleSegment {
			window = header.FrameContentSize
		}
		if window > uint64(most) || header.HeaderSize > len(data) {
			return fmt.Errorf("a window of %d bytes for data of at most %d", window, most)
		}
		data = data[header.HeaderSize:]
		if header.Skippable {
			if int64(header.SkippableSize) > int64(len(data)) {
				return errors.New("it ends too soon")
			}
			data = data[header.SkippableSize:]
			continue
		}
		for last := false; !last; {
			if len(data) < 3 {
				return errors.New("it ends too soon")
			}
			block := int(data[0]) | int(data[1])<<8 | int(data[2])<<16
			size := block >> 3
			if block>>1&3 == 1 { // one byte, repeated
				size = 1
			}
			if last = block&1 == 1; size > len(data)-3 {
				return errors.New("it ends too soon")
			}
			data = data[3+size:]
		}
		if header.HasCheckSum {
			if len(data) < 4 {
				return errors.New("it ends too soon")
			}
			data = data[4:]
		}
	}
	return nil
}

// checkVariadic checks the counts of further buffers that columns of views have.
func checkVariadic(batch flatbuffers.Table, buffers int) error {
	at := flatbuffers.UOffsetT(batch.Offset(batchVariadic))
	if at == 0 {
		return nil
	}
	n, start := batch.VectorLen(at), int(batch.Vector(at))
	if n < 0 || n > (len(batch.Bytes)-start)/8 {
		return errors.New("more counts of buffers than it has room for")
	}
	for i := range n {
		if count := binary.LittleEndian.Uint64(batch.Bytes[start+8*i:]); count > uint64(buffers) {
			return fmt.Errorf("a column of %d buffers where the batch has %d", count, buffers)
		}
	}
	return nil
}

func tableAt(of flatbuffers.Table, field flatbuffers.VOffsetT) (table flatbuffers.Table, ok bool) {
	at := of.Offset(field)
	if at == 0 {
		return table, false
	}
	return flatbuffers.Table{Bytes: of.Bytes, Pos: of.Indirect(of.Pos + flatbuffers.UOffsetT(at))}, true
}

// pairsAt returns a list of structs of two numbers.
func pairsAt(of flatbuffers.Table, field flatbuffers.VOffsetT) (pairs [][2]int64, err error) {
	at := flatbuffers.UOffsetT(of.Offset(field))
	if at == 0 {
		return nil, nil
	}
	n, start := of.VectorLen(at), int(of.Vector(at))
	if n < 0 || n > (len(of.Bytes)-start)/16 {
		return nil, fmt.Errorf("a list of %d entries it has no room for", n)
	}
	for i := range n {
		entry := of.Bytes[start+16*i:]
		pairs = append(pairs, [2]int64{int64(binary.LittleEndian.Uint64(entry)), int64(binary.LittleEndian.Uint64(entry[8:]))})
	}
	return pairs, nil
}
