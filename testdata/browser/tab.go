package browser

import (
	"context"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
)

// Tab is a page in a browser.
type Tab struct {
	t   testing.TB
	ctx context.Context

	lock   sync.Mutex
	errors []string // that the page or the browser's policy reported
}

// Open opens an empty page of a width in a browser of its own.
func Open(t testing.TB, width int64) *Tab {
	t.Helper()
	b := &Tab{t: t, ctx: Start(t)}
	if err := chromedp.Listen(b.ctx, func(event any) {
		b.lock.Lock()
		defer b.lock.Unlock()
		switch e := event.(type) {
		case *runtime.EventExceptionThrown:
			b.errors = append(b.errors, e.ExceptionDetails.Text+" "+e.ExceptionDetails.Exception.Description)
		case *log.EventEntryAdded:
			b.errors = append(b.errors, e.Entry.Text)
		}
	}); err != nil {
		t.Fatal(err)
	}
	b.Do(chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		_, err := chromedp.Call(ctx, log.Enable, cdp.Empty{})
		return err
	}), chromedp.EmulateViewport(width, 900))
	return b
}

// Context is that of the page, for what chromedp does and a Tab does not.
func (b *Tab) Context() context.Context { return b.ctx }

// Do carries out steps.
func (b *Tab) Do(steps ...chromedp.Action[chromedp.Void]) {
	b.t.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, Patience)
	defer cancel()
	// The first step starts the browser, which would end with a context that ends.
	if chromedp.FromContext(b.ctx).Target == nil {
		ctx = b.ctx
	}
	if err := chromedp.Do(ctx, steps...); err != nil {
		b.t.Fatalf("%v; the page reported %q", err, b.reported())
	}
}

// Visit opens the page of a file, with a fragment.
func (b *Tab) Visit(path, fragment string) {
	b.t.Helper()
	b.Do(chromedp.Navigate("about:blank"), chromedp.Navigate((&url.URL{Scheme: "file", Path: path, Fragment: fragment}).String()))
}

// Show writes a page to disk and opens it there, with a fragment.
func (b *Tab) Show(page []byte, fragment string) {
	b.t.Helper()
	path := filepath.Join(b.t.TempDir(), "page.html")
	if err := os.WriteFile(path, page, 0o600); err != nil {
		b.t.Fatal(err)
	}
	b.Visit(path, fragment)
}

// NoScript switches scripts of pages off.
func (b *Tab) NoScript() {
	b.Do(chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		_, err := chromedp.Call(ctx, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true})
		return err
	}))
}

// InPrint shows the page as in print.
func (b *Tab) InPrint() {
	b.Do(chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		_, err := chromedp.Call(ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: "print"})
		return err
	}))
}

// Value evaluates an expression in the page.
func Value[T any](b *Tab, expression string) T {
	b.t.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, Patience)
	defer cancel()
	v, err := chromedp.Run(ctx, chromedp.Evaluate[T](expression, chromedp.EvalAwaitPromise))
	if err != nil {
		b.t.Fatalf("%s: %v; the page reported %q", expression, err, b.reported())
	}
	return v
}

// Until waits for an expression to be true.
func (b *Tab) Until(expression string) {
	b.t.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, Patience)
	defer cancel()
	_, err := chromedp.Run(ctx, chromedp.Poll[bool](expression, chromedp.WithPollingTimeout(Patience)))
	for err != nil && ctx.Err() == nil && strings.Contains(err.Error(), "Cannot find context") { // that of the page before
		_, err = chromedp.Run(ctx, chromedp.Poll[bool](expression, chromedp.WithPollingTimeout(Patience)))
	}
	if err != nil {
		b.t.Fatalf("never true: %s: %v; the page reported %q", expression, err, b.reported())
	}
}

// Calm fails the test where the page reported an error: an exception, or a breach of its policy.
func (b *Tab) Calm() {
	b.t.Helper()
	if found := b.reported(); len(found) > 0 {
		b.t.Errorf("the page reported %q", found)
	}
}

func (b *Tab) reported() []string {
	b.lock.Lock()
	defer b.lock.Unlock()
	return slices.Clone(b.errors)
}
