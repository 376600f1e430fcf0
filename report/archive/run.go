package archive

import (
	"time"

	"downlock/detect"
	"downlock/report/identity"
	"downlock/schemas"
)

// Run is the part of a run that the archive notes beside the rows and the inputs, and
// that says how it writes.
type Run struct {
	Began   time.Time
	Version string // of downlock
	Profile *schemas.Profile
	// FileDate is the SHA-256, in hex, of the pattern of file names that goes before the
	// profile's; "" without one.
	FileDate string
	Packs    []detect.Pack
	// Aerodromes is the SHA-256, in hex, of the list that names aerodromes; "" without
	// one.
	Aerodromes string
	Identity   *identity.Key // withholds names and dates; nil where nothing is withheld
	Share      bool          // others may read what is written, as the umask says
	// Work is what the run does, for others that find the archive taken; "" for a scan.
	Work string
}
