package schemas

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// profiles is a folder with one profile for each kind of fault.
const profiles = "../testdata/profiles"

// The lines and columns were counted by hand in the files.
func TestProfileProblems(t *testing.T) {
	t.Parallel()
	for _, want := range []struct {
		file         string
		line, column int
		cause, hint  string // parts of them
	}{
		{"unknown-parameter", 9, 3, `unknown parameter "radio_altitud"`, "did you mean radio_altitude?"},
		{"wrong-unit", 8, 47, "ft is a length and cannot become kt", "kept in kt"},
		{"unknown-unit", 8, 47, `unknown unit "furlongs"`, "kept in kt"},
		{"no-unit", 10, 7, "radio_altitude needs a unit", "add unit: ft"},
		{"unit-of-a-state", 8, 37, "gear_lever is a state and has no unit", "remove it"},
		{"unknown-state", 12, 10, `gear_lever has no state "DN"`, "UP, OFF, DOWN"},
		{"no-states", 8, 3, "gear_lever needs states", "UP or OFF or DOWN"},
		{"no-true-when", 8, 3, "gear_horn needs true_when", "aural warning sounds"},
		{"no-opposite", 8, 40, `the opposite of "SOUNDS" is not known`, "add false_when"},
		{"both-true-and-false", 8, 29, `"2" means both true and false`, "remove it"},
		{"true-when-of-a-number", 8, 52, "flap_angle is continuous, not a discrete", "remove true_when"},
		{"empty-range", 8, 41, "the range is empty", "[smallest, largest]"},
		{"zero-scale", 8, 48, "makes every value 0", "leave it out"},
		{"not-finite", 9, 23, "must be finite", ""},
		{"detents-out-of-order", 14, 26, "in order of angle", "smallest first"},
		{"unknown-class", 13, 41, `"intermediate"`, ""},
		{"unknown-value", 11, 3, `unknown value "gear_extention_speed"`, "did you mean gear_extension_speed?"},
		{"table-out-of-order", 10, 37, "in order", "sort them"},
		{"limit-does-not-rise", 10, 81, "without two at one place: 20000 follows 20000", "sort them"},
		{"limit-turns", 10, 81, "rise throughout or fall throughout", "mistyped"},
		{"limit-of-a-time", 10, 3, "extension_time cannot change with a parameter", "under values"},
		{"limit-unknown", 10, 3, `unknown limit "gear_extention_speed"`, "did you mean gear_extension_speed?"},
		{"limit-by-unknown", 10, 29, `unknown parameter "presure_altitude"`, "did you mean pressure_altitude?"},
		{"limit-by-state", 10, 29, "gear_lever is a state, not a number", "pressure_altitude or gross_weight"},
		{"limit-and-value", 10, 3, "gear_extended_speed is also given under values", "keep one"},
		{"table-falls", 10, 49, "must not fall", ""},
		{"unknown-field", 8, 41, `has no entry "colour"`, "did you mean column?"},
		{"wrong-type", 8, 51, "must be a number", ""},
		{"wrong-type-engines", 5, 10, "must be a whole number", ""},
		{"no-time", 1, 1, "lacks \"time\"", ""},
		{"duplicate-key", 10, 3, `"flap_angle" already defined`, ""},
		{"syntax", 9, 1, "must be specified", ""},
		{"tab", 3, 1, "cannot start any token", ""},
		{"alias", 8, 16, "anchors and aliases are not supported", "write the value out"},
		{"alias-bomb", 1, 4, "anchors and aliases are not supported", "write the value out"},
		{"tag", 3, 8, "tags are not supported", "quote"},
		{"two-documents", 9, 1, "a second YAML document", "in another file"},
		{"empty", 0, 0, "is empty", "example"},
		{"only-a-comment", 0, 0, "is empty", "example"},
		{"not-a-mapping", 1, 1, "must be a group of entries", ""},
		{"text", 1, 1, "must be a group of entries", ""},
	} {
		for _, lineEnd := range []string{"\n", "\r\n"} {
			path := filepath.Join(profiles, want.file+".yaml")
			text, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			_, err = ParseProfile(path, []byte(strings.ReplaceAll(string(text), "\n", lineEnd)))
			var all Problems
			if !errors.As(err, &all) || len(all) != 1 {
				t.Errorf("%s: got %v, want one problem", want.file, err)
				continue
			}
			p := all[0]
			if p.File != path || p.Line != want.line || p.Column != want.column {
				t.Errorf("%s: at %s, want %d:%d", want.file, p.Position(), want.line, want.column)
			}
			if !strings.Contains(p.Cause, want.cause) || !strings.Contains(p.Hint, want.hint) {
				t.Errorf("%s: cause %q and hint %q, want parts %q and %q", want.file, p.Cause, p.Hint, want.cause, want.hint)
			}
		}
	}
}

