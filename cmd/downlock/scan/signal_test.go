//go:build linux

package scan

import (
	"bufio"
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"downlock/cmd/downlock/command"
)

// TestRaisedAfterSignal: a run that a signal ends tells what it found and cannot raise
// it. The next run raises it, though it finds nothing, and tells it no more; the run
// after that is silent.
func TestRaisedAfterSignal(t *testing.T) {
	t.Parallel()
	n, pack, dir := newNights(t, 30), airbornePack(t), filepath.Join(t.TempDir(), "archive")
	told := &telling{}
	cmd, messages := n.scan(dir, "--jobs", "1", "--rules", pack, "--fail-on", "low")
	cmd.Stdout = told.next()
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	waitForStaged(t, dir, 3)
	cmd.Process.Signal(syscall.SIGTERM)
	cmd.Wait()
	if code := cmd.ProcessState.ExitCode(); code != command.ExitSignal+int(syscall.SIGTERM) {
		t.Fatalf("exit code %d: %s", code, messages)
	}
	found := told.events()
	if figures := figuresOf(t, dir); found < 3 || figures.Flights != found {
		t.Fatalf("%d events told, the figures are %+v", found, figures)
	}
	n.exports = t.TempDir() // nothing to scan any more
	for _, want := range []int{command.ExitEvents, command.ExitDone} {
		cmd, messages := n.scan(dir, "--allow-empty", "--rules", pack, "--fail-on", "low")
		cmd.Stdout = told.next()
		cmd.Run()
		if code := cmd.ProcessState.ExitCode(); code != want || told.events() != 0 {
			t.Errorf("exit code %d, want %d, %d events told: %s", code, want, told.events(), messages)
		}
	}
	if figures := figuresOf(t, dir); figures.Flights != found {
		t.Errorf("%d flights counted, want %d", figures.Flights, found)
	}
}

// TestSignalBeforeInputs: a signal ends a run with its code before the first input, here
// while a rule pack is read, which a pipe keeps from its end.
func TestSignalBeforeInputs(t *testing.T) {
	t.Parallel()
	n := newNights(t, 1)
	for _, sig := range []syscall.Signal{syscall.SIGINT, syscall.SIGTERM} {
		pipe := filepath.Join(t.TempDir(), "pack.yaml")
		if err := syscall.Mkfifo(pipe, 0o600); err != nil {
			t.Fatal(err)
		}
		cmd, messages := n.scan(filepath.Join(t.TempDir(), "archive"), "--rules", pipe)
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		writer, err := os.OpenFile(pipe, os.O_WRONLY, 0) // once the run has opened it
		if err != nil {
			t.Fatal(err)
		}
		cmd.Process.Signal(sig)
		cmd.Wait()
		writer.Close()
		if code := cmd.ProcessState.ExitCode(); code != command.ExitSignal+int(sig) || !strings.Contains(messages.String(), "before an input was read") {
			t.Errorf("%v: exit code %d: %s", sig, code, messages)
		}
	}
}

// TestSignalWhileOpening: work that does not end, such as opening a file on a disk that
// does not answer, is left to itself once a signal asks the run to stop.
func TestSignalWhileOpening(t *testing.T) {
	t.Parallel()
	s := newStopping(command.Messages{To: t.Output()})
	s.begin(progress{})
	if got, stopped, err := unless(s, func() (int, error) { return 7, errors.New("no") }); got != 7 || stopped || err == nil {
		t.Errorf("work that ends: %d, %v, %v", got, stopped, err)
	}
	opening, never := make(chan bool), make(chan bool)
	go func() {
		<-opening
		s.receive(syscall.SIGTERM)
	}()
	_, stopped, err := unless(s, func() (int, error) { close(opening); <-never; return 0, nil })
	if !stopped || err != nil || s.signal() != int(syscall.SIGTERM) {
		t.Errorf("stopped: %v, %v, by signal %d", stopped, err, s.signal())
	}
}

// silent is standard input into which nobody writes; reading is closed once it is read.
type silent struct{ reading, never chan bool }

func (s silent) Read([]byte) (int, error) {
	close(s.reading)
	<-s.never
	return 0, io.EOF
}

// TestSignalWhileAwaitingStdin: a signal ends the wait for the first byte of standard input.
func TestSignalWhileAwaitingStdin(t *testing.T) {
	in := silent{make(chan bool), make(chan bool)}
	defer close(in.never)
	say := command.Messages{To: t.Output()}
	s, code := newScan(scanOptions{profile: newNights(t, 0).profile, jobs: 1, stdin: bufio.NewReader(in)}, []string{command.Stdin}, newStopping(say), say)
	if s == nil {
		t.Fatalf("exit code %d", code)
	}
	s.stop.begin(progress{})
	go func() {
		<-in.reading
		s.stop.receive(syscall.SIGTERM)
	}()
	if o := s.one(s.inputs[0]); !o.unbegun || o.err != nil {
		t.Errorf("begun: %+v", o)
	}
}
