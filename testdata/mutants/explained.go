package main

import (
	"errors"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
)

// explained is the file of mutants that change no result. A mutant stands at the beginning
// of a line as survivors are printed, without line and column; the reason follows, on
// lines that begin with a blank or a tab. Lines with # are headings.
type explained struct {
	reasons map[string]string
	keys    []string // in order
	name    string
	files   map[string]bool // those of the package at hand
}

func readExplained(name string, p *checkedPackage) (*explained, error) {
	e := &explained{reasons: map[string]string{}, name: name, files: map[string]bool{}}
	for _, s := range p.files {
		e.files[shown(s.name)] = true
	}
	text, err := os.ReadFile(name)
	if errors.Is(err, fs.ErrNotExist) {
		return e, nil
	} else if err != nil {
		return nil, err
	}
	for i, line := range strings.Split(string(text), "\n") {
		switch {
		case strings.TrimSpace(line) == "" || strings.HasPrefix(line, "#"):
		case line[0] == ' ' || line[0] == '\t':
			if len(e.keys) == 0 {
				return nil, fmt.Errorf("%s:%d: a reason without a mutant above it", name, i+1)
			}
			e.reasons[e.keys[len(e.keys)-1]] += strings.TrimSpace(line) + " "
		default:
			if _, twice := e.reasons[line]; twice {
				return nil, fmt.Errorf("%s:%d: explained twice: %s", name, i+1, line)
			}
			e.reasons[line], e.keys = "", append(e.keys, line)
		}
	}
	// Mutants in a row share the reason below the last of them.
	for i := len(e.keys) - 2; i >= 0; i-- {
		if e.reasons[e.keys[i]] == "" {
			e.reasons[e.keys[i]] = e.reasons[e.keys[i+1]]
		}
	}
	for _, k := range e.keys {
		if e.reasons[k] == "" {
			return nil, fmt.Errorf("%s: no reason for: %s", name, k)
		}
	}
	return e, nil
}

// split parts the mutants of the package into those not explained and those that
// are. It fails on an explanation that fits no mutant: the source has changed.
func (e *explained) split(all []*mutant) (open, equivalent []*mutant, err error) {
	fits := map[string]bool{}
	for _, m := range all {
		if _, ok := e.reasons[m.key()]; ok {
			fits[m.key()] = true
			equivalent = append(equivalent, m)
		} else {
			open = append(open, m)
		}
	}
	var problems []error
	for _, k := range e.keys {
		file, _, _ := strings.Cut(k, ": ")
		if e.files[file] && !fits[k] {
			problems = append(problems, fmt.Errorf("%s: explains no mutant; the source has changed: %s", e.name, k))
		}
	}
	return open, equivalent, errors.Join(problems...)
}

// sampled returns so many of the mutants, in their order, the same for the same seed.
func sampled(all []*mutant, n int, seed uint64) []*mutant {
	chosen := rand.New(rand.NewPCG(seed, 0)).Perm(len(all))[:min(n, len(all))]
	slices.Sort(chosen)
	out := make([]*mutant, len(chosen))
	for i, k := range chosen {
		out[i] = all[k]
	}
	return out
}

// shuffled returns the mutants in a random order, the same for the same seed.
func shuffled(all []*mutant, seed uint64) []*mutant {
	out := slices.Clone(all)
	rand.New(rand.NewPCG(seed, 1)).Shuffle(len(out), func(i, k int) { out[i], out[k] = out[k], out[i] })
	return out
}
