package inspect

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"
)

// Every group opens what it says, and no set of entries opens more rules for each
// entry: all sets are tried.
func TestGroupsAgainstAllSets(t *testing.T) {
	t.Parallel()
	better := 0 // groups of more entries than any one rule lacks
	for seed := range uint64(400) {
		r := rand.New(rand.NewPCG(seed, 13))
		entries := 2 + r.IntN(7)
		needs := map[string][]string{}
		for i := range 1 + r.IntN(12) {
			var lacks []string
			for e := range entries {
				if r.IntN(entries) < 2 {
					lacks = append(lacks, fmt.Sprint("e", e))
				}
			}
			needs[fmt.Sprint("r", i)] = lacks
		}
		filled, open := map[string]bool{}, 0
		lacking := func(set map[string]bool) (n int) {
			for _, lacks := range needs {
				if slices.ContainsFunc(lacks, func(e string) bool { return !set[e] }) {
					n++
				}
			}
			return n
		}
		open = lacking(filled)
		for _, g := range grouped(needs) {
			before := open
			for bits := 1; bits < 1<<entries; bits++ {
				set, n := map[string]bool{}, 0
				for e := range filled {
					set[e] = true
				}
				for e := range entries {
					if name := fmt.Sprint("e", e); bits&(1<<e) != 0 && !filled[name] {
						set[name] = true
						n++
					}
				}
				if n > 0 && (before-lacking(set))*len(g.Fill) > len(g.Opens)*n {
					t.Fatalf("seed %d: %v opens %d, but %v opens %d; %v", seed, g.Fill, len(g.Opens), set, before-lacking(set), needs)
				}
			}
			for _, e := range g.Fill {
				filled[e] = true
			}
			if open = lacking(filled); before-open != len(g.Opens) {
				t.Fatalf("seed %d: %v opens %d, said %v", seed, g.Fill, before-open, g.Opens)
			}
			if !slices.ContainsFunc(g.Opens, func(rule string) bool { return len(needs[rule]) >= len(g.Fill) }) {
				better++
			}
		}
		if open != 0 {
			t.Fatalf("seed %d: %d rules are left", seed, open)
		}
	}
	if better == 0 {
		t.Error("no group joins several rules: the search for better ones was never needed")
	}
}
