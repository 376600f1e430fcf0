package scan

import (
	"bytes"
	"fmt"
	"io"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"

	"downlock/cmd/downlock/command"
	"downlock/ingest/export"
	"downlock/ingest/simulator"
	"downlock/schemas"
)

// TestMain runs scan in a process of its own, for the tests that disturb it. All files look at rest.
func TestMain(m *testing.M) {
	Clock = clock(time.Hour)
	testscript.Main(m, map[string]func(){
		scanProcess:  inProcess(Command),
		planProcess:  inProcess(PlanCommand),
		mergeProcess: inProcess(MergeCommand),
		peakProcess:  runForPeak,
		ruleProcess:  runOneRule,
	})
}

// inProcess is a command that a process is all of, with its own clock.
func inProcess(run func(args []string, stdout, stderr io.Writer) int) func() {
	return func() {
		command.SetCollector()
		if ahead, err := time.ParseDuration(os.Getenv(aheadVariable)); err == nil {
			Clock = clock(ahead)
		}
		os.Exit(run(os.Args[1:], os.Stdout, os.Stderr))
	}
}

// clock is one that is ahead.
func clock(ahead time.Duration) func() time.Time {
	return func() time.Time { return time.Now().Add(ahead) }
}

// aheadVariable says how far the clock of scan is ahead in a process of its own.
const aheadVariable = "DOWNLOCK_CLOCK_AHEAD"

// The names that commands run under in a process of their own.
const (
	scanProcess  = "downlock-scan"
	planProcess  = "downlock-plan"
	mergeProcess = "downlock-merge"
)

// nights is a folder of inputs and a profile for tests that disturb a run.
type nights struct {
	exports string
	profile string
	fresh   bool // the inputs look as fresh as they are, rather than at rest
}

// shortExports are wide CSV exports of a few twenty-minute flights.
var shortExports = sync.OnceValues(func() ([][]byte, error) {
	var out [][]byte
	for seed := range uint64(3) {
		f, err := simulator.LongFlight(seed, 1100)
		if err != nil {
			return nil, err
		}
		var b bytes.Buffer
		if err := export.Write(&b, export.Format{Layout: export.WideCSV}, f.RecordRough()); err != nil {
			return nil, err
		}
		out = append(out, b.Bytes())
	}
	return out, nil
})

// newNights writes so many twenty-minute flights, each a recording of its own by
// a remark before the header, and one damaged file among them. They look as if
// at rest since long ago.
func newNights(t testing.TB, flights int) nights {
	t.Helper()
	data, err := shortExports()
	if err != nil {
		t.Fatal(err)
	}
	n := nights{exports: t.TempDir(), profile: filepath.Join(t.TempDir(), "th120.yaml")}
	if err := os.WriteFile(n.profile, schemas.ShippedProfileText(), 0o666); err != nil {
		t.Fatal(err)
	}
	for i := range flights {
		text := append(fmt.Appendf(nil, "readout %d\n", i), data[i%len(data)]...)
		if i == flights/2 {
			text = text[:100]
		}
		if err := os.WriteFile(filepath.Join(n.exports, fmt.Sprintf("flight-%04d.csv", i)), text, 0o666); err != nil {
			t.Fatal(err)
		}
	}
	return n
}

// scan is the command in a process of its own.
func (n nights) scan(archive string, more ...string) (*exec.Cmd, *bytes.Buffer) {
	args := append([]string{scanProcess, "--profile", n.profile, "--archive", archive}, more...)
	self, _ := os.Executable()
	var messages bytes.Buffer
	cmd := &exec.Cmd{Path: self, Args: append(args, n.exports), Stderr: &messages}
	if n.fresh {
		cmd.Env = append(os.Environ(), aheadVariable+"=0s")
	}
	return cmd, &messages
}

// run runs it to the end and returns the exit code.
func (n nights) run(t testing.TB, archive string, more ...string) (code int, messages string) {
	t.Helper()
	cmd, text := n.scan(archive, more...)
	cmd.Run()
	if cmd.ProcessState == nil {
		t.Fatal("the command did not start")
	}
	return cmd.ProcessState.ExitCode(), text.String()
}

// archiveFiles returns every file of an archive but the lock and the figures of
// runs, which tell when they were.
func archiveFiles(t testing.TB, dir string) map[string]string {
	t.Helper()
	files := map[string]string{}
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || d.Name() == "lock" || d.Name() == "batch.json" || filepath.Base(filepath.Dir(path)) == "runs" {
			return err
		}
		data, err := os.ReadFile(path)
		name, _ := filepath.Rel(dir, path)
		files[name] = string(data)
		return err
	})
	if err != nil && !os.IsNotExist(err) {
		t.Fatal(err)
	}
	return files
}

func sameArchive(t testing.TB, what string, got, want map[string]string) {
	t.Helper()
	for name := range got {
		if _, ok := want[name]; !ok {
			t.Errorf("%s: %s should not be there", what, name)
		}
	}
	for name := range want {
		if got[name] != want[name] {
			t.Errorf("%s: %s differs", what, name)
		}
	}
}
