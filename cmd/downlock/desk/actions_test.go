package desk

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"github.com/chromedp/chromedp"
)

// Actions are noted in the form of an occurrence and stand on its page, in the worklist,
// and in the files; a mistake is said.
func TestActionsInTheBrowser(t *testing.T) {
	archive, reports, _ := scanned(t)
	d := open(t, deskOptions{archive: archive, reports: reports})
	ctx := openBrowser(t)
	visit(t, ctx, d.address, "#worklist")
	id := text(t, ctx, row+"[0].dataset.event")
	fill := func(name, value string) chromedp.Action[chromedp.Void] {
		return chromedp.Evaluate[chromedp.Void](fmt.Sprintf(`document.querySelector("#action-form [name=%s]").value = %q`, name, value))
	}
	press := chromedp.Evaluate[chromedp.Void](`document.querySelector("#action-form button").click()`)
	page := func() { visit(t, ctx, d.url+"/occurrence/"+id, "#action-form") }
	page()
	do(t, ctx, fill("assigned-to", "fleet-safety"), fill("due", "2031-07-15"), fill("by", "Analyst A"), press)
	wait(t, ctx, `document.querySelector("#actions table")`)
	do(t, ctx, fill("crew-contact", "yes"), press)
	wait(t, ctx, `document.querySelector("p.warn") && document.querySelector("p.warn").textContent.includes("gatekeeper alone")`)
	page()
	do(t, ctx, fill("crew-contact", "yes"), fill("maintenance", "no"), fill("by", "gatekeeper"), press)
	wait(t, ctx, `document.querySelector("#actions table") && document.querySelector("dd.state").textContent.includes("crew contact: yes")`)
	if by := text(t, ctx, `document.querySelector("#action-form [name=by]").value`); by != "Analyst A" {
		t.Errorf("the name that is remembered is %q", by)
	}
	const words = "assigned to fleet-safety, due 2031-07-15, referred to maintenance: no, crew contact: yes"
	for _, width := range []int64{1280, 400} {
		do(t, ctx, viewport(width))
		page()
		wait(t, ctx, `document.querySelector("#fleet #part")`)
		picture(t, ctx, fmt.Sprintf("actions-%d", width))
		visit(t, ctx, d.url+"/", "#worklist")
		wait(t, ctx, fmt.Sprintf(`%s[0].querySelector(".state").textContent.endsWith(%q)`, row, words))
		if wide := text(t, ctx, "document.documentElement.scrollWidth"); wide != fmt.Sprint(width) {
			t.Errorf("the worklist at %d is %s wide", width, wide)
		}
		picture(t, ctx, fmt.Sprintf("actions-worklist-%d", width))
	}
	files, err := filepath.Glob(filepath.Join(archive, "reviews", id, "*.action"))
	if err != nil {
		t.Fatal(err)
	}
	got := map[string]string{}
	for _, file := range files {
		var a struct{ Action, Value, By string }
		data, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		if err := json.Unmarshal(data, &a); err != nil {
			t.Fatal(err)
		}
		got[a.Action] = a.Value + " by " + a.By
	}
	want := map[string]string{"assigned-to": "fleet-safety by Analyst A", "due": "2031-07-15 by Analyst A", "crew-contact": "yes by gatekeeper", "maintenance": "no by gatekeeper"}
	if fmt.Sprint(got) != fmt.Sprint(want) || len(files) != len(want) {
		t.Errorf("%v in %d files, want %v", got, len(files), want)
	}
}
