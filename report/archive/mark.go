package archive

import (
	"encoding/json"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"downlock/report/identity"
	"downlock/schemas"
)

// An archive is identified or not as a whole, and under one key: names beside
// tokens would betray the tokens, and another key would count every
// flight twice. The list of checksums has a copy of it, so that it is missed when it is
// lost. The file says that identity is withheld, and a check of the key
// that tells nothing about it; an identified archive has none.
const (
	markName  = "identity"
	markText  = "identity withheld; key check "
	maxMark   = 200
	otherHint = "scan into an archive of its own, or with the key this one was begun with"
)

// Withheld returns the key check of an archive whose identities are withheld, ""
// for one with names. The error is a schemas.Problem, or one of reading.
func Withheld(dir string) (check string, err error) {
	path := filepath.Join(dir, markName)
	f, err := os.Open(path)
	var text []byte
	switch {
	case err == nil:
		defer f.Close()
		text, err = io.ReadAll(io.LimitReader(f, maxMark))
	case errors.Is(err, fs.ErrNotExist):
		err = nil
	}
	if err != nil {
		return "", err
	}
	list, err := readChecksums(filepath.Join(dir, checksumsName))
	switch {
	case err != nil:
		return "", err
	case list != nil && list.Identity != string(text):
		return "", damaged(path, errors.New("the file is missing, or it is not that of this archive, in which identity is withheld"))
	case f == nil && list == nil:
		return "", noTokens(dir)
	case f == nil:
		return "", nil
	}
	check, ok := strings.CutPrefix(strings.TrimSpace(string(text)), markText)
	if !ok || check == "" {
		return "", damaged(path, errors.New("it should say whether identity is withheld"))
	}
	return check, nil
}

// noTokens makes sure that an archive without the file and without a list of checksums
// holds names: the path of an input in its ledger is an absolute one, not tokens.
func noTokens(dir string) error {
	shards, err := shardsOf(dir, "inputs")
	if err != nil || len(shards) == 0 {
		return err
	}
	line, err := firstLine(filepath.Join(dir, shards[0]))
	if err != nil {
		return err
	}
	var first inputEntry
	if json.Unmarshal(line, &first) == nil && first.Path != "" && !filepath.IsAbs(first.Path) {
		return damaged(filepath.Join(dir, markName), errors.New("the file is missing, and the ledger holds tokens in place of names"))
	}
	return nil
}

// CheckKey holds a key, nil for none, against the one the archive was begun with.
func CheckKey(dir string, key *identity.Key) error {
	check, err := Withheld(dir)
	if err != nil {
		return err
	}
	switch {
	case check == key.Check():
		return nil
	case key == nil:
		return &schemas.Problem{File: dir, Cause: "identity is withheld in this archive, and not in this run", Hint: "use --deidentify with the key it was begun with"}
	case check == "" && !begun(dir):
		return nil
	case check == "":
		return &schemas.Problem{File: dir, Cause: "this archive holds names and dates, which --deidentify would put beside their tokens", Hint: otherHint}
	}
	return &schemas.Problem{File: dir, Cause: "this archive was begun with another key", Hint: otherHint}
}

// begun reports whether anything was ever written into the archive.
func begun(dir string) bool {
	for _, name := range []string{tablesFolder, ledgerFolder, stagingFolder} {
		if _, err := os.Lstat(filepath.Join(dir, name)); err == nil {
			return true
		}
	}
	return false
}

// mark checks the key and, in an archive that begins, notes it.
func (a *Archive) mark() error {
	key := a.run.Identity
	if err := CheckKey(a.dir, key); err != nil || key == nil || begun(a.dir) {
		return err
	}
	return a.keep(nil, keptFile{markName, []byte(markText + key.Check() + "\n")})
}
