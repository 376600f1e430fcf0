package command

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/spf13/pflag"
)

// demand is a command line with settings, and the values that its flags must have.
type demand struct {
	name, file  string
	environment map[string]string
	args        []string
	out         string
	jobs        int
	rules       []string
}

// TestStrength: the command line goes before the environment, and the environment before
// the file, for values of one and of several words.
func TestStrength(t *testing.T) {
	const file = "schema: downlock settings 1\nscan:\n  out: from-file\n  jobs: 3\n  rules: [a.yaml, b.yaml]\ntrend:\n  out: other\n"
	for _, d := range []demand{
		{name: "nothing", out: "default", jobs: 1},
		{name: "file", file: file, out: "from-file", jobs: 3, rules: []string{"a.yaml", "b.yaml"}},
		{name: "environment", file: file, environment: map[string]string{"DOWNLOCK_SCAN_OUT": "from-env", "DOWNLOCK_SCAN_RULES": "c.yaml" + string(filepath.ListSeparator) + "d.yaml", "DOWNLOCK_TREND_OUT": "other"},
			out: "from-env", jobs: 3, rules: []string{"c.yaml", "d.yaml"}},
		{name: "command line", file: file, environment: map[string]string{"DOWNLOCK_SCAN_OUT": "from-env", "DOWNLOCK_SCAN_JOBS": "5"},
			args: []string{"--out", "typed", "--rules", "e.yaml"}, out: "typed", jobs: 5, rules: []string{"e.yaml"}},
		{name: "an empty name reads none", file: file, args: []string{"--config", ""}, out: "default", jobs: 1},
	} {
		t.Run(d.name, d.try)
	}
}

func (d demand) try(t *testing.T) {
	dir := t.TempDir()
	t.Chdir(dir)
	if d.file != "" {
		if err := os.WriteFile(SettingsFile, []byte(d.file), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	for name, value := range d.environment {
		t.Setenv(name, value)
	}
	flags, out, jobs, rules := someFlags()
	var said bytes.Buffer
	if code, done := ParseFlags(flags, d.args, "", &said, &said); done {
		t.Fatalf("ends with %d: %s", code, &said)
	}
	if *out != d.out || *jobs != d.jobs || strings.Join(*rules, " ") != strings.Join(d.rules, " ") {
		t.Errorf("out %q, jobs %d, rules %q, want %q, %d, %q", *out, *jobs, *rules, d.out, d.jobs, d.rules)
	}
	if typed := Typed(flags.Lookup("out")); typed != (d.out == "typed") {
		t.Errorf("out stands on the command line: %v", typed)
	}
	if note := strings.Contains(said.String(), "from downlock.yaml: "); note != (d.name == "file" || d.name == "environment") {
		t.Errorf("says %q", &said)
	}
}

func someFlags() (flags *pflag.FlagSet, out *string, jobs *int, rules *[]string) {
	flags = pflag.NewFlagSet("scan", pflag.ContinueOnError)
	out = flags.StringP("out", "o", "default", "")
	jobs = flags.Int("jobs", 1, "")
	rules = flags.StringArray("rules", nil, "")
	flags.Bool("quiet", false, "")
	return flags, out, jobs, rules
}

// TestWrongSettings: what is wrong is said with its place and the nearest name.
func TestWrongSettings(t *testing.T) {
	const schema = "schema: downlock settings 1\n"
	for name, c := range map[string]struct {
		file, variable, value string
		args                  []string
		code                  int
		says                  []string
	}{
		"unknown flag":         {file: schema + "scan:\n  jbos: 2\n", code: ExitInvalid, says: []string{"downlock.yaml:3:3: scan has no flag \"jbos\"", "did you mean jobs?"}},
		"unknown subcommand":   {file: schema + "scna:\n  jobs: 2\n", code: ExitInvalid, says: []string{"downlock.yaml:2:1: ", "did you mean scan?"}},
		"no number":            {file: schema + "scan:\n  out: x\n  jobs: many\n", code: ExitInvalid, says: []string{"downlock.yaml:4:9: scan.jobs: "}},
		"a list":               {file: schema + "scan:\n  out: [a, b]\n", code: ExitInvalid, says: []string{"downlock.yaml:3:", "one value is needed here"}},
		"nothing":              {file: schema + "scan:\n  out:\n", code: ExitInvalid, says: []string{"downlock.yaml:3:", "no value"}},
		"another schema":       {file: "schema: downlock rules 1\n", code: ExitInvalid, says: []string{"downlock.yaml:1:9: ", "schema: downlock settings 1"}},
		"no entries":           {file: schema + "scan: reports\n", code: ExitInvalid, says: []string{"downlock.yaml:2:7: "}},
		"twice":                {file: schema + "scan:\n  out: a\n  out: b\n", code: ExitInvalid, says: []string{"downlock.yaml:4:3: "}},
		"environment":          {variable: "DOWNLOCK_SCAN_JBOS", value: "2", code: ExitUsage, says: []string{"DOWNLOCK_SCAN_JBOS", "did you mean DOWNLOCK_SCAN_JOBS?"}},
		"value in environment": {variable: "DOWNLOCK_SCAN_JOBS", value: "many", code: ExitUsage, says: []string{`DOWNLOCK_SCAN_JOBS="many"`}},
		"a file that is gone":  {variable: "DOWNLOCK_CONFIG", value: "gone.yaml", code: ExitInvalid, says: []string{"gone.yaml"}},
		"unknown on the line":  {args: []string{"--jbos", "2"}, code: ExitUsage, says: []string{"unknown flag: --jbos", "did you mean --jobs?", "downlock scan --help"}},
	} {
		t.Run(name, func(t *testing.T) {
			t.Chdir(t.TempDir())
			if c.file != "" {
				if err := os.WriteFile(SettingsFile, []byte(c.file), 0o666); err != nil {
					t.Fatal(err)
				}
			}
			if c.variable != "" {
				t.Setenv(c.variable, c.value)
			}
			flags, _, _, _ := someFlags()
			var said bytes.Buffer
			code, done := ParseFlags(flags, c.args, "", &said, &said)
			if !done || code != c.code {
				t.Errorf("ends %v with %d, want %d", done, code, c.code)
			}
			for _, want := range c.says {
				if !strings.Contains(said.String(), want) {
					t.Errorf("does not say %q:\n%s", want, &said)
				}
			}
		})
	}
}
