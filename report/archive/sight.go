package archive

import (
	"crypto/sha256"
	"encoding/hex"
	"io"
	"os"
	"strings"
	"time"

	"downlock/ingest"
	"downlock/ingest/objects"
	"downlock/schemas"
)

// Sight is what a file system or an object store says of an input: enough to see that it was
// changed without reading it. A store has an ETag, which changes with the content, in place of times.
type Sight struct {
	Size     int64
	Modified int64  // ns since 1970
	Changed  int64  // ns since 1970: of the file's own record, which nobody can set back; 0 where the system has none
	ETag     string `json:",omitempty"` // of several objects, one after another
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

// Look asks the file system, or the store, about an input.
func (in Input) Look() (Sight, error) { return in.Sight(Look) }

// Sight puts the sights of the files of an input together: the sizes added up, the latest of
// the times, and the ETags.
func (in Input) Sight(of func(path string) (Sight, error)) (s Sight, err error) {
	var etags []string
	for _, path := range in.Files {
		one, err := of(path)
		if err != nil {
			return Sight{}, err
		}
		s.Size += one.Size
		s.Modified = max(s.Modified, one.Modified)
		s.Changed = max(s.Changed, one.Changed)
		if one.ETag != "" {
			etags = append(etags, one.ETag)
		}
	}
	s.ETag = strings.Join(etags, " ")
	return s, nil
}

// Look asks about a file or an object.
func Look(path string) (Sight, error) {
	if schemas.IsObject(path) {
		o, err := objects.Stat(path)
		return SightOf(o), err
	}
	info, err := os.Stat(path)
	if err != nil {
		return Sight{}, err
	}
	return Sight{Size: info.Size(), Modified: info.ModTime().UnixNano(), Changed: changeTime(info)}, nil
}

// SightOf is the sight of an object.
func SightOf(o objects.Object) Sight { return Sight{Size: o.Size, ETag: o.ETag} }

// tells reports whether an input that has the sight once more is the same: that of a file which was
// not at rest has no time.
func (s Sight) tells() bool { return s.Modified != 0 || s.ETag != "" }

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
		f, _, err := ingest.Open(path)
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
