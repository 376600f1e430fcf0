package ingest

// readLongCSV reads a row per sample. Which parameters the export has is known
// only at its end.
func (r *reading) readLongCSV(t *csvText) error {
	wanted := make([]uint8, len(t.columns))
	wanted[t.layout.parameter], wanted[t.layout.value] = 1, 1
	r.axis.midnight = midnightStepLong
	if t.layout.unit >= 0 {
		wanted[t.layout.unit] = 1
	}
	rows := newCSVRows(r, t, wanted)
	names, known := &nameList{seen: map[string]bool{}}, &nameTable{}
	for {
		r.readRun(rows, known)
		at, more, err := rows.next()
		if err != nil {
			return err
		}
		if !more {
			return r.checkLong(names)
		}
		if err := r.checkRoom(); err != nil {
			return err
		}
		name := rows.trimmed(t.layout.parameter)
		if len(name) == 0 {
			r.unnamed.add(t.number)
			continue
		}
		met := known.met(name)
		if met == nil {
			head := r.mapping.byName[string(name)]
			if head == nil {
				anchored, err := r.anchorNamed(string(name), at, rows.valid(t.layout.value))
				if err != nil {
					return err
				}
				if anchored {
					continue
				}
				names.add(name)
			}
			met = known.add(name, head)
		}
		channel := met.head
		if channel == nil {
			continue
		}
		if err := r.noteLong(channel, at, t.number); err != nil {
			return err
		}
		value := rows.find(t.layout.value)
		for ; channel != nil; channel = channel.also {
			channel.seen = true
			if value == nil {
				continue
			}
			before := len(channel.numbers)
			if !channel.addCell(at, &rows.splitter, value) {
				r.fail(t, channel, value, rows.splitter.textOf(value))
			} else if t.layout.unit >= 0 && len(channel.numbers) > before {
				r.believeRow(t, channel, rows, value, before)
			}
		}
	}
}

// believeRow converts the sample a row has added from the unit of the row.
func (r *reading) believeRow(t *csvText, c *channel, rows *csvRows, value *cell, before int) {
	factor, cause, hint := c.believe(rows.trimmed(t.layout.unit))
	if cause != "" && c.problem == nil {
		at := value
		if unit := rows.find(t.layout.unit); unit != nil {
			at = unit
		}
		c.problem = t.problem(int(at.at), cause, hint)
	}
	c.scaleLast(before, factor)
}

// checkLong wants at least one mapped parameter in a long export.
func (r *reading) checkLong(names *nameList) error {
	if len(r.mapping.choose().first) == 0 && r.rows > 0 {
		return r.noneMapped(names.names)
	}
	return nil
}

// nameList keeps the names of a long export nobody reads, for a message.
type nameList struct {
	seen  map[string]bool
	names []string
}

func (l *nameList) add(name []byte) {
	if !l.seen[string(name)] && len(l.names) < maxNames {
		l.seen[string(name)] = true
		l.names = append(l.names, string(name))
	}
}
