//go:build linux

package scan

import (
	"net"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"

	"downlock/cmd/downlock/command"
	"downlock/ingest"
)

// TestLinks: a link in a folder is followed, once, or counted; a file is read once,
// whatever leads to it; a link to nothing and one in a circle are said.
func TestLinks(t *testing.T) {
	t.Chdir(t.TempDir())
	for _, name := range []string{"in/m.csv", "in/sub/b.csv", "other/c.csv", "other/deep/d.csv", "other/notes", "elsewhere/e.csv"} {
		os.MkdirAll(filepath.Dir(name), 0o777)
		if err := os.WriteFile(name, nil, 0o666); err != nil {
			t.Fatal(err)
		}
	}
	for _, link := range []struct{ name, to string }{
		{"in/a-link.csv", "m.csv"},             // back into the folder, before its file
		{"in/back", "sub"},                     // likewise, a folder
		{"in/sub/loop", ".."},                  // to the folder itself
		{"in/up", "../.."},                     // to one above it
		{"in/nowhere.csv", "gone.csv"},         //
		{"in/self.csv", "self.csv"},            //
		{"in/out.csv", "../other/c.csv"},       // out of the folder
		{"in/outside", "../other"},             // a folder outside, which holds that file too
		{"in/twice", "../other"},               // the same again
		{"in/named.pdf", "../elsewhere/e.csv"}, // by the name of what it leads to
		{"other/deep/on", "../../elsewhere"},   // from outside further on
		{"other/deep/around", "../../other"},   // from outside in a circle
		{"in/odd", "../other/notes"},           // to no export
		{"entry", "in"},
	} {
		if err := os.Symlink(link.to, link.name); err != nil {
			t.Fatal(err)
		}
	}
	found := findInputs([]string{"in"}, scanOptions{})
	for _, list := range []struct {
		name      string
		got, want []string
	}{
		{"files", found.files, []string{"in/m.csv", "in/sub/b.csv", "in/named.pdf", "in/out.csv", "in/outside/deep/d.csv"}},
		{"followed", found.followed, []string{"in/named.pdf", "in/out.csv", "in/outside", "in/outside/deep/on"}},
		{"lost", found.lost, []string{"in/nowhere.csv", "in/self.csv", "in/sub/loop", "in/up"}},
		{"left out", found.leftOut.paths, []string{"in/a-link.csv", "in/back", "in/nowhere.csv", "in/odd", "in/outside/c.csv", "in/outside/deep/around", "in/outside/deep/on/e.csv", "in/outside/notes", "in/self.csv", "in/sub/loop", "in/twice", "in/up"}},
	} {
		got := slices.Sorted(slices.Values(list.got))
		if list.name == "files" { // their order counts
			got = list.got
		}
		if !slices.Equal(got, list.want) {
			t.Errorf("%s: %q, want %q", list.name, got, list.want)
		}
	}
	if len(found.failures) != 0 || found.leftOut.Files != 12 {
		t.Errorf("%d left out, failures %v", found.leftOut.Files, found.failures)
	}
	for _, arg := range []string{"entry", "entry/"} { // a link named itself
		if got := findInputs([]string{arg}, scanOptions{}).files; len(got) != 5 || got[0] != filepath.Join("entry", "m.csv") {
			t.Errorf("%s: %q", arg, got)
		}
	}
	if got := findInputs([]string{"in/a-link.csv", "in/m.csv"}, scanOptions{}).files; len(got) != 2 {
		t.Errorf("named themselves: %q", got)
	}
}

// TestNoFiles: pipes, devices and sockets are refused at once by every way to an input,
// though nobody writes into the pipe; in a folder they are left out.
func TestNoFiles(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	pipe, socket := filepath.Join(dir, "pipe.csv"), filepath.Join(dir, "socket.csv")
	if err := syscall.Mkfifo(pipe, 0o600); err != nil {
		t.Fatal(err)
	}
	listener, err := net.Listen("unix", socket)
	if err != nil {
		t.Fatal(err)
	}
	defer listener.Close()
	for path, kind := range map[string]string{pipe: "pipe", socket: "socket", "/dev/zero": "device"} {
		found := findInputs([]string{path}, scanOptions{})
		if len(found.failures) != 1 || len(found.files) != 0 || !strings.Contains(found.failures[0].Err.Error(), "is a "+kind+", not a file") {
			t.Errorf("%s: %+v", kind, found)
		}
		if _, err := ingest.Read(path, nil); err == nil || !strings.Contains(err.Error(), "is a "+kind) {
			t.Errorf("%s: read: %v", kind, err)
		}
		if _, err := ingest.OpenRaw(path); err == nil || !strings.Contains(err.Error(), "is a "+kind) {
			t.Errorf("%s: surveyed: %v", kind, err)
		}
		if p, code := command.ChooseProfile("", []string{path}, nil, command.Messages{To: t.Output()}); p == nil {
			t.Errorf("%s: exit code %d", kind, code)
		}
	}
	if found := findInputs([]string{dir}, scanOptions{}); found.leftOut.Files != 2 || len(found.files) != 0 {
		t.Errorf("in a folder: %+v", found)
	}
}
