package archive

import (
	"io"
	"os"
	"path/filepath"
	"slices"
	"sync"

	"downlock/report/output"
)

// changeover is a set of new files, all on disk under the folder for new files,
// and where they belong. The files of a group take their places together, and are on
// disk there before those of the next group move.
type changeover struct {
	groups [][]changeoverStep
	lost   map[string][]string // by part: recordings whose rows it has lost and not got back
}

// changeoverStep puts a new file in its place; where the new one is empty the
// old one goes.
type changeoverStep struct {
	name  string // below the archive
	stays bool
}

// add adds a step to the last group.
func (c *changeover) add(name string, stays bool) {
	last := len(c.groups) - 1
	c.groups[last] = append(c.groups[last], changeoverStep{name, stays})
}

// begin begins the next group.
func (c *changeover) begin() { c.groups = append(c.groups, nil) }

// commit merges the staged inputs into tables and ledger. Inputs that a damaged file is
// in the way of are left out, and noted in a.unmerged.
//
// First every new file is written and on disk, beside the old ones, and there are
// the folders they belong into; a failure up to here, such as a full disk, leaves the
// archive as it was. Then the new files take the places of the old, the list of changes
// before the tables before the ledger before the list of checksums, and only then is staging emptied.
// After a kill on the way the next run finds staging as it was and does it all again:
// every step has the same outcome whether or not it was done before, since rows are
// replaced by recording, and the staged file names the recording its input held before.
// That goes for a power cut too: each of these is on disk before the next begins, the
// staged files first of all. The ledger must not be there before its tables, since it says
// which months hold rows that have to go.
func (a *Archive) commit() error {
	if err := a.stillOurs(); err != nil {
		return err
	}
	all, err := a.stagedFiles()
	if err != nil {
		return err
	}
	if err := a.disk.remove(a.newFile("")); err != nil {
		return outputError(a.newFile(""), err)
	}
	if len(all) == 0 {
		return a.endChange()
	}
	over, err := a.prepareSound(all)
	if err == nil && len(over.groups) > 0 {
		err = a.syncStaged(all)
		if err == nil {
			err = a.change(over, filepath.Join(a.dir, stagingFolder))
		}
	}
	if !a.changing {
		a.disk.remove(a.newFile(""))
	}
	return err
}

// change puts new files and the list of checksums in their places, and removes what was
// only there for that, which is staging or nothing.
func (a *Archive) change(over *changeover, done ...string) error {
	sums, err := a.writeChecksums(over)
	if err != nil {
		return err
	}
	folders := &unsynced{}
	if err := a.makeFolders(over, folders); err != nil {
		return err
	}
	if err := a.stillOurs(); err != nil {
		return err
	}
	a.changing = true
	if err := a.move(changingName, checksumsName, folders); err != nil {
		return err
	}
	if err := a.settle(folders); err != nil {
		return err
	}
	if err := a.moveGroups(over, folders); err != nil {
		return err
	}
	if err := a.move(checksumsName, checksumsName, folders); err != nil {
		return err
	}
	for _, folder := range done {
		if err := a.disk.remove(folder); err != nil {
			return outputError(folder, err)
		}
	}
	a.disk.remove(a.newFile("")) // is empty; the next commit begins with that too
	if err := a.settle(folders); err != nil {
		return err
	}
	a.changing, a.sums = false, sums
	for _, group := range over.groups {
		for _, s := range group {
			if !s.stays {
				os.Remove(filepath.Dir(filepath.Join(a.dir, s.name))) // keeps a folder that holds something
			}
		}
	}
	return nil
}

// moveGroups puts the files of one group after another in their places.
func (a *Archive) moveGroups(over *changeover, u *unsynced) error {
	for _, group := range over.groups {
		if err := a.changeOver(group, u); err != nil {
			return err
		}
		if err := a.settle(u); err != nil {
			return err
		}
	}
	return nil
}

// writeChecksums writes the lists of checksums for while the change is under way and for
// after it, and returns the latter.
func (a *Archive) writeChecksums(over *changeover) (after *checksums, err error) {
	changing, after, err := a.nextChecksums(over)
	if err != nil {
		return nil, outputError(filepath.Join(a.dir, checksumsName), err)
	}
	err = a.writeList(changingName, changing)
	if err == nil {
		err = a.writeList(checksumsName, after)
	}
	return after, err
}

func (a *Archive) writeList(name string, list *checksums) error {
	return writeFile(a.disk, a.newFile(name), filepath.Join(a.dir, checksumsName), true, func(w io.Writer) error {
		_, err := w.Write(list.text())
		return err
	})
}

// endChange puts the list of checksums right after a change that was cut off when
// nothing was left to do but that, or that need not be finished.
func (a *Archive) endChange() error {
	if a.sums == nil || !a.sums.Changing {
		return nil
	}
	return a.change(&changeover{})
}

