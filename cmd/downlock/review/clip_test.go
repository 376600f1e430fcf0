package review

import (
	"bytes"
	"compress/gzip"
	"encoding/csv"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"downlock/cmd/downlock/command"
	"downlock/cmd/downlock/demo"
	"downlock/cmd/downlock/scan"
	"downlock/schemas"
)

// The columns of the demonstration export that hold a parameter in its canonical unit, or
// as a word, and how their cells are written in a clip. From the profile, read by hand.
var clipColumns = map[string]struct {
	parameter, unit string
	words           map[string]string
}{
	"airspeed":          {"computed_airspeed", "kt", nil},
	"pressure altitude": {"pressure_altitude", "ft", nil},
	"radio height":      {"radio_altitude", "ft", nil},
	"flap angle":        {"flap_angle", "deg", nil},
	"gear lever":        {"gear_lever", "", map[string]string{"UP": "UP", "DOWN": "DOWN", "OFF": "OFF"}},
	"left down-locked":  {"left_gear_down_locked", "", map[string]string{"1": "true", "0": "false"}},
	"gear horn":         {"gear_horn", "", map[string]string{"1": "true", "0": "false"}},
}

// A clip has the cells that the export has in those seconds, in both directions: each cell
// once, and nothing else.
func TestClipIsTheRecording(t *testing.T) {
	exports, dir := t.TempDir(), filepath.Join(t.TempDir(), "fleet")
	if _, err := demo.Write(exports, "th120"); err != nil {
		t.Fatal(err)
	}
	export := filepath.Join(exports, "tarnholm-08.csv.gz")
	var out, said bytes.Buffer
	if code := scan.Command([]string{"--quiet", "--archive", dir, export}, &out, &said); code != command.ExitDone {
		t.Fatalf("%d %s", code, &said)
	}
	var event schemas.EventRow
	for _, p := range plainEvents(t, dir) {
		if p.event.Rule == "gear-late" {
			event = p.event
		}
	}
	file := filepath.Join(t.TempDir(), "around.csv")
	if code := Command([]string{"clip", "--archive", dir, event.EventID, "--around", "20.5", "--csv", file}, nil, &out, &said); code != command.ExitDone {
		t.Fatalf("%d %s", code, &said)
	}
	got := map[string]string{} // value and unit by parameter and time
	for i, row := range readCSV(t, mustRead(t, file)) {
		switch {
		case i == 0:
			if strings.Join(row, ",") != "time_s,time_utc,parameter,value,unit,recording,flight,general_caution" {
				t.Errorf("headings %v", row)
			}
		default:
			if row[5] != "tarnholm-08.csv.gz" || row[6] != "1" || !strings.Contains(row[7], "no airworthiness decision") {
				t.Errorf("ends with %v", row[5:])
			}
			key := row[2] + " at " + row[0]
			if got[key] != "" {
				t.Errorf("%s is there twice", key)
			}
			got[key] = row[3] + " " + row[4]
			if seconds, _ := strconv.ParseFloat(row[0], 64); seconds < event.StartS-20.5 || seconds > event.EndS+20.5 {
				t.Errorf("%s is outside", key)
			}
			if !strings.HasPrefix(row[1], "2031-03-24T19:") {
				t.Errorf("%s is at %s", key, row[1])
			}
		}
	}
	z, err := gzip.NewReader(bytes.NewReader(mustRead(t, export)))
	if err != nil {
		t.Fatal(err)
	}
	var plainText bytes.Buffer
	if _, err := plainText.ReadFrom(z); err != nil {
		t.Fatal(err)
	}
	rows := readCSV(t, plainText.Bytes())
	cells := map[string]int{}
	for i, name := range rows[0] {
		column, known := clipColumns[name]
		if !known {
			continue
		}
		for _, row := range rows[1:] {
			at, err := strconv.ParseFloat(row[0], 64)
			if err != nil || row[i] == "" || at < event.StartS-20.5 || at > event.EndS+20.5 {
				continue
			}
			want := column.words[row[i]]
			if column.words == nil {
				x, err := strconv.ParseFloat(row[i], 64)
				if err != nil {
					continue
				}
				want = fmt.Sprint(x)
			}
			key := column.parameter + " at " + strconv.FormatFloat(at, 'f', -1, 64)
			if got[key] != want+" "+column.unit {
				t.Errorf("%s: the clip has %q, the export %q", key, got[key], want+" "+column.unit)
			}
			delete(got, key)
			cells[column.parameter]++
		}
	}
	for _, column := range clipColumns {
		for key := range got {
			if strings.HasPrefix(key, column.parameter+" at ") {
				t.Errorf("%s is in the clip and not in the export", key)
			}
		}
		if cells[column.parameter] < 20 {
			t.Errorf("only %d cells of %s", cells[column.parameter], column.parameter)
		}
	}

	// Changed, gone, and without identities: the error says so, and no file is made.
	refused := func(what, dir, says string, want int) {
		t.Helper()
		var out, said bytes.Buffer
		file := filepath.Join(t.TempDir(), "none.csv")
		code := Command([]string{"clip", "--archive", dir, event.EventID, "--csv", file}, nil, &out, &said)
		if _, err := os.Stat(file); code != want || !strings.Contains(said.String(), says) || err == nil {
			t.Errorf("%s: %d %s", what, code, &said)
		}
	}
	other := mustRead(t, filepath.Join(exports, "tarnholm-06.csv.gz"))
	if err := os.WriteFile(export, other, 0o600); err != nil {
		t.Fatal(err)
	}
	refused("changed", dir, "its file has changed since", command.ExitInputsFailed)
	if err := os.Remove(export); err != nil {
		t.Fatal(err)
	}
	refused("gone", dir, "no longer where it was", command.ExitInputsFailed)
	key, tokens := filepath.Join(exports, "key"), filepath.Join(t.TempDir(), "tokens")
	if err := os.WriteFile(key, []byte("a key for tests, of enough bytes"), 0o600); err != nil {
		t.Fatal(err)
	}
	if code := scan.Command([]string{"--quiet", "--archive", tokens, "--deidentify", key, filepath.Join(exports, "tarnholm-06.csv.gz")}, &out, &said); code != command.ExitDone {
		t.Fatalf("%d %s", code, &said)
	}
	refused("identity withheld", tokens, "identity is withheld", command.ExitUsage)
}

func mustRead(t *testing.T, file string) []byte {
	t.Helper()
	data, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	return data
}

func readCSV(t *testing.T, text []byte) [][]string {
	t.Helper()
	r := csv.NewReader(bytes.NewReader(text))
	r.FieldsPerRecord = -1
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return rows
}
