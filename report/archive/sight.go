package archive

import (
	"crypto/sha256"
	"encoding/hex"
	"io"
	"os"
	"time"
)

// Sight is what the file system says about an input: enough to see that it was
// changed without reading it.
type Sight struct {
	Size     int64
	Modified int64 // ns since 1970
	Changed  int64 // ns since 1970: of the file's own record, which nobody can set back; 0 where the system has none
}

// Look asks the file system about an input.
func Look(path string) (Sight, error) {
	info, err := os.Stat(path)
	if err != nil {
		return Sight{}, err
	}
	return Sight{Size: info.Size(), Modified: info.ModTime().UnixNano(), Changed: changeTime(info)}, nil
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

// fileSum is the SHA-256 of a file, in hex.
func fileSum(path string) (string, error) {
	f, err := os.Open(path)
	if err != nil {
		return "", err
	}
	defer f.Close()
	h := sha256.New()
	if _, err := io.Copy(h, f); err != nil {
		return "", err
	}
	return hex.EncodeToString(h.Sum(nil)), nil
}
