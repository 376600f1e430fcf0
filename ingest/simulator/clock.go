package simulator

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"github.com/klauspost/compress/gzip"

	"downlock/ingest/export"
)

// writeClock writes a table like an office program in much of Europe: wide CSV with
// semicolons and decimal commas, a preamble and a row of units. The time of day
// replaces the seconds and starts again at 00:00:00 at midnight.
func writeClock(w io.Writer, format export.Format, table export.Table) error {
	if format != (export.Format{Layout: export.WideCSV, Compression: export.Gzip}) {
		return fmt.Errorf("clock times are written as wide CSV with gzip only")
	}
	table.UnitsRow = true
	var plain bytes.Buffer
	if err := export.Write(&plain, export.Format{Layout: export.WideCSV}, table); err != nil {
		return err
	}
	z := gzip.NewWriter(w)
	if _, err := io.WriteString(z, "Tarnholm Air;flight data export\nparameters;TH-120, all\n\n"); err != nil {
		return err
	}
	for i, line := range strings.SplitAfter(plain.String(), "\n") {
		cells := strings.Split(line, ",")
		for c := range cells {
			cells[c] = strings.ReplaceAll(cells[c], ".", ",")
		}
		if i == 1 { // the row of units
			cells[0] = "hh:mm:ss"
		}
		if seconds, err := strconv.ParseFloat(strings.ReplaceAll(cells[0], ",", "."), 64); err == nil {
			cells[0] = timeOfDay(seconds)
		}
		if _, err := io.WriteString(z, strings.Join(cells, ";")); err != nil {
			return err
		}
	}
	return z.Close()
}

func timeOfDay(seconds float64) string {
	ms := int64(math.Round(seconds*1000)) % 86_400_000
	return fmt.Sprintf("%02d:%02d:%02d.%03d", ms/3_600_000, ms/60_000%60, ms/1000%60, ms%1000)
}
