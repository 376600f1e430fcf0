package schemas

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// shippedFleetProfile stands for the file system: it knows the shipped profiles by name.
func shippedFleetProfile(path string) (*Profile, error) {
	text := ShippedProfileTextNamed(strings.TrimSuffix(filepath.Base(path), ".yaml"))
	if text == nil {
		return nil, &os.PathError{Op: "open", Path: path, Err: os.ErrNotExist}
	}
	return ParseProfile(path, text)
}

// TestNamePattern: what fits and which registration is in the name was worked out by
// hand from the words in the schema.
func TestNamePattern(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ pattern, path, want string }{ // "-": does not fit
		{"*", "a.csv", ""},
		{"*.csv", "a.csv.gz", "-"},
		{"*.csv*", "a.csv.gz", ""},
		{"a.csv", "aXcsv", "-"},
		{"a+(b).csv", "a+(b).csv", ""},
		{"{registration}_*.csv", "TH-KXN_1_2.csv", "TH-KXN"},
		{"{registration}_*.csv", "d/e/th-kxn_1.csv", "TH-KXN"},
		{"{registration}_*.csv", "TH KXN_1.csv", "-"},
		{"{registration}_*.csv", "_1.csv", "-"},
		{"*_{registration}.csv", "x_y_4XABC.csv", "4XABC"},
		{"QAR{registration}.csv", "QARTH-KXN.csv", "TH-KXN"},
		{"{registration}-*.csv", "THKXN-1.csv", "THKXN"},
		{"{registration}-*.csv", "TH-KXN-1.csv", "TH-KXN or TH"},
		{"*{registration}.csv", "aTH.csv", "H or ATH"},
		{"{registration}/*.csv", "in/TH-KXN/1.csv", "TH-KXN"},
		{"{registration}/*.csv", "in/TH-KXN/2031/1.csv", "-"},
		{"{registration}/*/*.csv", "in/TH-KXN/2031/1.csv", "TH-KXN"},
		{"a/*.csv", "b/a/1.csv", ""},
		{"a/*.csv", "xa/1.csv", "-"},
		{"a/b/*.csv", "/1.csv", "-"},
		{"a/b/*.csv", "/a/b/1.csv", ""},
		{"Ж{registration}_*", "Жé7_", "É7"}, {"{registration}*", "é7_", "É7 or É"},
	} {
		p, err := parseNamePattern(c.pattern)
		if err != nil {
			t.Errorf("%s: %v", c.pattern, err)
			continue
		}
		got, fits := p.match(filepath.FromSlash(c.path))
		text := strings.Join(got, " or ")
		if !fits {
			text = "-"
		}
		if text != c.want {
			t.Errorf("%s and %s: %q, want %q", c.pattern, c.path, text, c.want)
		}
	}
}

const fleetText = `schema: downlock fleet 1
inputs:
  - files: "{registration}_*.csv"
    profile: p/th120.yaml
    file_date: "*_{YYYYMMDD}.csv"
  - files: TH-*
    profile: p/th440.yaml
    registration: TH-LGR
  - files: "*.mat"
    profile: p/th440.yaml
`

// TestFleetPlace: the first entry that fits counts.
func TestFleetPlace(t *testing.T) {
	t.Parallel()
	read := map[string]int{}
	f, err := ParseFleet("f/fleet.yaml", []byte(fleetText), func(path string) (*Profile, error) {
		read[path]++
		return shippedFleetProfile(path)
	})
	if err != nil {
		t.Fatal(err)
	}
	if len(read) != 2 || read[filepath.Join("f", "p", "th120.yaml")] != 1 || read[filepath.Join("f", "p", "th440.yaml")] != 1 {
		t.Errorf("profiles read: %v", read)
	}
	for _, c := range []struct{ path, aircraft, registration, date string }{
		{"x/TH-KXN_20310304.csv", "TH-120", "TH-KXN", "*_{YYYYMMDD}.csv"},
		{"x/TH-KXN-20310304.csv", "TH-440", "TH-LGR", ""},
		{"x/1.mat", "TH-440", "", ""},
	} {
		place, err := f.Place(c.path)
		if err != nil {
			t.Errorf("%s: %v", c.path, err)
			continue
		}
		p := place.Profile()
		if p.Aircraft != c.aircraft || p.Registration != c.registration || p.Time.FileDate != c.date {
			t.Errorf("%s: %s %s %s", c.path, p.Aircraft, p.Registration, p.Time.FileDate)
		}
	}
	var problem *Problem
	if _, err := f.Place("x/other.csv"); !errors.As(err, &problem) || problem.File != "x/other.csv" || !strings.Contains(problem.Cause, "fits no entry") || problem.Hint == "" {
		t.Errorf("an unknown name: %v", err)
	}
	titled := *f
	titled.Title = "Ours"
	if got := titled.Summary().Title; got != "Ours" {
		t.Errorf("the title Ours becomes %q", got)
	}
	if s := f.Summary(); s.Aircraft != "TH-120, TH-440" || s.Title != "Fleet: TH-120, TH-440" || s.File != "f/fleet.yaml" || s.SHA256 != f.SHA256 {
		t.Errorf("summary: %+v", s)
	}
}

