package archive

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
)

// inputEntry is the entry of one input in the ledger: its content, the settings it was
// scanned with, and the outcome.
type inputEntry struct {
	Key  string `json:"key"`  // of the path, see inputKey
	Path string `json:"path"` // for people; broken letters replaced
	// Size and times of the file as it was read; times 0 where it had not been at
	// rest for long enough to trust them.
	Size     int64  `json:"size"`
	Modified int64  `json:"modified_ns"`
	Changed  int64  `json:"changed_ns"`
	ETag     string `json:"etag,omitempty"` // of an object
	SHA256   string `json:"sha256"`         // of the bytes last tried; "" where they could not be read
	// Recording is the one whose rows the tables hold for this path: after a
	// failure still the one before.
	Recording string   `json:"recording"`
	Profile   string   `json:"profile"`
	Packs     []string `json:"packs"`
	// Registration, FileDate and Aerodromes, as in Run, are what else rows depend on.
	Registration string     `json:"registration,omitempty"`
	FileDate     string     `json:"file_date,omitempty"`
	Aerodromes   string     `json:"aerodromes,omitempty"`
	Version      string     `json:"version"`
	Outcome      outcomeTag `json:"outcome"`
	Cause        string     `json:"cause,omitempty"` // of a failure
	Flights      int        `json:"flights"`
}

type outcomeTag string

const (
	done   outcomeTag = "done"
	failed outcomeTag = "failed"
)

// recordingEntry is the entry of one recording in the ledger: which inputs hold
// it and in which months its rows are.
type recordingEntry struct {
	Key     string   `json:"key"` // SHA-256
	Holders []holder `json:"holders"`
	Months  []string `json:"months"`
}

type holder struct {
	Input string `json:"input"` // key
	Name  string `json:"name"`  // base name
}

// name is the recording's name in the tables: the first of its holders'
// names by the alphabet, so that the order of scanning has no say.
func (r *recordingEntry) name() string {
	name := ""
	for _, h := range r.Holders {
		if h.Name != "" && (name == "" || h.Name < name) { // "": see Prune
			name = h.Name
		}
	}
	return name
}

// hold notes that an input holds the recording, and leave that it does not.
func (r *recordingEntry) hold(h holder) {
	r.leave(h.Input)
	r.Holders = append(r.Holders, h)
	slices.SortFunc(r.Holders, func(a, b holder) int { return strings.Compare(a.Input, b.Input) })
}

func (r *recordingEntry) leave(input string) {
	r.Holders = slices.DeleteFunc(r.Holders, func(h holder) bool { return h.Input == input })
}

// inputKey is the key of an absolute path: 128 bits of its hash, which any path
// has, whatever letters it is written in.
func inputKey(path string) string {
	sum := sha256.Sum256([]byte(path))
	return hex.EncodeToString(sum[:16])
}

// The inputs of one folder share a shard: a night's new downloads usually lie in
// one folder, and cost one shard, not all.
// Names of shards are below the archive.
func inputShard(path string) string {
	sum := sha256.Sum256([]byte(filepath.Dir(path)))
	return filepath.Join(ledgerFolder, "inputs", hex.EncodeToString(sum[:2])[:3]+shardEnding)
}

func recordingShard(sha string) string {
	return filepath.Join(ledgerFolder, "recordings", sha[:2]+shardEnding)
}

// remembered is the part of an input's entry a run needs; small, since a run may
// have very many inputs.
type remembered struct {
	sight          Sight
	sum, recording string
	flights        int
	current        bool   // done, with this run's profile, packs and version
	mark           string // of its line
}

// entryMark tells two entries of an input apart, and an entry from none.
func entryMark(line []byte) string {
	sum := sha256.Sum256(withCheck(line))
	return hex.EncodeToString(sum[:12])
}

// remember reads the entries of the inputs from the ledger.
func (a *Archive) remember(inputs []Input) error {
	wanted := map[string][]string{} // keys by shard
	runs := map[string]*Run{}       // by key
	for _, in := range inputs {
		p := a.place(in)
		shard := inputShard(p)
		key := inputKey(p)
		wanted[shard] = append(wanted[shard], key)
		runs[key] = a.runOf(in)
	}
	return a.readEntries(wanted, func(e *inputEntry, line []byte) {
		a.known[e.Key] = remembered{Sight{e.Size, e.Modified, e.Changed, e.ETag}, e.SHA256, e.Recording, e.Flights,
			e.Outcome == done && sameSetting(e, newSetting(runs[e.Key])), entryMark(line)}
	})
}

// readEntries hands out the entries of inputs, by shard and key.
func (a *Archive) readEntries(wanted map[string][]string, each func(e *inputEntry, line []byte)) error {
	for name, keys := range wanted {
		slices.Sort(keys)
		shard := filepath.Join(a.dir, name)
		err := readShard(shard, func(key string, text []byte) error {
			if _, ok := slices.BinarySearch(keys, key); !ok {
				return nil
			}
			e, err := decodeLine[inputEntry](shard, text)
			if err == nil {
				each(&e, text)
			}
			return err
		})
		if err == nil {
			err = a.check(name)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// runOf returns the run that an input is scanned in.
func (a *Archive) runOf(in Input) *Run {
	if in.Run != nil {
		return in.Run
	}
	return a.run
}

// newSetting is an entry with the settings of the run.
func newSetting(run *Run) inputEntry {
	return inputEntry{Profile: run.Profile.SHA256, Packs: packNames(run), Version: run.Version, Registration: run.Profile.Registration, FileDate: run.FileDate, Aerodromes: run.Aerodromes}
}

func sameSetting(a *inputEntry, b inputEntry) bool {
	return a.Profile == b.Profile && slices.Equal(a.Packs, b.Packs) && a.Version == b.Version && a.Registration == b.Registration && a.FileDate == b.FileDate && a.Aerodromes == b.Aerodromes
}

func decodeLine[T any](shard string, text []byte) (T, error) {
	var entry T
	if err := json.Unmarshal(text, &entry); err != nil {
		return entry, damaged(shard, fmt.Errorf("%v in %.80q", err, text))
	}
	return entry, nil
}

// encodeLine writes an entry as one line of a shard, with its check.
func encodeLine(entry any) []byte { return withCheck(marshal(entry)) }

func marshal(entry any) []byte {
	text, err := json.Marshal(entry)
	if err != nil { // strings and integers alone, which all have a JSON form
		return nil
	}
	return text
}
