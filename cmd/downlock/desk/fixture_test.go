package desk

import (
	"bufio"
	"bytes"
	"context"
	"fmt"
	"io"
	"net/http"
	"net/http/cookiejar"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"

	"downlock/cmd/downlock/command"
	"downlock/cmd/downlock/demo"
	"downlock/cmd/downlock/scan"
	"downlock/report/archive"
	"downlock/testdata/browser"
)

// exports are some demonstration flights, written once.
var exports = sync.OnceValues(func() (string, error) {
	dir, err := os.MkdirTemp("", "desk")
	if err != nil {
		return "", err
	}
	if _, err := demo.Write(dir, "th120"); err != nil {
		return "", err
	}
	files, err := filepath.Glob(filepath.Join(dir, "tarnholm-*"))
	for i, f := range files {
		if i >= 16 {
			os.Remove(f)
		}
	}
	return dir, err
})

func TestMain(m *testing.M) {
	code := m.Run()
	if dir, err := exports(); err == nil {
		os.RemoveAll(dir)
	}
	os.Exit(code)
}

// scanned returns an archive and reports of the exports, and the folder they are from.
func scanned(t testing.TB, flags ...string) (archive, reports, downloads string) {
	t.Helper()
	from, err := exports()
	if err != nil {
		t.Fatal(err)
	}
	work := t.TempDir()
	archive, reports, downloads = filepath.Join(work, "fleet"), filepath.Join(work, "reports"), filepath.Join(work, "downloads")
	if err := os.CopyFS(downloads, os.DirFS(from)); err != nil {
		t.Fatal(err)
	}
	scanInto(t, append(flags, "--archive", archive, "--out", reports, downloads)...)
	return archive, reports, downloads
}

func scanInto(t testing.TB, args ...string) {
	t.Helper()
	var said bytes.Buffer
	if code := scan.Command(append([]string{"-q"}, args...), io.Discard, &said); code != command.ExitDone {
		t.Fatalf("scan ended with %d: %s", code, said.String())
	}
}

// opened is a desk that runs.
type opened struct {
	address string // with the token
	url     string
	client  *http.Client // that was let in
	ended   chan int
	said    *safeBuffer
}

// safeBuffer is written by the desk and read by the test.
type safeBuffer struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (s *safeBuffer) Write(p []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.b.Write(p)
}

func (s *safeBuffer) String() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.b.String()
}

// open runs the command until the test ends.
func open(t testing.TB, o deskOptions) *opened {
	t.Helper()
	if o.listen == "" {
		o.listen = "127.0.0.1:0"
	}
	stop, cancel := context.WithCancel(context.Background())
	out, in := io.Pipe()
	d := &opened{ended: make(chan int, 1), said: &safeBuffer{}}
	go func() {
		d.ended <- o.run(stop, in, command.Messages{To: d.said})
		in.Close()
	}()
	line, err := bufio.NewReader(out).ReadString('\n')
	if err != nil {
		t.Fatalf("the desk did not open: %v: %s", err, d.said.String())
	}
	d.address = strings.TrimSpace(line)
	d.url, _, _ = strings.Cut(d.address, "/?")
	t.Cleanup(func() {
		cancel()
		if code := <-d.ended; code != command.ExitDone {
			t.Errorf("the desk ended with %d: %s", code, d.said.String())
		}
	})
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	d.client = &http.Client{Jar: jar, Timeout: time.Minute}
	return d
}

// get asks for a page, after it was let in.
func (d *opened) get(t testing.TB, path string) (code int, body string) {
	t.Helper()
	for _, address := range []string{d.address, d.url + path} {
		reply, err := d.client.Get(address)
		if err != nil {
			t.Fatal(err)
		}
		text, err := io.ReadAll(reply.Body)
		reply.Body.Close()
		if err != nil {
			t.Fatal(err)
		}
		code, body = reply.StatusCode, string(text)
	}
	return code, body
}

// openBrowser starts a Chromium of the test's own, with more flags than the usual ones.
func openBrowser(t testing.TB, flags ...chromedp.ExecAllocatorOption) context.Context {
	t.Helper()
	ctx := browser.Start(t, append(flags, chromedp.WindowSize(1280, 900))...)
	if err := chromedp.Do(ctx, chromedp.Navigate("about:blank")); err != nil {
		t.Fatal(err)
	}
	return ctx
}

