package main

import (
	"bufio"
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"syscall"
	"time"
)

// runner builds the test binaries of a package and runs mutants in them.
type runner struct {
	options
	ctx   context.Context // ends all processes when the run is interrupted
	pkg   *checkedPackage
	work  string
	log   io.Writer
	bins  []*binary
	tests []*test
	spent time.Duration
}

// binary is the tests of one package, compiled with all mutants and compiled with
// coverage.
type binary struct {
	path, dir        string // of the package
	mutants, covered string // files
	arguments        []string
}

// test is one top-level test, the processor time it takes, and the blocks of the mutated
// package it reaches.
type test struct {
	bin    *binary
	name   string
	took   time.Duration
	blocks map[string][]profiled // by base name of the file
}

// build compiles the tests of the package and of those named by -with.
func (r *runner) build() error {
	overlay, err := r.pkg.overlay(r.work)
	if err != nil {
		return err
	}
	for i, path := range append([]string{r.pkg.path}, r.with...) {
		all, err := list(path)
		if err != nil {
			return err
		}
		l := all[0]
		b := &binary{path: l.ImportPath, dir: l.Dir, arguments: slices.Clone(r.options.tests)}
		if slices.Contains(append(l.TestImports, l.XTestImports...), "pgregory.net/rapid") {
			// Failures leave no file and are not made smaller. A fixed seed would draw the same in every check.
			b.arguments = append(b.arguments, "-rapid.nofailfile", "-rapid.shrinktime=0s")
		}
		b.mutants = filepath.Join(r.work, fmt.Sprintf("%d-mutants.test", i))
		b.covered = filepath.Join(r.work, fmt.Sprintf("%d-covered.test", i))
		if _, err := goTool("", "test", "-c", "-vet=off", "-overlay", overlay, "-o", b.mutants, l.ImportPath); err != nil {
			return err
		}
		if _, err := goTool("", "test", "-c", "-vet=off", "-cover", "-coverpkg="+r.pkg.path, "-o", b.covered, l.ImportPath); err != nil {
			return err
		}
		if _, err := os.Stat(b.mutants); err == nil { // none is written where there are no tests
			r.bins = append(r.bins, b)
		}
	}
	return nil
}

// measure runs every test alone, for its time and its reach, then all of them with every
// mutant asleep: they must still pass.
func (r *runner) measure() error {
	for _, b := range r.bins {
		out, err := r.command(r.ctx, b, b.covered, 0, time.Hour, "-test.list="+r.run).Output()
		if err != nil {
			return fmt.Errorf("listing the tests of %s: %w", b.path, err)
		}
		for lines := bufio.NewScanner(strings.NewReader(string(out))); lines.Scan(); {
			name := lines.Text()
			if strings.HasPrefix(name, "Test") || strings.HasPrefix(name, "Fuzz") || strings.HasPrefix(name, "Example") {
				r.tests = append(r.tests, &test{bin: b, name: name})
			}
		}
	}
	var problems []error
	r.parallel(len(r.tests), func(i int) error { return r.reach(r.tests[i], i) }, &problems)
	if len(problems) > 0 {
		return errors.Join(problems...)
	}
	r.tests = slices.DeleteFunc(r.tests, func(t *test) bool {
		if t.took > r.longest {
			fmt.Fprintf(r.log, "%s: %s left out, it takes %v\n", t.bin.path, t.name, t.took.Round(time.Millisecond))
		}
		return t.took > r.longest
	})
	slices.SortStableFunc(r.tests, func(a, b *test) int { return cmp.Compare(a.took, b.took) })
	for _, b := range r.bins {
		var names []string
		for _, t := range r.tests {
			if t.bin == b {
				names = append(names, t.name)
			}
		}
		c := r.command(r.ctx, b, b.mutants, 0, time.Hour, append([]string{only(names)}, b.arguments...)...)
		if out, err := c.CombinedOutput(); err != nil {
			return fmt.Errorf("the tests of %s fail with all mutants asleep: %w\n%s", b.path, err, out)
		}
	}
	return nil
}

// reach runs one test in the binary with coverage.
func (r *runner) reach(t *test, i int) error {
	profile := filepath.Join(r.work, fmt.Sprintf("%d.cover", i))
	c := r.command(r.ctx, t.bin, t.bin.covered, 0, time.Hour, append([]string{only([]string{t.name}), "-test.coverprofile=" + profile}, t.bin.arguments...)...)
	out, err := c.CombinedOutput()
	if err != nil {
		return fmt.Errorf("%s of %s fails without any mutant: %w\n%s", t.name, t.bin.path, err, out)
	}
	t.took = c.ProcessState.UserTime() + c.ProcessState.SystemTime()
	t.blocks, err = readProfile(profile)
	return err
}

