package rules

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"downlock/cmd/downlock/command"
)

// TestMistakes writes packs and profiles with one thing misspelt, marked with ^
// in front, and looks for its line and column and the nearest right word.
func TestMistakes(t *testing.T) {
	t.Parallel()
	const head = "schema: downlock rules 1\npack: mine\nrules:\n  - id: mine\n    title: t\n    meaning: m\n    basis: common practice\n"
	const profile = "schema: downlock profile 1\naircraft: T\ntitle: t\nlegs: [nose, left, right]\nengines: 2\ntime: {column: time}\n" +
		"columns:\n  radio_altitude: {column: ra, unit: ft}\n"
	for _, c := range []struct{ name, flag, text, says, hint string }{
		{"parameter", "--rules", head + "    when: ^computed_airsped > 250", `unknown name "computed_airsped"`, "did you mean computed_airspeed?"},
		{"value", "--rules", head + "    when: computed_airspeed > ^gear_extension_sped", `unknown name "gear_extension_sped"`, "did you mean gear_extension_speed?"},
		{"criterion", "--rules", head + "    when: airborne and ^gear_warning_silencable", "unknown name", "did you mean gear_warning_silenceable?"},
		{"function", "--rules", head + "    when: ^lastin(airborne, 5)", `unknown function "lastin"`, "did you mean lasting?"},
		{"table", "--rules", head + "    when: radio_altitude < ^too_low_gear_flor(computed_airspeed)", "unknown function", "did you mean too_low_gear_floor?"},
		{"state word", "--rules", head + "    when: gear_lever == ^\"DWN\"", `gear_lever has no state "DWN"`, "did you mean DOWN?"},
		{"state word in small letters", "--rules", head + "    when: gear_lever == ^\"up\"", `has no state "up"`, "did you mean UP?"},
		{"field of a rule", "--rules", head + "    when: airborne\n    ^at_leest: 5", `has no entry "at_leest"`, "did you mean at_least?"},
		{"field of a severity", "--rules", head + "    when: airborne\n    severity: {by: d, low: 1, ^hihg: 2}", `has no entry "hihg"`, "did you mean high?"},
		{"field of a measure", "--rules", head + "    when: airborne\n    measure:\n      - {name: d, ^tkae: duration}", `has no entry "tkae"`, "did you mean take?"},
		{"field of a pack", "--rules", head + "    when: airborne\n^nte: x", `has no entry "nte"`, "did you mean note?"},
		{"a field like no other", "--rules", head + "    when: airborne\n    ^colour: red", `has no entry "colour"`, "it may have also_possible, at, at_least"},
		{"severity level", "--rules", head + "    when: airborne\n    severity: ^meduim", "must be one of", "did you mean medium?"},
		{"measure of a severity", "--rules", head + "    when: airborne\n    measure:\n      - {name: excess, of: height, take: start}\n    severity: {by: ^exces, low: 1}", "has no measure", "did you mean excess?"},
		{"what to take", "--rules", head + "    when: airborne\n    measure:\n      - {name: d, take: ^duratoin}", "must be one of", "did you mean duration?"},
		{"system", "--rules", head + "    when: airborne\n    systems: [^lever_locks]", "must be one of", "did you mean lever_lock?"},
		{"name that is optional", "--rules", head + "    when: airborne\n    optional: [^gear_levr]", "unknown name", "did you mean gear_lever?"},
		{"parameter to draw", "--rules", head + "    when: airborne\n    trace: [^gear_levr]", "unknown parameter", "did you mean gear_lever?"},
		{"finding", "--rules", head + "    audit: {warning: gear_horn, finding: ^mised}", "must be one of", "did you mean missed?"},
		{"warning", "--rules", head + "    audit: {warning: ^gear_hron, finding: missed}", "unknown warning", "did you mean gear_horn?"},
		{"rule to switch off", "--rules", "schema: downlock rules 1\npack: mine\nrules:\n  - id: ^gear-lat\n    off: true", "to switch off", "did you mean gear-late?"},
		{"parameter in a profile", "--profile", profile + "  ^radio_altitud: {column: x, unit: ft}", "unknown parameter", "did you mean radio_altitude?"},
		{"value in a profile", "--profile", profile + "values:\n  ^gear_altitud: 1", "unknown value", "did you mean gear_altitude?"},
		{"table in a profile", "--profile", profile + "tables:\n  ^too_low_gear_flor: [[1, 2], [3, 4]]", "unknown table", "did you mean too_low_gear_floor?"},
		{"criterion in a profile", "--profile", profile + "criteria:\n  ^takeoff_thrst: airborne", "unknown criterion", "did you mean takeoff_thrust?"},
		{"name in a criterion", "--profile", profile + "criteria:\n  takeoff_thrust: ^airbone", "unknown name", "did you mean airborne?"},
		{"field of a profile", "--profile", profile + "^value: {}", `has no entry "value"`, "did you mean values?"},
	} {
		t.Run(c.name, func(t *testing.T) {
			before, _, marked := strings.Cut(c.text, "^")
			if !marked {
				t.Fatal("nothing is marked")
			}
			file := filepath.Join(t.TempDir(), "mine.yaml")
			if err := os.WriteFile(file, []byte(strings.Replace(c.text, "^", "", 1)+"\n"), 0o666); err != nil {
				t.Fatal(err)
			}
			// The recording is not there: mistakes are said before it is looked for.
			args := []string{"gear-late", "--try", "no-recording", c.flag, file}
			var stdout, stderr bytes.Buffer
			if code := Command(args, &stdout, &stderr); code != command.ExitInvalid {
				t.Errorf("exit code %d, want %d", code, command.ExitInvalid)
			}
			place := fmt.Sprintf("mine.yaml:%d:%d: ", strings.Count(before, "\n")+1, len(before)-strings.LastIndexByte(before, '\n'))
			for _, want := range []string{place, c.says, "hint: " + c.hint} {
				if !strings.Contains(stderr.String(), want) {
					t.Errorf("no %q in\n%s", want, stderr.String())
				}
			}
		})
	}
}
