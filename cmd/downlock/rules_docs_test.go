package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"downlock/detect"
)

// TestLanguageExample loads the pack shown at the end of the introduction.
func TestLanguageExample(t *testing.T) {
	_, pack, ok := strings.Cut(languageIntroduction, "\na pack\n")
	if !ok {
		t.Fatal("no pack in the introduction")
	}
	file := filepath.Join(t.TempDir(), "example.yaml")
	if err := os.WriteFile(file, []byte(pack), 0o666); err != nil {
		t.Fatal(err)
	}
	set, err := detect.LoadRules(file)
	if err != nil {
		t.Fatal(err)
	}
	for _, id := range []string{"speedbrake-with-gear", "flap-selected-high"} {
		if r := set.Rule(id); r == nil || r.Origin() != "approach limits" {
			t.Errorf("no rule %s of the pack", id)
		}
	}
	if got := set.Rule("gear-extension-speed").Origin(); got != "built-in, changed by approach limits" {
		t.Errorf("gear-extension-speed: got %q", got)
	}
}

// readmeBlock is the fenced block of README.md under a heading, in that notation.
func readmeBlock(t *testing.T, heading, notation string) string {
	t.Helper()
	text, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	_, section, _ := strings.Cut(string(text), "\n## "+heading+"\n")
	section, _, _ = strings.Cut(section, "\n## ")
	_, block, _ := strings.Cut(section, "\n```"+notation+"\n")
	block, _, ok := strings.Cut(block, "\n```\n")
	if !ok {
		t.Fatalf("README.md has no block of %s under %s", notation, heading)
	}
	return block + "\n"
}

// TestReadmePack does what the README tells a user to: the pack is loaded, its
// case holds, a wrong expectation does not, and the pack finds the late gear of
// a demonstration flight (the truth of tarnholm-08 has the gear unlocked at
// 1000 ft, so its DOWN came below 1500 ft).
func TestReadmePack(t *testing.T) {
	dir := t.TempDir()
	pack, cases, wrong := filepath.Join(dir, "my-limits.yaml"), filepath.Join(dir, "my-cases.txt"), filepath.Join(dir, "wrong.txt")
	text := readmeBlock(t, "Rules of your own", "text")
	for file, content := range map[string]string{pack: readmeBlock(t, "Rules of your own", "yaml"), cases: text, wrong: strings.Replace(text, "in 39..40", "in 38..40", 1)} {
		if err := os.WriteFile(file, []byte(content), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	if err := prepare(dir); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		args []string
		code int
		says string
	}{
		{[]string{"rules", "--rules", pack}, exitDone, "built-in, changed by my limits"},
		{[]string{"rules", "--rules", pack, "lever-cycled"}, exitUsage, ""},
		{[]string{"rules", "--rules", pack, "--test", cases}, exitDone, "1 case, 0 failed"},
		{[]string{"rules", "--rules", pack, "--test", wrong}, exitInputsFailed, "1 case, 1 failed"},
		{[]string{"rules", "--rules", pack, "gear-down-low", "--try", filepath.Join(dir, "demo", "tarnholm-08.csv.gz")}, exitDone, "event, certain"},
	} {
		var stdout, stderr bytes.Buffer
		if code := run(c.args, &stdout, &stderr); code != c.code || !strings.Contains(stdout.String(), c.says) {
			t.Errorf("%v: exit code %d, want %d with %q\n%s%s", c.args, code, c.code, c.says, stdout.String(), stderr.String())
		}
	}
}
