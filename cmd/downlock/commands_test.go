package main

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"strings"
	"syscall"
	"testing"
	"time"

	"downlock/cmd/downlock/command"
	"downlock/cmd/downlock/topics"
	"downlock/report/trend/fleet"
)

// commandLine is a command as README and the reference show it: indented by four blanks or more.
var commandLine = regexp.MustCompile(`(?m)^ {4,}((?:downlock|go|head|\[) .*)$`)

// Commands that need no run here: CI installs and tests as a newcomer does, and mail is sent by nobody.
var notRun = map[string]bool{
	"go install ./cmd/downlock": true,
	"go test ./...":             true,
	`[ $? = 7 ] && mail -s "indicators" safety < trends/indicators.csv`: true,
}

// workplace is a folder in which the documented commands are given one after the other.
type workplace struct {
	t        *testing.T
	dir, bin string
	known    *strings.Replacer // an id of the text by one that the archive has
}

// newWorkplace has the program as `downlock` on its path, which TestMain makes of the test.
func newWorkplace(t *testing.T) *workplace {
	dir, bin := t.TempDir(), t.TempDir()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink(self, filepath.Join(bin, "downlock")); err != nil {
		t.Fatal(err)
	}
	return &workplace{t: t, dir: dir, bin: bin}
}

func (w *workplace) command(ctx context.Context, name string, args ...string) *exec.Cmd {
	cmd := exec.CommandContext(ctx, name, args...)
	cmd.Dir = w.dir
	cmd.Env = append(os.Environ(), "PATH="+w.bin+string(filepath.ListSeparator)+os.Getenv("PATH"))
	return cmd
}

// run gives a line to the shell and returns its exit code and all that was said.
func (w *workplace) run(line string) (code int, said string) {
	w.t.Helper()
	cmd := w.command(context.Background(), "sh", "-c", strings.ReplaceAll(line, "go run ./cmd/downlock", "downlock"))
	out, err := cmd.CombinedOutput()
	if exit := (*exec.ExitError)(nil); err != nil && !errors.As(err, &exit) {
		w.t.Fatalf("%s: %v", line, err)
	}
	return cmd.ProcessState.ExitCode(), string(out)
}

// serve begins a line that serves a page, waits for the address, and asks it to end.
func (w *workplace) serve(line string) (code int, said string) {
	w.t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), 5*time.Minute) // it never says an address
	defer cancel()
	cmd := w.command(ctx, filepath.Join(w.bin, "downlock"), strings.Fields(line)[1:]...)
	out, err := cmd.StdoutPipe()
	if err != nil {
		w.t.Fatal(err)
	}
	var messages bytes.Buffer
	cmd.Stderr = &messages
	if err := cmd.Start(); err != nil {
		w.t.Fatal(err)
	}
	lines := bufio.NewScanner(out)
	for lines.Scan() {
		said += lines.Text() + "\n"
		if strings.Contains(lines.Text(), "http://127.0.0.1:") {
			cmd.Process.Signal(syscall.SIGTERM)
		}
	}
	cmd.Wait()
	return cmd.ProcessState.ExitCode(), said + messages.String()
}

// must runs a line that prepares the ground for a documented one.
func (w *workplace) must(line string) string {
	w.t.Helper()
	code, said := w.run(line)
	if code != 0 {
		w.t.Fatalf("%s: exit code %d: %s", line, code, said)
	}
	return said
}

func (w *workplace) write(name, text string) {
	w.t.Helper()
	if err := os.WriteFile(filepath.Join(w.dir, name), []byte(text), 0o600); err != nil {
		w.t.Fatal(err)
	}
}

// twoYears lays out an archive that trends can compare, as `fleet`.
func (w *workplace) twoYears() {
	w.must("rm -rf fleet reports")
	f := fleet.Fleet{Seed: 6, Flights: 2_400, Months: 24, First: "2031-01", Aircraft: 6, Rules: 45}
	if err := f.Write(filepath.Join(w.dir, "fleet")); err != nil {
		w.t.Fatal(err)
	}
}

// nights lays out an archive of the demonstration flights, as `fleet`.
func (w *workplace) nights() {
	w.must("rm -rf fleet reports && downlock demo demo && downlock scan -q --archive fleet --out reports demo")
}

// downloads lays out a profile and a folder of exports it fits.
func (w *workplace) downloads() {
	w.must("downlock demo downloads && mv downloads/th120.yaml my-type.yaml")
}

// documented is a text with commands that are given one after the other in a folder.
type documented struct {
	text     string
	ready    func(w *workplace)            // before the first
	before   map[string]func(w *workplace) // before a command
	code     map[string]int                // 0 where it is not here
	commands int
}

// TestDocumentedCommands gives every command of README and of the reference as it stands there,
// and wants the exit code that the text speaks of.
func TestDocumentedCommands(t *testing.T) {
	if testing.Short() || runtime.GOOS == "windows" {
		t.Skip("the whole of README, in a POSIX shell")
	}
	readme, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	topic := func(name string) string {
		text, _ := topics.Text(name)
		return text
	}
	block := func(topic, notation, file string) func(*workplace) {
		return func(w *workplace) { w.write(file, referenceBlock(t, topic, notation)) }
	}
	for name, d := range map[string]documented{
		"README": {text: string(readme), commands: 13, before: map[string]func(*workplace){
			"downlock review --archive fleet --severity high": (*workplace).nights,
		}},
		"archive": {text: topic("archive"), commands: 1, ready: (*workplace).downloads},
		"trends":  {text: topic("trends"), commands: 1, ready: (*workplace).twoYears},
		"indicators": {text: topic("indicators"), commands: 1, code: map[string]int{
			"downlock trend --archive fleet --out trends --indicators indicators.yaml": command.ExitAlert, // slow-leg has a level
		}, ready: func(w *workplace) {
			w.twoYears()
			block("indicators", "yaml", "indicators.yaml")(w)
		}},
		"review": {text: topic("review"), commands: 7, ready: func(w *workplace) {
			w.nights()
			id := regexp.MustCompile(`E[0-9a-f]{12}`).FindString(w.must("downlock review --archive fleet --severity high"))
			w.known = strings.NewReplacer("E0123456789ab", id)
		}},
		"confidentiality": {text: topic("confidentiality"), commands: 2, ready: (*workplace).downloads},
		"rules": {text: topic("rules"), commands: 1, ready: func(w *workplace) {
			w.must("downlock demo demo")
			block("rules", "yaml", "my-limits.yaml")(w)
		}},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			w := newWorkplace(t)
			if d.ready != nil {
				d.ready(w)
			}
			ran := 0
			for _, match := range commandLine.FindAllStringSubmatch(d.text, -1) {
				line := match[1]
				if notRun[line] {
					continue
				}
				if prepare := d.before[line]; prepare != nil {
					prepare(w)
				}
				give := w.run
				if strings.HasPrefix(line, "downlock desk ") {
					give = w.serve
				}
				if w.known != nil {
					line = w.known.Replace(line)
				}
				if code, said := give(line); code != d.code[line] {
					t.Errorf("%s: exit code %d, want %d:\n%s", line, code, d.code[line], said)
				}
				ran++
			}
			if ran != d.commands {
				t.Errorf("%d commands, want %d: has the text lost or won one?", ran, d.commands)
			}
		})
	}
}
