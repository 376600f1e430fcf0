package report

import (
	"testing"

	"downlock/testdata/browser"
)

// tab is a page in a browser, for what reports and indexes have.
type tab struct {
	*browser.Tab
	t testing.TB
}

func openTab(t testing.TB, width int64) *tab {
	t.Helper()
	return &tab{browser.Open(t, width), t}
}

func value[T any](b *tab, expression string) T {
	b.t.Helper()
	return browser.Value[T](b.Tab, expression)
}
