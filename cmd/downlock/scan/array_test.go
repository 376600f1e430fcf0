//go:build linux

package scan

import (
	"bytes"
	"crypto/sha256"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"downlock/cmd/downlock/command"
	"downlock/report/archive"
)

// arrayProcess is a command of an array in a process of its own.
func arrayProcess(name string, args ...string) *exec.Cmd {
	self, _ := os.Executable()
	return &exec.Cmd{Path: self, Args: append([]string{name}, args...), Stdout: &bytes.Buffer{}, Stderr: &bytes.Buffer{}}
}

// runArray runs a command to the end.
func runArray(t testing.TB, name string, args ...string) (code int, stdout, messages string) {
	t.Helper()
	cmd := arrayProcess(name, args...)
	cmd.Run()
	if cmd.ProcessState == nil {
		t.Fatal("the command did not start")
	}
	return cmd.ProcessState.ExitCode(), cmd.Stdout.(*bytes.Buffer).String(), cmd.Stderr.(*bytes.Buffer).String()
}

// plan plans an array and returns its folder.
func (n nights) plan(t testing.TB, archive string, tasks int) (run string) {
	t.Helper()
	code, out, messages := runArray(t, planProcess, "--archive", archive, "--profile", n.profile, "--tasks", fmt.Sprint(tasks), n.exports)
	if code != command.ExitDone || strings.Count(out, "\n") != 1 {
		t.Fatalf("plan ended with %d, %q: %s", code, out, messages)
	}
	return strings.TrimSpace(out)
}

// tablesAndLedger are the files of an archive that one machine's run has, too.
func tablesAndLedger(t testing.TB, dir string) map[string]string {
	all := archiveFiles(t, dir)
	for name := range all {
		if strings.HasPrefix(name, "arrays") {
			delete(all, name)
		}
	}
	return all
}

// TestArrayKilledAtRandom spreads the inputs over tasks on 4 workers. Tasks are killed at random
// moments and begun again, some run twice at once, some never end, and the merge is killed,
// too: tables, ledger and checksums have the bytes of one machine's run.
func TestArrayKilledAtRandom(t *testing.T) {
	rounds, flights, perRound := 10, 6, 4
	switch {
	case os.Getenv("DOWNLOCK_LONG") != "":
		rounds, flights, perRound = 50, 60, 16
	case testing.Short():
		rounds = 2
	}
	n := newNights(t, flights)
	undisturbed := filepath.Join(t.TempDir(), "archive")
	began := time.Now()
	if code, messages := n.run(t, undisturbed); code != command.ExitInputsFailed {
		t.Fatalf("exit code %d: %s", code, messages)
	}
	span := time.Since(began) // about that of a task, in which four run at a time
	want := tablesAndLedger(t, undisturbed)
	var mutex sync.Mutex
	random := rand.New(rand.NewPCG(18, uint64(rounds)))
	draw := func(n int) int {
		mutex.Lock()
		defer mutex.Unlock()
		return random.IntN(n)
	}
	killed, killedMerges := 0, 0
	// cut starts a command and kills it at a random moment, unless it ended before.
	cut := func(cmd *exec.Cmd, span time.Duration) (wasKilled bool) {
		if err := cmd.Start(); err != nil {
			t.Error(err)
			return false
		}
		timer := time.AfterFunc(time.Duration(draw(1000))*span/1000, func() { cmd.Process.Kill() })
		cmd.Wait()
		timer.Stop()
		return cmd.ProcessState.ExitCode() < 0
	}
	for round := 0; round < rounds || round < 10*rounds && killed == 0; round++ {
		dir := filepath.Join(t.TempDir(), "archive")
		run := n.plan(t, dir, perRound)
		tasks := make(chan int, perRound+2)
		for task := range perRound {
			if task != round%perRound { // which no worker ever ends
				tasks <- task
			}
		}
		for range 2 {
			tasks <- draw(perRound) // twice
		}
		close(tasks)
		var workers sync.WaitGroup
		for range 4 {
			workers.Go(func() {
				for task := range tasks {
					for draw(2) == 0 {
						if cut(arrayProcess(scanProcess, "-q", "--jobs", "1", "--run", run, "--task", fmt.Sprint(task)), span) {
							mutex.Lock()
							killed++
							mutex.Unlock()
						}
					}
					if code, _, messages := runArray(t, scanProcess, "--jobs", "1", "--run", run, "--task", fmt.Sprint(task)); code > command.ExitInputsFailed {
						t.Errorf("round %d: task %d ended with %d: %s", round, task, code, messages)
					}
				}
			})
		}
		workers.Wait()
		for draw(3) > 0 {
			if cut(arrayProcess(mergeProcess, "--run", run), span) {
				killedMerges++
			}
		}
		if code, _, messages := runArray(t, mergeProcess, "--run", run); code > command.ExitInputsFailed {
			t.Errorf("round %d: merge ended with %d: %s", round, code, messages)
		}
		sameArchive(t, fmt.Sprintf("round %d", round), tablesAndLedger(t, dir), want)
		if left, _ := filepath.Glob(filepath.Join(run, "staged", "*.staged")); len(left) > 0 {
			t.Errorf("round %d: %v are left", round, left)
		}
		if t.Failed() {
			return
		}
	}
	t.Logf("killed %d tasks and %d merges", killed, killedMerges)
	if killed == 0 || killedMerges == 0 && !testing.Short() {
		t.Error("too few were killed to tell")
	}
}

