package main

import (
	"bytes"
	"maps"
	"slices"

	"github.com/parquet-go/parquet-go"

	"downlock/report/archive"
	"downlock/report/review"
	"downlock/schemas"
)

// writeTable writes every verdict as a row, for whoever joins tables.
func (o *reviewOptions) writeTable(say messages) int {
	latest, code := o.readVerdicts(say)
	if latest == nil {
		return code
	}
	now := map[string]schemas.EventRow{}
	months := map[string]string{}
	err := archive.Events(o.archive, "", func(month string, e *schemas.EventRow) error {
		if _, seen := latest[e.EventID]; seen {
			now[e.EventID], months[e.EventID] = *e, month
		}
		return nil
	})
	if err != nil {
		say.failure(err)
		return exitOutput
	}
	var rows []schemas.VerdictRow
	for _, id := range slices.Sorted(maps.Keys(latest)) {
		history, _, err := review.History(o.archive, id) // what is damaged was said above
		if err != nil {
			say.failure(err)
			return exitOutput
		}
		event, there := now[id]
		for i, v := range history {
			rows = append(rows, schemas.VerdictRow{EventID: id, Month: months[id], Verdict: string(v.Finding), Cause: v.Cause, Comment: v.Comment,
				By: v.By, AtUTC: v.At, Latest: i == len(history)-1, Outdated: there && v.Outdated(event), Gone: !there})
		}
	}
	var table bytes.Buffer
	if err := parquet.Write(&table, rows, parquet.Compression(&parquet.Zstd)); err != nil {
		say.failure(err)
		return exitOutput
	}
	if err := writeWhole(o.export, table.Bytes(), o.share); err != nil {
		say.failure(err)
		return exitOutput
	}
	return code
}
