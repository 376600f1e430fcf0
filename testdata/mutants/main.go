// Command mutants puts small mistakes into a package, one at a time, and says which of
// them its tests do not notice:
//
//	go run ./testdata/mutants ./detect/readings
//
// All mistakes are compiled into one test binary, each asleep until an environment
// variable names its number, so nothing is compiled twice. Every test runs once alone, for
// its time and the statements it reaches; a mutant then meets only the tests that
// reach it, quickest first, until one fails. Running out of time or memory is failing.
//
// A mutant that cannot change a result is described, with the reason, in the file
// explained beside this one, and leaves the count. The exit code is 1 when the
// score is below -least, or when an explained mutant is found by the tests after all.
package main

import (
	"bufio"
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"math"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strings"
	"syscall"
	"time"
)

// options are the flags of a run.
type options struct {
	with      []string      // packages whose tests run too
	tests     []string      // more arguments of every test binary
	explained string        // file of the equivalent mutants
	again     string        // file of survivors; only these run
	only      string        // expression; only mutants whose lines it matches run
	run       string        // expression; only tests whose names it matches run
	sample    int           // mutants chosen at random, 0 for all
	seed      uint64        // of the choice
	least     float64       // per cent that must be found
	at        int           // processes at a time
	memory    int           // MiB of address space of a process
	longest   time.Duration // tests that take longer are left out
	list      bool
	check     bool // run the explained ones
}

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	if err := run(ctx, os.Args[1:], os.Stdout, os.Stderr); err != nil {
		fmt.Fprintln(os.Stderr, "mutants:", err)
		os.Exit(1)
	}
}

func run(ctx context.Context, args []string, stdout, stderr io.Writer) error {
	var o options
	var with, tests string
	flags := flag.NewFlagSet("mutants", flag.ContinueOnError)
	flags.SetOutput(stderr)
	flags.StringVar(&with, "with", "", "packages whose tests run too, separated by commas")
	flags.StringVar(&tests, "tests", "-test.short", "arguments of the test binaries, separated by blanks")
	flags.StringVar(&o.explained, "explained", "testdata/mutants/explained", "file of mutants that change nothing, with reasons")
	flags.StringVar(&o.again, "again", "", "run only the survivors listed in this file (the output of an earlier run)")
	flags.StringVar(&o.only, "only", "", "run only the mutants whose line, as -list prints it, this regular expression matches")
	flags.StringVar(&o.run, "run", ".", "run only the tests whose names this regular expression matches: with -again, those just written")
	flags.IntVar(&o.sample, "sample", 0, "run only so many mutants, chosen at random; 0 for all")
	flags.Uint64Var(&o.seed, "seed", 1, "seed of the choice")
	flags.Float64Var(&o.least, "least", 0, "per cent of the mutants that must be found")
	flags.IntVar(&o.at, "p", runtime.NumCPU(), "processes at a time")
	flags.IntVar(&o.memory, "memory", 6144, "MiB of address space a process may take")
	flags.DurationVar(&o.longest, "longest", time.Hour, "leave out tests that take longer; the score is then a lower bound")
	flags.BoolVar(&o.list, "list", false, "list the mutants, run nothing")
	flags.BoolVar(&o.check, "check", false, "run the explained mutants alone; tests must find none")
	if err := flags.Parse(args); err != nil {
		return err
	}
	if flags.NArg() == 0 {
		return errors.New("no package given; try: go run ./testdata/mutants ./detect/readings")
	}
	o.tests = strings.Fields(tests)
	if with != "" {
		o.with = strings.Split(with, ",")
	}
	failed := 0
	for _, path := range flags.Args() {
		s, err := mutate(ctx, path, o, stdout, stderr)
		if err != nil {
			return fmt.Errorf("%s: %w", path, err)
		}
		if s.short(o.least) {
			failed++
		}
	}
	if failed > 0 {
		return fmt.Errorf("%d of %d packages below %g %%, or with explained mutants that are none", failed, flags.NArg(), o.least)
	}
	return nil
}

// score is the outcome of one package.
type score struct {
	all, found int
	wrong      int // explained mutants that tests found
}

func (s score) percent() float64 {
	if s.all == 0 {
		return 100
	}
	return 100 * float64(s.found) / float64(s.all)
}

func (s score) short(least float64) bool {
	return s.wrong > 0 || s.percent() < least
}

// interval returns the 95 % bounds of the share found, in per cent: Wilson's score
// interval (E. B. Wilson, JASA 22, 1927, 209-212).
func (s score) interval() (low, high float64) {
	const z = 1.959964
	n, p := float64(s.all), s.percent()/100
	if n == 0 {
		return 0, 100
	}
	middle := (p + z*z/(2*n)) / (1 + z*z/n)
	half := z / (1 + z*z/n) * math.Sqrt(p*(1-p)/n+z*z/(4*n*n))
	return 100 * (middle - half), 100 * (middle + half)
}

