package review

import (
	"crypto/sha256"
	"encoding/hex"
	"strings"
	"time"

	"downlock/schemas"
)

// Carried reports whether every sound verdict on one event was carried to another.
func Carried(archive, from, to string) (bool, error) {
	left, _, err := uncarried(archive, from, to)
	return len(left) == 0, err
}

// Carry adds the verdicts on one event to another, as they are: by whom, when, and on
// which evidence. It leaves those it reads where they are, adds none twice, and returns
// the paths of the files it made. Damaged files are left out and listed.
func Carry(archive, from, to string, share bool) (paths []string, damaged schemas.Problems, err error) {
	left, damaged, err := uncarried(archive, from, to)
	for _, f := range left {
		v := f.Verdict
		v.Event = to
		text, err := encode(to, v, verdictForm)
		if err != nil {
			return paths, damaged, err
		}
		path, err := writeNamed(archive, to, stemOf(f), text, verdictForm, share)
		if err != nil {
			return paths, damaged, err
		}
		paths = append(paths, path)
	}
	return paths, damaged, err
}

// uncarried lists the verdicts on one event that the other does not have.
func uncarried(archive, from, to string) (left []File, damaged schemas.Problems, err error) {
	list, damaged, err := Files(archive, from)
	if err != nil {
		return nil, damaged, err
	}
	there, _, err := Files(archive, to)
	if err != nil {
		return nil, damaged, err
	}
	known := map[string]bool{}
	for _, f := range there {
		known[stemOf(f)] = true
	}
	for _, f := range list {
		if !known[stemOf(f)] {
			left = append(left, f)
		}
	}
	return left, damaged, nil
}

// stemOf is the time and the random digits that the name of a verdict's file begins with:
// those of a carried one are the same. A file that was named otherwise has digits of its
// name.
func stemOf(f File) string {
	stamp, digits, _ := strings.Cut(f.Name, "-")
	if _, err := time.Parse(nameTime, stamp); err == nil && len(digits) >= checkLength {
		return stamp + "-" + digits[:checkLength]
	}
	sum := sha256.Sum256([]byte(f.Name))
	return f.At.UTC().Format(nameTime) + "-" + hex.EncodeToString(sum[:])[:checkLength]
}
