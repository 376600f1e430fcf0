package archive

import (
	"bufio"
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"strconv"
	"strings"
	"sync"

	"github.com/klauspost/compress/zstd"
)

// A staged file is a sequence of records, one for each input:
//
//	SHA-256 of the rest in hex, a space, length of the rest
//	{"entry":...}     the head
//	a line of JSON for each flight, compressed with zstd
//
// so that an input is found and checked by its place in the file alone. Rows of a flight
// repeat names and hashes: they take a tenth of the room that way.

// errRecord is returned by readRecord for a record that is not as it was written.
var errRecord = errors.New("a record of it does not have the checksum before it")

// maxRecord bounds a record, in bytes: a day of 100 million samples has about a thousand flights.
const maxRecord = 1 << 30

// The encoder works at one core's expense; both may be used by several goroutines.
var recordCodec = sync.OnceValues(func() (*zstd.Encoder, *zstd.Decoder) {
	enc, _ := zstd.NewWriter(nil, zstd.WithEncoderConcurrency(1)) // fails on bad options alone
	dec, _ := zstd.NewReader(nil, zstd.WithDecoderMaxMemory(4*maxRecord))
	return enc, dec
})

// newRecord writes the rows of an input after its head.
func newRecord(head stagedHead, flights []flightRows) ([]byte, error) {
	if len(flights) == 0 {
		return headRecord(head, nil)
	}
	var lines bytes.Buffer
	rows := json.NewEncoder(&lines)
	rows.SetEscapeHTML(false)
	for i := range flights {
		if err := rows.Encode(&flights[i]); err != nil {
			return nil, err
		}
	}
	enc, _ := recordCodec()
	return headRecord(head, enc.EncodeAll(lines.Bytes(), nil))
}

// headRecord puts a head before rows that are compressed.
func headRecord(head any, rows []byte) ([]byte, error) {
	var body bytes.Buffer
	enc := json.NewEncoder(&body)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(head); err != nil {
		return nil, err
	}
	body.Write(rows)
	sum := sha256.Sum256(body.Bytes())
	return append(fmt.Appendf(nil, "%s %d\n", hex.EncodeToString(sum[:]), body.Len()), body.Bytes()...), nil
}

// readRecord reads the next record, and returns its checksum, the line of its head and its
// compressed rows. The error is io.EOF at the end, errRecord, or one of reading.
func readRecord(r *bufio.Reader) (sum string, head, rows []byte, err error) {
	line, err := r.ReadSlice('\n')
	if errors.Is(err, io.EOF) && len(line) == 0 {
		return "", nil, nil, io.EOF
	}
	if err != nil && !errors.Is(err, io.EOF) && !errors.Is(err, bufio.ErrBufferFull) {
		return "", nil, nil, err
	}
	sum, size, _ := strings.Cut(strings.TrimSuffix(string(line), "\n"), " ")
	length, _ := strconv.Atoi(size)
	if strconv.Itoa(length) != size || length > maxRecord {
		return "", nil, nil, errRecord
	}
	var body bytes.Buffer // grows with what is there, whatever the length says
	if _, err := io.CopyN(&body, r, int64(length)); err != nil {
		if errors.Is(err, io.EOF) {
			err = errRecord
		}
		return "", nil, nil, err
	}
	found := sha256.Sum256(body.Bytes())
	head, rows, ok := bytes.Cut(body.Bytes(), []byte("\n"))
	if !ok || hex.EncodeToString(found[:]) != sum {
		return "", nil, nil, errRecord
	}
	return sum, head, rows, nil
}

// eachRecord hands out the records of a staged file with their places in it. The error is
// errRecord, each's own or one of reading.
func eachRecord(path string, each func(at int64, sum string, head, rows []byte) error) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	defer f.Close()
	r := bufio.NewReaderSize(f, 64<<10)
	for at := int64(0); ; {
		sum, head, rows, err := readRecord(r)
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err == nil {
			err = each(at, sum, head, rows)
		}
		if err != nil {
			return err
		}
		length := len(head) + 1 + len(rows)
		at += int64(len(sum) + 1 + len(strconv.Itoa(length)) + 1 + length)
	}
}

// readStaged reads the record at a place of a staged file and hands its flights to each, where
// that is given; ok is false for a record that is damaged.
func readStaged(path string, at int64, each func(*flightRows) error) (head stagedHead, ok bool, err error) {
	f, err := os.Open(path)
	if err != nil {
		return head, false, err
	}
	defer f.Close()
	sum, line, rows, err := readRecord(bufio.NewReader(io.NewSectionReader(f, at, 1<<62)))
	if errors.Is(err, errRecord) || errors.Is(err, io.EOF) {
		return head, false, nil
	}
	if err != nil {
		return head, false, err
	}
	if json.Unmarshal(line, &head) != nil {
		return head, false, nil
	}
	head.sum = sum
	if each == nil || len(rows) == 0 {
		return head, true, nil
	}
	err = eachFlight(rows, each)
	return head, err == nil, err
}

// eachFlight hands out the flights of compressed rows.
func eachFlight(rows []byte, each func(*flightRows) error) error {
	_, codec := recordCodec()
	lines, err := codec.DecodeAll(rows, nil)
	if err != nil {
		return err
	}
	for dec := json.NewDecoder(bytes.NewReader(lines)); dec.More(); {
		var f flightRows
		if err := dec.Decode(&f); err != nil {
			return err
		}
		if err := each(&f); err != nil {
			return err
		}
	}
	return nil
}
