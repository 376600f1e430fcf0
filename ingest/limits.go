package ingest

// Nothing read is trusted: each limit is far above what a recorder or a readout
// step produces, and low enough that a damaged or hostile file is refused
// before it takes the machine down.
const (
	// maxContentBytes bounds a file after decompression: 2 GiB is some 500 flight
	// hours of wide CSV; gzip can otherwise grow a small file a thousand times.
	maxContentBytes = 2 << 30
	// maxColumns bounds the header: a full frame of a modern recorder has about
	// 3000 parameters.
	maxColumns = 10_000
	// maxHeaderLines bounds the search for the header below preamble lines.
	maxHeaderLines = 200
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
