// Package identity withholds the identity of flights and keeps results comparable.
//
// Everything that identifies a flight (the name and path of a recording, its hash, size
// and times, the registration, a reviewer's name) becomes a token: an HMAC-SHA-256 under
// a key. Only the holder of the key can make a token, and a text always has the same
// token under one key. A fleet can therefore be trended by aircraft and month, while the
// results do not show whose flight it was. EASA AMC1 ORO.AOC.130 and ICAO Annex 19 ask
// for such confidentiality (from memory). Dates become months; times of day and
// positions are left out.
//
// Identity is withheld in two places: after a recording has been read and before
// anything is found in it, and where an error leaves an input. Later code cannot reveal
// a name that it does not know. This is not anonymity: whoever holds a recording can
// compare its values with a report.
//
// A nil Key withholds nothing, so callers need not check.
package identity

import (
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base32"
	"encoding/binary"
	"encoding/hex"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"downlock/schemas"
)

// Key makes tokens. No format prints it.
type Key struct{ secret []byte }

// Format keeps the key out of messages.
func (k *Key) Format(s fmt.State, _ rune) { io.WriteString(s, "key withheld") }

const (
	minKeyBytes = 16      // 128 bits, if chosen at random
	maxKeyBytes = 4 << 10 // a larger file is not meant for this
)

// ReadKey reads a key file. Every byte counts. warning is not empty if others may read
// the file too. The error is a schemas.Problem.
func ReadKey(path string) (key *Key, warning string, err error) {
	problem := func(cause string) error {
		return &schemas.Problem{File: path, Cause: cause,
			Hint: fmt.Sprintf("make one with `head -c 32 /dev/urandom >%s && chmod 600 %s`, and keep it: other tokens come of another key", path, path)}
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, "", problem("is not a key file that can be read: " + withoutPath(err).Error())
	}
	defer f.Close()
	info, err := f.Stat()
	if err == nil && info.IsDir() {
		return nil, "", problem("is a folder, no key file")
	}
	secret, err := io.ReadAll(io.LimitReader(f, maxKeyBytes+1))
	switch {
	case err != nil:
		return nil, "", problem("is not a key file that can be read: " + withoutPath(err).Error())
	case len(secret) < minKeyBytes:
		return nil, "", problem(fmt.Sprintf("has %d bytes; a key has at least %d", len(secret), minKeyBytes))
	case len(secret) > maxKeyBytes:
		return nil, "", problem(fmt.Sprintf("has more than %d bytes: this is not a key file", maxKeyBytes))
	}
	if info != nil && info.Mode().IsRegular() && info.Mode().Perm()&0o077 != 0 {
		warning = path + ": others may read this key, and with it find out whose flight a report is; `chmod 600` keeps them from it"
	}
	return &Key{secret}, warning, nil
}

// Kind is the kind of thing a token stands for. A token begins with its letter.
type Kind string

const (
	Aircraft  Kind = "a" // a registration
	Recording Kind = "r" // the base name of a recording
	Folder    Kind = "d" // the folder of a recording
	Profile   Kind = "p" // the file of a profile
	Person    Kind = "n" // a reviewer's name
	Place     Kind = "l" // an aerodrome
)

// letters are those of base32 in lower case. Tokens become names of folders, and some
// file systems treat A and a as the same.
var letters = base32.NewEncoding("abcdefghijklmnopqrstuvwxyz234567").WithPadding(base32.NoPadding)

// tokenLength is in letters of five bits. The chance that two of ten million tokens of a
// kind are equal is 4 in 100,000.
const tokenLength = 12

// Token returns the token of a text of a kind, such as r-xxxxxxxxxxxx, and "" for "".
func (k *Key) Token(kind Kind, text string) string {
	if k == nil || text == "" {
		return text
	}
	return string(kind) + "-" + letters.EncodeToString(k.mac("token "+string(kind), text))[:tokenLength]
}

// Path returns the tokens of an absolute path: one of its folder and one of its base
// name.
func (k *Key) Path(path string) string {
	if k == nil {
		return path
	}
	return k.Token(Folder, filepath.Dir(path)) + "/" + k.Token(Recording, filepath.Base(path))
}

// Sum returns the token of a SHA-256 in hex, in the same form.
func (k *Key) Sum(sum string) string {
	if k == nil || sum == "" {
		return sum
	}
	return hex.EncodeToString(k.mac("sum", sum))
}

// Number returns the token of a number that is only compared, such as the size or the
// time of a file: 0 for 0, else a number above 0.
func (k *Key) Number(n int64) int64 {
	if k == nil || n == 0 {
		return n
	}
	return int64(binary.BigEndian.Uint64(k.mac("number", fmt.Sprint(n)))>>1) | 1
}

// Check returns a text by which an archive recognises the key. It reveals nothing
// about the key.
func (k *Key) Check() string {
	if k == nil {
		return ""
	}
	return hex.EncodeToString(k.mac("check", "")[:16])
}

func (k *Key) mac(kind, text string) []byte {
	h := hmac.New(sha256.New, k.secret)
	fmt.Fprintf(h, "downlock %s %s", kind, text)
	return h.Sum(nil)
}
