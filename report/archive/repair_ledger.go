package archive

import (
	"path"
	"path/filepath"
	"slices"
	"strings"
)

// mendLedger writes the shards of the ledger that are damaged, or of inputs that are to be
// scanned again.
func (r *repairing) mendLedger() error {
	lost := map[string]bool{}
	isShard := func(f *Fault) bool { return strings.HasPrefix(f.File, ledgerFolder+"/") }
	err := r.each(isShard, func(f *Fault) error {
		r.wrong = append(r.wrong, f)
		back, err := r.putBack(f)
		r.forget(f.File)
		switch {
		case err != nil:
			return err
		case back:
			r.over.add(filepath.FromSlash(f.File), true)
		case f.Kind == FaultForeign:
			f.Mended = "taken away"
			r.over.add(filepath.FromSlash(f.File), false)
		default:
			lost[f.File] = true
		}
		return nil
	})
	if err != nil {
		return err
	}
	orphans := r.l.orphans()
	for key, sha := range orphans {
		r.l.inputs[key] = inputEntry{Key: key, Recording: sha, Packs: []string{}, Outcome: failed, Cause: "the entry was lost" + toScan}
	}
	return r.writeShards(lost, orphans)
}

// writeShards writes every shard whose lines are others than those that are there.
func (r *repairing) writeShards(lost map[string]bool, orphans map[string]string) error {
	shards := map[string][]shardLine{}
	for _, sha := range sortedKeys(r.l.recordings) {
		if shard := filepath.ToSlash(recordingShard(sha)); lost[shard] {
			entry := r.l.recordings[sha]
			shards[shard] = append(shards[shard], shardLine{sha, encodeLine(entry)})
		}
	}
	names, err := shardsOf(r.a.dir, "inputs")
	if err != nil {
		return err
	}
	for shard := range lost {
		if path.Dir(shard) == ledgerFolder+"/inputs" && !slices.Contains(names, shard) {
			names = append(names, shard)
		}
	}
	for _, shard := range names {
		if r.e.has(shard) && !lost[shard] {
			continue // put back, or foreign
		}
		lines, err := intactLines(r.a.dir, filepath.FromSlash(shard))
		if err != nil {
			return err
		}
		changed := lost[shard]
		for i, l := range lines {
			if in := r.l.inputs[l.key]; isToScan(in) {
				lines[i].text, changed = encodeLine(in), true
			}
		}
		if lost[shard] {
			for key := range orphans {
				lines = append(lines, shardLine{key, encodeLine(r.l.inputs[key])})
			}
			slices.SortFunc(lines, func(a, b shardLine) int { return strings.Compare(a.key, b.key) })
		}
		if changed {
			shards[shard] = lines
		}
	}
	return r.addShards(lost, shards)
}

func (r *repairing) addShards(lost map[string]bool, shards map[string][]shardLine) error {
	for shard := range lost {
		if _, there := shards[shard]; !there {
			shards[shard] = nil
		}
	}
	for _, shard := range sortedKeys(shards) {
		var text []byte
		for _, l := range shards[shard] {
			text = append(append(text, withCheck(l.text)...), '\n')
		}
		if err := r.write(shard, text); err != nil {
			return err
		}
		r.over.add(filepath.FromSlash(shard), len(text) > 0)
		if !lost[shard] {
			continue
		}
		for i := range r.c.Faults {
			if f := &r.c.Faults[i]; f.File == shard {
				f.Mended = "made again of the rest of the archive"
				if r.e.list != nil && r.e.list.files[shard].fileSum != sumOfText(text) {
					f.Mended += ", but for what the next run adds when it scans the inputs again"
				}
				f.Scan = len(f.Recordings) > 0
			}
		}
	}
	return nil
}
