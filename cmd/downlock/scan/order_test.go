package scan

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"downlock/report/identity"
)

// TestTokensInOrder: where identity is withheld lines, index, failures and files left out
// stand in the order of their tokens. The names here are those of days, and their order is
// another one.
func TestTokensInOrder(t *testing.T) {
	t.Parallel()
	n, dir := newNights(t, 8), t.TempDir()
	key := filepath.Join(dir, "key")
	if err := os.WriteFile(key, []byte("a key for tests, of enough bytes"), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, day := range []string{"0", "1", "2", "3", "4", "5"} {
		for _, name := range []string{"damaged-2031-03-0" + day + ".csv", "notes-2031-03-0" + day + ".pdf"} {
			if err := os.WriteFile(n.path(name), []byte("x\n"), 0o666); err != nil {
				t.Fatal(err)
			}
		}
	}
	var stdout, stderr bytes.Buffer
	out := filepath.Join(dir, "reports")
	Command([]string{"--quiet", "--profile", n.profile, "--deidentify", key, "--archive", filepath.Join(dir, "archive"), "--out", out,
		n.exports, n.path("gone-2.csv"), n.path("gone-1.csv"), n.path("gone-3.csv")}, &stdout, &stderr)

	token := regexp.MustCompile(`d-[a-z2-7]{12}/r-[a-z2-7]{12}`)
	var lines, failed, missing []string
	for _, line := range linesOf(&stdout) {
		lines = append(lines, token.FindString(line))
	}
	leftOut := ""
	for line := range strings.Lines(stderr.String()) {
		switch {
		case strings.Contains(line, "skipped: their names"):
			leftOut = line
		case strings.Contains(line, "no such file"):
			missing = append(missing, token.FindString(line))
		case strings.Contains(line, "error: "):
			failed = append(failed, token.FindString(line))
		}
	}
	var index struct {
		Flights, Failures []struct{ Recording, Input string }
	}
	data, err := os.ReadFile(filepath.Join(out, "index.json"))
	if err == nil {
		err = json.Unmarshal(data, &index)
	}
	if err != nil {
		t.Fatal(err)
	}
	var flights []string
	for _, f := range index.Flights {
		flights = append(flights, f.Recording)
	}
	for _, list := range []struct {
		name   string
		tokens []string
		count  int
	}{{"lines", lines, 7}, {"failures", failed, 7}, {"missing", missing, 3}, {"left out", token.FindAllString(leftOut, -1), 6}, {"index", flights, 7}} {
		if len(list.tokens) != list.count || !slices.IsSorted(list.tokens) {
			t.Errorf("%s: %d tokens: %q\n%s", list.name, len(list.tokens), list.tokens, &stderr)
		}
	}

	k, _, err := identity.ReadKey(key)
	if err != nil {
		t.Fatal(err)
	}
	for _, pattern := range []string{"flight-*", "damaged-*", "notes-*"} { // by names, their tokens are in no order
		names, _ := filepath.Glob(n.path(pattern))
		for i := range names {
			names[i] = k.Path(names[i])
		}
		if slices.IsSorted(names) {
			t.Errorf("%s: the order of names is that of tokens: the test shows nothing", pattern)
		}
	}
}
