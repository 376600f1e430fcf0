package inspect

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"

	"downlock/cmd/downlock/command"
	"downlock/ingest"
	"downlock/schemas"
)

// workbook writes two sheets that may each be the export: a minute of airspeed, rising by a
// knot a second from the first figure of the sheet.
func workbook(t *testing.T) (file string) {
	t.Helper()
	book := excelize.NewFile()
	for leg, sheet := range []string{"First leg", "Second leg"} {
		if _, err := book.NewSheet(sheet); err != nil {
			t.Fatal(err)
		}
		for i := range 61 {
			row := []any{i, 100*(leg+1) + i}
			if i == 0 {
				row = []any{"time", "airspeed"}
			}
			cell, _ := excelize.CoordinatesToCellName(1, i+1)
			if err := book.SetSheetRow(sheet, cell, &row); err != nil {
				t.Fatal(err)
			}
		}
	}
	file = filepath.Join(t.TempDir(), "legs.xlsx")
	if err := book.SaveAs(file); err != nil {
		t.Fatal(err)
	}
	return file
}

// TestSheet: of a workbook with several sheets the user is told which there are and how to
// choose; the sheet chosen is the one that is described, and that the draft reads.
func TestSheet(t *testing.T) {
	file := workbook(t)
	inspect := func(code int, args ...string) (stdout, stderr string) {
		t.Helper()
		var out, messages bytes.Buffer
		if got := Command(append(args, file), &out, &messages); got != code {
			t.Errorf("%q: exit code %d: %s", args, got, &messages)
		}
		return out.String(), messages.String()
	}
	if _, messages := inspect(command.ExitInputsFailed); !strings.Contains(messages, `"First leg", "Second leg"`) || !strings.Contains(messages, `--sheet "First leg"`) {
		t.Errorf("the sheets are not listed: %s", messages)
	}
	for sheet, column := range map[string]string{"First leg": "101 to 160", "Second leg": "201 to 260"} {
		if out, _ := inspect(command.ExitDone, "--sheet", sheet); !strings.Contains(out, column) {
			t.Errorf("%s: %s", sheet, out)
		}
	}
	if _, messages := inspect(command.ExitInputsFailed, "--sheet", "Third leg"); !strings.Contains(messages, `has no sheet "Third leg"`) {
		t.Errorf("a sheet that is not there: %s", messages)
	}
	draft, _ := inspect(command.ExitDone, "--suggest", "--sheet", "Second leg")
	profile, err := schemas.ParseProfile("draft.yaml", []byte(draft))
	if err != nil {
		t.Fatalf("%v in %s", err, draft)
	}
	if r, err := ingest.Read(file, profile); err != nil || r.Lookup("computed_airspeed").Numbers()[0] != 201 {
		t.Errorf("read by the draft: %v, %+v", err, r)
	}
	// The sheet of the command line goes before that of the profile.
	if err := os.WriteFile(file+".yaml", []byte(draft), 0o600); err != nil {
		t.Fatal(err)
	}
	for want, flags := range map[string][]string{"201 to 260": nil, "101 to 160": {"--sheet", "First leg"}} {
		if out, _ := inspect(command.ExitDone, append(flags, "--profile", file+".yaml")...); !strings.Contains(out, want) {
			t.Errorf("%q, with a profile: %s", flags, out)
		}
	}
}
