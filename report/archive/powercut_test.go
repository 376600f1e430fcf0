package archive

import (
	"bytes"
	"io/fs"
	"maps"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"testing"

	"downlock/report/output"
)

// A model of a disk through a power cut. It keeps of a file the bytes that were there when
// the file was last synced, and of a folder the names that were there when the folder was
// last synced; of everything since then it keeps any part, in any order. That is all
// POSIX promises (fsync in IEEE Std 1003.1, from memory); file systems in use promise
// more, and not all the same.

// diskEvent is one change to the disk, or one sync.
type diskEvent struct {
	kind eventKind
	path string // below the archive
	to   string // of a renaming
	data []byte // of a write
}

type eventKind int

const (
	madeFolder eventKind = iota
	madeFile
	wrote
	renamed
	removedName
	syncedFile
	syncedFolder
	said // the run told its findings
)

func (e diskEvent) isSync() bool { return e.kind == syncedFile || e.kind == syncedFolder }

// notedDisk is the real disk, and notes all that is asked of it.
type notedDisk struct {
	quickDisk
	dir   string
	mutex sync.Mutex
	log   []diskEvent
}

func (d *notedDisk) note(kind eventKind, path, to string, data []byte) {
	d.mutex.Lock()
	defer d.mutex.Unlock()
	below := func(path string) string {
		name, _ := filepath.Rel(d.dir, path)
		return name
	}
	e := diskEvent{kind: kind, path: below(path), data: bytes.Clone(data)}
	if to != "" {
		e.to = below(to)
	}
	d.log = append(d.log, e)
}

func (d *notedDisk) folder(path string) error {
	missing := output.MissingFolders(path)
	slices.Reverse(missing)
	for _, folder := range missing {
		d.note(madeFolder, folder, "", nil)
	}
	return d.quickDisk.folder(path)
}

func (d *notedDisk) create(path string) (outFile, error) {
	if err := d.folder(filepath.Dir(path)); err != nil {
		return nil, err
	}
	d.note(madeFile, path, "", nil)
	f, err := d.quickDisk.create(path)
	return &notedFile{f, d, path}, err
}

func (d *notedDisk) rename(from, to string) error {
	if err := d.folder(filepath.Dir(to)); err != nil {
		return err
	}
	d.note(renamed, from, to, nil)
	return d.quickDisk.rename(from, to)
}

func (d *notedDisk) remove(path string) error {
	var names []string
	filepath.WalkDir(path, func(name string, _ fs.DirEntry, err error) error {
		if err == nil {
			names = append(names, name)
		}
		return nil
	})
	slices.Reverse(names)
	for _, name := range names {
		d.note(removedName, name, "", nil)
	}
	return d.quickDisk.remove(path)
}

func (d *notedDisk) syncFile(path string) error {
	d.note(syncedFile, path, "", nil)
	return nil
}

func (d *notedDisk) syncFolder(path string) error {
	d.note(syncedFolder, path, "", nil)
	return nil
}

type notedFile struct {
	outFile
	disk *notedDisk
	path string
}

func (f *notedFile) Write(b []byte) (int, error) {
	f.disk.note(wrote, f.path, "", b)
	return f.outFile.Write(b)
}

func (f *notedFile) Sync() error {
	f.disk.note(syncedFile, f.path, "", nil)
	return nil
}

// node is a file or a folder of the model.
type node struct {
	names map[string]*node // of a folder, as the system shows them; nil for a file
	data  []byte           // of a file, as the system shows it

	kept    map[string]*node // of a folder, on disk
	waiting []nameChange     // of a folder, since it was last synced
	keeps   []byte           // of a file, on disk
	dirty   bool             // the file was written since it was last synced
}

// nameChange gives a name to a node, or takes it away.
type nameChange struct {
	name string
	node *node // nil for a name that goes
}

// modelOf is a folder all of which is on disk.
func modelOf(t *testing.T, files map[string]string) *node {
	root := emptyFolder()
	for name, data := range files {
		folder := root
		for _, part := range pathParts(filepath.Dir(name)) {
			if folder.names[part] == nil {
				folder.names[part] = emptyFolder()
				folder.kept[part] = folder.names[part]
			}
			folder = folder.names[part]
		}
		file := &node{data: []byte(data), keeps: []byte(data)}
		folder.names[filepath.Base(name)], folder.kept[filepath.Base(name)] = file, file
	}
	return root
}

func emptyFolder() *node { return &node{names: map[string]*node{}, kept: map[string]*node{}} }

func pathParts(path string) []string {
	if path == "." {
		return nil
	}
	dir, name := filepath.Split(path)
	return append(pathParts(filepath.Clean(dir)), name)
}

