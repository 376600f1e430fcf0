package main

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"downlock/cmd/downlock/command"
)

// TestEveryFlagIsExplained holds the flags of each subcommand against its help, which is laid
// out by hand: every flag stands there with its letter, and is explained.
func TestEveryFlagIsExplained(t *testing.T) {
	if len(runs) != len(command.Subcommands) {
		t.Errorf("%d functions for %d subcommands", len(runs), len(command.Subcommands))
	}
	for _, d := range described() {
		lines := strings.Split(d.Help, "\n")
		for _, f := range d.Flags {
			spelled := "    --" + f.Name
			if f.Shorthand != "" {
				spelled = "-" + f.Shorthand + ", --" + f.Name
			}
			if !slices.ContainsFunc(lines, func(line string) bool { return strings.HasPrefix(strings.TrimPrefix(line, "  ")+" ", spelled+" ") }) {
				t.Errorf("%s: the help has no line that begins with %q", d.Name, spelled)
			}
			if f.Meaning == "" {
				t.Errorf("%s --%s is not explained", d.Name, f.Name)
			}
			if f.Choices != nil && f.Value == "" {
				t.Errorf("%s --%s has choices and no word for its value", d.Name, f.Name)
			}
		}
		if !strings.HasPrefix(d.Help, "usage: downlock "+d.Name) {
			t.Errorf("%s: the help begins with another usage", d.Name)
		}
		for line := range strings.Lines(d.Help) { // and no line of the help explains a flag that is gone
			name, ok := strings.CutPrefix(strings.TrimLeft(line, " "), "--")
			if !ok || !strings.HasPrefix(line, "      --") {
				continue
			}
			name, _, _ = strings.Cut(strings.TrimSpace(name), " ")
			if !slices.ContainsFunc(d.Flags, func(f command.Flag) bool { return f.Name == name }) {
				t.Errorf("%s: the help explains --%s, and there is no such flag", d.Name, name)
			}
		}
	}
}

// script writes the completions for a shell into a folder.
func script(t *testing.T, shell, file string) {
	t.Helper()
	var stdout, stderr bytes.Buffer
	if code := run([]string{"completion", shell}, &stdout, &stderr); code != command.ExitDone || stderr.Len() > 0 {
		t.Fatalf("ends with %d: %s", code, &stderr)
	}
	if err := os.WriteFile(file, stdout.Bytes(), 0o666); err != nil {
		t.Fatal(err)
	}
}

// offers are words that every shell offers for a command line, and words it does not.
var offers = []struct {
	line   string
	words  []string
	absent []string
}{
	{"downlock re", []string{"review"}, []string{"scan", "rules"}},
	{"downlock scan --sa", []string{"--samples"}, []string{"--share", "--by"}},
	{"downlock scan --samples ", []string{"all", "events", "none"}, []string{"scan"}},
	{"downlock scan --fail-on m", []string{"medium"}, []string{"low"}},
	{"downlock trend --co", []string{"--config", "--correction", "--count"}, []string{"--out"}},
	{"downlock trend --archive fl", []string{"fleet/"}, []string{"flight.csv"}},
	{"downlock scan --profile fl", []string{"flight.csv"}, nil},
	{"downlock review s", []string{"show", "set"}, nil},
	{"downlock completion f", []string{"fish"}, []string{"bash"}},
}

// offered runs a shell that prints the words it offers for the command line, a line each.
func offered(t *testing.T, dir, line, shell string, args ...string) []string {
	t.Helper()
	c := exec.Command(shell, args...)
	c.Dir, c.Env = dir, append(os.Environ(), "HOME="+dir, "XDG_CONFIG_HOME="+dir, "LINE="+line)
	out, err := c.CombinedOutput()
	if err != nil {
		t.Fatalf("%s: %v\n%s", shell, err, out)
	}
	var words []string
	for word := range strings.Lines(string(out)) {
		word, _, _ = strings.Cut(strings.TrimSpace(word), "\t")
		words = append(words, word)
	}
	return words
}