// command is a test binary in the folder of its package, bounded in processor time and in
// address space by the shell's own limits.
func (r *runner) command(ctx context.Context, b *binary, file string, mutant int, limit time.Duration, args ...string) *exec.Cmd {
	script := fmt.Sprintf(`ulimit -t %d; ulimit -v %d; exec "$@"`, int(limit.Seconds())+1, r.memory*1024)
	c := exec.CommandContext(ctx, "sh", append([]string{"-c", script, "sh", file}, args...)...)
	c.Dir = b.dir
	c.Env = append(os.Environ(), fmt.Sprintf("%s=%d", switchVariable, mutant), "TMPDIR="+r.work)
	// Processes a test has started end with it.
	c.SysProcAttr = &syscall.SysProcAttr{Setpgid: true}
	c.Cancel = func() error { return syscall.Kill(-c.Process.Pid, syscall.SIGKILL) }
	return c
}

// only is the argument that runs the tests named and no others.
func only(names []string) string { return "-test.run=^(" + strings.Join(names, "|") + ")$" }

// parallel calls a function for 0 to n-1, some at a time, and collects its errors.
func (r *runner) parallel(n int, do func(i int) error, problems *[]error) {
	var lock sync.Mutex
	var all sync.WaitGroup
	next := 0
	for range max(1, r.at) {
		all.Go(func() {
			for {
				lock.Lock()
				i := next
				next++
				lock.Unlock()
				if i >= n || r.ctx.Err() != nil {
					return
				}
				if err := do(i); err != nil {
					lock.Lock()
					*problems = append(*problems, err)
					lock.Unlock()
				}
			}
		})
	}
	all.Wait()
}

// try runs each mutant against the tests that reach it.
func (r *runner) try(mutants []*mutant) {
	var lock sync.Mutex
	done, survived := 0, 0
	r.parallel(len(mutants), func(i int) error {
		m := mutants[i]
		spent := r.one(m)
		if r.ctx.Err() != nil {
			return nil // cut off, and so not found by a test
		}
		m.tried = true
		lock.Lock()
		defer lock.Unlock()
		r.spent += spent
		if done++; !m.found {
			survived++
			fmt.Fprintf(r.log, "survives: %v\n", m)
		}
		if done%20 == 0 {
			fmt.Fprintf(r.log, "%s: %d of %d, %d survive, %v\n", r.pkg.path, done, len(mutants), survived, r.spent.Round(time.Second))
		}
		return nil
	}, new([]error))
}

// Bounds of a process with a mutant: so many times the time its tests take, and so much
// for its start. The wall clock, which other work on the machine has a say in, gets far
// more, and counts only for those that wait for ever.
const (
	timesSlower = 5
	forTheStart = 2 * time.Second
	wallTimes   = 20
)

// one runs a mutant and returns the processor time it took.
func (r *runner) one(m *mutant) time.Duration {
	var left []*test
	for _, t := range r.tests {
		if m.reachedBy(t) {
			left = append(left, t)
		}
	}
	m.reached = len(left) > 0
	var spent time.Duration
	for len(left) > 0 && !m.found {
		n, took := firstBatch(left)
		var names []string
		for _, t := range left[:n] {
			names = append(names, t.name)
		}
		limit := forTheStart + timesSlower*took
		ctx, cancel := context.WithTimeout(r.ctx, wallTimes*limit)
		args := append([]string{"-test.failfast", only(names)}, left[0].bin.arguments...)
		c := r.command(ctx, left[0].bin, left[0].bin.mutants, m.number, limit, args...)
		if err := c.Run(); err != nil {
			m.found = true
		}
		cancel()
		if c.ProcessState != nil {
			spent += c.ProcessState.UserTime() + c.ProcessState.SystemTime()
		}
		left = left[n:]
	}
	return spent
}

// firstBatch returns how many of the tests, quickest first, go into the next process: those
// of one binary that take no more together than the quickest four times over, or half a
// second. A process for each would cost more than it saves.
func firstBatch(tests []*test) (n int, took time.Duration) {
	bound := max(500*time.Millisecond, 4*tests[0].took)
	for n < len(tests) && tests[n].bin == tests[0].bin && (n == 0 || took+tests[n].took <= bound) {
		took += tests[n].took
		n++
	}
	return n, took
}