func (n *node) at(path string) *node {
	for _, part := range pathParts(path) {
		if n == nil {
			return nil
		}
		n = n.names[part]
	}
	return n
}

func (n *node) name(name string, to *node) {
	n.waiting = append(n.waiting, nameChange{name, to})
	if to == nil {
		delete(n.names, name)
	} else {
		n.names[name] = to
	}
}

// apply does an event.
func (n *node) apply(e diskEvent) {
	folder, name := n.at(filepath.Dir(e.path)), filepath.Base(e.path)
	switch e.kind {
	case madeFolder:
		if folder.names[name] == nil { // an empty one may have gone unnoted
			folder.name(name, emptyFolder())
		}
	case madeFile:
		folder.name(name, &node{dirty: true})
	case wrote:
		f := n.at(e.path)
		f.data, f.dirty = append(f.data, e.data...), true
	case renamed:
		moved := n.at(e.path)
		n.at(filepath.Dir(e.to)).name(filepath.Base(e.to), moved)
		folder.name(name, nil)
	case removedName:
		if e.path != "." {
			folder.name(name, nil)
		}
	case syncedFile:
		f := n.at(e.path)
		f.keeps, f.dirty = f.data, false
	case syncedFolder:
		f := n.at(e.path)
		f.kept, f.waiting = maps.Clone(f.names), nil
	}
}

// fate decides what a power cut leaves of a change to a folder, and of the bytes of a file
// that was not synced.
type fate struct {
	name func(folder *node, index int) bool
	data func(file *node) []byte
}

// after returns the files that a power cut leaves.
func (n *node) after(f fate) map[string]string {
	files := map[string]string{}
	n.collect("", f, files)
	return files
}

func (n *node) collect(path string, f fate, files map[string]string) {
	if n.names == nil {
		data := n.data
		if n.dirty {
			data = f.data(n)
		}
		files[path] = string(data)
		return
	}
	names := maps.Clone(n.kept)
	for i, w := range n.waiting {
		switch {
		case !f.name(n, i):
		case w.node == nil:
			delete(names, w.name)
		default:
			names[w.name] = w.node
		}
	}
	for name, below := range names {
		below.collect(filepath.Join(path, name), f, files)
	}
}

// unsynced lists the files and folders of which something is not on disk. New files that
// have no place yet, and their folders, are left out.
func (n *node) unsynced(path string) (list []*node) {
	if n.dirty || len(n.waiting) > 0 {
		list = append(list, n)
	}
	for _, name := range sortedKeys(n.names) {
		if name != newFolder || path != "" {
			list = append(list, n.names[name].unsynced(filepath.Join(path, name))...)
		}
	}
	return list
}

// all keeps everything, and synced only what was synced.
func all() fate {
	return fate{func(*node, int) bool { return true }, func(f *node) []byte { return f.data }}
}

func synced() fate {
	return fate{func(*node, int) bool { return false }, func(f *node) []byte { return f.keeps }}
}

// anyOf keeps each change by chance, and of unsynced bytes none, the first half, zeros or
// all.
func anyOf(random *rand.Rand) fate {
	keep := random.Float64()
	return fate{func(*node, int) bool { return random.Float64() < keep }, func(f *node) []byte {
		switch random.IntN(4) {
		case 0:
			return f.keeps
		case 1:
			return f.data[:len(f.data)/2]
		case 2:
			return make([]byte, len(f.data))
		}
		return f.data
	}}
}

// fates of one folder or file that a sync was left out of: all is kept but one change to
// it, or all of them, and the same with nothing else kept than what was synced.
func fatesOf(x *node) (list []fate) {
	for _, base := range []fate{all(), synced()} {
		if x.names == nil {
			list = append(list, fate{base.name, func(f *node) []byte {
				if f == x {
					return f.keeps
				}
				return base.data(f)
			}})
			continue
		}
		for lost := -1; lost < len(x.waiting); lost++ {
			list = append(list, fate{func(n *node, i int) bool {
				if n == x {
					return lost >= 0 && i != lost
				}
				return base.name(n, i)
			}, base.data})
		}
	}
	return list
}

// modelAfter is the model after so many events, without the sync that is left out; -1 leaves
// none out.
func modelAfter(t *testing.T, base map[string]string, log []diskEvent, without int) *node {
	model := modelOf(t, base)
	for i, e := range log {
		if i != without {
			model.apply(e)
		}
	}
	return model
}

// layOut writes files into a new folder.
func layOut(t *testing.T, files map[string]string) (dir string) {
	t.Helper()
	dir = filepath.Join(t.TempDir(), "archive")
	if err := os.MkdirAll(dir, 0o700); err != nil {
		t.Fatal(err)
	}
	for name, data := range files {
		path := filepath.Join(dir, name)
		if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(data), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}
