package archive

import (
	"io"
	"path/filepath"
	"slices"
)

// changeover is a set of new files, all on disk under the folder for new files,
// and where they belong.
type changeover struct {
	steps []changeoverStep
}

// changeoverStep puts a new file in its place; where the new one is empty the
// old one goes.
type changeoverStep struct {
	name  string // below the archive
	stays bool
}

func (c *changeover) add(name string, stays bool) {
	c.steps = append(c.steps, changeoverStep{name, stays})
}

// commit merges the staged inputs into tables and ledger.
//
// First every new file is written and on disk, beside the old ones, and there are
// the folders they belong into; a failure up to here, such as a full disk, leaves the
// archive as it was. Then the new files take the places of the old, tables before the
// ledger of recordings before the ledger of inputs, and only then is staging emptied.
// After a kill on the way the next run finds staging as it was and does it all again:
// every step has the same outcome whether or not it was done before, since rows are
// replaced by recording, and the staged file names the recording its input held before.
func (a *Archive) commit() error {
	all, err := a.stagedFiles()
	if err != nil {
		return err
	}
	if err := a.disk.remove(a.newFile("")); err != nil {
		return outputError(a.newFile(""), err)
	}
	if len(all) == 0 {
		return nil
	}
	over, err := a.prepare(all)
	if err == nil {
		err = a.makeFolders(over)
	}
	if err != nil {
		a.disk.remove(a.newFile(""))
		return err
	}
	a.changing = true
	if err := a.changeOver(over); err != nil {
		return err
	}
	for _, folder := range []string{filepath.Join(a.dir, stagingFolder), a.newFile("")} {
		if err := a.disk.remove(folder); err != nil {
			return outputError(folder, err)
		}
	}
	a.changing = false
	return nil
}

// prepare writes all new files.
func (a *Archive) prepare(all []staged) (*changeover, error) {
	p, err := a.newPlan(all)
	if err != nil {
		return nil, err
	}
	over := &changeover{}
	for _, month := range p.monthsInOrder() {
		if err := a.mergeMonth(month, p.months[month], over); err != nil {
			return nil, err
		}
	}
	for _, shard := range sortedKeys(p.recordings) {
		var lines []shardLine
		for _, c := range p.recordings[shard] {
			lines = append(lines, c.line())
		}
		if err := a.writeShard(shard, lines, over); err != nil {
			return nil, err
		}
	}
	err = a.writeUnreported(over, func(report func(stagedHead) error) error {
		for _, shard := range sortedKeys(p.inputs) {
			lines, err := inputLines(p.inputs[shard], report)
			if err != nil {
				return outputError(shard, err)
			}
			if err := a.writeShard(shard, lines, over); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	return over, nil
}

// inputLines reads the entries of staged files, in order of key, and hands each head on.
func inputLines(list []staged, report func(stagedHead) error) ([]shardLine, error) {
	lines := make([]shardLine, len(list))
	for i, s := range list {
		head, _, err := readStaged(s.file, nil)
		if err == nil {
			err = report(head)
		}
		if err != nil {
			return nil, err
		}
		lines[i] = shardLine{head.Entry.Key, encodeLine(head.Entry)}
	}
	return lines, nil
}

func (a *Archive) writeShard(shard string, lines []shardLine, over *changeover) error {
	place := filepath.Join(a.dir, shard)
	return writeFile(a.disk, a.newFile(shard), place, true, func(w io.Writer) error {
		n, err := mergeShard(place, lines, w)
		over.add(shard, n > 0)
		return err
	})
}

// makeFolders makes the folders of new files, for which a full disk has no room.
func (a *Archive) makeFolders(over *changeover) error {
	for _, s := range over.steps {
		folder := filepath.Dir(filepath.Join(a.dir, s.name))
		if !s.stays {
			continue
		}
		if err := a.disk.folder(folder); err != nil {
			return outputError(folder, err)
		}
	}
	return nil
}

// changeOver puts the new files in their places.
func (a *Archive) changeOver(over *changeover) error {
	folders := map[string]bool{}
	for _, s := range over.steps {
		place := filepath.Join(a.dir, s.name)
		var err error
		if s.stays {
			err = a.disk.rename(a.newFile(s.name), place)
			for f := filepath.Dir(s.name); ; f = filepath.Dir(f) { // one that was made is a name in the one above
				folders[f] = true
				if f == "." {
					break
				}
			}
		} else {
			err = a.disk.remove(place)
		}
		if err != nil {
			return outputError(place, err)
		}
	}
	for _, f := range sortedKeys(folders) {
		if err := a.disk.syncFolder(filepath.Join(a.dir, f)); err != nil {
			return outputError(filepath.Join(a.dir, f), err)
		}
	}
	return nil
}

func sortedKeys[V any](m map[string]V) []string {
	keys := make([]string, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}
