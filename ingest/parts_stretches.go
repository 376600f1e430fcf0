package ingest

import (
	"fmt"
	"path/filepath"
	"slices"

	"downlock/schemas"
)

// mergedStretches is the stretches of a recording of several parts. Each part is split
// by its own time, and the first stretch of one belongs to the first of the others.
type mergedStretches struct {
	profile *schemas.Profile
	all     []*merged
	bytes   int64
	notes   []string // on the parts as a whole
}

// add takes over the stretches of a part; there must be as many as of the parts before.
func (w *mergedStretches) add(path string, part *Recording) error {
	stretches := part.Stretches()
	if w.all == nil {
		for k := range stretches {
			w.all = append(w.all, &merged{profile: w.profile, place: map[string]int{}, Recording: Recording{Stretch: k}})
		}
	}
	if len(stretches) != len(w.all) {
		return &schemas.Problem{File: path, Cause: fmt.Sprintf("its time is not continuous: it has %d stretches, but %s has %d", len(stretches), filepath.Base(w.all[0].first), len(w.all)),
			Hint: "which of them belong together is not known: export each flight to separate files"}
	}
	for k, stretch := range stretches {
		if err := w.all[k].add(path, stretch); err != nil {
			return err
		}
	}
	return nil
}

// finish makes the recording: the first stretch, with the others in Later.
func (w *mergedStretches) finish(name string, parts int) *Recording {
	for _, m := range w.all {
		m.finish(name, parts)
		m.Notes = append(slices.Concat(m.Repairs, slices.DeleteFunc(m.Notes, func(n string) bool { return slices.Contains(m.Repairs, n) })), w.notes...)
	}
	out := &w.all[0].Recording
	out.Bytes += w.bytes
	for _, m := range w.all[1:] {
		out.Later = append(out.Later, &m.Recording)
	}
	return out
}
