package archive

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"downlock/schemas"
)

func utcMonth(milliseconds int64) string {
	return time.UnixMilli(milliseconds).UTC().Format("2006-01")
}

// shardsOf lists the shards of a part of the ledger, below the archive.
func shardsOf(dir, name string) ([]string, error) {
	return fs.Glob(os.DirFS(dir), ledgerFolder+"/"+name+"/*"+shardEnding)
}

// readLedger reads every line of the ledger in the shards that are as listed.
func (e *examination) readLedger() error {
	for _, name := range []string{"inputs", "recordings"} {
		shards, err := shardsOf(e.dir, name)
		if err != nil {
			return err
		}
		for _, shard := range shards {
			if e.has(shard) {
				continue
			}
			err := readShard(e.path(shard), func(key string, text []byte) error {
				return strictLine(name, e.path(shard), key, text)
			})
			var problem *schemas.Problem
			switch {
			case errors.As(err, &problem):
				e.add(shard, FaultDamaged, causeOf(problem))
			case err != nil:
				return err
			}
		}
	}
	return nil
}

// strictLine makes sure that a line is an entry, and in its shard.
func strictLine(name, shard, key string, text []byte) error {
	dec := json.NewDecoder(bytes.NewReader(text))
	dec.DisallowUnknownFields()
	var err error
	if name == "inputs" {
		var entry struct {
			inputEntry
			Check string `json:"check"`
		}
		if err = dec.Decode(&entry); err == nil && filepath.IsAbs(entry.Path) && !strings.Contains(entry.Path, "\uFFFD") &&
			filepath.Base(inputShard(entry.Path)) != filepath.Base(shard) {
			err = errors.New("it holds an input of another shard")
		}
	} else {
		var entry struct {
			recordingEntry
			Check string `json:"check"`
		}
		if err = dec.Decode(&entry); err == nil && (len(key) < 2 || filepath.Base(recordingShard(key)) != filepath.Base(shard)) {
			err = errors.New("it holds a recording of another shard")
		}
	}
	if err == nil && dec.InputOffset() != int64(len(text)) {
		err = errors.New("a line of the ledger goes on after its entry")
	}
	if err != nil {
		return damaged(shard, err)
	}
	return nil
}

// intactLines are the lines of a shard that can be trusted, in order of key: those with
// their check, or, in a shard in which no line has one, those that can be read.
func intactLines(dir, shard string) (lines []shardLine, err error) {
	text, err := os.ReadFile(filepath.Join(dir, shard))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	name := filepath.Base(filepath.Dir(shard))
	scanner := bufio.NewScanner(bytes.NewReader(text))
	scanner.Buffer(nil, len(text)+1)
	checked := false
	for scanner.Scan() {
		line := bytes.Clone(scanner.Bytes())
		_, has := splitCheck(line)
		checked = checked || has && isIntact(line)
		key, ok := lineKey(line)
		if ok && isIntact(line) && strictLine(name, shard, key, line) == nil {
			lines = append(lines, shardLine{key, line})
		}
	}
	if checked {
		lines = slices.DeleteFunc(lines, func(l shardLine) bool { _, has := splitCheck(l.text); return !has })
	}
	slices.SortStableFunc(lines, func(a, b shardLine) int { return strings.Compare(a.key, b.key) })
	return slices.CompactFunc(lines, func(a, b shardLine) bool { return a.key == b.key }), nil
}

// ledger is the part of the ledger that can be read.
type ledger struct {
	inputs     map[string]inputEntry     // by key
	recordings map[string]recordingEntry // by key
}

// readIntact reads the lines of the ledger that can be trusted.
func (e *examination) readIntact() (*ledger, error) {
	l := &ledger{map[string]inputEntry{}, map[string]recordingEntry{}}
	for _, name := range []string{"inputs", "recordings"} {
		shards, err := shardsOf(e.dir, name)
		if err != nil {
			return nil, err
		}
		for _, shard := range shards {
			notOwn := func(f Fault) bool { return f.File == shard && (f.Kind == FaultExchanged || f.Kind == FaultForeign) }
			if slices.ContainsFunc(e.faults, notOwn) {
				continue
			}
			lines, err := intactLines(e.dir, shard)
			if err != nil {
				return nil, err
			}
			for _, line := range lines {
				if name == "inputs" {
					var entry inputEntry
					_ = json.Unmarshal(line.text, &entry) // it was read before
					l.inputs[line.key] = entry
				} else {
					var entry recordingEntry
					_ = json.Unmarshal(line.text, &entry)
					l.recordings[line.key] = entry
				}
			}
		}
	}
	return l, nil
}

