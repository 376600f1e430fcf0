//go:build linux

package scan

import (
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"runtime"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"

	"downlock/cmd/downlock/command"
	"downlock/testdata/effort"
)

// TestKilledAtRandom kills the process with SIGKILL at random moments of its work, some of
// them several times over, then lets it run once: the archive must have the
// bytes of a run nobody disturbed, and over all runs each flight is told and counted once.
func TestKilledAtRandom(t *testing.T) {
	t.Parallel()
	rounds, flights := effort.Of(6, 12, 40), effort.Of(10, 20, 30)
	n, pack := newNights(t, flights), airbornePack(t)
	undisturbed := filepath.Join(t.TempDir(), "archive")
	told := &telling{}
	cmd, _ := n.scan(undisturbed, "--rules", pack)
	cmd.Stdout = told.next()
	cmd.Run()
	want, wantLines, wantFigures := archiveFiles(t, undisturbed), told.lines(), figuresOf(t, undisturbed)
	if len(wantLines) != flights-1 || wantFigures.Flights != flights-1 || wantFigures.Events["low"]+wantFigures.Events["medium"]+wantFigures.Events["high"] != flights-1 {
		t.Fatalf("undisturbed: %d lines, %+v", len(wantLines), wantFigures)
	}
	random := rand.New(rand.NewPCG(7, uint64(rounds)))
	killed := map[killedWhile]int{}
	everywhere := func() bool {
		return killed[whileScanning] > 0 && killed[whileWriting] > 0 && killed[whileReplacing] > 0
	}
	raised := 0
	for round := 0; round < rounds || round < 4*rounds && !testing.Short() && !everywhere(); round++ {
		dir := filepath.Join(t.TempDir(), "archive")
		told, twice := &telling{}, false
		for i := range 1 + random.IntN(3) {
			cmd, _ := n.scan(dir, "--rules", pack)
			cmd.Stdout = told.next()
			// As far as the first inputs, the new files, or the new files in their places.
			pattern := []string{"staging/*", "new/*", "tables/*/*/part.parquet"}[(round+i)%3]
			if kill(t, cmd, dir, pattern, 1+random.IntN(len(found(undisturbed, pattern))+flights/3)) {
				killed[whileOf(dir)]++
				twice = twice || told.unnoted(dir)
			}
		}
		cmd, messages := n.scan(dir, "--rules", pack, "--fail-on", "low")
		cmd.Stdout = told.next()
		cmd.Run()
		code := command.ExitInputsFailed
		if told.events() > 0 {
			code, raised = command.ExitInputsFailedEvents, raised+1
		}
		if got := cmd.ProcessState.ExitCode(); got != code {
			t.Fatalf("round %d: exit code %d, want %d: %s", round, got, code, messages)
		}
		if got := figuresOf(t, dir); !reflect.DeepEqual(got, wantFigures) {
			t.Errorf("round %d: the runs count %+v, want %+v", round, got, wantFigures)
		}
		if got := told.lines(); !twice && !slices.Equal(got, wantLines) {
			t.Errorf("round %d: told\n%s\nwant\n%s", round, strings.Join(got, "\n"), strings.Join(wantLines, "\n"))
		}
		sameArchive(t, fmt.Sprintf("round %d", round), archiveFiles(t, dir), want)
		if t.Failed() {
			return
		}
	}
	t.Logf("killed while %v; the last run raised events in %d rounds", killed, raised)
	if raised == 0 {
		t.Error("the last run never raised anything")
	}
	if !testing.Short() && !everywhere() {
		t.Error("not killed in every stage")
	}
}

// killedWhile is the stage of a run in which it was killed.
type killedWhile string

const (
	whileScanning  killedWhile = "scanning"
	whileWriting   killedWhile = "writing new files"
	whileReplacing killedWhile = "new files took their places"
	whileEnding    killedWhile = "nothing was begun or all was done"
)

func whileOf(dir string) killedWhile {
	count := func(pattern string) int { return len(found(dir, pattern)) }
	switch {
	case count("staging/*") < 2: // a run after one that ended stages the damaged input alone
		return whileEnding
	case count("tables/*/*/part.parquet") > 0:
		return whileReplacing
	case count("new/*") > 0:
		return whileWriting
	}
	return whileScanning
}

// kill starts a run and kills it once so many files are there, unless it has ended before.
func kill(t *testing.T, cmd *exec.Cmd, dir, pattern string, files int) (killed bool) {
	t.Helper()
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	ended := make(chan struct{})
	go func() { cmd.Wait(); close(ended) }()
	for look := time.NewTicker(100 * time.Microsecond); len(found(dir, pattern)) < files; {
		select {
		case <-ended:
			return false
		case <-look.C:
		}
	}
	cmd.Process.Kill()
	<-ended
	return cmd.ProcessState.ExitCode() < 0
}

func found(dir, pattern string) []string {
	files, _ := filepath.Glob(filepath.Join(dir, pattern))
	return files
}