const inBash = `source script.bash
eval "COMP_WORDS=($LINE)"
[[ $LINE != *" " ]] || COMP_WORDS+=("")
COMP_CWORD=$((${#COMP_WORDS[@]} - 1))
_downlock
for name in "${COMPREPLY[@]}"; do if [[ -d $name ]]; then name+=/; fi; echo "$name"; done`

// inZsh asks a shell on a terminal of its own, since zsh completes nowhere else. Compadd
// notes the words that fit, and the last line says that all are noted.
const inZsh = `zmodload zsh/zpty
zpty shell TERM=dumb zsh -f -i
zpty -w shell 'PS1=; fpath=($PWD $fpath); autoload -Uz compinit; compinit -u -D
compadd() { local -a fit; builtin compadd -O fit "$@"; print -rl -- $fit >>offered; builtin compadd "$@" }
bindkey "^I" complete-word; finished() { print -r -- all-""noted; zle -I }; zle -N finished; bindkey "^G" finished; echo rea""dy'
zpty -r shell line '*ready*'
zpty -w -n shell "$LINE"$'\t\a'
zpty -r shell line '*all-noted*'
zpty -d shell
for name in ${(u)$(<offered)}; do if [[ -d $name ]]; then name+=/; fi; echo $name; done`

// TestCompletions asks the shells themselves.
func TestCompletions(t *testing.T) {
	if testing.Short() {
		t.Skip("starts shells")
	}
	for shell, c := range map[string]struct {
		file string
		args []string
	}{
		"bash": {"script.bash", []string{"--norc", "-c", inBash}},
		"fish": {"script.fish", []string{"--no-config", "-c", `source script.fish; complete -C "$LINE"`}},
		"zsh":  {"_downlock", []string{"-f", "-c", inZsh}},
	} {
		t.Run(shell, func(t *testing.T) {
			if _, err := exec.LookPath(shell); err != nil {
				t.Skip(shell + " is not installed")
			}
			dir := t.TempDir()
			script(t, shell, filepath.Join(dir, c.file))
			if err := os.Mkdir(filepath.Join(dir, "fleet"), 0o777); err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(filepath.Join(dir, "flight.csv"), nil, 0o666); err != nil {
				t.Fatal(err)
			}
			for _, o := range offers {
				os.Remove(filepath.Join(dir, "offered"))
				words := offered(t, dir, o.line, shell, c.args...)
				for _, w := range o.words {
					if !slices.Contains(words, w) {
						t.Errorf("%q: %q is not offered, but %q", o.line, w, words)
					}
				}
				for _, w := range o.absent {
					if slices.Contains(words, w) {
						t.Errorf("%q: %q is offered", o.line, w)
					}
				}
			}
		})
	}
}

// TestManualPages: each page has the flags of its subcommand, and groff, where it is
// installed, has nothing to say about it.
func TestManualPages(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "man1")
	var stdout, stderr bytes.Buffer
	if code := run([]string{"man", dir}, &stdout, &stderr); code != command.ExitDone {
		t.Fatalf("ends with %d: %s", code, &stderr)
	}
	pages := strings.Fields(stdout.String())
	if len(pages) != len(command.Subcommands)+1 {
		t.Errorf("%d pages", len(pages))
	}
	for _, d := range described() {
		text, err := os.ReadFile(filepath.Join(dir, "downlock-"+d.Name+".1"))
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range d.Flags {
			if n := strings.Count(string(text), "\\fB"+strings.ReplaceAll("--"+f.Name, "-", "\\-")+"\\fR"); n != 1 {
				t.Errorf("%s: --%s stands %d times under OPTIONS", d.Name, f.Name, n)
			}
		}
	}
	if _, err := exec.LookPath("groff"); err != nil {
		return
	}
	shown, err := exec.Command("groff", append([]string{"-man", "-Tutf8", "-ww", "-P-c"}, pages...)...).CombinedOutput()
	if err != nil || strings.Contains(string(shown), "warning:") || !strings.Contains(string(shown), "downlock-verify") {
		t.Errorf("groff: %v\n%s", err, shown)
	}
}