// syncStaged has the staged files on disk, several at a time, which a disk serves together.
func (a *Archive) syncStaged(all []staged) error {
	var files []string
	for _, s := range all {
		files = append(files, s.file)
	}
	slices.Sort(files)
	files = slices.Compact(files)
	errs := make([]error, len(files))
	next := make(chan int)
	var wait sync.WaitGroup
	for range 8 {
		wait.Go(func() {
			for i := range next {
				errs[i] = a.disk.syncFile(files[i])
			}
		})
	}
	for i := range files {
		next <- i
	}
	close(next)
	wait.Wait()
	for i, err := range errs {
		if err != nil {
			return outputError(files[i], err)
		}
	}
	folder := filepath.Join(a.dir, stagingFolder)
	return outputError(folder, a.disk.syncFolder(folder))
}

// prepare writes all new files.
func (a *Archive) prepare(p *plan) (*changeover, error) {
	over := &changeover{lost: map[string][]string{}}
	over.begin()
	for _, month := range p.monthsInOrder() {
		if err := a.mergeMonth(month, p.months[month], over); err != nil {
			return nil, &blocked{month: month, err: err}
		}
	}
	over.begin()
	for _, shard := range sortedKeys(p.recordings) {
		var lines []shardLine
		for _, c := range p.recordings[shard] {
			lines = append(lines, c.line())
		}
		if err := a.writeShard(shard, lines, over); err != nil {
			return nil, &blocked{shard: shard, err: err}
		}
	}
	err := a.writeUnreported(over, func(report func(stagedHead) error) error {
		for _, shard := range sortedKeys(p.inputs) {
			lines, err := inputLines(p.inputs[shard], report)
			if err != nil {
				return outputError(shard, err)
			}
			if err := a.writeShard(shard, lines, over); err != nil {
				return &blocked{shard: shard, err: err}
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
		head, _, err := readStaged(s.file, s.at, nil)
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
	stays := false
	err := writeFile(a.disk, a.newFile(shard), place, true, func(w io.Writer) error {
		n, err := mergeShard(place, lines, w)
		stays = n > 0
		return err
	})
	if err == nil {
		err = a.check(shard)
	}
	over.add(shard, stays)
	return err
}

// unsynced are the folders, below the archive, with names in them that are not on disk
// yet.
type unsynced struct{ folders []string }

func (u *unsynced) note(folder string) { u.folders = append(u.folders, folder) }

// settle has the names in the folders on disk.
func (a *Archive) settle(u *unsynced) error {
	slices.Sort(u.folders)
	for _, f := range slices.Compact(u.folders) {
		if err := a.disk.syncFolder(filepath.Join(a.dir, f)); err != nil {
			return outputError(filepath.Join(a.dir, f), err)
		}
	}
	u.folders = nil
	return nil
}

// makeFolders makes the folders of new files, for which a full disk has no room.
func (a *Archive) makeFolders(over *changeover, u *unsynced) error {
	for _, group := range over.groups {
		for _, s := range group {
			if !s.stays {
				continue
			}
			if err := a.makeFolder(filepath.Dir(s.name), u); err != nil {
				return err
			}
		}
	}
	return nil
}

// makeFolder makes a folder below the archive and those above it. Each that is made is a
// name in the one above.
func (a *Archive) makeFolder(name string, u *unsynced) error {
	folder := filepath.Join(a.dir, name)
	for _, made := range output.MissingFolders(folder) {
		above, err := filepath.Rel(a.dir, filepath.Dir(made))
		if err != nil {
			return outputError(folder, err)
		}
		u.note(above)
	}
	return outputError(folder, a.disk.folder(folder))
}

// changeOver puts the new files of a group in their places.
func (a *Archive) changeOver(group []changeoverStep, u *unsynced) error {
	for _, s := range group {
		if s.stays {
			if err := a.move(s.name, s.name, u); err != nil {
				return err
			}
			continue
		}
		place := filepath.Join(a.dir, s.name)
		if err := a.disk.remove(place); err != nil {
			return outputError(place, err)
		}
		if _, err := os.Lstat(filepath.Dir(place)); err == nil { // else nothing was there
			u.note(filepath.Dir(s.name))
		}
	}
	return nil
}

// move puts a new file in its place.
func (a *Archive) move(from, to string, u *unsynced) error {
	place := filepath.Join(a.dir, to)
	u.note(filepath.Dir(to))
	return outputError(place, a.disk.rename(a.newFile(from), place))
}

// keptFile is a file that is written by itself.
type keptFile struct {
	name string // below the archive
	data []byte
}

// keep writes files, all of them before the first takes its place, and calls ready
// in between, where it is given. Each is on disk there before the next takes its own.
func (a *Archive) keep(ready func() error, files ...keptFile) error {
	if err := a.stillOurs(); err != nil {
		return err
	}
	folders := &unsynced{}
	for _, f := range files {
		err := writeFile(a.disk, a.newFile(f.name), filepath.Join(a.dir, f.name), true, func(w io.Writer) error {
			_, err := w.Write(f.data)
			return err
		})
		if err == nil {
			err = a.makeFolder(filepath.Dir(f.name), folders)
		}
		if err != nil {
			return err
		}
	}
	if ready != nil {
		if err := ready(); err != nil {
			return err
		}
	}
	for _, f := range files {
		if err := a.move(f.name, f.name, folders); err != nil {
			return err
		}
		if err := a.settle(folders); err != nil {
			return err
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
