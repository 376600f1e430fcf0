// Package browser opens pages in a real Chromium, for tests: of files with a Tab, which also
// collects what the page reported, or by any other means in the context of Start. A test is
// skipped where the machine has no Chromium; .ci/run installs it.
package browser

import (
	"context"
	"os/exec"
	"slices"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

// Patience bounds what waits for the browser. It is long, so that a loaded machine fails no
// test; a page that works needs a hundredth of it.
const Patience = 2 * time.Minute

// Start starts a Chromium of the test's own, with more flags than the usual ones, and ends it
// with the test. It has no page yet.
func Start(t testing.TB, flags ...chromedp.ExecAllocatorOption) context.Context {
	t.Helper()
	path := ""
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome", "chrome"} {
		if found, err := exec.LookPath(name); err == nil {
			path = found
			break
		}
	}
	if path == "" {
		t.Skip("no Chromium on this machine: install chromium to run the tests of pages in a browser")
	}
	options := append(slices.Clone(chromedp.DefaultExecAllocatorOptions[:]), chromedp.ExecPath(path), chromedp.NoSandbox,
		chromedp.DisableGPU, chromedp.Flag("disable-background-networking", true))
	ctx, cancel := chromedp.NewExecAllocator(context.Background(), append(options, flags...)...)
	t.Cleanup(cancel)
	ctx, cancel = chromedp.NewContext(ctx)
	t.Cleanup(cancel)
	return ctx
}