// A file in the folder that no row above names would not be tested.
func TestEveryBadProfileIsNamed(t *testing.T) {
	t.Parallel()
	source, err := os.ReadFile("profile_test.go")
	if err != nil {
		t.Fatal(err)
	}
	files, err := filepath.Glob(filepath.Join(profiles, "*.yaml"))
	if err != nil || len(files) < 20 {
		t.Fatalf("%d files, %v", len(files), err)
	}
	for _, file := range files {
		if name := strings.TrimSuffix(filepath.Base(file), ".yaml"); !strings.Contains(string(source), `{"`+name+`",`) {
			t.Errorf("%s is in no test", name)
		}
	}
}

func TestCheckFlightProfiles(t *testing.T) {
	t.Parallel()
	usual, err := ReadProfile("../testdata/x100/profile.yaml")
	if err != nil {
		t.Fatal(err)
	}
	inverted, err := ReadProfile("../testdata/x100/profile-inverted.yaml")
	if err != nil {
		t.Fatal(err)
	}
	for name, sources := range usual.Columns {
		want := "1"
		if strings.HasSuffix(name, "gear_down_locked") || strings.HasSuffix(name, "strut_compressed") {
			want = "0"
		}
		if p, _ := LookupParameter(name); p.Kind != Discrete {
			continue
		}
		if got := inverted.Columns[name][0]; sources[0].TrueWhen[0] != "1" || got.TrueWhen[0] != want || got.FalseWhen[0] == want {
			t.Errorf("%s: true when %v, and %v inverted; want 1 and %s", name, sources[0].TrueWhen, got.TrueWhen, want)
		}
	}
	if _, given := usual.Values["gear_retraction_speed"]; given {
		t.Error("a retraction speed is given; none is stated for the type")
	}
}

func TestReadProfileWithoutAFile(t *testing.T) {
	t.Parallel()
	if _, err := ReadProfile("no-such-file.yaml"); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("got %v, want %v", err, os.ErrNotExist)
	}
}

func TestOpposites(t *testing.T) {
	t.Parallel()
	for token, want := range map[string]string{"1": "0", "0": "1", "true": "false", "TRUE": "FALSE", "True": "False", "ON": "OFF", "off": "on", "Yes": "No", "T": "F"} {
		if got := opposite(Tokens{token}); len(got) != 1 || got[0] != want {
			t.Errorf("%s: got %v, want %s", token, got, want)
		}
	}
	if got := opposite(Tokens{"1", "LOCKED"}); got != nil {
		t.Errorf("got %v for a token without a known opposite", got)
	}
}

// For any bytes, the outcome is a profile or problems.
func FuzzParseProfile(f *testing.F) {
	files, err := filepath.Glob(filepath.Join(profiles, "*.yaml"))
	if err != nil {
		f.Fatal(err)
	}
	for _, file := range files {
		text, err := os.ReadFile(file)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(text)
	}
	f.Add(ShippedProfileText())
	f.Fuzz(func(t *testing.T, text []byte) {
		p, err := ParseProfile("fuzz.yaml", text)
		var all Problems
		switch {
		case err == nil && (p == nil || p.Aircraft == "" || len(p.Columns) == 0):
			t.Errorf("no error and no profile: %+v", p)
		case err != nil && (!errors.As(err, &all) || len(all) == 0 || len(all) > MaxProblems+1):
			t.Errorf("an error that is no problems: %v", err)
		}
		for _, p := range all {
			if p.Cause == "" || p.Detail() == "" {
				t.Errorf("a problem without a cause: %+v", p)
			}
		}
	})
}
