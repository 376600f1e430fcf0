package archive

import (
	"path/filepath"
	"slices"
	"strings"
)

// plan lists the changes for the staged inputs: entries of the ledger, and
// the rows of recordings in the months they are or were in.
type plan struct {
	inputs     map[string][]staged           // by shard of the ledger, in order of key
	recordings map[string][]*recordingChange // by shard, in order of key
	months     map[string][]*recordingChange // those with rows to change, in order of key
}

// recordingChange is one recording whose rows or holders change.
type recordingChange struct {
	sha      string
	old, new recordingEntry
	file     string // staged file with the new rows; "" when the rows stay
	at       int64  // their place in it
}

// gone reports whether no input holds the recording any more.
func (c *recordingChange) gone() bool { return len(c.new.Holders) == 0 }

func (a *Archive) newPlan(all []staged) (*plan, error) {
	p := &plan{map[string][]staged{}, map[string][]*recordingChange{}, map[string][]*recordingChange{}}
	changes := map[string]*recordingChange{}
	change := func(sha string) *recordingChange {
		if changes[sha] == nil {
			c := &recordingChange{sha: sha}
			changes[sha] = c
			p.recordings[recordingShard(sha)] = append(p.recordings[recordingShard(sha)], c)
		}
		return changes[sha]
	}
	for _, s := range all {
		p.inputs[s.shard] = append(p.inputs[s.shard], s)
		if s.scanned {
			change(s.sha)
			if s.was != "" {
				change(s.was)
			}
		}
	}
	for shard, list := range p.recordings {
		slices.SortFunc(list, func(a, b *recordingChange) int { return strings.Compare(a.sha, b.sha) })
		if err := a.readRecordings(shard, changes); err != nil {
			return nil, err
		}
	}
	for _, s := range all {
		if !s.scanned {
			continue
		}
		if s.was != "" && s.was != s.sha {
			changes[s.was].new.leave(s.holder.Input)
		}
		c := changes[s.sha]
		c.new.hold(s.holder)
		// Two inputs with the same bytes have the same rows, but for the name.
		c.file, c.at, c.new.Months = s.file, s.at, s.months
	}
	for _, list := range p.recordings {
		p.addMonths(list)
	}
	for _, list := range p.months {
		slices.SortFunc(list, func(a, b *recordingChange) int { return strings.Compare(a.sha, b.sha) })
	}
	return p, nil
}

// readRecordings fills in the entries of the recordings in the ledger.
func (a *Archive) readRecordings(shard string, changes map[string]*recordingChange) error {
	path := filepath.Join(a.dir, shard)
	return readShard(path, func(key string, text []byte) error {
		c := changes[key]
		if c == nil {
			return nil
		}
		e, err := decodeLine[recordingEntry](path, text)
		c.old, c.new = e, e
		c.new.Holders = slices.Clone(e.Holders)
		return err
	})
}

// addMonths lists every month with rows of the recordings that must go, come or
// be called something else.
func (p *plan) addMonths(list []*recordingChange) {
	for _, c := range list {
		var months []string
		switch {
		case c.gone(), c.file != "":
			months = append(slices.Clone(c.old.Months), c.new.Months...)
		case c.old.name() != c.new.name():
			months = c.old.Months
		}
		slices.Sort(months)
		for _, m := range slices.Compact(months) {
			p.months[m] = append(p.months[m], c)
		}
	}
}

// line is the recording's line of the ledger, without text once it is gone.
func (c *recordingChange) line() shardLine {
	if c.gone() {
		return shardLine{key: c.sha}
	}
	e := c.new
	e.Key = c.sha
	return shardLine{c.sha, encodeLine(e)}
}

// monthsInOrder lists the months the plan changes.
func (p *plan) monthsInOrder() []string {
	months := make([]string, 0, len(p.months))
	for m := range p.months {
		months = append(months, m)
	}
	slices.Sort(months)
	return months
}