// TestStoppedBySignal: SIGINT and SIGTERM end a run in good order; what it
// finished is in the archive, and the next run does the rest.
func TestStoppedBySignal(t *testing.T) {
	t.Parallel()
	n := newNights(t, effort.Of(25, 60, 60))
	undisturbed := filepath.Join(t.TempDir(), "archive")
	n.run(t, undisturbed)
	for _, sig := range []syscall.Signal{syscall.SIGINT, syscall.SIGTERM} {
		dir := filepath.Join(t.TempDir(), "archive")
		cmd, messages := n.scan(dir, "--jobs", "1")
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		waitForStaged(t, dir, 5)
		cmd.Process.Signal(sig)
		cmd.Wait()
		if code := cmd.ProcessState.ExitCode(); code != command.ExitSignal+int(sig) {
			t.Fatalf("%v: exit code %d: %s", sig, code, messages)
		}
		if !strings.Contains(messages.String(), "stopped before") {
			t.Errorf("%v: the messages are %s", sig, messages)
		}
		got := archiveFiles(t, dir)
		for name := range got {
			if strings.HasPrefix(name, "staging") || strings.HasPrefix(name, "new") {
				t.Errorf("%v: %s is left", sig, name)
			}
		}
		if code, messages := n.run(t, dir); code != command.ExitInputsFailed || strings.Contains(messages, " 0 skipped") {
			t.Errorf("%v: the next run ended with %d: %s", sig, code, messages)
		}
		sameArchive(t, sig.String(), archiveFiles(t, dir), archiveFiles(t, undisturbed))
	}
}

// waitForStaged waits until so many inputs are finished.
func waitForStaged(t *testing.T, dir string, inputs int) {
	t.Helper()
	look, late := time.NewTicker(5*time.Millisecond), time.After(2*time.Minute)
	for len(found(dir, "staging/*.staged")) < inputs {
		select {
		case <-look.C:
		case <-late:
			t.Fatal("nothing is staged")
		}
	}
}

// TestLockedArchive: a second run on one archive is refused with a code of its
// own; a lock left by a killed run is not in the way.
func TestLockedArchive(t *testing.T) {
	t.Parallel()
	n := newNights(t, effort.Of(25, 60, 60))
	dir := filepath.Join(t.TempDir(), "archive")
	cmd, _ := n.scan(dir, "--jobs", "1")
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	waitForStaged(t, dir, 1)
	cmd.Process.Signal(syscall.SIGSTOP) // so that it still holds the archive
	code, messages := n.run(t, dir)
	if code != command.ExitLocked || !strings.Contains(messages, fmt.Sprintf("process %d", cmd.Process.Pid)) {
		t.Errorf("exit code %d: %s", code, messages)
	}
	cmd.Process.Kill()
	cmd.Wait()
	if code, messages := n.run(t, dir); code != command.ExitInputsFailed {
		t.Errorf("after the kill: exit code %d: %s", code, messages)
	}
}

// TestDiskFull fills a small disk: the archive stays as it was, and the run says
// so with its code. It needs the right to mount one.
func TestDiskFull(t *testing.T) {
	t.Parallel()
	if runtime.GOOS != "linux" || os.Getuid() != 0 {
		t.Skip("only root may mount a small disk; report/archive fills one at every change")
	}
	disk := t.TempDir()
	if out, err := exec.Command("mount", "-t", "tmpfs", "-o", "size=1m", "tmpfs", disk).CombinedOutput(); err != nil {
		t.Skipf("no small disk can be mounted: %s", out)
	}
	defer exec.Command("umount", disk).Run()
	n := newNights(t, 6)
	dir := filepath.Join(disk, "archive")
	if code, messages := n.run(t, dir); code != command.ExitInputsFailed {
		t.Fatalf("exit code %d: %s", code, messages)
	}
	before := archiveFiles(t, dir)
	for _, left := range []int{0, 40, 120, 200} { // KiB left on the disk
		filler := filepath.Join(disk, "filler")
		fill(t, disk, filler, int64(left)<<10)
		code, messages := n.run(t, dir, "--rescan")
		if code != command.ExitOutput || !strings.Contains(messages, "no space left on device") {
			if left < 200 || code != command.ExitInputsFailed {
				t.Errorf("%d KiB left: exit code %d: %s", left, code, messages)
			}
		}
		sameArchive(t, fmt.Sprintf("%d KiB left", left), archiveFiles(t, dir), before)
		os.Remove(filler)
	}
	if code, messages := n.run(t, dir, "--rescan"); code != command.ExitInputsFailed {
		t.Errorf("with room again: exit code %d: %s", code, messages)
	}
	sameArchive(t, "with room again", archiveFiles(t, dir), before)
}

// fill takes all of a disk but so many bytes.
func fill(t *testing.T, disk, filler string, left int64) {
	t.Helper()
	var s syscall.Statfs_t
	if err := syscall.Statfs(disk, &s); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filler, make([]byte, int64(s.Bavail)*s.Bsize-left), 0o666); err != nil {
		t.Fatal(err)
	}
}