// do carries out the steps in the browser.
func do(t testing.TB, ctx context.Context, steps ...chromedp.Action[chromedp.Void]) {
	t.Helper()
	for i, step := range steps {
		within, cancel := context.WithTimeout(ctx, browser.Patience)
		err := chromedp.Do(within, step)
		cancel()
		if err != nil {
			t.Fatalf("step %d: %v", i+1, err)
		}
	}
}

// press presses keys. A letter alone goes as a keyboard sends it, in one event, so that a
// page that takes the key keeps the letter out of the field it goes to.
func press(keys string) chromedp.Action[chromedp.Void] {
	if len(keys) != 1 || keys < "a" || keys > "z" {
		return chromedp.KeyEvent(keys)
	}
	return chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		event := input.DispatchKeyEventParams{Type: input.DispatchKeyEventTypeKeyDown, Key: keys, Text: keys, UnmodifiedText: keys, Code: "Key" + strings.ToUpper(keys), WindowsVirtualKeyCode: int64(strings.ToUpper(keys)[0])}
		if _, err := chromedp.Call(ctx, input.DispatchKeyEvent, event); err != nil {
			return err
		}
		event.Type, event.Text, event.UnmodifiedText = input.DispatchKeyEventTypeKeyUp, "", ""
		_, err := chromedp.Call(ctx, input.DispatchKeyEvent, event)
		return err
	})
}

// text returns the text of a script's value, or of what its promise comes to.
func text(t testing.TB, ctx context.Context, script string) string {
	t.Helper()
	value, err := chromedp.Run(ctx, chromedp.Evaluate[string]("Promise.resolve("+script+").then(String)", chromedp.EvalAwaitPromise))
	if err != nil {
		t.Fatalf("%s: %v", script, err)
	}
	return value
}

// wait waits until a script's value is true, also on a page that comes next.
func wait(t testing.TB, ctx context.Context, script string) {
	t.Helper()
	end := time.After(browser.Patience)
	for {
		is, err := chromedp.Run(ctx, chromedp.Evaluate[bool]("Boolean("+script+")"))
		if err == nil && is {
			return
		}
		select {
		case <-end:
			page, _ := chromedp.Run(ctx, chromedp.Evaluate[string]("(document.querySelector('#worklist tbody tr') || document.body).innerText.slice(0, 1500)"))
			t.Fatalf("waiting for %s: %v, on the page:\n%s", script, err, page)
		case <-time.After(20 * time.Millisecond): // before it asks again
		}
	}
}

// visit opens a page and waits until it is there.
func visit(t testing.TB, ctx context.Context, address, selector string) {
	t.Helper()
	do(t, ctx, chromedp.Navigate(address))
	there(t, ctx, selector)
}

// there waits until a page with an element is there and its script has run.
func there(t testing.TB, ctx context.Context, selector string) {
	t.Helper()
	wait(t, ctx, fmt.Sprintf("document.readyState === 'complete' && document.querySelector(%q)", selector))
}

// picture keeps a picture of the page where DESK_PICTURES names a folder.
func picture(t testing.TB, ctx context.Context, name string) {
	t.Helper()
	dir := os.Getenv("DESK_PICTURES")
	if dir == "" {
		return
	}
	png, err := chromedp.Run(ctx, chromedp.FullScreenshot(100))
	if err == nil {
		err = os.WriteFile(filepath.Join(dir, name+".png"), png, 0o666)
	}
	if err != nil {
		t.Fatal(err)
	}
}

// keep brings the table of verdicts up to date, as `downlock review set` does.
func keep(t testing.TB, dir string) {
	t.Helper()
	if _, err := archive.KeepVerdicts(dir, false); err != nil {
		t.Fatal(err)
	}
}

// quietScan scans inputs that may fail.
func quietScan(t testing.TB, args ...string) {
	t.Helper()
	if code := scan.Command(append([]string{"-q"}, args...), io.Discard, io.Discard); code != command.ExitDone && code != command.ExitInputsFailed {
		t.Fatalf("scan ended with %d", code)
	}
}

func again(registration string) scan.AgainOptions { return scan.AgainOptions{Aircraft: registration} }
