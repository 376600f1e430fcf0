package report

import (
	"crypto/sha256"
	"encoding/hex"
	"strconv"
	"strings"
)

// maxFolderName is the longest part of a folder's name that comes from the
// recording's: file systems allow 255 bytes, some tools choke on paths of 260.
const maxFolderName = 80

// flightFolder names the folder of a flight after its recording. A name that
// is no plain file name is made one and gets a piece of its hash, so that two
// names never share a folder. The mark before a hash is a tilde, which no plain
// name here may hold.
func flightFolder(run *Run, recording, hash string, number int) string {
	name := plainName(recording)
	if name != recording {
		sum := sha256.Sum256([]byte(recording))
		name += "~" + hex.EncodeToString(sum[:4])
	}
	if run.RepeatedNames[recording] {
		name += "~" + plainName(hash)[:min(8, len(plainName(hash)))]
	}
	return name + "-flight-" + strconv.Itoa(number)
}

// plainName keeps lower-case ASCII letters, digits, dot, dash and underscore,
// none but a letter or digit first. Upper case is changed because some file
// systems take A and a for the same file.
func plainName(name string) string {
	var b strings.Builder
	for _, r := range strings.ToLower(name) {
		switch {
		case r >= 'a' && r <= 'z' || r >= '0' && r <= '9' || r == '.' || r == '-' || r == '_':
			b.WriteRune(r)
		default:
			b.WriteByte('-')
		}
		if b.Len() == maxFolderName {
			break
		}
	}
	plain := strings.Trim(b.String(), ".-_")
	for strings.Contains(plain, "..") {
		plain = strings.ReplaceAll(plain, "..", ".")
	}
	if plain == "" {
		plain = "recording"
	}
	return plain
}
