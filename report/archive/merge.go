package archive

import (
	"errors"
	"io"
	"path/filepath"
	"slices"

	"github.com/parquet-go/parquet-go"
)

// monthMerge rewrites the parts of one month: old rows and staged ones, both in
// order of recording, flow into new files, so that memory holds one recording
// at a time however large the month is.
type monthMerge struct {
	parts []*partMerge // one per table
}

// partMerge rewrites the part of one table.
type partMerge struct {
	table *table
	old   *part
	file  outFile
	out   *parquet.GenericWriter[any]
	rows  int
}

func partPath(table, month string) string {
	return filepath.Join(tablesFolder, table, "month="+month, "part.parquet")
}

// mergeMonth writes the new parts of a month below the folder for new files and
// adds their moves to the changeover.
func (a *Archive) mergeMonth(month string, changes []*recordingChange, over *changeover) (err error) {
	m := &monthMerge{}
	defer func() {
		for _, p := range m.parts {
			p.old.close()
			if closing := p.file.Close(); err == nil && closing != nil {
				err = outputError(filepath.Join(a.dir, partPath(p.table.name, month)), closing)
			}
		}
	}()
	for i := range tables {
		name := partPath(tables[i].name, month)
		if err := a.check(name); err != nil {
			return err
		}
		old, err := tables[i].openPart(filepath.Join(a.dir, name))
		if err != nil {
			return err
		}
		file, err := a.disk.create(a.newFile(name))
		if err != nil {
			old.close()
			return outputError(filepath.Join(a.dir, name), err)
		}
		m.parts = append(m.parts, &partMerge{&tables[i], old, file, tables[i].newWriter(file), 0})
	}
	for _, c := range changes {
		if err := m.apply(month, c); err != nil {
			return outputError(filepath.Join(a.dir, tablesFolder), err)
		}
	}
	for _, p := range m.parts {
		name := partPath(p.table.name, month)
		err := p.copyBelow("")
		if err == nil {
			err = errors.Join(p.out.Close(), p.file.Sync())
		}
		if err != nil {
			return outputError(filepath.Join(a.dir, name), err)
		}
		over.add(name, p.rows > 0)
		over.lost[filepath.ToSlash(name)] = a.stillLost(name, changes)
	}
	return nil
}

// stillLost lists the recordings whose rows a part has lost and does not get back by the
// changes.
func (a *Archive) stillLost(name string, changes []*recordingChange) []string {
	if a.sums == nil {
		return nil
	}
	lost := slices.Clone(a.sums.files[filepath.ToSlash(name)].Lost)
	return slices.DeleteFunc(lost, func(sha string) bool {
		return slices.ContainsFunc(changes, func(c *recordingChange) bool { return c.sha == sha && (c.file != "" || c.gone()) })
	})
}

// apply brings the rows of one recording up to date in every table.
func (m *monthMerge) apply(month string, c *recordingChange) error {
	for _, p := range m.parts {
		if err := p.copyBelow(c.sha); err != nil {
			return err
		}
		stays := c.file == "" && !c.gone()
		if err := p.pass(c.sha, stays, c.new.name()); err != nil {
			return err
		}
	}
	if c.file == "" || c.gone() {
		return nil
	}
	_, _, err := readStaged(c.file, c.at, func(f *flightRows) error {
		if f.Month != month {
			return nil
		}
		f.Flight.RecordingName = c.new.name()
		for _, p := range m.parts {
			for _, row := range p.table.rows(f) {
				if err := p.write(row); err != nil {
					return err
				}
			}
		}
		return nil
	})
	return err
}

// copyBelow carries over the old rows of recordings before the key; all that
// are left for "".
func (p *partMerge) copyBelow(key string) error {
	for {
		row, k, err := p.old.peek()
		if err != nil || row == nil || key != "" && k >= key {
			return err
		}
		if err := p.write(row); err != nil {
			return err
		}
		p.old.next++
	}
}

// pass goes over the old rows of a recording: carried over under its present
// name where they stay, else left out.
func (p *partMerge) pass(key string, stays bool, name string) error {
	for {
		row, k, err := p.old.peek()
		if err != nil || row == nil || k != key {
			return err
		}
		if stays {
			if at := p.table.nameColumn; at >= 0 {
				row[at] = parquet.ByteArrayValue([]byte(name)).Level(0, 0, at)
			}
			if err := p.write(row); err != nil {
				return err
			}
		}
		p.old.next++
	}
}

func (p *partMerge) write(row parquet.Row) error {
	p.rows++
	_, err := p.out.WriteRows([]parquet.Row{row})
	if errors.Is(err, io.EOF) {
		err = io.ErrShortWrite
	}
	return err
}
