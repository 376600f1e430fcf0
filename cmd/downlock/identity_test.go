package main

import (
	"bytes"
	"cmp"
	"compress/gzip"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	gocmp "github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"github.com/parquet-go/parquet-go"

	"downlock/cmd/downlock/command"
	"downlock/schemas"
	"downlock/testdata"
)

// The invented exports below tell who flew when.
const (
	secretRegistration = "TH-KXN"
	secretFlight       = "TA4417"
	secretKey          = "nobody may ever read this key 0123456789"
)

// secretExports is a folder of exports whose names, dates and cells identify: two
// demonstration flights, one of them with clock times for its rows, and files
// that fail in different ways.
type secretExports struct {
	dir, profile, key string
	files             []string
	hashes            []string
	positions         []string // as the exports write them
}

func newSecretExports(t *testing.T) *secretExports {
	t.Helper()
	root := t.TempDir()
	e := &secretExports{dir: filepath.Join(root, secretRegistration+" downloads"),
		profile: filepath.Join(root, "th-kxn.yaml"), key: filepath.Join(root, "key")}
	if err := os.MkdirAll(e.dir, 0o700); err != nil {
		t.Fatal(err)
	}
	write := func(path string, data []byte) {
		if err := os.WriteFile(path, data, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	export := func(name string, data []byte) {
		path := filepath.Join(e.dir, name)
		write(path, data)
		when := time.Date(2024, 5, 6, 7, 8, 9, 123456789, time.UTC)
		if err := os.Chtimes(path, when, when); err != nil {
			t.Fatal(err)
		}
		sum := sha256.Sum256(data)
		e.files, e.hashes = append(e.files, path), append(e.hashes, hex.EncodeToString(sum[:]))
	}
	write(e.key, []byte(secretKey))
	write(e.profile, append(schemas.ShippedProfileText(), "\nregistration: "+secretRegistration+"\n"...))
	first, second := demoText(t, "tarnholm-08.csv.gz"), demoText(t, "tarnholm-04.csv.gz")
	e.positions = append(positionsIn(first), positionsIn(second)...)
	export(secretRegistration+"_"+secretFlight+"_20310324.csv", []byte(first))
	export(secretFlight+".clock.csv", []byte(clockTimes(t, second, time.Date(2031, 3, 8, 6, 40, 0, 0, time.UTC))))
	header, _, _ := strings.Cut(first, "\n")
	export(secretFlight+"_broken.csv", []byte(header+"\n"+secretRegistration+" "+secretFlight+" 24.03.2031\nx\ny\n"))
	export(secretRegistration+"_empty.csv", nil)
	export("24MAR2031.csv", []byte(secretRegistration+","+secretFlight+",2031-03-24\n1,2,3\n4,5,6\n"))
	return e
}

func demoText(t *testing.T, name string) string {
	t.Helper()
	packed, err := fs.ReadFile(testdata.Demo, "demo/"+name)
	if err != nil {
		t.Fatal(err)
	}
	z, err := gzip.NewReader(bytes.NewReader(packed))
	if err != nil {
		t.Fatal(err)
	}
	var text bytes.Buffer
	if _, err := text.ReadFrom(z); err != nil {
		t.Fatal(err)
	}
	return text.String()
}

// positionsIn lists the cells of latitude and longitude with four decimals or
// more, which stand for nothing else by chance.
func positionsIn(csv string) (cells []string) {
	lines := strings.Split(csv, "\n")
	names := strings.Split(lines[0], ",")
	for _, line := range lines[1:] {
		for i, cell := range strings.Split(line, ",") {
			if _, decimals, _ := strings.Cut(cell, "."); i < len(names) && (names[i] == "latitude" || names[i] == "longitude") && len(decimals) >= 4 {
				cells = append(cells, cell)
			}
		}
	}
	slices.Sort(cells)
	cells = slices.Compact(cells)
	return cells[:min(len(cells), 100)]
}

// clockTimes writes the times of rows, in seconds, as ISO 8601 in their place.
func clockTimes(t *testing.T, csv string, zero time.Time) string {
	t.Helper()
	lines := strings.Split(strings.TrimSpace(csv), "\n")
	for i, line := range lines[1:] {
		at, rest, _ := strings.Cut(line, ",")
		s, err := strconv.ParseFloat(at, 64)
		if err != nil {
			t.Fatal(err)
		}
		lines[i+1] = zero.Add(time.Duration(s*1000)*time.Millisecond).Format("2006-01-02T15:04:05.000Z") + "," + rest
	}
	return strings.Join(lines, "\n") + "\n"
}

// scan scans the exports into a folder and returns the text of its files, file by
// file, and in the messages; of a Parquet file also its cells.
func (e *secretExports) scan(t *testing.T, more ...string) (out string, texts map[string]string, code int) {
	t.Helper()
	out = t.TempDir()
	var stdout, stderr bytes.Buffer
	args := append([]string{"scan", "--profile", e.profile, "--archive", filepath.Join(out, "fleet"), "--out", filepath.Join(out, "reports"),
		"--summary", filepath.Join(out, "run.json"), "--metrics", filepath.Join(out, "run.prom")}, more...)
	code = run(append(args, e.dir, filepath.Join(e.dir, secretFlight+"_missing.csv")), &stdout, &stderr)
	texts = everyText(t, out)
	texts["stdout"], texts["stderr"] = stdout.String(), stderr.String()
	return out, texts, code
}

// messages scans and returns the messages alone.
func (e *secretExports) messages(t *testing.T, more ...string) (code int, stderr string) {
	t.Helper()
	_, texts, code := e.scan(t, more...)
	return code, texts["stdout"] + texts["stderr"]
}

func everyText(t *testing.T, dir string) map[string]string {
	t.Helper()
	texts := map[string]string{}
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		name, _ := filepath.Rel(dir, path)
		if d.IsDir() {
			texts[name+"/"] = name
			return nil
		}
		data, err := os.ReadFile(path)
		texts[name] = name + "\n" + string(data)
		if strings.HasSuffix(path, ".parquet") {
			texts[name] += parquetCells(t, data)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return texts
}

// parquetCells writes out every cell of a Parquet file, times as dates too.
func parquetCells(t *testing.T, data []byte) string {
	t.Helper()
	f, err := parquet.OpenFile(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		t.Fatal(err)
	}
	var cells strings.Builder
	r := parquet.NewGenericReader[any](f)
	defer r.Close()
	rows := make([]parquet.Row, 1)
	for {
		n, err := r.ReadRows(rows)
		if n == 0 || err != nil && n == 0 {
			return cells.String()
		}
		for _, v := range rows[0] {
			fmt.Fprintln(&cells, v)
			if v.Kind() == parquet.Int64 && !v.IsNull() {
				fmt.Fprintln(&cells, time.UnixMilli(v.Int64()).UTC().Format(time.RFC3339))
			}
		}
	}
}

// TestWithheldIdentity looks for names and dates in every byte that a scan writes
// or says. That the same search finds it in a scan with names shows that it can.
func TestWithheldIdentity(t *testing.T) {
	t.Parallel()
	e := newSecretExports(t)
	_, named, code := e.scan(t, "--log", "json")
	if code != command.ExitInputsFailed {
		t.Fatalf("exit code %d:\n%s", code, named["stderr"])
	}
	out, withheld, code := e.scan(t, "--log", "json", "--deidentify", e.key)
	if code != command.ExitInputsFailed {
		t.Fatalf("exit code %d with --deidentify:\n%s", code, withheld["stderr"])
	}
	_, withheld["stderr as text"] = e.messages(t, "--log", "text", "--deidentify", e.key)
	_, withheld["stderr for people"] = e.messages(t, "--quarantine", filepath.Join(t.TempDir(), "aside"), "--deidentify", e.key)
	for what, form := range e.identifiers() {
		if never := what == "key" || what == "positions"; foundIn(named, form) == "" != never {
			t.Errorf("%s in a scan with names: %q", what, foundIn(named, form))
		}
		if where := foundIn(withheld, form); where != "" {
			t.Errorf("%s: %s", what, where)
		}
	}
	for name := range withheld { // a compressed file must be unpacked first, see everyText
		if !regexp.MustCompile(`\.(html|json|jsonl|csv|parquet|prom)$|/$|^fleet/(lock|identity|checksums|runs/checksums)$|^std`).MatchString(name) {
			t.Errorf("%s: how is it searched?", name)
		}
	}
	if batches := regexp.MustCompile(`(?m)^fleet/runs/.*/batch.json$`); foundIn(withheld, batches) == "" {
		t.Error("the archive has no figures of the run")
	}
	for what, text := range withheld {
		if found := regexp.MustCompile(`\d\d:\d\d:\d\d`).FindString(text); found != "" && strings.HasPrefix(what, "reports") {
			t.Errorf("%s tells the time of day %s", what, found)
		}
	}
	// What trends need is there: months, one token for the aircraft, every event.
	if withheld["fleet/tables/flights/month=2031-03/part.parquet"] == "" {
		t.Error("the month is lost")
	}
	token := regexp.MustCompile(`\ba-[a-z2-7]{12}\b`).FindString(withheld["fleet/tables/flights/month=2031-03/part.parquet"])
	if token == "" || strings.Count(withheld["reports/measurements.csv"], token) != strings.Count(named["reports/measurements.csv"], "\r\n")-1 {
		t.Errorf("the token %q of the aircraft stands in %d rows of measurements", token, strings.Count(withheld["reports/measurements.csv"], token))
	}
	if where := foundIn(withheld, regexp.MustCompile(`r-[a-z2-7]{12}_missing|panic`)); where != "" {
		t.Error(where)
	}
	// Where there is something to say about a file, the place in it is said.
	if !regexp.MustCompile(`"file":"d-[a-z2-7]{12}/r-[a-z2-7]{12}","line":2`).MatchString(withheld["stderr"]) {
		t.Errorf("no failure says its place:\n%s", withheld["stderr"])
	}
	if _, err := os.Stat(filepath.Join(out, "fleet", "identity")); err != nil {
		t.Error(err)
	}
}

func foundIn(texts map[string]string, form *regexp.Regexp) string {
	for name, text := range texts {
		if at := form.FindStringIndex(text); at != nil {
			return fmt.Sprintf("%s: %q", name, text[max(0, at[0]-40):min(len(text), at[1]+40)])
		}
	}
	return ""
}

// TestWithheldIdentityChangesNoEvent: both scans find the same events. The times
// of the recording with clock times begin at 06:40:00, which is 24000 s.
func TestWithheldIdentityChangesNoEvent(t *testing.T) {
	t.Parallel()
	e := newSecretExports(t)
	rows := func(more ...string) []schemas.EventRow {
		out, _, _ := e.scan(t, more...)
		list, err := parquet.ReadFile[schemas.EventRow](filepath.Join(out, "fleet/tables/events/month=2031-03/part.parquet"))
		if err != nil {
			t.Fatal(err)
		}
		return list
	}
	named, withheld := rows(), rows("--deidentify", e.key)
	told, shifted := map[string]bool{}, 0
	for i := range named {
		r := &named[i]
		told[r.Recording], told[r.FlightID], told[r.EventID] = true, true, true
		if r.StartUTC.Day() == 8 {
			shifted++
			for _, s := range []*float64{&r.StartS, &r.StartEarliestS, &r.StartLatestS, &r.EndS, &r.EndEarliestS, &r.EndLatestS} {
				*s = math.Round((*s-24000)*1000) / 1000
			}
		}
	}
	for _, r := range withheld {
		if told[r.Recording] || told[r.FlightID] || told[r.EventID] || !r.StartUTC.IsZero() || !r.EndUTC.IsZero() {
			t.Errorf("%s is told by %s, %s, %s, %v or %v", r.Rule, r.Recording, r.FlightID, r.EventID, r.StartUTC, r.EndUTC)
		}
	}
	if shifted == 0 || shifted == len(named) {
		t.Fatalf("%d of %d events are of the recording with clock times", shifted, len(named))
	}
	sorted := cmpopts.SortSlices(func(a, b schemas.EventRow) bool {
		return cmp.Or(cmp.Compare(a.StartS, b.StartS), cmp.Compare(a.Rule, b.Rule), cmp.Compare(a.EndS, b.EndS)) < 0
	})
	but := cmpopts.IgnoreFields(schemas.EventRow{}, "OccurrenceID", "Recording", "FlightID", "EventID", "StartUTC", "EndUTC")
	if diff := gocmp.Diff(named, withheld, sorted, but); diff != "" {
		t.Errorf("with names, and without:\n%s", diff)
	}
}

// TestOneKeyForAnArchive: the next night skips inputs that were scanned, under the same
// key; without it, or with another, nothing is done.
func TestOneKeyForAnArchive(t *testing.T) {
	t.Parallel()
	e := newSecretExports(t)
	other := filepath.Join(t.TempDir(), "key")
	if err := os.WriteFile(other, []byte("another key of enough bytes"), 0o600); err != nil {
		t.Fatal(err)
	}
	good := e.files[0]
	scan := func(archive string, more ...string) (int, string) {
		var stdout, stderr bytes.Buffer
		code := run(append([]string{"scan", "--profile", e.profile, "--archive", archive, good}, more...), &stdout, &stderr)
		return code, stderr.String()
	}
	withheld, named := filepath.Join(t.TempDir(), "a"), filepath.Join(t.TempDir(), "b")
	for _, c := range []struct {
		what    string
		archive string
		flags   []string
		code    int
		says    string
	}{
		{"begins", withheld, []string{"--deidentify", e.key}, command.ExitDone, "1 flight from 1 input, 0 failed, 0 skipped"},
		{"goes on", withheld, []string{"--deidentify", e.key}, command.ExitDone, "0 flights from 1 input, 0 failed, 1 skipped"},
		{"again", withheld, []string{"--deidentify", e.key, "--rescan"}, command.ExitDone, "1 flight"},
		{"no key", withheld, nil, command.ExitOutput, "identity is withheld in this archive, and not in this run"},
		{"another key", withheld, []string{"--deidentify", other}, command.ExitOutput, "begun with another key"},
		{"begins with names", named, nil, command.ExitDone, "1 flight"},
		{"a key too late", named, []string{"--deidentify", e.key}, command.ExitOutput, "holds names and dates"},
		{"goes on with names", named, nil, command.ExitDone, "1 skipped"},
	} {
		before := everyText(t, filepath.Dir(c.archive))
		code, says := scan(c.archive, c.flags...)
		if code != c.code || !strings.Contains(says, c.says) {
			t.Errorf("%s: exit code %d, want %d:\n%s", c.what, code, c.code, says)
		}
		if c.code == command.ExitOutput {
			after := everyText(t, filepath.Dir(c.archive))
			delete(before, "a/lock")
			delete(after, "a/lock")
			delete(before, "b/lock")
			delete(after, "b/lock")
			if diff := gocmp.Diff(before, after); diff != "" {
				t.Errorf("%s changed the archive:\n%s", c.what, diff)
			}
		}
	}
}

// identifiers are the texts that tell who flew when, by their kind. Dates are those of
// the exports in the spellings exports and people use; a run's own times are of
// another year.
func (e *secretExports) identifiers() map[string]*regexp.Regexp {
	any := func(texts ...string) *regexp.Regexp {
		for i, s := range texts {
			texts[i] = regexp.QuoteMeta(s)
		}
		return regexp.MustCompile("(?i)" + strings.Join(texts, "|"))
	}
	var starts []string
	for _, h := range e.hashes {
		starts = append(starts, h[:12])
	}
	var sizes []string
	for _, f := range e.files {
		if info, err := os.Stat(f); err == nil && info.Size() > 1000 {
			sizes = append(sizes, strconv.FormatInt(info.Size(), 10))
		}
	}
	return map[string]*regexp.Regexp{
		"registration": any(secretRegistration, "THKXN", "TH_KXN"),
		"flight":       any(secretFlight),
		"paths":        any(filepath.Dir(e.dir), "downloads", "_broken", "24MAR"),
		"dates":        regexp.MustCompile(`(?i)2031-?03-?(24|08)|(24|08)[./-]0?3[./-](20)?31|\b(24|0?8)[ .-]?mar|mar\w* (24|0?8)\b|2024-?05-?06`),
		"clock times":  any("19:15:00", "06:40:00", "07:08:09"),
		"hashes":       any(starts...),
		"file times":   any("1714979289"), // s since 1970 of 2024-05-06T07:08:09Z, says date(1)
		"sizes":        regexp.MustCompile(`\b(` + strings.Join(sizes, "|") + `)\b`),
		"key":          any("nobody may", hex.EncodeToString([]byte(secretKey))[:16]),
		"positions":    regexp.MustCompile(`\b(` + strings.ReplaceAll(strings.Join(e.positions, "|"), ".", `\.`) + `)\b`),
	}
}
