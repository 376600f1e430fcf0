package notices

import (
	"bytes"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

var update = flag.Bool("update", false, "write notices.txt")

// platforms are those of .ci/release, where they differ in what they are built of.
var platforms = []string{"linux", "darwin", "windows"}

// TestNotices: notices.txt is what the command is built of now. After a change of go.mod
// `go test ./cmd/downlock/notices -update` writes it anew.
func TestNotices(t *testing.T) {
	want := collect(t)
	if *update {
		if err := os.WriteFile("notices.txt", []byte(want), 0o666); err != nil {
			t.Fatal(err)
		}
		return
	}
	if text != want {
		t.Errorf("notices.txt is not what the module cache has; `go test ./cmd/downlock/notices -update` writes it\n%s", cmp.Diff(text, want))
	}
}

// TestEveryModule holds the headings of notices.txt against go.mod, which is read as text
// here: each library has the version that go.mod wants.
func TestEveryModule(t *testing.T) {
	mod, err := os.ReadFile("../../../go.mod")
	if err != nil {
		t.Fatal(err)
	}
	found := regexp.MustCompile(`(?m)^  (\S+) (v[0-9]\S+)$`).FindAllStringSubmatch(text, -1)
	if len(found) < 20 {
		t.Errorf("%d libraries are listed, and there are more", len(found))
	}
	for _, m := range found {
		if !bytes.Contains(mod, []byte("\t"+m[1]+" "+m[2])) {
			t.Errorf("%s %s is not in go.mod", m[1], m[2])
		}
	}
}

// library is a module that is linked in, and the folders of its packages that are.
type library struct {
	Path, Version, Dir string
	folders            []string
}

// collect lists what the command is built of, with each text once.
func collect(t *testing.T) string {
	libraries := map[string]*library{}
	for _, platform := range platforms {
		list := exec.Command("go", "list", "-deps", "-json=Dir,Module", "downlock/cmd/downlock")
		list.Env = append(os.Environ(), "GOOS="+platform, "CGO_ENABLED=0")
		out, err := list.Output()
		if err != nil {
			t.Fatalf("go list for %s: %v", platform, err)
		}
		for d := json.NewDecoder(bytes.NewReader(out)); ; {
			var p struct {
				Dir    string
				Module *library
			}
			if err := d.Decode(&p); errors.Is(err, io.EOF) {
				break
			} else if err != nil {
				t.Fatal(err)
			}
			if p.Module == nil || p.Module.Version == "" { // the standard library, and downlock
				continue
			}
			if libraries[p.Module.Path] == nil {
				libraries[p.Module.Path] = p.Module
			}
			l := libraries[p.Module.Path]
			if !slices.Contains(l.folders, p.Dir) {
				l.folders = append(l.folders, p.Dir)
			}
		}
	}
	root, err := exec.Command("go", "env", "GOROOT").Output()
	if err != nil {
		t.Fatal(err)
	}
	goroot := strings.TrimSpace(string(root))
	names := map[string][]string{} // libraries, by text
	var texts []string
	add := func(name string, l *library) {
		held := licences(t, l)
		if len(held) == 0 {
			t.Errorf("%s has no licence", name)
		}
		for _, text := range held {
			if names[text] == nil {
				texts = append(texts, text)
			}
			names[text] = append(names[text], name)
		}
	}
	add("the Go standard library", &library{Dir: goroot, folders: []string{goroot}})
	for _, path := range sortedKeys(libraries) {
		add(path+" "+libraries[path].Version, libraries[path])
	}
	var b strings.Builder
	b.WriteString("downlock is built of the Go standard library and the libraries below. Each licence is printed once,\nbelow the names of the libraries it is of.\n")
	for _, text := range texts {
		fmt.Fprintf(&b, "\n%s\n\n", strings.Repeat("=", 100))
		for _, name := range names[text] {
			fmt.Fprintf(&b, "  %s\n", name)
		}
		fmt.Fprintf(&b, "\n%s\n", text)
	}
	return b.String()
}

func sortedKeys(m map[string]*library) (keys []string) {
	for k := range m {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}

var licenceName = regexp.MustCompile(`(?i)^(licen[cs]e|copying|notice|patents)([._-].*)?$`)

// licences returns the texts of licences of a library: those in its root, and those in
// the folders from there to each package that is linked in.
func licences(t *testing.T, l *library) (texts []string) {
	seen := map[string]bool{}
	folders := slices.Sorted(slices.Values(l.folders))
	for _, folder := range append([]string{l.Dir}, folders...) {
		for ; !seen[folder] && strings.HasPrefix(folder, l.Dir); folder = filepath.Dir(folder) {
			seen[folder] = true
			entries, err := os.ReadDir(folder)
			if err != nil {
				t.Fatal(err)
			}
			for _, e := range entries {
				if e.IsDir() || !licenceName.MatchString(e.Name()) || strings.HasSuffix(e.Name(), ".go") {
					continue
				}
				data, err := os.ReadFile(filepath.Join(folder, e.Name()))
				if err != nil {
					t.Fatal(err)
				}
				if text := tidy(string(data)); !slices.Contains(texts, text) {
					texts = append(texts, text)
				}
			}
		}
	}
	return texts
}

// tidy returns a text without blanks at the ends of lines, in which copies differ.
func tidy(text string) string {
	lines := strings.Split(strings.ReplaceAll(text, "\r\n", "\n"), "\n")
	for i, line := range lines {
		lines[i] = strings.TrimRight(line, " \t\f")
	}
	return strings.Trim(strings.Join(lines, "\n"), "\n")
}
