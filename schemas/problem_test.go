package schemas

import "testing"

// The list that was too long stays as it is: others may hold it.
func TestProblemsAreLeft(t *testing.T) {
	t.Parallel()
	var all Problems
	for i := range MaxProblems + 2 {
		all = append(all, &Problem{Line: i + 1})
	}
	next := all[MaxProblems]
	if short := all.InOrder(); len(short) != MaxProblems+1 || all[MaxProblems] != next {
		t.Errorf("%d problems, and the next is now %+v", len(short), *all[MaxProblems])
	}
}
