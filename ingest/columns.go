package ingest

import (
	"errors"
	"fmt"
	"slices"

	"downlock/ingest/parquet"
	"downlock/schemas"
)

// columnar is a Parquet or Arrow file: columns by name, a cell per row.
type columnar interface {
	names() []string
	// column loads one column; the error names the reason it cannot be read.
	column(index int) (*column, error)
	// release takes back a column nobody uses any more.
	release(c *column)
	rows() int
	// cellBytes is about how much memory a cell of a column takes once it is loaded.
	cellBytes(index int) int64
	// held is how much memory the file takes, with what is loaded of it.
	held() int64
	// load makes columns and rows ready.
	load() error
	// metadata is what a file of canonical columns says of itself; "" for another file.
	// Of such a file parts are loaded one by one: some columns, by their names.
	metadata() string
	parts() int
	part(index int, names []string) ([]*column, error)
}

// readColumnar reads a wide or long export from a columnar file.
func (r *reading) readColumnar(file columnar, kind string) error {
	if metadata := file.metadata(); metadata != "" {
		return r.readCanonical(file, kind, metadata)
	}
	names := file.names()
	if err := r.checkSize(file); err != nil {
		return err
	}
	l := r.layoutOf(names)
	if l.time < 0 {
		return r.noTime(names)
	}
	if err := r.checkRows(file, l); err != nil {
		return err
	}
	if l.long() {
		r.format = "long " + kind
		r.axis.midnight = midnightStepLong
		return r.readLongColumns(file, l)
	}
	r.format = "wide " + kind
	r.noteRepeated(names)
	byColumn := r.mapping.wide(names)
	r.follow = followRows
	times, timed, err := r.readTimes(file, l)
	if err != nil {
		return err
	}
	found, whole := false, len(r.earlier) == 0 && !slices.Contains(timed, false)
	var spacing *spacing
	if whole && isRising(times) {
		spacing = spacingOf(times)
	}
	for i, head := range byColumn {
		if head == nil {
			continue
		}
		found = true
		c, err := r.loadCells(file, i)
		if err != nil {
			return err
		}
		borrowed := whole && head.borrow(times, spacing, c)
		if !borrowed {
			if err := r.copyCells(head, times, timed, c); err != nil {
				return err
			}
		}
		if !borrowed || !head.keepsNumbers() {
			file.release(c)
		}
		if err := r.checkSamples(); err != nil {
			return err
		}
	}
	if !found {
		return r.noneMapped(names)
	}
	return nil
}

// copyCells gives the cells of a column to every channel of a chain.
func (r *reading) copyCells(head *channel, times []float64, timed []bool, c *column) error {
	for channel := head; channel != nil; channel = channel.also {
		channel.grow(r.atOnce(c.rows() - c.nulls))
	}
	plain := head.also == nil && head.plain && c.texts == nil
	switch {
	case len(r.earlier) > 0:
		c.spread()
	case c.sparse:
		return r.copyPresent(head, times, timed, c, plain)
	case plain:
		return r.copyNumbers(head, times, timed, c)
	}
	begun := 0 // stretches before that of the row
	for row, at := range times {
		if err := r.checkNow(row); err != nil {
			return err
		}
		for begun < len(r.earlier) && row+1 >= r.beginOf(begun+1) {
			begun++
			for channel := head; channel != nil; channel = channel.also {
				channel.begin()
			}
		}
		if timed[row] && c.has(row) {
			r.addCell(head, at, c, row, row)
		}
	}
	for ; begun < len(r.earlier); begun++ { // the file ends with rows without a time
		for channel := head; channel != nil; channel = channel.also {
			channel.begin()
		}
	}
	return nil
}

// copyPresent is copyCells for a sparse column, in one stretch; plain says that its cells are
// the numbers of one channel.
func (r *reading) copyPresent(head *channel, times []float64, timed []bool, c *column, plain bool) error {
	if plain && !slices.Contains(timed, false) && !head.hasToken(c.numbers) {
		return r.copyAll(head, times, c)
	}
	for i, row := range c.places {
		if err := r.checkNow(i); err != nil {
			return err
		}
		switch {
		case !timed[row]:
		case plain:
			head.addNumeric(times[row], c.numbers[i])
		default:
			r.addCell(head, times[row], c, i, int(row))
		}
	}
	return nil
}

// copyAll is copyPresent where every cell is a sample: a number, of a row with a time.
func (r *reading) copyAll(to *channel, times []float64, c *column) error {
	for from := 0; from < len(c.places); from += cellsPerCheck {
		if from > 0 {
			if err := r.checkSamples(); err != nil {
				return err
			}
		}
		some := min(from+cellsPerCheck, len(c.places))
		to.numbers = append(to.numbers, c.numbers[from:some]...)
		for _, row := range c.places[from:some] {
			to.times = append(to.times, times[row])
		}
	}
	return nil
}

