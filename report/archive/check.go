package archive

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"

	"downlock/schemas"
)

// Check compares the parts of an archive with its list of checksums, for a reader of all
// of them: size and tail of each, and whether each is there. A part that is missing, of
// another time or foreign is an error, since figures that lack rows without a word are
// wrong ones. Doubts are for the top of the results: a run is putting new files in
// their places, or was cut off at that; rows that were lost are not back yet. Where there is no list
// nothing can be compared, and listed is false. No lock is needed. The error is a
// schemas.Problems, or one of reading.
func Check(dir string) (doubts schemas.Problems, listed bool, err error) {
	path := filepath.Join(dir, checksumsName)
	for {
		before, err := os.ReadFile(path)
		if err != nil && !os.IsNotExist(err) {
			return nil, false, err
		}
		list, err := readChecksums(path)
		if err == nil && list == nil {
			err = lostChecksums(dir)
		}
		if err != nil || list == nil {
			return nil, false, err
		}
		faults, err := partFaults(dir, list)
		if err != nil {
			return nil, true, err
		}
		if after, err := os.ReadFile(path); err != nil || !bytes.Equal(before, after) {
			continue // a run committed meanwhile: its parts are others
		}
		if len(faults) > 0 {
			return nil, true, faults
		}
		return listDoubts(dir, list), true, nil
	}
}

// partFaults are the parts that differ from the list.
func partFaults(dir string, list *checksums) (faults schemas.Problems, err error) {
	names, err := listedFiles(dir)
	if err != nil {
		return nil, err
	}
	there := map[string]bool{}
	for _, name := range names {
		there[name] = true
	}
	for key := range list.files {
		there[key] = true
	}
	for _, key := range sortedKeys(there) {
		if _, _, ok := isPart(key); !ok {
			continue
		}
		file := filepath.Join(dir, filepath.FromSlash(key))
		s, err := tailOf(file)
		if err != nil {
			return nil, err
		}
		if fault := list.files[key].fault(s, fileSum.looksLike); fault != nil {
			faults = append(faults, damaged(file, fault))
		}
	}
	return faults, nil
}

// listDoubts words what is to be said of an archive whose parts are those of the list.
func listDoubts(dir string, list *checksums) (doubts schemas.Problems) {
	if list.Changing {
		doubts = append(doubts, &schemas.Problem{File: dir, Cause: "new files are taking the places of old ones, so that results may mix both",
			Hint: "a run of scan is at work, or was cut off: wait for it, or scan once more, which finishes it, and try again"})
	}
	for _, key := range sortedKeys(list.files) {
		if lost := list.files[key].Lost; len(lost) > 0 {
			doubts = append(doubts, &schemas.Problem{File: filepath.Join(dir, filepath.FromSlash(key)),
				Cause: fmt.Sprintf("%s of this month lost rows here that are not back yet, so that results lack them", numberOf(len(lost), "recording")),
				Hint:  "scan their files once more; `downlock verify --archive DIR` names them"})
		}
	}
	return doubts
}

func numberOf(n int, noun string) string {
	if n != 1 {
		noun += "s"
	}
	return fmt.Sprintf("%d %s", n, noun)
}
