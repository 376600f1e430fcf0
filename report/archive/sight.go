package archive

import (
	"crypto/sha256"
	"encoding/hex"
	"io"
	"os"
	"time"
)

// Sight is the file system's entry of an input: enough to see that it was
// changed without reading it.
type Sight struct {
	Size     int64
	Modified int64 // ns since 1970
	Changed  int64 // ns since 1970: of the file's own record, which nobody can set back; 0 where the system has none
}

// Input is one thing to scan: a file, or the files that are parts of one
// recording, in their order. Path is its name: the part that the paths of its parts
// have in common or, where identity is withheld, the tokens of it. Run is the one it is
// scanned in where its profile is another than that of the archive's run, else nil.
type Input struct {
	Path  string
	Files []string
	Run   *Run
}

// Look asks the file system about an input: the sizes of its files added up, the
// latest of their times.
func (in Input) Look() (Sight, error) {
	var s Sight
	for _, path := range in.Files {
		info, err := os.Stat(path)
		if err != nil {
			return Sight{}, err
		}
		s.Size += info.Size()
		s.Modified = max(s.Modified, info.ModTime().UnixNano())
		s.Changed = max(s.Changed, changeTime(info))
	}
	return s, nil
}

// restTime is how long a file must have been at rest when it was read for its
// times to be trusted. A change within one tick of the file system's clock (2 s
// on the coarsest, from memory) leaves the times as they were.
const restTime = 2 * time.Second

// atRest reports whether the times can be trusted; those of a file from the
// future, where the clock was set back, never are.
func (s Sight) atRest(now time.Time) bool {
	return max(s.Modified, s.Changed) < now.Add(-restTime).UnixNano()
}

// sum is the SHA-256 of the files one after another, in hex, as a recording has
// it.
func (in Input) sum() (string, error) {
	h := sha256.New()
	for _, path := range in.Files {
		f, err := os.Open(path)
		if err != nil {
			return "", err
		}
		_, err = io.Copy(h, f)
		f.Close()
		if err != nil {
			return "", err
		}
	}
	return hex.EncodeToString(h.Sum(nil)), nil
}