// TestArrayOfAFleet: a task needs nothing but the plan and the inputs. Profiles, fleet, rules and
// aerodromes are gone by the time it runs, and the results are those of one machine.
func TestArrayOfAFleet(t *testing.T) {
	n := newNights(t, 4)
	settings := filepath.Join(t.TempDir(), "settings")
	write := func(name, text string) string {
		path := filepath.Join(settings, name)
		if err := errors.Join(os.MkdirAll(filepath.Dir(path), 0o777), os.WriteFile(path, []byte(text), 0o666)); err != nil {
			t.Fatal(err)
		}
		return path
	}
	profile, err := os.ReadFile(n.profile)
	if err != nil {
		t.Fatal(err)
	}
	write("types/th120.yaml", string(profile))
	fleet := write("fleets/fleet.yaml", "schema: downlock fleet 1\ninputs:\n  - files: \"*-0001.csv\"\n    profile: ../types/th120.yaml\n    registration: TH-LGA\n  - files: \"*\"\n    profile: ../types/th120.yaml\n    registration: TH-LGB\n    file_date: \"*_{YYYYMMDD}_*\"\n")
	aerodromes := write("aerodromes.csv", "code,latitude,longitude\nXTAR,10,20\n")
	flags := []string{"--fleet", fleet, "--rules", airbornePack(t), "--aerodromes", aerodromes}
	one, dir := filepath.Join(t.TempDir(), "archive"), filepath.Join(t.TempDir(), "archive")
	runArray(t, scanProcess, append(flags, "--archive", one, n.exports)...)
	code, out, messages := runArray(t, planProcess, append(flags, "--archive", dir, "--tasks", "2", n.exports)...)
	if code != command.ExitDone {
		t.Fatalf("plan ended with %d: %s", code, messages)
	}
	run := strings.TrimSpace(out)
	if err := os.RemoveAll(settings); err != nil {
		t.Fatal(err)
	}
	for _, variable := range []string{"SLURM_ARRAY_TASK_ID=0", "JOB_COMPLETION_INDEX=1"} {
		cmd := arrayProcess(scanProcess, "--run", run)
		cmd.Env = append(os.Environ(), variable)
		cmd.Run()
	}
	code, out, messages = runArray(t, mergeProcess, "--run", run, "--no-scan", "--fail-on", "low")
	if code != command.ExitInputsFailedEvents || strings.Count(out, "\n") != 4 {
		t.Errorf("merge ended with %d: %s%s", code, out, messages)
	}
	sameArchive(t, "fleet", tablesAndLedger(t, dir), tablesAndLedger(t, one))
}

