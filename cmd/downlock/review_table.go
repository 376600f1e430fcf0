package main

import (
	"bytes"

	"downlock/report/archive"
)

// writeTable writes every verdict as a row, for whoever joins tables elsewhere.
func (o *reviewOptions) writeTable(say messages) int {
	rows, damaged, err := archive.Verdicts(o.archive)
	if err != nil {
		say.failure(err)
		return exitOutput
	}
	code := reportDamaged(damaged, say)
	var table bytes.Buffer
	if err := archive.WriteVerdicts(&table, rows); err != nil {
		say.failure(err)
		return exitOutput
	}
	if err := writeWhole(o.export, table.Bytes(), o.share); err != nil {
		say.failure(err)
		return exitOutput
	}
	return code
}

// keepTable brings the archive's table of verdicts up to date. The verdict that
// was set is kept whatever becomes of it.
func (o *reviewOptions) keepTable(say messages) {
	damaged, err := archive.KeepVerdicts(o.archive, o.share)
	for _, p := range damaged {
		say.warning(p.Detail())
	}
	if err != nil {
		say.warning("the verdict is kept; the table of verdicts lacks it until the next one, or the next scan: " + err.Error())
	}
}