func TestFleetRegistrationNotClear(t *testing.T) {
	t.Parallel()
	f, err := ParseFleet("fleet.yaml", []byte("schema: downlock fleet 1\ninputs: [{files: \"*.mat\", profile: th120.yaml}, {files: \"{registration}-*\", profile: th120.yaml}]\n"), shippedFleetProfile)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := f.Place("TH-KXN-1.csv"); err == nil || !strings.Contains(err.Error(), `entry 2 of the fleet, and its registration may be "TH-KXN" or "TH"`) {
		t.Errorf("got %v", err)
	}
}

// TestFleetMistakes: lines and columns are counted by hand in fleetText.
func TestFleetMistakes(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name, old, new string
		line, column   int
		cause, hint    string
	}{
		{"misspelt entry", "file_date", "file_dat", 5, 5, `has no entry "file_dat"`, "file_date"},
		{"no profile", "    profile: p/th120.yaml\n", "", 3, 5, `lacks "profile"`, ""},
		{"other braces", `"{registration}_*`, `"{YYYYMMDD}_*`, 3, 12, "braces around something other", "file_date"},
		{"registration twice", `"{registration}_*`, `"{registration}{registration}_*`, 3, 12, "twice", ""},
		{"slash at the end", "TH-*", "TH-*/", 6, 12, "slash", ""},
		{"slash at the start", "TH-*", "/TH-*", 6, 12, "slash", ""},
		{"two slashes", "TH-*", "TH//*", 6, 12, "slash", ""},
		{"no date", `"*_{YYYYMMDD}.csv"`, `"*.csv"`, 5, 16, "has no date in braces", "*_{YYYYMMDD}_*"},
		{"registration in both", `files: TH-*`, `files: "{registration}"`, 8, 19, "already in the pattern of the name", "one of the two"},
		{"the same pattern", `"*.mat"`, `TH-*`, 9, 12, "entry 2 has the same pattern", ""},
		{"missing profile", "p/th120.yaml", "p/none.yaml", 4, 14, "cannot be read: file does not exist", "start at the folder"},
		{"a star without quotes", `"*.mat"`, `*.mat`, 9, 12, "aliases", "in quotes"},
		{"a brace without quotes", `"{registration}_*.csv"`, `{registration}_*.csv`, 3, 26, "not allowed", "in quotes"},
		{"another schema", "fleet 1", "profile 1", 1, 9, "downlock fleet 1", ""},
	} {
		text := strings.Replace(fleetText, c.old, c.new, 1)
		if text == fleetText {
			t.Fatalf("%s: nothing is changed", c.name)
		}
		_, err := ParseFleet("fleet.yaml", []byte(text), shippedFleetProfile)
		var found Problems
		if !errors.As(err, &found) || len(found) != 1 {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		p := found[0]
		if p.Line != c.line || p.Column != c.column || !strings.Contains(p.Cause, c.cause) || !strings.Contains(p.Hint, c.hint) {
			t.Errorf("%s: %s, hint %q", c.name, p.Error(), p.Hint)
		}
	}
	checkMistakes(t, `schema: downlock fleet 1
inputs:
  - {files: A*, profile: th120.yaml}
  - {files: B*, profile: th120.yaml}
  - {files: ^A*, profile: th120.yaml}
  - {files: ^B*, profile: th120.yaml}
`, func(text []byte) error {
		_, err := ParseFleet("fleet.yaml", text, shippedFleetProfile)
		return err
	}, told{"no file reaches this entry: entry 1 has the same pattern, and the first that fits counts", "remove one of the two"},
		told{"no file reaches this entry: entry 2 has the same pattern, and the first that fits counts", "remove one of the two"})
	broken := func(path string) (*Profile, error) { return ParseProfile(path, []byte("aircraft: x\n")) }
	if _, err := ParseFleet("fleet.yaml", []byte(fleetText), broken); err == nil || !strings.Contains(err.Error(), "th120.yaml:1:1") {
		t.Errorf("a problem of a profile is told as %v", err)
	}
}

// FuzzFleet: no text ends the process, and a fleet that is read places any name.
func FuzzFleet(f *testing.F) {
	f.Add(fleetText, "TH-KXN_20310304.csv")
	f.Add("schema: downlock fleet 1\ninputs: [{files: \"{registration}/*\", profile: th120.yaml}]\n", "a/b")
	profile := func(string) (*Profile, error) { return ShippedProfile() }
	f.Fuzz(func(t *testing.T, text, name string) {
		fleet, err := ParseFleet("fleet.yaml", []byte(text), profile)
		var found Problems
		if err != nil {
			if !errors.As(err, &found) {
				t.Fatalf("the error is %T: %v", err, err)
			}
			return
		}
		place, err := fleet.Place(name)
		if err == nil && place.Profile().Aircraft != "TH-120" {
			t.Errorf("%q is placed without its profile", name)
		}
	})
}