// copyNumbers is copyCells for one channel whose cells are the numbers, in one stretch.
func (r *reading) copyNumbers(to *channel, times []float64, timed []bool, c *column) error {
	for row, at := range times {
		if err := r.checkNow(row); err != nil {
			return err
		}
		if timed[row] && (row >= len(c.valid) || c.valid[row]) {
			to.addNumeric(at, c.numbers[row])
		}
	}
	return nil
}

// checkSize refuses a columnar file beyond the limits.
func (r *reading) checkSize(file columnar) error {
	r.place = "row"
	if err := file.load(); err != nil {
		var problem *schemas.Problem
		if errors.As(err, &problem) {
			return problem
		}
		return r.problem(err.Error(), damagedHint)
	}
	if n := len(file.names()); n > maxColumns {
		return r.problem(fmt.Sprintf("has %d columns; at most %d are read", n, maxColumns), "export fewer parameters")
	}
	if file.rows() > maxRows {
		return r.problem(fmt.Sprintf("has %d rows; at most %d are read", file.rows(), maxRows), "split the export by flight or by day")
	}
	return nil
}

// checkRows refuses a columnar file whose rows take more memory than the limit and half a
// gigabyte: packed pages can claim fifty million in a few bytes. In memory at once are the
// times of the rows, the columns that the layout names, one more, and a page of it.
func (r *reading) checkRows(file columnar, l layout) error {
	const timesOfRow, decoding, isNull = 9, 13, 1
	each, most := int64(timesOfRow+decoding), int64(0)
	for _, index := range []int{l.time, l.date, l.clock, l.parameter, l.value, l.unit} {
		if index >= 0 {
			each += file.cellBytes(index) + isNull
		}
	}
	for i := range file.names() {
		most = max(most, file.cellBytes(i)+isNull)
	}
	if l.parameter < 0 {
		each += most
	}
	if limit := r.room() - roomBeside; file.held()+int64(file.rows())*each > limit+512<<20 {
		return r.problem(fmt.Sprintf("has %d rows, which take %d MiB in memory; at most %d MiB of one file are unpacked", file.rows(), int64(file.rows())*each>>20, limit>>20),
			"split the export by flight or by day, or raise the limit")
	}
	return nil
}

// Bytes of a cell in memory: a number; a text that others share; a text of its own, which a
// time is.
const (
	numberBytes = 8
	sharedBytes = 16
	timeBytes   = 48
)

func (r *reading) readLongColumns(file columnar, l layout) error {
	times, timed, err := r.readTimes(file, l)
	if err != nil {
		return err
	}
	parameters, err := r.load(file, l.parameter)
	if err != nil {
		return err
	}
	values, err := r.load(file, l.value)
	if err != nil {
		return err
	}
	var units *column
	if l.unit >= 0 {
		if units, err = r.load(file, l.unit); err != nil {
			return err
		}
	}
	names := &nameList{seen: map[string]bool{}}
	for row, at := range times {
		if r.order == 0 && r.doubt.rows == 0 { // else times are not known yet
			if err := r.checkNow(row); err != nil {
				return err
			}
		}
		if !timed[row] {
			continue
		}
		if !parameters.has(row) || parameters.texts == nil {
			r.unnamed.add(row + 1)
			continue
		}
		head := r.mapping.byName[parameters.texts[row]]
		if head == nil {
			anchored, err := r.anchorNamed(parameters.texts[row], at, r.timeText(values, row))
			if err != nil {
				return err
			}
			if !anchored {
				names.add([]byte(parameters.texts[row]))
			}
			continue
		}
		if err := r.noteLong(head, at, row+1); err != nil {
			return err
		}
		for c := head; c != nil; c = c.also {
			c.seen = true
		}
		if !values.has(row) {
			continue
		}
		for c := head; c != nil && units != nil; c = c.also {
			c.unit.mark = len(c.numbers)
		}
		r.addCell(head, at, values, row, row)
		for c := head; c != nil && units != nil; c = c.also {
			if len(c.numbers) > c.unit.mark {
				r.believeCell(c, units, row)
			}
		}
	}
	return r.checkLong(names)
}

// believeCell converts the sample a row has added from the unit of the row.
func (r *reading) believeCell(c *channel, units *column, row int) {
	var text []byte
	if units.has(row) && units.texts != nil {
		text = []byte(units.texts[row])
	}
	factor, cause, hint := c.believe(text)
	if cause != "" && c.problem == nil {
		c.problem = r.problem(fmt.Sprintf("row %d, column %q: %s", row+1, units.name, cause), hint)
	}
	c.scaleLast(c.unit.mark, factor)
}

