package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"downlock/cmd/downlock/command"
	"downlock/cmd/downlock/topics"
	"downlock/report/trend/fleet"
)

// referenceBlock is the fenced block in that notation of a topic of the reference.
func referenceBlock(t *testing.T, topic, notation string) string {
	t.Helper()
	text, ok := topics.Text(topic)
	if !ok {
		t.Fatalf("no topic %s", topic)
	}
	_, block, _ := strings.Cut(text, "\n```"+notation+"\n")
	block, _, ok = strings.Cut(block, "\n```\n")
	if !ok {
		t.Fatalf("%s has no block of %s", topic, notation)
	}
	return block + "\n"
}

// TestReferencePack follows the steps of `downlock help rules`: the pack is loaded, its
// case holds, a wrong expectation does not, and the pack finds the late gear of
// a demonstration flight (the truth of tarnholm-08 has the gear unlocked at
// 1000 ft, so its DOWN came below 1500 ft).
func TestReferencePack(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	pack, cases, wrong := filepath.Join(dir, "my-limits.yaml"), filepath.Join(dir, "my-cases.txt"), filepath.Join(dir, "wrong.txt")
	text := referenceBlock(t, "rules", "text")
	for file, content := range map[string]string{pack: referenceBlock(t, "rules", "yaml"), cases: text, wrong: strings.Replace(text, "in 39..40", "in 38..40", 1)} {
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
		{[]string{"rules", "--rules", pack}, command.ExitDone, "built-in, changed by my limits"},
		{[]string{"rules", "--rules", pack, "lever-cycled"}, command.ExitUsage, ""},
		{[]string{"rules", "--rules", pack, "--test", cases}, command.ExitDone, "1 case, 0 failed"},
		{[]string{"rules", "--rules", pack, "--test", wrong}, command.ExitInputsFailed, "1 case, 1 failed"},
		{[]string{"rules", "--rules", pack, "gear-down-low", "--try", filepath.Join(dir, "demo", "tarnholm-08.csv.gz")}, command.ExitDone, "event, certain"},
	} {
		var stdout, stderr bytes.Buffer
		if code := run(c.args, &stdout, &stderr); code != c.code || !strings.Contains(stdout.String(), c.says) {
			t.Errorf("%v: exit code %d, want %d with %q\n%s%s", c.args, code, c.code, c.says, stdout.String(), stderr.String())
		}
	}
}

// The indicators of the reference are valid, and those of which the invented fleet
// has enough are judged.
func TestReferenceIndicators(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	file, archive := filepath.Join(dir, "indicators.yaml"), filepath.Join(dir, "fleet")
	if err := os.WriteFile(file, []byte(referenceBlock(t, "indicators", "yaml")), 0o600); err != nil {
		t.Fatal(err)
	}
	f := fleet.Fleet{Seed: 6, Flights: 2_400, Months: 24, First: "2031-01", Aircraft: 6, Rules: 45}
	if err := f.Write(archive); err != nil {
		t.Fatal(err)
	}
	var said bytes.Buffer
	if code := run([]string{"trend", "-a", archive, "-o", filepath.Join(dir, "trends"), "--indicators", file}, &said, &said); code != command.ExitDone && code != command.ExitAlert {
		t.Fatalf("ends with %d:\n%s", code, said.String())
	}
	status := map[string]string{}
	for _, row := range rowsOf(t, filepath.Join(dir, "trends", "indicators.csv")) {
		status[row["indicator"]] = row["status"]
	}
	for _, id := range []string{"unstable", "slow-leg", "firm"} {
		if status[id] == "" || status[id] == "not enough data" {
			t.Errorf("%s: %q", id, status[id])
		}
	}
	// The fleet has no audit of the horn among its first rules.
	if status["horn"] != "not enough data" {
		t.Errorf("horn: %q", status["horn"])
	}
}
