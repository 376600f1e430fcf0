package inspect

import (
	"cmp"
	"slices"
)

// group is a set of entries of a profile, and the rules that can be evaluated once
// these and those of the groups before it are filled in.
type group struct {
	Fill  []string `json:"fill"`
	Opens []string `json:"opens"`
}

// grouped puts entries together by the rules they open. needs holds the entries that
// each rule lacks. Each group is the one that opens the most rules for each entry to
// be filled in, after those before it.
func grouped(needs map[string][]string) (groups []group) {
	left := map[string][]string{}
	for rule, entries := range needs {
		if len(entries) > 0 {
			left[rule] = slices.Compact(slices.Sorted(slices.Values(entries)))
		}
	}
	for len(left) > 0 {
		g := densest(left)
		for rule, entries := range left {
			entries = slices.DeleteFunc(slices.Clone(entries), func(e string) bool { return slices.Contains(g.Fill, e) })
			if left[rule] = entries; len(entries) == 0 {
				g.Opens = append(g.Opens, rule)
				delete(left, rule)
			}
		}
		slices.Sort(g.Opens)
		groups = append(groups, g)
	}
	return groups
}

// densest returns the entries that open the most rules for each. It begins with the
// best single rule's and asks whether a set is better, until none is (Dinkelbach's
// method): a set is better than q rules for p entries where p·rules − q·entries is
// above zero, and the greatest such difference is a minimum cut.
func densest(needs map[string][]string) (best group) {
	rules := make([]string, 0, len(needs))
	for rule := range needs {
		rules = append(rules, rule)
	}
	slices.SortFunc(rules, func(a, b string) int {
		return cmp.Or(len(needs[a])-len(needs[b]), slices.Compare(needs[a], needs[b]), cmp.Compare(a, b))
	})
	opened := func(fill []string) (n int) {
		for _, rule := range rules {
			if !slices.ContainsFunc(needs[rule], func(e string) bool { return !slices.Contains(fill, e) }) {
				n++
			}
		}
		return n
	}
	opens, entries := 0, 1
	take := func(fill []string) bool {
		n := opened(fill)
		if len(fill) == 0 || n*entries <= opens*len(fill) {
			return false
		}
		best.Fill, opens, entries = fill, n, len(fill)
		return true
	}
	for _, rule := range rules {
		take(needs[rule])
	}
	for take(closure(rules, needs, entries, opens)) {
	}
	return best
}

// closure returns the entries of the set with the greatest profit, where a rule earns
// gain and an entry costs cost. It is the source's side of a minimum cut of the graph
// source → rules → their entries → sink, found with augmenting paths.
func closure(rules []string, needs map[string][]string, gain, cost int) []string {
	earns, spent := map[string]int{}, map[string]int{} // capacity left of source → rule; used of entry → sink
	flow := map[[2]string]int{}                        // rule → entry
	users := map[string][]string{}
	for _, rule := range rules {
		earns[rule] = gain
		for _, e := range needs[rule] {
			users[e] = append(users[e], rule)
		}
	}
	var seen map[string]bool // entries, and rules with a mark before
	var push func(rule string, amount int) int
	push = func(rule string, amount int) int {
		seen["rule "+rule] = true
		for _, e := range needs[rule] {
			if seen[e] {
				continue
			}
			seen[e] = true
			if room := min(amount, cost-spent[e]); room > 0 {
				spent[e] += room
				flow[[2]string{rule, e}] += room
				return room
			}
			for _, other := range users[e] {
				back := [2]string{other, e}
				if other == rule || flow[back] == 0 || seen["rule "+other] {
					continue
				}
				if sent := push(other, min(amount, flow[back])); sent > 0 {
					flow[back] -= sent
					flow[[2]string{rule, e}] += sent
					return sent
				}
			}
		}
		return 0
	}
	for moved := true; moved; {
		moved = false
		for _, rule := range rules {
			if earns[rule] > 0 {
				seen = map[string]bool{}
				if sent := push(rule, earns[rule]); sent > 0 {
					earns[rule] -= sent
					moved = true
				}
			}
		}
	}
	seen = map[string]bool{}
	for _, rule := range rules {
		if earns[rule] > 0 && !seen["rule "+rule] {
			push(rule, earns[rule]) // no path is left: it marks what the source reaches
		}
	}
	var fill []string
	for e := range users {
		if seen[e] {
			fill = append(fill, e)
		}
	}
	slices.Sort(fill)
	return fill
}
