package ingest

import "time"

// Nothing read is trusted: each limit is far above the output of a recorder or a readout
// step, and low enough that a damaged or hostile file is refused
// before it takes the machine down.
const (
	// DefaultMaxBytes bounds an export after unpacking: 2 GiB is some 500 flight
	// hours of wide CSV; gzip can otherwise grow a small file a thousand times.
	DefaultMaxBytes = 2 << 30
	// maxContentBytes bounds content kept in memory as a whole, whatever the limit of
	// the caller: Parquet, Arrow and MATLAB files, and zip archives.
	maxContentBytes = 2 << 30
	// maxSamples bounds the samples that are in memory unpacked: of one export, or of
	// one flight or one parameter of an export that is packed. A cell of two bytes
	// becomes a sample of sixteen, so a limit on bytes alone would let 2 GiB of text
	// take 16 GiB: 70 million samples are 390 h of 50 samples a second.
	maxSamples = 70_000_000
	// SampleBytes is the room in bytes that a sample takes in use: its time, value, accuracy and
	// bounds, and a tenth for conditions and what the collector has not found yet.
	SampleBytes = 44
	// ManySamples is how many samples make a recording large enough to be packed: 8 Mi,
	// which take 128 MiB, are four and a half hours of 64 parameters at 8 Hz.
	ManySamples = 8 << 20
	// maxPackedBytes bounds a packed recording. Most numbers take one or two bytes and
	// a discrete nearly none.
	maxPackedBytes = 1 << 30
	// maxColumns bounds the header: a full frame of a modern recorder has about
	// 3000 parameters.
	maxColumns = 10_000
	// maxHeaderLines bounds the search for the header below preamble lines.
	maxHeaderLines = 200
	// maxHeadBytes bounds the part of a text that is looked at more than once, for
	// header, units and decimal mark.
	maxHeadBytes = 4 << 20
	// maxLineBytes bounds one line: maxColumns cells of a hundred characters.
	maxLineBytes = 1 << 20
	// maxNameBytes bounds a column name that is suggested: a profile's own are
	// at most this long.
	maxNameBytes = 200
	// maxQuotedLines bounds how many lines one quoted cell may run over, so that
	// a stray quote costs a message and not the rest of the file.
	maxQuotedLines = 50
	// maxRows bounds a Parquet or Arrow file, whose compressed pages can claim
	// any number of rows: 50 million is 1700 h at 8 rows a second.
	maxRows = 50_000_000
	// maxNames bounds how many parameter names of a long export are remembered.
	maxNames = 10_000
	// maxListed is how many column names a message lists.
	maxListed = 20
	// maxSource bounds the source line a message repeats, in characters.
	maxSource = 160
)

// Limits bounds the reading of one export. The zero value holds the defaults.
type Limits struct {
	// MaxBytes is the largest export that is read, in bytes after unpacking; 0:
	// DefaultMaxBytes. A CSV export is read in pieces and takes little more memory
	// than the samples kept of it, as is the sheet of a workbook, whose file is held as a
	// whole; the other formats are read as a whole, of at
	// most 2 GiB. Reading takes at most 1 GiB of memory beside the limit, whatever the
	// file claims, if the collector is asked to keep to that.
	MaxBytes int64
	// PackAbove is how many samples a recording may have before it is kept packed, in
	// a fraction of the memory: see Series and Recording.Between. Such a recording is
	// refused for its packed size and for the samples of one parameter or flight, not
	// for all of them. 0: none is packed.
	PackAbove int
	// Date is that of the first row of an export that has a clock and no date of its
	// own; zero: not given. It goes before the date in a file's name.
	Date time.Time
}

func (l Limits) maxBytes() int64 {
	if l.MaxBytes <= 0 {
		return DefaultMaxBytes
	}
	return l.MaxBytes
}

// roomBeside is what a columnar file may unpack to beside the limit: a small one is never
// refused because its numbers take more room than it does.
const roomBeside = 64 << 20

// room is how many bytes the pages of a columnar file may unpack to.
func (r *reading) room() int64 {
	limit := int64(maxContentBytes)
	if r.limit > 0 {
		limit = min(limit, r.limit)
	}
	return limit + roomBeside
}
