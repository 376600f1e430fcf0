package inspect

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"downlock/cmd/downlock/command"
	"downlock/schemas"
	"downlock/schemas/schematest"
)

const (
	demoFolder = "../../../testdata/demo/"
	x100Folder = "../../../testdata/x100/"
)

// inspected runs inspect and returns its output.
func inspected(t *testing.T, want int, args ...string) (stdout, stderr string) {
	t.Helper()
	var out, err bytes.Buffer
	if code := Command(args, &out, &err); code != want {
		t.Fatalf("exit code %d, want %d: %s", code, want, err.String())
	}
	return out.String(), err.String()
}

func validInspection(t *testing.T, text string) error {
	t.Helper()
	return schematest.Validate(schemas.InspectSchema, []byte(text))
}

// Everything inspect --json writes follows its schema: every format, with and
// without a profile, a right one and a wrong one, with suggestions, and a file
// that cannot be read.
func TestInspectJSONFollowsSchema(t *testing.T) {
	t.Parallel()
	shipped := filepath.Join(t.TempDir(), "th120.yaml")
	if err := os.WriteFile(shipped, schemas.ShippedProfileText(), 0o666); err != nil {
		t.Fatal(err)
	}
	shaped := filepath.Join(t.TempDir(), "shaped.csv")
	if err := os.WriteFile(shaped, []byte(shapedExport()), 0o666); err != nil {
		t.Fatal(err)
	}
	if out, _ := inspected(t, command.ExitDone, "--suggest", "--json", shaped); !strings.Contains(out, `"samples": [`) || !strings.Contains(out, `"true_above": 0.99`) {
		t.Errorf("no samples or levels are suggested:\n%s", out)
	}
	files, _ := filepath.Glob("../../../testdata/formats/departure*")
	files = append(files, demoFolder+"tarnholm-07.csv.gz", demoFolder+"tarnholm-17.csv.zst", demoFolder+"tarnholm-18.csv.gz", "../../../testdata/mat/circuit.mat")
	for name, c := range map[string]struct {
		code int
		args []string
	}{
		"surveys":         {command.ExitDone, files},
		"right profile":   {command.ExitDone, []string{"--profile", shipped, demoFolder + "tarnholm-07.csv.gz", demoFolder + "tarnholm-13.csv.gz", demoFolder + "tarnholm-14.parquet"}},
		"wrong profile":   {command.ExitDone, []string{"--profile", x100Folder + "profile.yaml", x100Folder + "flight-6.csv.gz"}},
		"shapes":          {command.ExitDone, []string{"--suggest", shaped}},
		"suggestions":     {command.ExitDone, []string{"--suggest", x100Folder + "flight-1.csv.gz"}},
		"one that failed": {command.ExitInputsFailed, []string{demoFolder + "tarnholm-07.csv.gz", "no-such-file.csv"}},
	} {
		t.Run(name, func(t *testing.T) {
			out, _ := inspected(t, c.code, append([]string{"--json"}, c.args...)...)
			if err := validInspection(t, out); err != nil {
				t.Error(err)
			}
		})
	}
}

// Each change makes an inspection the schema must refuse.
func TestInspectSchemaRefuses(t *testing.T) {
	t.Parallel()
	out, _ := inspected(t, command.ExitDone, "--json", demoFolder+"tarnholm-07.csv.gz")
	file := func(d map[string]any) map[string]any { return d["files"].([]any)[0].(map[string]any) }
	survey := func(d map[string]any) map[string]any { return file(d)["survey"].(map[string]any) }
	column := func(d map[string]any) map[string]any { return survey(d)["columns"].([]any)[0].(map[string]any) }
	for name, change := range map[string]func(d map[string]any){
		"another form":            func(d map[string]any) { d["schema"] = "downlock inspection 2" },
		"no list of failures":     func(d map[string]any) { delete(d, "failed") },
		"a file without a survey": func(d map[string]any) { delete(file(d), "survey") },
		"a share above one":       func(d map[string]any) { column(d)["blank"] = 1.5 },
		"a count below zero":      func(d map[string]any) { column(d)["samples"] = -1 },
		"a field nobody knows":    func(d map[string]any) { column(d)["guess"] = true },
		"time of another form":    func(d map[string]any) { survey(d)["time"].(map[string]any)["form"] = "frames" },
		"a short hash":            func(d map[string]any) { survey(d)["sha256"] = "ab" },
	} {
		var doc map[string]any
		if err := json.Unmarshal([]byte(out), &doc); err != nil {
			t.Fatal(err)
		}
		change(doc)
		text, err := json.Marshal(doc)
		if err != nil {
			t.Fatal(err)
		}
		if validInspection(t, string(text)) == nil {
			t.Errorf("%s: taken", name)
		}
	}
}

// The mapping part against figures by hand: flight-6 with the profile that takes
// its circuits for the things.
func TestInspectAgainstWrongProfile(t *testing.T) {
	t.Parallel()
	out, _ := inspected(t, command.ExitDone, "--json", "--profile", x100Folder+"profile.yaml", x100Folder+"flight-6.csv.gz")
	var doc inspectDocument
	if err := json.Unmarshal([]byte(out), &doc); err != nil {
		t.Fatal(err)
	}
	m := doc.Files[0].Mapping
	if m.Flights != 1 || len(m.Parameters) != 32 || len(m.Absent) != 0 || len(m.Unmapped) != 0 {
		t.Errorf("%d flights, %d parameters, absent %v, unmapped %v; want 1, 32 and none", m.Flights, len(m.Parameters), m.Absent, m.Unmapped)
	}
	for _, p := range m.Parameters {
		// 14 CFR part 121 appendix M: normal acceleration eight times a second (read); struts once a second (from memory).
		if p.Parameter == "normal_acceleration" && (p.Interval != 0.125 || p.LongestInterval != 0.125 || !p.Confirmed || p.Slow) {
			t.Errorf("normal acceleration %+v", p)
		}
		if p.Parameter == "left_strut_compressed" && (p.Interval != 0.25 || p.LongestInterval != 1 || p.Confirmed || p.Slow) {
			t.Errorf("left strut %+v", p)
		}
	}
	failed := map[string]bool{}
	for _, c := range m.Checks {
		failed[c.Check] = c.Outcome == "failed"
	}
	if !failed["strut-polarity"] || !failed["down-lock-polarity"] || failed["vertical-speed"] {
		t.Errorf("checks: %+v", m.Checks)
	}
	for _, r := range m.Rules {
		if r.Rule == "gear-up-before-strut-extension" && (r.Evaluable || !strings.Contains(strings.Join(r.Missing, " "), "consistency check failed")) {
			t.Errorf("%+v", r)
		}
		if r.Rule == "gear-extension-speed" && !r.Evaluable {
			t.Errorf("%+v", r)
		}
	}
}

// shapedExport is a short flight with two samples of the height in a row, and the
// positions of two legs.
func shapedExport() string {
	var b strings.Builder
	b.WriteString("time,IAS,RALT_1,RALT_2,Gear_Left_Position,Gear_Right_Position\n")
	for s := range 400 {
		t := float64(s)
		height := func(t float64) float64 { return 1500 * max(0, math.Sin(math.Pi*(t-60)/280)) }
		down := 1 - min(1, max(0, (t-70)/8)) + min(1, max(0, (t-280)/8))
		fmt.Fprintf(&b, "%d,%.1f,%.2f,%.2f,%.2f,%.2f\n", s, 20+130*min(1, max(0, (t-40)/30))*min(1, max(0, (360-t)/30)), height(t), height(t+0.5), down, down)
	}
	return b.String()
}
