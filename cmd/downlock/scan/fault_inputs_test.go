//go:build linux

package scan

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"downlock/cmd/downlock/command"
)

// path is that of one of the inputs.
func (n nights) path(name string) string { return filepath.Join(n.exports, name) }

// expect runs the command and checks code and messages.
func (n nights) expect(t *testing.T, archive string, code int, words ...string) {
	t.Helper()
	got, messages := n.run(t, archive)
	if got != code {
		t.Errorf("exit code %d, want %d: %s", got, code, messages)
	}
	for _, w := range words {
		if !strings.Contains(messages, w) {
			t.Errorf("the messages do not say %q: %s", w, messages)
		}
	}
}

// TestInputGrows: a file that grows between the look at it and the end of its
// reading is not taken, nor is it damaged: quarantine leaves it alone.
func TestInputGrows(t *testing.T) {
	t.Parallel()
	n := newNights(t, 3)
	file := n.path("flight-0000.csv")
	say := command.Messages{To: t.Output()}
	s, code := newScan(scanOptions{profile: n.profile, jobs: 1}, []string{file}, newStopping(say), say)
	if s == nil {
		t.Fatalf("exit code %d", code)
	}
	o := outcome{input: s.inputs[0]}
	if o.sight, o.err = o.input.Look(); o.err != nil {
		t.Fatal(o.err)
	}
	if _, err := s.read(&o); err != nil {
		t.Fatalf("at rest it is not read: %v", err)
	}
	f, err := os.OpenFile(file, os.O_APPEND|os.O_WRONLY, 0)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if _, err := f.WriteString("1,2"); err != nil {
		t.Fatal(err)
	}
	if _, err := s.read(&o); err == nil || !strings.Contains(err.Error(), "changed while it was read") || o.unsound {
		t.Errorf("the error is %v, damaged: %v", err, o.unsound)
	}
}

// TestInputVanishes: a file that vanishes under the run costs itself; the next
// run does it.
func TestInputVanishes(t *testing.T) {
	t.Parallel()
	n := newNights(t, 40)
	dir := filepath.Join(t.TempDir(), "archive")
	cmd, messages := n.scan(dir, "--jobs", "1")
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	waitForStaged(t, dir, 2)
	vanished, err := os.ReadFile(n.path("flight-0035.csv"))
	if err != nil {
		t.Fatal(err)
	}
	os.Remove(n.path("flight-0035.csv"))
	cmd.Wait()
	for _, words := range []string{"flight-0035.csv: no such file", "38 flights from 40 inputs, 2 failed"} {
		if !strings.Contains(messages.String(), words) {
			t.Errorf("the messages do not say %q: %s", words, messages)
		}
	}
	if code := cmd.ProcessState.ExitCode(); code != command.ExitInputsFailed {
		t.Errorf("exit code %d", code)
	}
	if err := os.WriteFile(n.path("flight-0035.csv"), vanished, 0o666); err != nil {
		t.Fatal(err)
	}
	n.expect(t, dir, command.ExitInputsFailed, "1 flight from 40 inputs, 1 failed, 38 skipped")
}

// TestUnreadableInput: reading fails, not looking. The memory of a process at
// address 0 is such a file for everybody, root too.
func TestUnreadableInput(t *testing.T) {
	t.Parallel()
	n := newNights(t, 3)
	dir := filepath.Join(t.TempDir(), "archive")
	code, messages := n.run(t, dir, "/proc/self/mem")
	if code != command.ExitInputsFailed || !strings.Contains(messages, "/proc/self/mem: input/output error") ||
		!strings.Contains(messages, "2 flights from 4 inputs, 2 failed") {
		t.Errorf("exit code %d: %s", code, messages)
	}
}

// TestReadOnlyArchive: nothing can be written, and the run says so.
func TestReadOnlyArchive(t *testing.T) {
	t.Parallel()
	n := newNights(t, 3)
	disk := t.TempDir()
	dir := filepath.Join(disk, "archive")
	if os.Getuid() == 0 { // whom no permission stops
		if out, err := exec.Command("mount", "-t", "tmpfs", "-o", "size=4m", "tmpfs", disk).CombinedOutput(); err != nil {
			t.Skipf("no disk can be mounted: %s", out)
		}
		defer exec.Command("umount", disk).Run()
		n.expect(t, dir, command.ExitInputsFailed)
		if out, err := exec.Command("mount", "-o", "remount,ro", disk).CombinedOutput(); err != nil {
			t.Skipf("the disk cannot be made read-only: %s", out)
		}
		n.expect(t, dir, command.ExitOutput, "archive", "read-only file system", "hint: ")
		return
	}
	if err := os.Chmod(disk, 0o555); err != nil {
		t.Fatal(err)
	}
	n.expect(t, dir, command.ExitOutput, "permission denied", "hint: ")
}

// TestEditsTimesDoNotShow: an edit of the same length is seen though the times
// say nothing: set back by hand, in the same tick as the run, or in a future the
// clock was set back from.
func TestEditsTimesDoNotShow(t *testing.T) {
	t.Parallel()
	n := newNights(t, 3)
	edited := n.path("flight-0000.csv")
	edit := func(to string) {
		t.Helper()
		f, err := os.OpenFile(edited, os.O_WRONLY, 0)
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		if _, err := f.WriteString(to); err != nil {
			t.Fatal(err)
		}
	}
	chtimes := func(at time.Time) {
		t.Helper()
		if err := os.Chtimes(edited, at, at); err != nil {
			t.Fatal(err)
		}
	}
	dir := filepath.Join(t.TempDir(), "archive")
	n.fresh = true
	n.expect(t, dir, command.ExitInputsFailed, "2 flights from 3 inputs, 1 failed, 0 skipped")
	edit("readoux") // at once: within the tick as far as the ledger knows
	n.expect(t, dir, command.ExitInputsFailed, "1 flight from 3 inputs, 1 failed, 1 skipped")
	n.fresh = false
	old := time.Date(2020, 1, 2, 3, 4, 5, 0, time.UTC)
	for name, at := range map[string]time.Time{"past": old, "future": time.Now().Add(1000 * time.Hour)} {
		chtimes(at)
		n.expect(t, dir, command.ExitInputsFailed, "0 flights from 3 inputs, 1 failed, 2 skipped")
		n.expect(t, dir, command.ExitInputsFailed, "0 flights from 3 inputs, 1 failed, 2 skipped")
		edit("read" + name[:3])
		chtimes(at)
		n.expect(t, dir, command.ExitInputsFailed, "1 flight from 3 inputs, 1 failed, 1 skipped")
	}
}
