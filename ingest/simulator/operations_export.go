package simulator

import (
	"bytes"
	"fmt"
	"io"
	"time"

	"downlock/ingest/export"
)

// WriteCSV writes the flight as wide CSV. With Apart, it writes the clock and the
// date once a second in rows of their own. At each of the Cuts the time column
// restarts at zero.
func (o Operation) WriteCSV(w io.Writer) error {
	table := o.Flight.Record()
	if o.Apart {
		epoch := table.Epoch
		table.Epoch = time.Time{}
		table.Columns = append(table.Columns,
			o.stamped(export.ClockColumn, 0.3, func(t float64) string { return at(epoch, t).Format("15:04:05") }),
			o.stamped(export.DateColumn, 0.8, func(t float64) string { return at(epoch, t).Format(time.DateOnly) }))
	}
	ends := append(append([]float64{}, o.Cuts...), o.Flight.Scenario.End+1)
	from := o.Flight.Scenario.Start
	for i, to := range ends {
		var part bytes.Buffer
		if err := export.Write(&part, export.Format{Layout: export.WideCSV}, cutOut(table, from, to)); err != nil {
			return fmt.Errorf("%s: %w", o.Truth.Recording, err)
		}
		if i > 0 { // the header is written once
			if _, err := part.ReadString('\n'); err != nil {
				return err
			}
		}
		if _, err := part.WriteTo(w); err != nil {
			return err
		}
		from = to
	}
	return nil
}

func at(epoch time.Time, t float64) time.Time {
	return epoch.Add(time.Duration(t * float64(time.Second)))
}

// stamped returns a column of texts, one a second, each so long after the full
// second.
func (o Operation) stamped(name string, offset float64, text func(t float64) string) export.Column {
	c := export.Column{Name: name}
	for t := o.Flight.Scenario.Start + offset; t <= o.Flight.Scenario.End; t++ {
		c.Times, c.Texts = append(c.Times, t), append(c.Texts, text(t))
	}
	return c
}

// cutOut returns the part of a table from a time on and before another. Its time is
// counted from the former.
func cutOut(table export.Table, from, to float64) export.Table {
	part := table
	if !table.Epoch.IsZero() {
		part.Epoch = at(table.Epoch, from)
	}
	part.Columns = nil
	for _, c := range table.Columns {
		kept := c
		kept.Times, kept.Numbers, kept.Texts = nil, nil, nil
		for i, t := range c.Times {
			if t < from || t >= to {
				continue
			}
			kept.Times = append(kept.Times, t-from)
			if c.Numbers != nil {
				kept.Numbers = append(kept.Numbers, c.Numbers[i])
			} else {
				kept.Texts = append(kept.Texts, c.Texts[i])
			}
		}
		part.Columns = append(part.Columns, kept)
	}
	return part
}
