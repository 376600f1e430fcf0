package objects

import (
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"testing"
)

// scanFew scans the objects of few through a proxy with something wrong, and returns what it came to, and what the folder
// gives.
func scanFew(t *testing.T, bucket string, prepare func(p *proxy)) (got, want result, tables, folderTables map[string]string) {
	t.Helper()
	folder, out := few(t), t.TempDir()
	profile := filepath.Join(folder, "th120.yaml")
	put(t, folder, bucket, "")
	p := newProxy(t)
	prepare(p)
	a, b := filepath.Join(out, "a"), filepath.Join(out, "b")
	got = run(t, p.URL, "scan", "-q", "--jobs", "2", "--profile", profile, "--archive", a, "s3://"+bucket)
	want = must(t, "", "scan", "-q", "--profile", profile, "--archive", b, folder)
	want.lines = strings.ReplaceAll(want.lines, folder, "s3://"+bucket)
	return got, want, files(t, filepath.Join(a, "tables")), files(t, filepath.Join(b, "tables"))
}

// TestFaultsThatPass has a store fail in ways that further tries overcome: nothing is said of it, and what comes out is what
// the folder gives.
func TestFaultsThatPass(t *testing.T) {
	t.Parallel()
	for name, prepare := range map[string]func(p *proxy){
		"cut off": func(p *proxy) { // each of the first three answers to a request after more bytes
			p.answer = func(r *http.Response, n int) {
				if r.Request.Method == http.MethodGet && !r.Request.URL.Query().Has("list-type") && n < 3 {
					r.Body = &cutOff{r.Body, 1000 * (n + 1) * (n + 1)}
				}
			}
		},
		"cut off at once": func(p *proxy) { // before an answer
			p.ask = func(w http.ResponseWriter, r *http.Request, n int) bool {
				if n < 3 {
					panic(http.ErrAbortHandler)
				}
				return false
			}
		},
		"turned away": func(p *proxy) {
			p.ask = func(w http.ResponseWriter, r *http.Request, n int) bool {
				if n < 3 {
					turnAway(w)
				}
				return n < 3
			}
		},
		"slow": func(p *proxy) {
			p.answer = func(r *http.Response, _ int) {
				if !strings.HasSuffix(r.Request.URL.Path, ".csv") {
					r.Body = trickle{r.Body}
				}
			}
		},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			got, want, tables, folderTables := scanFew(t, strings.ReplaceAll(name, " ", "-"), prepare)
			left, names, _ := strings.Cut(got.message, "hint:")
			if got.code != 0 || got.lines != want.lines || strings.Count(left, "\n") != 1 || !strings.Contains(left, "1 file skipped: its name is not that of an export") {
				t.Errorf("exit code %d, stdout\n%s\nand from the folder\n%s\nstderr %s%s", got.code, got.lines, want.lines, left, names)
			}
			same(t, tables, folderTables, "")
		})
	}
}

// TestFaultsOfOne has one object fail for good: it costs itself, and the others give what they give without it.
func TestFaultsOfOne(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name, object, says string
		prepare            func(t *testing.T, bucket string, p *proxy)
	}{
		{"replaced", "wide.csv", "changed while it was read", func(t *testing.T, bucket string, p *proxy) {
			var once sync.Once
			p.ask = func(w http.ResponseWriter, r *http.Request, n int) bool { // a range but the first
				if at := r.Header.Get("Range"); strings.HasSuffix(r.URL.Path, "/wide.csv") && at != "" && !strings.HasPrefix(at, "bytes=0-") {
					once.Do(func() { replace(t, bucket, "wide.csv") })
				}
				return false
			}
		}},
		{"vanished", "wide.csv", "there is no such object", func(t *testing.T, bucket string, p *proxy) {
			var once sync.Once
			p.ask = func(w http.ResponseWriter, r *http.Request, n int) bool {
				if at := r.Header.Get("Range"); strings.HasSuffix(r.URL.Path, "/wide.csv") && at != "" && !strings.HasPrefix(at, "bytes=0-") {
					once.Do(func() { remove(t, bucket, "wide.csv") })
				}
				return false
			}
		}},
		{"listed", "tarnholm-07.csv.gz", "there is no such object", func(t *testing.T, bucket string, p *proxy) {
			p.answer = func(r *http.Response, n int) {
				if r.Request.URL.Query().Has("list-type") {
					remove(t, bucket, "tarnholm-07.csv.gz")
				}
			}
		}},
		{"refused", "tarnholm-07.csv.gz", "the key owner of the environment may not read it", func(t *testing.T, bucket string, p *proxy) {
			p.ask = func(w http.ResponseWriter, r *http.Request, n int) bool {
				refused := strings.HasSuffix(r.URL.Path, "/tarnholm-07.csv.gz")
				if refused {
					http.Error(w, "<Error><Code>AccessDenied</Code></Error>", http.StatusForbidden)
				}
				return refused
			}
		}},
		{"broken", "tarnholm-07.csv.gz", "failed 8 times, the last time with 503 SlowDown", func(t *testing.T, bucket string, p *proxy) {
			p.ask = func(w http.ResponseWriter, r *http.Request, n int) bool {
				broken := r.Method == http.MethodGet && strings.HasSuffix(r.URL.Path, "/tarnholm-07.csv.gz")
				if broken {
					turnAway(w)
				}
				return broken
			}
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			bucket := "one-" + c.name
			got, want, _, _ := scanFew(t, bucket, func(p *proxy) { c.prepare(t, bucket, p) })
			rest := ""
			for line := range strings.Lines(want.lines) {
				if !strings.Contains(line, c.object) {
					rest += line
				}
			}
			address := "s3://" + bucket + "/" + c.object
			if got.code != 1 || got.lines != rest || strings.Count(got.message, "error:") != 1 || !strings.Contains(got.message, address+": ") || !strings.Contains(got.message, c.says) {
				t.Errorf("exit code %d, stdout\n%s\nwant\n%s\nstderr %s", got.code, got.lines, rest, got.message)
			}
		})
	}
}

