package objects

import (
	"bytes"
	"encoding/json"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// entries returns the lines of the ledger of inputs by the names of the files below a folder or a prefix, without what
// a store says in another way than a file system: place, times and ETag.
func entries(t *testing.T, archive, below string) map[string]string {
	t.Helper()
	all := map[string]string{}
	for _, text := range files(t, filepath.Join(archive, "ledger", "inputs")) {
		for line := range strings.Lines(text) {
			var entry map[string]any
			if err := json.Unmarshal([]byte(line), &entry); err != nil {
				t.Fatal(err)
			}
			name := strings.TrimPrefix(entry["path"].(string), below+"/")
			for _, key := range []string{"key", "path", "modified_ns", "changed_ns", "etag", "check"} {
				delete(entry, key)
			}
			rest, _ := json.Marshal(entry)
			all[name] = string(rest)
		}
	}
	if len(all) == 0 {
		t.Fatalf("%s has no inputs", archive)
	}
	return all
}

// TestSameAsFolder scans the demonstration flights from a folder and from a store: lines, reports and tables have the
// same bytes, and the ledger says the same of them. A second run reads nothing.
func TestSameAsFolder(t *testing.T) {
	t.Parallel()
	folder := demo(t)
	below := filepath.Join(folder, "more", "days")
	if err := os.MkdirAll(filepath.Join(below, ".hidden"), 0o700); err != nil {
		t.Fatal(err)
	}
	for name, to := range map[string]string{"tarnholm-07.csv.gz": "more/z.csv.gz", "tarnholm-08.csv.gz": "more/days/a b%20+ü#?.csv.gz",
		"tarnholm-09.csv.zst": "more/days/.hidden/x.csv.zst", "tarnholm-10.csv.gz": "more-days.csv.gz"} {
		if err := os.Rename(filepath.Join(folder, name), filepath.Join(folder, to)); err != nil {
			t.Fatal(err)
		}
	}
	p := newProxy(t)
	put(t, folder, "same", "night/")
	out := t.TempDir()
	at := func(name string) string { return filepath.Join(out, name) }
	want := must(t, "", "scan", "--out", at("reports"), "--archive", at("archive"), folder)
	if err := os.Rename(at("reports"), at("from-folder")); err != nil {
		t.Fatal(err)
	}
	got := must(t, p.URL, "scan", "--out", at("reports"), "--archive", at("objects"), "s3://same/night")
	for _, text := range []*string{&want.lines, &want.message} {
		*text = strings.NewReplacer(folder, "s3://same/night", at("archive"), at("objects")).Replace(*text)
	}
	if got.lines != want.lines {
		t.Errorf("stdout is\n%s\nand from the folder\n%s", got.lines, want.lines)
	}
	if got.message != want.message {
		t.Errorf("stderr is\n%s\nand from the folder\n%s", got.message, want.message)
	}
	same(t, files(t, at("reports")), files(t, at("from-folder")), "")
	same(t, files(t, filepath.Join(at("objects"), "tables")), files(t, filepath.Join(at("archive"), "tables")), "")
	said, folderSaid := entries(t, at("objects"), "s3://same/night"), entries(t, at("archive"), folder)
	same(t, said, folderSaid, "")
	clips(t, filepath.Join(folder, "th120.yaml"), at("objects"), at("archive"))

	before := p.requests("GET") + p.requests("HEAD")
	if again := must(t, p.URL, "scan", "--profile", filepath.Join(folder, "th120.yaml"), "--archive", at("objects"), "s3://same/night/"); !strings.Contains(again.message, fmt.Sprintf("%d skipped, unchanged", len(said))) {
		t.Errorf("the second run says %s", again.message)
	}
	if now := p.requests("GET") + p.requests("HEAD"); now != before {
		t.Errorf("the second run asked about an object %d times; the listing says enough", now-before)
	}
}

// clips wants the samples around the first event of two archives to be the same: their recordings are read again.
func clips(t *testing.T, profile, archive, folderArchive string) {
	t.Helper()
	store := "http://" + gateway
	event := strings.Split(strings.SplitN(must(t, store, "review", "--archive", archive, "--all").lines, "\n", 3)[1], "\t")[0]
	var clip [2]string
	for i, of := range []string{archive, folderArchive} {
		file := filepath.Join(t.TempDir(), "clip.csv")
		must(t, store, "review", "--archive", of, "clip", event, "--csv", file, "--profile", profile)
		text, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		clip[i] = string(text)
	}
	if clip[0] != clip[1] || strings.Count(clip[0], "\n") < 10 {
		t.Errorf("the clip of %s is\n%.2000s\nand from the folder\n%.2000s", event, clip[0], clip[1])
	}
}

// TestChanged replaces an object by one of the same size, and writes another once more as it was: a run scans the one.
func TestChanged(t *testing.T) {
	t.Parallel()
	folder, archive := few(t), filepath.Join(t.TempDir(), "archive")
	profile := filepath.Join(folder, "th120.yaml")
	p := newProxy(t)
	put(t, folder, "changed", "")
	must(t, p.URL, "scan", "--profile", profile, "--archive", archive, "s3://changed")
	text, err := os.ReadFile(filepath.Join(folder, "wide.csv"))
	if err != nil {
		t.Fatal(err)
	}
	text = bytes.Replace(text, []byte("remark"), []byte("Remark"), 1)
	if err := os.WriteFile(filepath.Join(folder, "wide.csv"), text, 0o600); err != nil {
		t.Fatal(err)
	}
	put(t, folder, "changed", "")
	r := must(t, p.URL, "scan", "--profile", profile, "--archive", archive, "s3://changed")
	if !strings.Contains(r.message, "1 flight from 5 inputs, 0 failed, 4 skipped") || !strings.Contains(r.lines, "s3://changed/wide.csv\t") {
		t.Errorf("the run says %s%s", r.lines, r.message)
	}
}

// TestArray plans a scan of a store, runs its tasks and merges: the archive is that of one run. The plan asks the store for
// nothing but the listing, and takes a listing of several pages.
func TestArray(t *testing.T) {
	t.Parallel()
	folder, out := few(t), t.TempDir()
	profile := filepath.Join(folder, "th120.yaml")
	p := newProxy(t)
	put(t, folder, "array", "a/b/")
	one, shared := filepath.Join(out, "one"), filepath.Join(out, "shared")
	must(t, p.URL, "scan", "--profile", profile, "--archive", one, "s3://array/a")
	asked := p.requests("HEAD")
	plan := must(t, p.URL, "plan", "--archive", shared, "--profile", profile, "--tasks", "3", "s3://array/a")
	if now := p.requests("HEAD"); now != asked+1 { // whether a is an object
		t.Errorf("the plan asked %d times for an object", now-asked)
	}
	array := strings.TrimSpace(plan.lines)
	for task := range 3 {
		must(t, p.URL, "scan", "-q", "--run", array, "--task", fmt.Sprint(task))
	}
	must(t, p.URL, "merge", "--no-scan", "--run", array)
	same(t, files(t, filepath.Join(shared, "tables")), files(t, filepath.Join(one, "tables")), "")
	same(t, entries(t, shared, "s3://array/a/b"), entries(t, one, "s3://array/a/b"), "")
	again := must(t, p.URL, "plan", "--archive", shared, "--profile", profile, "--tasks", "3", "s3://array/a")
	if again.lines != "" || !strings.Contains(again.message, "there is nothing to scan: 5 inputs unchanged") {
		t.Errorf("a second plan says %s%s", again.lines, again.message)
	}

	many := filepath.Join(out, "many") // a page has 1000 objects: S3 API reference, ListObjectsV2
	if err := os.Mkdir(many, 0o700); err != nil {
		t.Fatal(err)
	}
	for i := range 1100 {
		if err := os.WriteFile(filepath.Join(many, fmt.Sprintf("%04d.csv", i)), []byte("time\n"), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	put(t, many, "many", "")
	if r := must(t, p.URL, "plan", "--archive", filepath.Join(out, "pages"), "--profile", profile, "--tasks", "3", "s3://many"); !strings.Contains(r.message, "1100 inputs") {
		t.Errorf("the plan says %s", r.message)
	}
	if n := p.requests("LIST /many"); n != 2 {
		t.Errorf("the listing took %d requests", n)
	}
}

// TestChangedSincePlan exchanges an object between plan and task: it fails, the others do not.
func TestChangedSincePlan(t *testing.T) {
	t.Parallel()
	folder, archive := few(t), filepath.Join(t.TempDir(), "archive")
	profile := filepath.Join(folder, "th120.yaml")
	put(t, folder, "planned", "")
	store := "http://" + gateway
	array := strings.TrimSpace(must(t, store, "plan", "--archive", archive, "--profile", profile, "--tasks", "1", "s3://planned").lines)
	replace(t, "planned", "tarnholm-07.csv.gz")
	r := run(t, store, "scan", "-q", "--run", array, "--task", "0")
	if r.code != 1 || strings.Count(r.message, "error:") != 1 || !strings.Contains(r.message, "s3://planned/tarnholm-07.csv.gz: changed since it was planned") {
		t.Errorf("exit code %d: %s", r.code, r.message)
	}
}

// TestInspect looks at an object without a run, and draws up what a file gives.
func TestInspect(t *testing.T) {
	t.Parallel()
	folder := few(t)
	put(t, folder, "inspected", "x/")
	for _, args := range [][]string{{"inspect"}, {"inspect", "--suggest"}, {"inspect", "--profile", filepath.Join(folder, "th120.yaml")}} {
		for _, name := range []string{"tarnholm-07.csv.gz", "tarnholm-14.parquet", "wide.csv"} {
			want := must(t, "", append(args[:len(args):len(args)], filepath.Join(folder, name))...)
			got := must(t, "http://"+gateway, append(args[:len(args):len(args)], "s3://inspected/x/"+name)...)
			if strings.ReplaceAll(got.lines, "s3://inspected/x", folder) != want.lines {
				t.Errorf("%v %s prints\n%s\nand of the file\n%s", args, name, got.lines, want.lines)
			}
		}
	}
}

// TestParts reads recordings of two parts, at two rates, from a store: as one input, as from a folder.
func TestParts(t *testing.T) {
	t.Parallel()
	folder := few(t)
	text := unpacked(t, filepath.Join(folder, "tarnholm-08.csv.gz"))
	profile, err := os.ReadFile(filepath.Join(folder, "th120.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	parts, out := filepath.Join(folder, "parts"), t.TempDir()
	write := func(name string, data []byte) string {
		t.Helper()
		path := filepath.Join(folder, name)
		if err := os.WriteFile(path, data, 0o600); err != nil {
			t.Fatal(err)
		}
		return path
	}
	if err := os.Mkdir(parts, 0o700); err != nil {
		t.Fatal(err)
	}
	own := write("own.yaml", append([]byte("parts: [-a.csv, -b.csv]\n"), profile...))
	var a, b strings.Builder // the first columns and the others, each with the time
	for line := range strings.Lines(text) {
		cells := strings.Split(strings.TrimRight(line, "\n"), ",")
		fmt.Fprintln(&a, strings.Join(cells[:20], ","))
		fmt.Fprintln(&b, cells[0]+","+strings.Join(cells[20:], ","))
	}
	write("parts/f-a.csv", []byte(a.String()))
	write("parts/f-b.csv", []byte(b.String()))
	put(t, parts, "parts", "in/")
	at := func(name string) string { return filepath.Join(out, name) }
	want := must(t, "", "scan", "--profile", own, "--archive", at("folder"), parts)
	got := must(t, "http://"+gateway, "scan", "--profile", own, "--archive", at("objects"), "s3://parts/in")
	if strings.ReplaceAll(got.lines, "s3://parts/in", parts) != want.lines || !strings.Contains(got.lines, "s3://parts/in/f\t1\t") {
		t.Errorf("stdout is\n%s\nand from the folder\n%s", got.lines, want.lines)
	}
	same(t, entries(t, at("objects"), "s3://parts/in"), entries(t, at("folder"), parts), "")
	clips(t, own, at("objects"), at("folder"))
	if again := must(t, "http://"+gateway, "scan", "--profile", own, "--archive", at("objects"), "s3://parts/in"); !strings.Contains(again.message, "1 skipped, unchanged") {
		t.Errorf("the next run says %s", again.message)
	}
}

// TestWithheld withholds identity: neither bucket nor key is in what a run says and writes, whatever fails, and the next run
// knows the inputs.
func TestWithheld(t *testing.T) {
	t.Parallel()
	folder, out := few(t), t.TempDir()
	put(t, folder, "withheld", "secretly/")
	replace(t, "withheld", "secretly/tarnholm-99.csv")
	key := filepath.Join(out, "key")
	if err := os.WriteFile(key, bytes.Repeat([]byte("k"), 32), 0o600); err != nil {
		t.Fatal(err)
	}
	p := newProxy(t)
	p.ask = func(w http.ResponseWriter, r *http.Request, n int) bool {
		gone := strings.HasSuffix(r.URL.Path, "/tarnholm-08.csv.gz")
		if gone {
			http.Error(w, "<Error><Code>AccessDenied</Code><Message>tarnholm-08.csv.gz is not yours</Message></Error>", http.StatusForbidden)
		}
		return gone
	}
	for round, skipped := range []string{"0 skipped", "4 skipped"} {
		r := run(t, p.URL, "scan", "--profile", filepath.Join(folder, "th120.yaml"), "--deidentify", key, "--archive", filepath.Join(out, "archive"), "--out", filepath.Join(out, "reports"), "s3://withheld/secretly", "s3://withheld/none")
		if r.code != 1 || !strings.Contains(r.message, skipped) || strings.Count(r.message, "error:") != 3 {
			t.Errorf("round %d: exit code %d: %s", round, r.code, r.message)
		}
		said := files(t, filepath.Join(out, "archive"))
		for name, text := range files(t, filepath.Join(out, "reports")) {
			said["reports/"+name] = text
		}
		said["stdout"], said["stderr"] = r.lines, r.message
		for name, text := range said {
			for _, word := range []string{"tarnholm", "s3://", "secretly"} {
				if strings.Contains(text, word) || strings.Contains(name, word) {
					t.Errorf("round %d: %s has %q: %.300s", round, name, word, text[max(0, strings.Index(text, word)-100):])
				}
			}
		}
	}
}
