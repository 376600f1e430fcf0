package ingest

import (
	"strconv"
)

// openColumnar finds the time columns of a Parquet or Arrow file.
func (raw *Raw) openColumnar(r *reading, file columnar, kind string) error {
	if err := r.checkSize(file); err != nil {
		return err
	}
	if err := r.checkRows(file, layout{-1, -1, -1, -1, -1, -1}); err != nil {
		return err
	}
	h := newHead(file.names(), nil)
	for i := range file.names() {
		c, err := r.load(file, i)
		if err != nil {
			return err
		}
		h.addColumn(i, c, min(file.rows(), headRows))
	}
	time, ok := h.findTime()
	if file.metadata() != "" {
		time, ok = canonicalTime(), true
	}
	if !ok {
		return noRawTime(r, file.names())
	}
	raw.Time = time
	raw.Format = "wide " + kind
	places := raw.takeColumns(h)
	if raw.Time.Long.Parameter != "" {
		raw.Format = "long " + kind
	}
	if file.metadata() != "" {
		raw.Format = canonicalFormat + kind
	}
	raw.walk = func(visit RawVisitor) error {
		w, err := raw.reading()
		if err != nil {
			return err
		}
		w.place = "row"
		return guarded(w, kind, func() error { return raw.walkColumnar(w, file, places, visit) })
	}
	return nil
}

// canonicalTime is how a file of canonical columns is surveyed: as a long export.
func canonicalTime() (t RawTime) {
	t.Column, t.Unit, t.Form = "time_s", "s", "seconds"
	t.Long.Parameter, t.Long.Value = "parameter", "value"
	t.Evidence = []string{"the file says that downlock wrote it"}
	return t
}

// walkColumnar visits the rows, then the cells column by column.
func (raw *Raw) walkColumnar(r *reading, file columnar, places []int, visit RawVisitor) error {
	l := r.layoutOf(file.names())
	if err := r.checkRows(file, l); err != nil {
		return err
	}
	if l.long() {
		r.axis.midnight = midnightStepLong
	}
	times, timed, err := r.readTimes(file, l)
	if err != nil {
		return err
	}
	for row, at := range times {
		if timed[row] {
			visit.Row(at)
		}
	}
	if l.long() {
		err = raw.walkLongColumns(r, file, l, times, timed, visit)
	} else {
		err = raw.walkWideColumns(r, file, places, times, timed, visit)
	}
	raw.finish(r)
	return err
}

func (raw *Raw) walkWideColumns(r *reading, file columnar, places []int, times []float64, timed []bool, visit RawVisitor) error {
	var cell RawCell
	for i, place := range places {
		if place < 0 {
			continue
		}
		c, err := r.load(file, i)
		if err != nil {
			return err
		}
		cell.Column = place
		for row, at := range times {
			if cell.Time = at; timed[row] && cell.takeColumn(c, row, &r.tokens) {
				visit.Cell(&cell)
			}
		}
	}
	return nil
}

func (raw *Raw) walkLongColumns(r *reading, file columnar, l layout, times []float64, timed []bool, visit RawVisitor) error {
	parameters, err := r.load(file, l.parameter)
	if err != nil {
		return err
	}
	values, err := r.load(file, l.value)
	if err != nil {
		return err
	}
	known := map[string]int{}
	for i, c := range raw.Columns {
		known[c.Name] = i
	}
	var cell RawCell
	for row, at := range times {
		switch {
		case !timed[row]:
		case !parameters.has(row) || parameters.texts == nil:
			r.unnamed.add(row + 1)
		default:
			cell.Time, cell.Column = at, raw.index(known, parameters.texts[row])
			if cell.Column >= 0 && cell.takeColumn(values, row, &r.tokens) {
				visit.Cell(&cell)
			}
		}
	}
	return nil
}

// takeColumn fills the cell from a loaded column; false for a blank one.
func (cell *RawCell) takeColumn(c *column, row int, tokens *meaning) bool {
	if !c.has(row) {
		return false
	}
	if c.texts != nil {
		return cell.take([]byte(c.texts[row]), '.', tokens)
	}
	cell.Text, cell.Number, cell.Numeric = nil, c.numbers[row], true
	cell.Invalid = tokens.isInvalidNumber(cell.Number)
	return true
}

// takeColumns lists the columns that are no time and returns the place of each
// column of the file among them, -1 for one of the time. A name that stands
// twice is read once, as everywhere else.
func (raw *Raw) takeColumns(h *head) []int {
	places := make([]int, len(h.names))
	taken, known := map[string]bool{}, map[string]bool{}
	for _, name := range []string{raw.Time.Column, raw.Time.Date, raw.Time.Clock, raw.Time.Long.Parameter, raw.Time.Long.Value} {
		taken[name] = name != ""
	}
	for i, name := range h.names {
		places[i] = -1
		if known[name] {
			raw.header = append(raw.header, repeatedColumn(name))
		}
		known[name] = name != ""
		if taken[name] && name != "" || raw.Time.Long.Parameter != "" {
			continue
		}
		taken[name] = true
		if name == "" {
			name = unnamedColumn(i)
		}
		places[i] = len(raw.Columns)
		raw.Columns = append(raw.Columns, RawColumn{Name: name, Unit: h.units[i]})
	}
	return places
}

// addColumn puts the first rows of a loaded column into the head.
func (h *head) addColumn(i int, c *column, rows int) {
	h.rows = rows
	for row := range rows {
		text := ""
		switch {
		case !c.has(row):
		case c.texts != nil:
			text = c.texts[row]
		default:
			text = strconv.FormatFloat(c.numbers[row], 'f', -1, 64)
		}
		h.cells[i] = append(h.cells[i], text)
	}
}