// addCell adds cell i of a column, which is that of a row, to every channel of a chain.
func (r *reading) addCell(head *channel, at float64, c *column, i, row int) {
	for channel := head; channel != nil; channel = channel.also {
		ok, text := false, ""
		if c.texts != nil {
			text = c.texts[i]
			ok = channel.addText(at, []byte(text)) || c.boolean && channel.addNumber(at, oneIf(text == "true"))
		} else if ok = channel.addNumber(at, c.numbers[i]); !ok {
			text = fmt.Sprint(c.numbers[i])
		}
		if !ok && channel.problem == nil {
			cause, hint := channel.unreadable(text, r.profile.File)
			channel.problem = r.problem(fmt.Sprintf("row %d, %s", row+1, cause), hint)
		}
	}
}

func oneIf(yes bool) float64 {
	if yes {
		return 1
	}
	return 0
}

// readTimes returns the time of every row; timed is false for one without.
func (r *reading) readTimes(file columnar, l layout) (times []float64, timed []bool, err error) {
	var loaded [3]*column
	for i, index := range []int{l.time, l.date, l.clock} {
		if index < 0 {
			continue
		}
		if loaded[i], err = r.load(file, index); err != nil {
			return nil, nil, err
		}
	}
	cells, dates, clocks := loaded[0], loaded[1], loaded[2]
	times, timed = make([]float64, file.rows()), make([]bool, file.rows())
	for row := range times {
		at, ok, cause := r.timeOf(cells, dates, row)
		if cause == "" && ok {
			cause = beyondAxis(at)
		}
		if cause != "" {
			return nil, nil, r.problem(fmt.Sprintf("row %d, column %q: %s", row+1, cells.name, cause), timeHint)
		}
		if !ok {
			r.untimed.add(row + 1)
			continue
		}
		timed[row] = true
		if times[row], err = r.noteRow(at, row+1); err != nil {
			return nil, nil, err
		}
		if r.needsAnchor() {
			if cause := r.anchor(at, r.timeText(dates, row), r.timeText(clocks, row)); cause != "" {
				return nil, nil, r.problem(fmt.Sprintf("row %d, column %q: %s", row+1, cells.name, cause), timeHint)
			}
		}
	}
	if r.follow != followNothing {
		r.endRows()
	}
	for _, out := range r.left {
		clear(timed[out.first-1 : min(out.last, len(timed))])
	}
	if r.sharing > 0 {
		spreadRows(times, timed)
	}
	return times, timed, nil
}

// beginOf is the row a stretch begins in.
func (r *reading) beginOf(k int) int {
	if k < len(r.earlier) {
		return r.earlier[k].where
	}
	return r.current.where
}

func (r *reading) timeOf(cells, dates *column, row int) (at float64, ok bool, cause string) {
	if cells.texts == nil {
		if !cells.has(row) || r.tokens.isInvalidNumber(cells.numbers[row]) {
			return 0, false, ""
		}
		at = r.axis.number(cells.numbers[row])
	} else {
		cell := r.timeText(cells, row)
		if cell == nil {
			return 0, false, ""
		}
		if at, cause = r.axis.parse(cell, r.timeText(dates, row)); cause != "" {
			return 0, false, cause
		}
	}
	return at, true, ""
}

// timeText is the text of a cell of a time, date or clock column; nil when it
// has none.
func (r *reading) timeText(c *column, row int) []byte {
	if !c.has(row) || c.texts == nil || c.texts[row] == "" || r.tokens.isInvalidText([]byte(c.texts[row])) {
		return nil
	}
	return []byte(c.texts[row])
}

// load loads a column with an entry per row and makes its error the file's.
func (r *reading) load(file columnar, index int) (*column, error) {
	c, err := r.loadCells(file, index)
	if err == nil {
		c.spread()
	}
	return c, err
}

// loadCells is load for a column that may be sparse.
func (r *reading) loadCells(file columnar, index int) (*column, error) {
	name := file.names()[index]
	r.part = fmt.Sprintf("column %q", clip(name))
	c, err := file.column(index)
	if errors.Is(err, parquet.ErrTooLarge) {
		return nil, tooLarge(r.file, r.room()-roomBeside)
	}
	if err != nil {
		return nil, &schemas.Problem{File: r.file, Cause: fmt.Sprintf("column %q cannot be read: %v", clip(name), err), Hint: damagedHint}
	}
	if n := c.rows(); n != file.rows() {
		return nil, &schemas.Problem{File: r.file, Cause: fmt.Sprintf("column %q has %d cells, the file %d rows", clip(name), n, file.rows()), Hint: damagedHint}
	}
	c.name = name
	return c, nil
}