// TestInterrupted stops runs. One waits for an answer about an object, and is not kept waiting; one is in the middle of
// another, which it finishes and keeps.
func TestInterrupted(t *testing.T) {
	t.Parallel()
	folder := few(t)
	profile := filepath.Join(folder, "th120.yaml")
	put(t, folder, "interrupted", "")
	for name, c := range map[string]struct {
		method     string
		kept, read string
	}{
		"asking":  {http.MethodHead, "0 flights from 0 inputs, 0 failed, 0 skipped, unchanged; stopped before 5 more inputs", ""},
		"reading": {http.MethodGet, "1 flight from 1 input, 0 failed, 0 skipped, unchanged; stopped before 4 more inputs", "s3://interrupted/tarnholm-05.arrow.zst\t"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			p := newProxy(t)
			reached, goOn := make(chan bool, 1), make(chan bool)
			p.ask = func(w http.ResponseWriter, r *http.Request, n int) bool {
				if r.Method == c.method && strings.HasSuffix(r.URL.Path, "/tarnholm-05.arrow.zst") {
					select {
					case reached <- true:
					default:
					}
					select {
					case <-goOn:
					case <-r.Context().Done():
					}
				}
				return false
			}
			archive := filepath.Join(t.TempDir(), "archive")
			cmd := process(t, p.URL, owner, "scan", "--jobs", "1", "--profile", profile, "--archive", archive, "s3://interrupted")
			said := &watched{wanted: "stopping (terminated)", seen: make(chan bool)}
			cmd.Stderr = said
			if err := cmd.Start(); err != nil {
				t.Fatal(err)
			}
			<-reached
			if err := cmd.Process.Signal(syscall.SIGTERM); err != nil {
				t.Fatal(err)
			}
			if <-said.seen; c.method == http.MethodGet {
				close(goOn)
			}
			cmd.Wait()
			if code := cmd.ProcessState.ExitCode(); code != 143 || !strings.Contains(said.String(), c.kept) {
				t.Errorf("exit code %d: %s", code, said)
			}
			if lines := fmt.Sprint(cmd.Stdout); strings.Count(lines, "\n") != 1+strings.Count(c.read, "\t") || !strings.Contains(lines, c.read) {
				t.Errorf("stdout is %s", lines)
			}
			if r := must(t, "http://"+gateway, "scan", "--profile", profile, "--archive", archive, "s3://interrupted"); !strings.Contains(r.message, fmt.Sprintf("%d skipped", strings.Count(c.read, "\t"))) {
				t.Errorf("the next run says %s", r.message)
			}
		})
	}
}

// watched closes seen when something was written to it.
type watched struct {
	mutex  sync.Mutex
	text   strings.Builder
	wanted string
	seen   chan bool
	done   bool
}

func (w *watched) Write(p []byte) (int, error) {
	w.mutex.Lock()
	defer w.mutex.Unlock()
	w.text.Write(p)
	if !w.done && strings.Contains(w.text.String(), w.wanted) {
		w.done = true
		close(w.seen)
	}
	return len(p), nil
}

func (w *watched) String() string {
	w.mutex.Lock()
	defer w.mutex.Unlock()
	return w.text.String()
}

// TestTooLargeAndDamaged has objects that no file may be like: --max-size refuses one before a byte of it is asked for, and a
// damaged one stays where it is, whatever --quarantine says.
func TestTooLargeAndDamaged(t *testing.T) {
	t.Parallel()
	folder := few(t)
	profile := filepath.Join(folder, "th120.yaml")
	if err := os.WriteFile(filepath.Join(folder, "damaged.csv.gz"), []byte("\x1f\x8b and no more"), 0o600); err != nil {
		t.Fatal(err)
	}
	put(t, folder, "damaged", "")
	p := newProxy(t)
	r := run(t, p.URL, "scan", "-q", "--max-size", "8", "--profile", profile, "--archive", filepath.Join(t.TempDir(), "archive"), "--quarantine", filepath.Join(t.TempDir(), "aside"), "s3://damaged")
	for _, want := range []string{"s3://damaged/wide.csv: has more than 8388608 bytes", "s3://damaged/damaged.csv.gz: the gzip data", "s3://damaged/damaged.csv.gz: not moved, because an object store is only read"} {
		if !strings.Contains(r.message, want) {
			t.Errorf("%q is not in %s", want, r.message)
		}
	}
	if r.code != 1 || strings.Count(r.lines, "\n") != 5 {
		t.Errorf("exit code %d, stdout %s", r.code, r.lines)
	}
	if n := p.requests("GET /damaged/wide.csv"); n != 0 {
		t.Errorf("%d requests for an object that is too large", n)
	}
}