// monthsOfFlights reads which months each recording has flights in.
func (e *examination) monthsOfFlights() (map[string][]string, error) {
	if e.months != nil {
		return e.months, nil
	}
	e.months = map[string][]string{}
	names, err := listedFiles(e.dir)
	if err != nil {
		return nil, err
	}
	for _, name := range names {
		table, month, ok := isPart(name)
		if !ok || table != schemas.FlightsTable || e.has(name) {
			continue
		}
		err := eachRecording(e.path(name), tableNamed(table), month, func(sha string) { e.months[sha] = append(e.months[sha], month) })
		if err != nil {
			return nil, err
		}
	}
	for _, months := range e.months {
		slices.Sort(months)
	}
	return e.months, nil
}

// derive makes the entries of recordings that the ledger has lost, of the inputs that hold
// them and of their flights.
func (e *examination) derive(l *ledger) error {
	months, err := e.monthsOfFlights()
	if err != nil {
		return err
	}
	derived := map[string]*recordingEntry{}
	for _, key := range sortedKeys(l.inputs) {
		in := l.inputs[key]
		if _, known := l.recordings[in.Recording]; known || in.Recording == "" {
			continue
		}
		if derived[in.Recording] == nil {
			derived[in.Recording] = &recordingEntry{Key: in.Recording, Months: months[in.Recording]}
		}
		name := ""
		if in.Path != "" { // see Prune
			name = text(filepath.Base(in.Path))
		}
		derived[in.Recording].hold(holder{key, name})
	}
	for sha, entry := range derived {
		l.recordings[sha] = *entry
	}
	return nil
}

// orphans are inputs that hold a recording and have no entry.
func (l *ledger) orphans() map[string]string {
	out := map[string]string{}
	for sha, r := range l.recordings {
		for _, h := range r.Holders {
			if _, known := l.inputs[h.Input]; !known {
				out[h.Input] = sha
			}
		}
	}
	return out
}

// condition says which recordings the faults cost.
func (e *examination) condition() (*Condition, error) {
	c := &Condition{Files: e.files, Listed: e.list != nil, Names: map[string]string{}}
	costs := slices.ContainsFunc(e.faults, func(f Fault) bool {
		_, _, part := isPart(f.File)
		return part || strings.HasPrefix(f.File, ledgerFolder+"/")
	})
	var l *ledger
	if costs {
		var err error
		if l, err = e.readIntact(); err != nil {
			return nil, err
		}
		if err := e.derive(l); err != nil {
			return nil, err
		}
	}
	orphans := map[string]bool{}
	if costs {
		for _, sha := range l.orphans() {
			orphans[sha] = true
		}
	}
	for _, f := range e.faults {
		_, month, part := isPart(f.File)
		own := ""
		if f.Kind != FaultLacking {
			own = e.own(f.File)
		}
		switch {
		case strings.HasPrefix(own, replacedFolder+"/"):
			f.Cause += "; a copy of what it was is " + own
		case own != "":
			f.Cause += "; its own bytes are in the place of " + own
		case f.Kind == FaultForeign || f.Kind == FaultLacking:
		case part:
			f.Recordings = l.of(month)
		case strings.HasPrefix(f.File, ledgerFolder+"/inputs/"):
			f.Recordings = sortedKeys(orphans)
		}
		for _, sha := range f.Recordings {
			r := l.recordings[sha]
			c.Names[sha] = r.name()
		}
		c.Faults = append(c.Faults, f)
	}
	return c, nil
}

// of lists the recordings with rows of a month.
func (l *ledger) of(month string) (list []string) {
	for _, sha := range sortedKeys(l.recordings) {
		if slices.Contains(l.recordings[sha].Months, month) {
			list = append(list, sha)
		}
	}
	return list
}
