package trend

import (
	"context"
	"net/url"
	"os/exec"
	"path/filepath"
	"slices"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
)

// tab is a page in a real Chromium.
type tab struct {
	t   testing.TB
	ctx context.Context

	lock   sync.Mutex
	errors []string // that the page or the browser's policy reported
}

// doneWithin bounds what waits for the browser. It is long, so that a loaded machine fails
// no test.
const doneWithin = 2 * time.Minute

// openTab starts Chromium. It skips the test where the machine has none.
func openTab(t testing.TB, width int64) *tab {
	t.Helper()
	browser := ""
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome", "chrome"} {
		if path, err := exec.LookPath(name); err == nil && browser == "" {
			browser = path
		}
	}
	if browser == "" {
		t.Skip("no Chromium on this machine: install chromium to run the tests of pages in a browser")
	}
	ctx, cancel := chromedp.NewExecAllocator(context.Background(), append(slices.Clone(chromedp.DefaultExecAllocatorOptions[:]), chromedp.ExecPath(browser), chromedp.NoSandbox)...)
	t.Cleanup(cancel)
	ctx, cancel = chromedp.NewContext(ctx)
	t.Cleanup(cancel)
	b := &tab{t: t, ctx: ctx}
	if err := chromedp.Listen(ctx, func(event any) {
		b.lock.Lock()
		defer b.lock.Unlock()
		switch e := event.(type) {
		case *runtime.EventExceptionThrown:
			b.errors = append(b.errors, e.ExceptionDetails.Text)
		case *log.EventEntryAdded:
			b.errors = append(b.errors, e.Entry.Text)
		}
	}); err != nil {
		t.Fatal(err)
	}
	b.do(chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		_, err := chromedp.Call(ctx, log.Enable, cdp.Empty{})
		return err
	}), chromedp.EmulateViewport(width, 900))
	return b
}

func (b *tab) do(steps ...chromedp.Action[chromedp.Void]) {
	b.t.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, doneWithin)
	defer cancel()
	// The first step starts the browser, which would end with a context that ends.
	if chromedp.FromContext(b.ctx).Target == nil {
		ctx = b.ctx
	}
	if err := chromedp.Do(ctx, steps...); err != nil {
		b.t.Fatalf("%v; the page reported %q", err, b.reported())
	}
}

// open opens a page of a folder, with a fragment.
func (b *tab) open(dir, page, fragment string) {
	b.t.Helper()
	b.do(chromedp.Navigate("about:blank"), chromedp.Navigate((&url.URL{Scheme: "file", Path: filepath.Join(dir, page)}).String()+fragment))
}

// noScript switches scripts of pages off.
func (b *tab) noScript() {
	b.do(chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		_, err := chromedp.Call(ctx, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true})
		return err
	}))
}

// inPrint shows the page as in print.
func (b *tab) inPrint() {
	b.do(chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		_, err := chromedp.Call(ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: "print"})
		return err
	}))
}

// value evaluates an expression in the page.
func value[T any](b *tab, expression string) T {
	b.t.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, doneWithin)
	defer cancel()
	v, err := chromedp.Run(ctx, chromedp.Evaluate[T](expression, chromedp.EvalAwaitPromise))
	if err != nil {
		b.t.Fatalf("%s: %v; the page reported %q", expression, err, b.reported())
	}
	return v
}

// until waits for an expression to be true.
func (b *tab) until(expression string) {
	b.t.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, doneWithin)
	defer cancel()
	if _, err := chromedp.Run(ctx, chromedp.Poll[bool](expression, chromedp.WithPollingTimeout(doneWithin))); err != nil {
		b.t.Fatalf("never true: %s: %v; the page reported %q", expression, err, b.reported())
	}
}

func (b *tab) reported() []string {
	b.lock.Lock()
	defer b.lock.Unlock()
	return slices.Clone(b.errors)
}

// calm fails where the page reported an error: an exception, or a breach of its policy.
func (b *tab) calm() {
	b.t.Helper()
	if found := b.reported(); len(found) > 0 {
		b.t.Errorf("the page reported %q", found)
	}
}
