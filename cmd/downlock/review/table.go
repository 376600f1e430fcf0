package review

import (
	"bytes"

	"downlock/cmd/downlock/command"
	"downlock/report/archive"
)

// writeTable writes every verdict as a row, for use with the other tables.
func (o *reviewOptions) writeTable(say command.Messages) int {
	rows, damaged, err := archive.Verdicts(o.archive)
	if err != nil {
		say.Failure(err)
		return command.ExitOutput
	}
	code := reportDamaged(damaged, say)
	var table bytes.Buffer
	if err := archive.WriteVerdicts(&table, rows); err != nil {
		say.Failure(err)
		return command.ExitOutput
	}
	if err := command.WriteWhole(o.export, table.Bytes(), o.share); err != nil {
		say.Failure(err)
		return command.ExitOutput
	}
	return code
}

// keepTable brings the archive's table of verdicts up to date. The verdict
// itself is kept, even when that fails.
func (o *reviewOptions) keepTable(say command.Messages) {
	damaged, err := archive.KeepVerdicts(o.archive, o.share)
	for _, p := range damaged {
		say.Doubt(p)
	}
	if err != nil {
		say.Warning("the verdict is kept, but the table of verdicts lacks it until the next verdict or scan: " + err.Error())
	}
}
