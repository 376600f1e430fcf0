package archive

import (
	"maps"
	"path/filepath"
	"slices"

	"downlock/detect"
	"downlock/report/review"
	"downlock/schemas"
)

// Moved is an event that verdicts were given on under an id that is no longer its own.
type Moved struct {
	Was   string // the id it went by
	Month string
	Event schemas.EventRow
}

// FindMoved looks for the events that verdicts on ids the archive no longer has were given
// on. Ids followed from the bytes of a recording's file before they followed from its
// content, so those of a recording that is packed have changed. The ledger has the
// SHA-256 of both, so the old id can be worked out from the recording, the number of the
// flight, the rule and the start: where these are the same, it is that id and no other.
// gone lists the ids with verdicts that no event of today had. Both are in order of the id
// that was. No lock is needed. The error is one of reading, or a schemas.Problem.
func FindMoved(dir string) (moved []Moved, gone []string, err error) {
	lost, err := unknownIDs(dir)
	if err != nil || len(lost) == 0 {
		return nil, nil, err
	}
	files, err := packedFiles(dir)
	if err != nil {
		return nil, nil, err
	}
	found := map[string]Moved{}
	for _, month := range sortedKeys(files) {
		numbers := map[string]int{} // of flights
		err := Flights(dir, month, func(_ string, f *schemas.FlightRow) error {
			if files[month][f.Recording] != nil {
				numbers[f.FlightID] = int(f.Number)
			}
			return nil
		})
		if err != nil || len(numbers) == 0 {
			if err != nil {
				return nil, nil, err
			}
			continue
		}
		err = Events(dir, month, func(_ string, e *schemas.EventRow) error {
			for _, file := range files[month][e.Recording] {
				was := detect.EventID(detect.FlightID(file, numbers[e.FlightID]), e.Rule, e.StartS)
				if lost[was] {
					found[was] = Moved{was, month, *e}
				}
			}
			return nil
		})
		if err != nil {
			return nil, nil, err
		}
	}
	for _, was := range sortedKeys(lost) {
		if m, ok := found[was]; ok {
			moved = append(moved, m)
		} else {
			gone = append(gone, was)
		}
	}
	return moved, gone, nil
}

// unknownIDs are the ids with verdicts that the archive has no event of.
func unknownIDs(dir string) (map[string]bool, error) {
	latest, _, err := review.Latest(dir)
	if err != nil || len(latest) == 0 {
		return nil, err
	}
	lost := map[string]bool{}
	for id := range latest {
		lost[id] = true
	}
	wanted := maps.Clone(lost)
	err = EventsWith(dir, func(id string) bool { return wanted[id] }, func(_ string, e *schemas.EventRow) error {
		delete(lost, e.EventID)
		return nil
	})
	return lost, err
}

// packedFiles returns, by month and recording, the SHA-256 of files whose bytes are not
// the content: those that are packed.
func packedFiles(dir string) (map[string]map[string][]string, error) {
	sums := map[string][]string{} // by recording
	err := eachEntry(dir, "inputs", func(e *inputEntry) {
		if e.SHA256 != "" && e.Recording != "" && e.SHA256 != e.Recording && !slices.Contains(sums[e.Recording], e.SHA256) {
			sums[e.Recording] = append(sums[e.Recording], e.SHA256)
		}
	})
	if err != nil || len(sums) == 0 {
		return nil, err
	}
	files := map[string]map[string][]string{}
	err = eachEntry(dir, "recordings", func(e *recordingEntry) {
		if sums[e.Key] == nil {
			return
		}
		for _, month := range e.Months {
			if files[month] == nil {
				files[month] = map[string][]string{}
			}
			files[month][e.Key] = sums[e.Key]
		}
	})
	return files, err
}

// eachEntry hands out the entries of one kind of the ledger.
func eachEntry[T any](dir, kind string, each func(*T)) error {
	shards, err := shardsOf(dir, kind)
	if err != nil {
		return err
	}
	for _, shard := range shards {
		path := filepath.Join(dir, shard)
		err := readShard(path, func(_ string, text []byte) error {
			e, err := decodeLine[T](path, text)
			if err == nil {
				each(&e)
			}
			return err
		})
		if err != nil {
			return err
		}
	}
	return nil
}