// Each mistake has its code and says what to do, and nothing is lost by it.
func TestArrayMistakes(t *testing.T) {
	n := newNights(t, 4)
	one, dir := filepath.Join(t.TempDir(), "archive"), filepath.Join(t.TempDir(), "archive")
	n.run(t, one)
	run := n.plan(t, dir, 3)
	expect := func(what string, code int, text, process string, args ...string) {
		t.Helper()
		got, out, messages := runArray(t, process, args...)
		if got != code || !strings.Contains(out+messages, text) {
			t.Errorf("%s: exit code %d, want %d, and %q in: %s%s", what, got, code, text, out, messages)
		}
	}
	expect("two plans", command.ExitLocked, "is not merged yet", planProcess, "--archive", dir, "--profile", n.profile, "--tasks", "3", n.exports)
	expect("index out of range", command.ExitUsage, "tasks 0 to 2", scanProcess, "--run", run, "--task", "3")
	expect("no index", command.ExitUsage, "--run needs --task", scanProcess, "--run", run)
	expect("flags of the plan", command.ExitUsage, "do not go together", scanProcess, "--run", run, "--task", "0", "--profile", n.profile)
	expect("no array", command.ExitInvalid, "is not an array", scanProcess, "--run", dir, "--task", "0")
	expect("no array to merge", command.ExitInvalid, "is not an array", mergeProcess, "--run", dir)
	expect("no months", command.ExitUsage, "at least one", mergeProcess, "--run", run, "--months", "0")
	expect("no tasks", command.ExitUsage, "1 to 99999", planProcess, "--archive", dir, "--profile", n.profile, n.exports)
	expect("missing chunks", command.ExitInputsFailed, "3 chunks without results", mergeProcess, "--run", run, "--no-scan")
	expect("progress", command.ExitDone, "task 2: 1 of 1 chunks", planProcess, "--show", run)
	changed := func(name string, change func([]byte) []byte) (undo func()) {
		t.Helper()
		path := filepath.Join(run, name)
		text, err := os.ReadFile(path)
		if err == nil {
			err = os.WriteFile(path, change(text), 0o666)
		}
		if err != nil {
			t.Fatal(err)
		}
		return func() { os.WriteFile(path, text, 0o666) }
	}
	flip := func(text []byte) []byte {
		text = bytes.Clone(text)
		text[len(text)/2] ^= 1
		return text
	}
	undo := changed("settings/0-th120.yaml", flip)
	expect("a copy that is another one", command.ExitInvalid, "the plan is damaged here", scanProcess, "--run", run, "--task", "0")
	undo()
	undo = changed("tasks/00001", flip)
	expect("a damaged list", command.ExitInvalid, "the plan is damaged here", scanProcess, "--run", run, "--task", "1")
	undo()
	undo = changed("plan.json", flip)
	expect("a damaged plan", command.ExitInvalid, "the plan is damaged here", scanProcess, "--run", run, "--task", "1")
	undo()
	undo = changed("plan.json", func(text []byte) []byte { return otherPlan(text, `"version": "`+command.Version, `"version": "0.0.9`) })
	expect("another version", command.ExitInvalid, "planned by downlock 0.0.9", scanProcess, "--run", run, "--task", "1")
	expect("another version", command.ExitInvalid, "planned by downlock 0.0.9", mergeProcess, "--run", run)
	undo()
	undo = changed("plan.json", func(text []byte) []byte { return otherPlan(text, "\"packs\": [\n  \"", "\"packs\": [\n  \"other ") })
	expect("other rules", command.ExitInvalid, "planned with another rules", scanProcess, "--run", run, "--task", "1")
	undo()
	for task := range 3 {
		runArray(t, scanProcess, "--run", run, "--task", fmt.Sprint(task))
	}
	changed("staged/000001.staged", flip)
	expect("a damaged chunk", command.ExitInputsFailed, "the results of chunk 1 are not as a worker wrote them", mergeProcess, "--run", run, "--no-scan", "--quiet")
	held, err := archive.Open(dir, &archive.Run{Profile: nil, Work: "merge of here, "}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if code, messages := n.run(t, dir); code != command.ExitLocked || !strings.Contains(messages, "merge of here, process") {
		t.Errorf("a scan while a merge commits ends with %d: %s", code, messages)
	}
	held.Close()
	expect("the rest", command.ExitDone, "1 flight from 1 input merged, 0 failed", mergeProcess, "--run", run)
	sameArchive(t, "after all mistakes", tablesAndLedger(t, dir), tablesAndLedger(t, one))
}

// otherPlan is a plan with a text exchanged, and its checksum.
func otherPlan(text []byte, old, now string) []byte {
	_, body, _ := bytes.Cut(text, []byte("\n"))
	body = bytes.Replace(body, []byte(old), []byte(now), 1)
	return fmt.Appendf(nil, "%x\n%s", sha256.Sum256(body), body)
}

// TestNightWhileAnArrayRuns: a scan of what came since may use the archive while tasks run, and an input that
// changed after the plan is the scan's.
func TestNightWhileAnArrayRuns(t *testing.T) {
	n := newNights(t, 6)
	dir := filepath.Join(t.TempDir(), "archive")
	run := n.plan(t, dir, 2)
	runArray(t, scanProcess, "--run", run, "--task", "0")
	for i := range 6 { // one of each task at least
		path := filepath.Join(n.exports, fmt.Sprintf("flight-%04d.csv", i))
		text, err := os.ReadFile(path)
		if err == nil && i%2 == 0 {
			err = os.WriteFile(path, append([]byte("corrected\n"), text...), 0o666)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	_, _, messages := runArray(t, scanProcess, "--run", run, "--task", "1")
	if !strings.Contains(messages, "changed since it was planned") {
		t.Errorf("the other task says %s", messages)
	}
	var night []string
	for i := 0; i < 6; i += 2 {
		night = append(night, filepath.Join(n.exports, fmt.Sprintf("flight-%04d.csv", i)))
	}
	if code, _, messages := runArray(t, scanProcess, append([]string{"--archive", dir, "--profile", n.profile}, night...)...); code > command.ExitInputsFailed {
		t.Fatalf("the night ended with %d: %s", code, messages)
	}
	if code, _, messages := runArray(t, mergeProcess, "--run", run); code > command.ExitInputsFailed || !strings.Contains(messages, "3 were scanned by another run since the plan") {
		t.Fatalf("merge ended with %d: %s", code, messages)
	}
	one := filepath.Join(t.TempDir(), "archive")
	n.run(t, one)
	sameArchive(t, "night", tablesAndLedger(t, dir), tablesAndLedger(t, one))
}
