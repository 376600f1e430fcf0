package main

import (
	"bytes"
	"compress/gzip"
	"errors"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"sync"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"

	"downlock/cmd/downlock/demo"
	"downlock/cmd/downlock/scan"
	"downlock/report"
	"downlock/schemas"
	"downlock/schemas/schematest"
	"downlock/testdata"
)

// TestMain runs the command itself, in a process of its own, for the scripts. All files look
// at rest to the scans of the other tests.
func TestMain(m *testing.M) {
	truly := scan.Clock
	scan.Clock = func() time.Time { return truly().Add(time.Hour) }
	testscript.Main(m, map[string]func(){"downlock": func() { scan.Clock = truly; main() }})
}

// atOnce are the scripts that work on several inputs or months at once: all
// that a short run is for, since that is how the race detector runs them.
var atOnce = []string{"scan_demo", "scan_failures", "archive", "archive_run", "archive_failures", "deidentify", "trend_demo"}

func TestScripts(t *testing.T) {
	t.Parallel()
	scripts := testscript.Params{
		Dir:   "testdata/script",
		Setup: func(env *testscript.Env) error { return prepare(env.WorkDir) },
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"exits":      exits,
			"sametree":   sameTree,
			"validjson":  validReports,
			"nopartials": noPartials,
			"sametables": sameTables,
			"fleet":      inventedFleet(writeFleet(filepath.Join(t.TempDir(), "fleet"))),
			"goodlinks":  goodLinks,
		},
	}
	if testing.Short() {
		for _, name := range atOnce {
			scripts.Files = append(scripts.Files, filepath.Join(scripts.Dir, name+".txt"))
		}
		scripts.Dir = ""
	}
	testscript.Run(t, scripts)
}

// prepare lays out the files for the scripts: the demo files and profile, and
// damaged exports.
func prepare(dir string) error {
	if _, err := demo.Write(filepath.Join(dir, "demo"), "th120"); err != nil {
		return err
	}
	files, err := inputs()
	if err != nil {
		return err
	}
	for name, data := range files {
		if err := os.WriteFile(filepath.Join(dir, name), data, 0o666); err != nil {
			return err
		}
	}
	return nil
}

// inputs are damaged exports, and sound ones beside them. They are made once for all scripts.
var inputs = sync.OnceValues(func() (map[string][]byte, error) {
	good, err := fs.ReadFile(testdata.Demo, "demo/tarnholm-04.csv.gz")
	if err != nil {
		return nil, err
	}
	z, err := gzip.NewReader(bytes.NewReader(good))
	if err != nil {
		return nil, err
	}
	var plain bytes.Buffer
	if _, err := plain.ReadFrom(z); err != nil {
		return nil, err
	}
	random := make([]byte, 20000)
	source := rand.New(rand.NewPCG(1, 2))
	for i := range random {
		random[i] = byte(source.Uint32())
	}
	big, err := compressed(append(slices.Clone(plain.Bytes()), bytes.Repeat(lastRow(plain.Bytes()), 40_000)...))
	if err != nil {
		return nil, err
	}
	return map[string][]byte{
		"big.csv.gz":       big, // more than 1 MiB unpacked
		"good.csv.gz":      good,
		"good.csv":         plain.Bytes(),
		"truncated.csv.gz": good[:len(good)/2],
		"random.csv":       random,
		"empty.csv":        nil,
	}, nil
})

// lastRow is the last line of a text, with its line end.
func lastRow(text []byte) []byte {
	text = bytes.TrimRight(text, "\n")
	return append(slices.Clone(text[bytes.LastIndexByte(text, '\n')+1:]), '\n')
}

func compressed(data []byte) ([]byte, error) {
	var b bytes.Buffer
	z := gzip.NewWriter(&b)
	if _, err := z.Write(data); err != nil {
		return nil, err
	}
	err := z.Close()
	return b.Bytes(), err
}

// exits runs a command that must end with the code: exits CODE COMMAND ARG...
func exits(ts *testscript.TestScript, neg bool, args []string) {
	err := ts.Exec(args[1], args[2:]...)
	var exit *exec.ExitError
	code := 0
	if errors.As(err, &exit) {
		code = exit.ExitCode()
	} else if err != nil {
		ts.Fatalf("%v", err)
	}
	if fmt.Sprint(code) != args[0] {
		ts.Fatalf("exit code %d, want %s", code, args[0])
	}
}

// sameTree compares two folders byte by byte: sametree A B.
func sameTree(ts *testscript.TestScript, neg bool, args []string) {
	if len(args) != 2 {
		ts.Fatalf("usage: sametree A B")
	}
	a, b := tree(ts, ts.MkAbs(args[0])), tree(ts, ts.MkAbs(args[1]))
	same := len(a) == len(b) && len(a) > 0
	for name, data := range a {
		same = same && bytes.Equal(data, b[name])
	}
	if same == neg {
		ts.Fatalf("%s and %s: the same is %v (%d and %d files)", args[0], args[1], same, len(a), len(b))
	}
}

// sameTables compares the tables of two archives byte by byte: sametables A B.
func sameTables(ts *testscript.TestScript, neg bool, args []string) {
	if len(args) != 2 {
		ts.Fatalf("usage: sametables A B")
	}
	sameTree(ts, neg, []string{filepath.Join(args[0], "tables"), filepath.Join(args[1], "tables")})
}

func tree(ts *testscript.TestScript, dir string) map[string][]byte {
	files := map[string][]byte{}
	ts.Check(filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		data, err := os.ReadFile(path)
		name, _ := filepath.Rel(dir, path)
		files[name] = data
		return err
	}))
	return files
}

// validReports holds every report.json, batch.json and verify.json below a folder, the output of trend
// writes, and a file that is named, against its schema: validjson PATH.
func validReports(ts *testscript.TestScript, neg bool, args []string) {
	held := 0
	for name, data := range tree(ts, ts.MkAbs(args[0])) {
		schemaOf := map[string]string{"report.json": schemas.ReportSchema, "batch.json": schemas.BatchSchema, "trend.json": schemas.TrendSchema, "verify.json": schemas.VerifySchema}
		for _, table := range []string{"rates", "comparisons", "measurements", "audits", "events", "indicators"} {
			schemaOf[table+".json"] = schemas.TrendTableSchema
		}
		if name == "." { // the path is that of the file
			name = filepath.Base(args[0])
		}
		if schemaOf[filepath.Base(name)] == "" {
			continue
		}
		held++
		ts.Check(schematest.Validate(schemaOf[filepath.Base(name)], data))
	}
	if held == 0 {
		ts.Fatalf("nothing to hold against a schema below %s", args[0])
	}
	ts.Logf("%d files are valid", held)
}

// noPartials makes sure nothing half-written is left below a folder:
// nopartials DIR.
func noPartials(ts *testscript.TestScript, neg bool, args []string) {
	known := map[string]bool{report.FlightPage: true, "report.json": true, "events.csv": true, "measurements.csv": true, "index.html": true, "index.json": true}
	for name := range tree(ts, ts.MkAbs(args[0])) {
		if !known[filepath.Base(name)] {
			ts.Fatalf("%s: left behind", name)
		}
	}
}
