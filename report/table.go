package report

import (
	"bytes"
	"encoding/csv"
	"errors"
	"io"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"downlock/report/output"
	"downlock/schemas"
)

// eventColumns is the header of events.csv. Times are seconds on the
// recording's axis; the UTC columns are empty where the recording has no date or
// it is withheld. The verdict is that of review, where an archive is kept.
// Measures are name=value unit, separated by semicolons; a value that was not
// recorded is left empty. The caution is the rule's; the general one is that of every table.
var eventColumns = []string{
	"event_id", "flight_id", "recording", "flight", "aircraft", "rule", "title", "severity", "certainty", "phase",
	"start_s", "start_earliest_s", "start_latest_s", "end_s", "end_earliest_s", "end_latest_s",
	"start_utc", "end_utc", "measures", "basis", "caution", "registration", "month", "verdict", "occurrence_id", schemas.CautionColumn,
}

// eventRows returns one row per event, as eventColumns names them.
func eventRows(doc *document) [][]string {
	rows := make([][]string, len(doc.Events))
	for i, e := range doc.Events {
		rows[i] = []string{
			guard(e.ID), guard(doc.Flight.ID), guard(doc.Provenance.Input.Name), strconv.Itoa(doc.Flight.Number),
			guard(doc.Provenance.Profile.Aircraft), guard(e.Rule), guard(e.Title), e.Severity, e.Certainty, guard(e.Phase),
			e.Start.Nominal.String(), e.Start.Earliest.String(), e.Start.Latest.String(),
			e.End.Nominal.String(), e.End.Earliest.String(), e.End.Latest.String(),
			e.Start.UTC, e.End.UTC, guard(measureText(e.Measures)), guard(e.Basis), guard(e.Caution),
			guard(doc.Provenance.Profile.Registration), doc.Flight.Month, guard(e.Verdict.Short()), guard(e.Occurrence), schemas.Caution,
		}
	}
	return rows
}

func measureText(measures []measurePart) string {
	texts := make([]string, len(measures))
	for i, m := range measures {
		value := ""
		if m.Value != nil {
			value = m.Value.String()
			if m.Unit != "" && m.Unit != "1" {
				value += " " + m.Unit
			}
		}
		texts[i] = m.Name + "=" + value
	}
	return strings.Join(texts, "; ")
}

// guard puts an apostrophe before text a spreadsheet would run as a formula.
// Spreadsheets skip blanks before the sign, so blanks do not hide one here.
func guard(s string) string {
	if t := strings.TrimLeft(s, " \u00a0"); t != "" && strings.ContainsRune("=+-@＝＋－＠", []rune(t)[0]) {
		return "'" + s
	}
	return s
}

// csvTable is one of the CSV files of a flight, and of a run.
type csvTable struct {
	name    string
	columns []string
	rows    func(*document) [][]string
}

var csvTables = []csvTable{{eventsFile, eventColumns, eventRows}, {measurementsFile, measurementColumns, measurementRows}}

// ofFlight is the table of one flight.
func (t csvTable) ofFlight(doc *document) output.File {
	return output.File{Name: t.name, Data: encodeCSV(t.columns, t.rows(doc))}
}

// ofRun is the table of all flights of a run, copied from those in the folders of
// the flights: a run has more of them than memory should hold.
func (t csvTable) ofRun(dir string, flights []indexFlight) output.File {
	header := encodeCSV(t.columns, nil)
	return output.File{Name: t.name, Data: header, More: func(w io.Writer) error {
		for _, f := range flights {
			path := filepath.Join(dir, f.Folder, t.name)
			if err := appendRows(w, path, header); err != nil {
				return &output.Error{Path: path, Err: err}
			}
		}
		return nil
	}}
}

// appendRows copies the rows below the header of a file.
func appendRows(w io.Writer, path string, header []byte) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	defer f.Close()
	begins := make([]byte, len(header))
	if _, err := io.ReadFull(f, begins); err != nil || !bytes.Equal(begins, header) {
		return errors.New("another program changed it")
	}
	_, err = io.Copy(w, f)
	return err
}

// encodeCSV writes the header and rows as RFC 4180 asks, lines ended by CR LF.
func encodeCSV(header []string, rows [][]string) []byte {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	w.UseCRLF = true
	// A bytes.Buffer takes every write, so neither can fail.
	_ = w.Write(header)
	_ = w.WriteAll(rows)
	return b.Bytes()
}