// mutate runs the mutants of one package and prints its survivors and its score.
func mutate(ctx context.Context, path string, o options, stdout, stderr io.Writer) (score, error) {
	p, err := load(path)
	if err != nil {
		return score{}, err
	}
	work, err := os.MkdirTemp("", "mutants")
	if err != nil {
		return score{}, err
	}
	defer os.RemoveAll(work)
	if err := p.find(); err != nil {
		return score{}, err
	}
	reasons, err := readExplained(o.explained, p)
	if err != nil {
		return score{}, err
	}
	chosen, equivalent, err := reasons.split(p.mutants)
	if err != nil {
		return score{}, err
	}
	if o.check {
		chosen = equivalent
	}
	if o.again != "" {
		if chosen, err = againOnly(o.again, chosen); err != nil {
			return score{}, err
		}
	}
	wanted, err := regexp.Compile(o.only)
	if err != nil {
		return score{}, fmt.Errorf("-only: %w", err)
	}
	chosen = slices.DeleteFunc(chosen, func(m *mutant) bool { return !wanted.MatchString(m.String()) })
	whole := len(chosen)
	if o.sample > 0 && o.sample < whole {
		chosen = sampled(chosen, o.sample, o.seed)
	}
	if o.list {
		for _, m := range chosen {
			fmt.Fprintln(stdout, m)
		}
		return score{}, nil
	}
	r := runner{ctx: ctx, pkg: p, options: o, work: work, log: stderr}
	if err := r.build(); err != nil {
		return score{}, err
	}
	if err := r.measure(); err != nil {
		return score{}, err
	}
	before := namesIn(p.dir)
	r.try(shuffled(chosen, o.seed)) // those of a run cut short are a sample, too
	for name := range namesIn(p.dir) {
		if !before[name] {
			fmt.Fprintf(stderr, "%s: a mutant left %s: remove it\n", p.path, shown(filepath.Join(p.dir, name)))
		}
	}
	chosen = slices.DeleteFunc(chosen, func(m *mutant) bool { return !m.tried })
	s := score{all: len(chosen)}
	for _, m := range chosen {
		if m.found {
			s.found++
		}
		if m.found == o.check {
			fmt.Fprintf(stdout, "%v%s\n", m, m.reach())
		}
	}
	if o.check {
		fmt.Fprintf(stdout, "%s: %d explained, of which tests found %d\n", p.path, s.all, s.found)
		if ctx.Err() != nil {
			return score{}, errors.New("interrupted")
		}
		return score{wrong: s.found}, nil
	}
	fmt.Fprintf(stdout, "%s: %d of %d found, %.1f %%", p.path, s.found, s.all, s.percent())
	if s.all < whole {
		low, high := s.interval()
		fmt.Fprintf(stdout, " (%.1f to %.1f; %d mutants in all)", low, high, whole)
	}
	fmt.Fprintf(stdout, ", %d explained, %v of processor time\n", len(equivalent), r.spent.Round(time.Second))
	if ctx.Err() != nil {
		return score{}, errors.New("interrupted; the score is of those that ran")
	}
	return s, nil
}

// namesIn are the names in a folder. A mutant may write beside its source, where tests run.
func namesIn(dir string) map[string]bool {
	names := map[string]bool{}
	entries, _ := os.ReadDir(dir)
	for _, e := range entries {
		names[e.Name()] = true
	}
	return names
}

// againOnly keeps the mutants that a file of survivors lists.
func againOnly(name string, all []*mutant) ([]*mutant, error) {
	f, err := os.Open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	wanted := map[string]bool{}
	for lines := bufio.NewScanner(f); lines.Scan(); {
		wanted[strings.TrimSuffix(lines.Text(), notReached)] = true
	}
	var out []*mutant
	for _, m := range all {
		if wanted[m.String()] {
			out = append(out, m)
		}
	}
	return out, nil
}

// goTool runs the go command and returns what it printed.
func goTool(dir string, args ...string) ([]byte, error) {
	cmd := exec.Command("go", args...)
	cmd.Dir = dir
	var problems strings.Builder
	cmd.Stderr = &problems
	out, err := cmd.Output()
	if err != nil {
		return nil, fmt.Errorf("go %s: %w\n%s", args[0], err, problems.String())
	}
	return out, nil
}

// shown is a path as the user sees it, from the folder the command runs in.
func shown(path string) string {
	if here, err := os.Getwd(); err == nil {
		if rel, err := filepath.Rel(here, path); err == nil && !strings.HasPrefix(rel, "..") {
			return filepath.ToSlash(rel)
		}
	}
	return path
}
