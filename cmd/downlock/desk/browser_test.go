package desk

import (
	"context"
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"downlock/report/review"
)

// verdicts returns the verdicts that count, from their files.
func verdicts(t testing.TB, archive string) map[string]review.Verdict {
	t.Helper()
	latest, damaged, err := review.Latest(archive)
	if err != nil || len(damaged) > 0 {
		t.Fatal(err, damaged)
	}
	return latest
}

const row = `document.querySelectorAll("#worklist tbody tr")`

// A reviewer decides without a mouse: valid on the first, false with a cause on two chosen
// ones, and follow-up on the page of an occurrence.
func TestVerdictByKeyboard(t *testing.T) {
	t.Parallel()
	archive, reports, _ := scanned(t)
	d := open(t, deskOptions{archive: archive, reports: reports})
	ctx := openBrowser(t)
	visit(t, ctx, d.address, "#worklist")
	picture(t, ctx, "worklist-1280")
	ids := make([]string, 6)
	for i := range ids {
		ids[i] = text(t, ctx, fmt.Sprintf("%s[%d].dataset.event", row, i))
	}
	do(t, ctx, press("j"), press("v"))
	wait(t, ctx, `document.activeElement.name === "by"`)
	do(t, ctx, press("Analyst A"), press(kb.Enter))
	wait(t, ctx, row+`[0].querySelector(".state").textContent.startsWith("valid (Analyst A")`)
	wait(t, ctx, row+`[1].classList.contains("at")`)

	do(t, ctx, press("x"), press(kb.ArrowDown), press("x"), press("f"))
	wait(t, ctx, `document.activeElement.name === "cause"`)
	picture(t, ctx, "worklist-false-1280")
	do(t, ctx, press(kb.Enter)) // without a cause
	wait(t, ctx, `document.querySelector("#news").textContent.includes("needs a cause")`)
	do(t, ctx, press("strut switch"), press(kb.Enter))
	wait(t, ctx, row+`[2].querySelector(".state").textContent.startsWith("false")`)
	wait(t, ctx, row+`[1].querySelector(".state").textContent.startsWith("false")`)

	// A verdict begun and left notes nothing.
	do(t, ctx, press("j"), press("v"), press("forget this"), press(kb.Escape))
	wait(t, ctx, `!document.querySelector("#decide").classList.contains("now")`)
	do(t, ctx, press("k"), press("j"), press(kb.Enter))
	there(t, ctx, "article.event")
	opened := text(t, ctx, `document.querySelector("article.event").id`)
	if opened != text(t, ctx, `location.pathname.split("/")[2]`) {
		t.Errorf("the page %s shows %s", text(t, ctx, "location.pathname"), opened)
	}
	do(t, ctx, press("u"))
	wait(t, ctx, `document.activeElement.name === "comment"`)
	do(t, ctx, press("ask maintenance"), press(kb.Enter), press("n")) // before the desk has answered
	wait(t, ctx, `document.readyState === "complete" && document.querySelector("article.event") && document.querySelector("article.event").id !== "`+opened+`"`)
	do(t, ctx, press("w"))
	there(t, ctx, "#worklist")

	latest := verdicts(t, archive)
	for id, want := range map[string]review.Verdict{
		ids[0]: {Finding: review.Valid, By: "Analyst A"},
		ids[1]: {Finding: review.False, Cause: "strut switch", By: "Analyst A"},
		ids[2]: {Finding: review.False, Cause: "strut switch", By: "Analyst A"},
		opened: {Finding: review.FollowUp, Comment: "ask maintenance", By: "Analyst A"},
	} {
		got := latest[id]
		if got.Finding != want.Finding || got.Cause != want.Cause || got.Comment != want.Comment || got.By != want.By {
			t.Errorf("%s: %+v", id, got)
		}
	}
	for i, id := range ids[3:] {
		if _, there := latest[id]; there && id != opened {
			t.Errorf("row %d has a verdict nobody gave: %+v", 3+i, latest[id])
		}
	}
}

// What one browser decides, another shows without loading the page again; and is asked
// before it overrules what it has not shown.
func TestTwoBrowsers(t *testing.T) {
	t.Parallel()
	archive, reports, _ := scanned(t)
	d := open(t, deskOptions{archive: archive, reports: reports})
	first, second := openBrowser(t), openBrowser(t)
	for _, ctx := range []context.Context{first, second} {
		visit(t, ctx, d.address, "#worklist")
		do(t, ctx, chromedp.Evaluate[chromedp.Void]("window.sameDocument = true"))
	}
	id := text(t, second, row+"[0].dataset.event")
	do(t, first, chromedp.SetValue("input[name=by]", "First"), press("j"), press("v"))
	wait(t, first, `document.activeElement.name === "comment"`)
	do(t, first, press(kb.Enter))
	wait(t, second, row+`[0].querySelector(".state").textContent.startsWith("valid (First")`)
	if text(t, second, "window.sameDocument") != "true" {
		t.Error("the second browser has loaded the page again")
	}
	// The command of another reviewer reaches both.
	if _, err := review.Write(archive, review.Verdict{Event: id, Finding: review.FollowUp, By: "Third", At: verdicts(t, archive)[id].At.Add(1e9), Evidence: verdicts(t, archive)[id].Evidence}, false); err != nil {
		t.Fatal(err)
	}
	keep(t, archive)
	for _, ctx := range []context.Context{first, second} {
		wait(t, ctx, row+`[0].querySelector(".state").textContent.startsWith("follow-up (Third")`)
	}
	// A page whose stream was cut does not know the next one.
	do(t, second, chromedp.Evaluate[chromedp.Void]("window.dispatchEvent(new Event('pagehide'))"))
	do(t, first, press("k"), press("f"))
	wait(t, first, `document.activeElement.name === "cause"`)
	do(t, first, press("sensor"), press(kb.Enter))
	wait(t, first, row+`[0].querySelector(".state").textContent.startsWith("false (First")`)
	do(t, second, chromedp.SetValue("input[name=by]", "Second"), press("k"), press("v"))
	wait(t, second, `document.activeElement.name === "comment"`)
	do(t, second, press(kb.Enter))
	wait(t, second, `document.querySelector("#news").textContent.includes("First has given the verdict false")`)
	if got := verdicts(t, archive)[id]; got.By != "First" {
		t.Errorf("overruled without asking: %+v", got)
	}
	do(t, second, chromedp.Click("#news button"))
	wait(t, first, row+`[0].querySelector(".state").textContent.startsWith("valid (Second")`)
}

// All of it works with script off, at 1280 and 400 pixels.
func TestWithoutScript(t *testing.T) {
	t.Parallel()
	archive, reports, _ := scanned(t)
	d := open(t, deskOptions{archive: archive, reports: reports})
	ctx := openBrowser(t)
	if _, err := chromedp.Call(ctx, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true}); err != nil {
		t.Fatal(err)
	}
	do(t, ctx, chromedp.EmulateViewport(400, 800, chromedp.EmulateMobile))
	visit(t, ctx, d.address, "#worklist")
	picture(t, ctx, "without-script-400")
	id := text(t, ctx, row+"[0].dataset.event")
	do(t, ctx, chromedp.Click("#worklist tbody tr:first-child input[type=checkbox]"), chromedp.SendKeys("input[name=by]", "Analyst A"),
		chromedp.SendKeys("input[name=comment]", "seen"), chromedp.Click(`button[value="valid"]`))
	wait(t, ctx, row+`[0].dataset.event !== "`+id+`"`) // what was decided is no longer open
	if got := verdicts(t, archive)[id]; got.Finding != review.Valid || got.Comment != "seen" {
		t.Errorf("%+v", got)
	}
	do(t, ctx, chromedp.SendKeys("select[name=state]", "valid"), chromedp.Click("form.filter button"))
	there(t, ctx, `tr[data-event="`+id+`"]`)
	do(t, ctx, chromedp.Click(`tr[data-event="`+id+`"] a`))
	there(t, ctx, "article.event table")
	if history := text(t, ctx, `document.querySelector("article.event table").innerText`); !strings.Contains(history, "Analyst A") || !strings.Contains(history, "seen") {
		t.Errorf("history: %s", history)
	}
	do(t, ctx, chromedp.Click("#fleet a"))
	there(t, ctx, "#part")
	// A false verdict without a cause is explained on a page.
	visit(t, ctx, d.url+"/occurrence/"+id, "article.event")
	do(t, ctx, chromedp.Click(`button[value="false"]`))
	there(t, ctx, "p.warn")
	if said := text(t, ctx, "document.body.innerText"); !strings.Contains(said, "needs a cause") {
		t.Errorf("said: %s", said)
	}
}

// viewport is the size of a window, a telephone's where it is narrow.
func viewport(width int64) chromedp.Action[chromedp.Void] {
	if width < 500 {
		return chromedp.EmulateViewport(width, 800, chromedp.EmulateMobile)
	}
	return chromedp.EmulateViewport(width, 800)
}

// No page is wider than a telephone, and each shows the cautions.
func TestNarrow(t *testing.T) {
	t.Parallel()
	archive, reports, _ := scanned(t)
	d := open(t, deskOptions{archive: archive, reports: reports})
	ctx := openBrowser(t)
	visit(t, ctx, d.address, "#worklist")
	id := text(t, ctx, row+"[3].dataset.event")
	for _, width := range []int64{1280, 400} {
		do(t, ctx, viewport(width))
		for name, path := range map[string]string{"worklist": "/?state=all", "occurrence": "/occurrence/" + id, "fleet": "/fleet/" + id, "trends": "/trends", "nights": "/nights", "refused": "/nowhere"} {
			visit(t, ctx, d.url+path, "h1")
			if name == "occurrence" {
				wait(t, ctx, `document.querySelector("#fleet #part")`)
			}
			picture(t, ctx, fmt.Sprintf("%s-%d", name, width))
			if wide := text(t, ctx, "document.documentElement.scrollWidth"); wide != fmt.Sprint(width) {
				t.Errorf("%s at %d is %s wide", name, width, wide)
			}
			if name != "refused" && text(t, ctx, `document.querySelectorAll("#cautions li").length`) == "0" {
				t.Errorf("%s shows no cautions", name)
			}
		}
	}
	visit(t, ctx, d.url+"/occurrence/"+id, "h1")
	pdf, err := chromedp.Run(ctx, chromedp.PrintToPDF())
	if err != nil || !strings.HasPrefix(string(pdf), "%PDF") || len(pdf) < 5000 {
		t.Errorf("printed: %d bytes, %v", len(pdf), err)
	}
}

// Names and verdicts that hold markup and scripts are text on every page.
func TestHostileNames(t *testing.T) {
	t.Parallel()
	const markup = `"><img src=x onerror=hacked=1><script>hacked=1</script>`
	archive, reports, downloads := scanned(t, "--aircraft", "TH "+markup)
	files, err := filepath.Glob(filepath.Join(downloads, "*.csv.gz"))
	if err != nil || len(files) < 4 {
		t.Fatal(files, err)
	}
	for i, name := range []string{`x' onload='hacked=1.csv.gz`, "<script>hacked=1<\u202escript>.csv.gz", "&lt;b&gt;{{.}}.csv.gz"} {
		good, err := os.ReadFile(files[i+1])
		if err != nil {
			t.Fatal(err)
		}
		if i == 1 {
			good = good[:len(good)/2] // fails, and is named by the night
		}
		other := t.TempDir()
		if err := os.WriteFile(filepath.Join(other, name), good, 0o666); err != nil {
			t.Skip("no such name here: ", err)
		}
		quietScan(t, "--profile", filepath.Join(downloads, "th120.yaml"), "--archive", archive, other)
	}
	d := open(t, deskOptions{archive: archive, reports: reports})
	ctx := openBrowser(t)
	visit(t, ctx, d.address, "#worklist")
	id := text(t, ctx, row+"[0].dataset.event")
	do(t, ctx, chromedp.SetValue("input[name=by]", markup), chromedp.SetValue("input[name=cause]", markup), chromedp.SetValue("input[name=comment]", markup), press("j"), press("f"))
	do(t, ctx, press(kb.Enter))
	wait(t, ctx, row+`[0].querySelector(".state").textContent.includes("onerror")`)
	for _, path := range []string{"/?state=all", "/?state=all&aircraft=" + strings.Repeat("%22%3E%3Cscript%3Ehacked=1%3C/script%3E", 3) + "&rule=%3Cscript%3E", "/occurrence/" + id, "/fleet/" + id, "/report/" + id, "/trends", "/nights", "/%3Cscript%3Ehacked=1%3C/script%3E"} {
		visit(t, ctx, d.url+path, "body")
		if text(t, ctx, "typeof hacked") != "undefined" {
			t.Errorf("%s: a name ran as a script", path)
		}
		if n := text(t, ctx, `document.querySelectorAll("img, b[title], script:not([src='/desk.js'])").length`); n != "0" && !strings.HasPrefix(path, "/report") {
			t.Errorf("%s: %s elements are of a name", path, n)
		}
	}
	if _, body := d.get(t, "/?state=all"); !strings.Contains(body, "&lt;img src=x onerror") {
		t.Error("the registration is not shown as it stands")
	}
	if _, body := d.get(t, "/nights"); !strings.Contains(body, "&lt;script&gt;hacked=1&lt;\uFFFDscript&gt;") {
		t.Error("the night does not name its failed file, or with the mark that turns text round")
	}
}

// A page elsewhere, in a browser that was let in, neither decides nor reads nor frames.
func TestForeignPage(t *testing.T) {
	t.Parallel()
	archive, reports, _ := scanned(t)
	d := open(t, deskOptions{archive: archive, reports: reports})
	foreign := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Type", "text/html")
		fmt.Fprint(w, "<!DOCTYPE html><p>elsewhere</p>")
	}))
	defer foreign.Close()
	_, port, _ := strings.Cut(strings.TrimPrefix(d.url, "http://"), ":")
	ctx := openBrowser(t, chromedp.Flag("host-resolver-rules", "MAP elsewhere.example 127.0.0.1"))
	visit(t, ctx, d.address, "#worklist")
	id := text(t, ctx, row+"[0].dataset.event")
	other := strings.TrimPrefix(foreign.URL, "http://127.0.0.1")
	// The first is of the same site (another port), so that the browser sends the cookie.
	for _, from := range []string{foreign.URL, "http://localhost" + other, "http://elsewhere.example" + other} {
		visit(t, ctx, from, "p")
		// The browser sends it, and may keep the answer to itself; the verdicts are counted below.
		text(t, ctx, fmt.Sprintf(`fetch(%q, {method: "POST", mode: "no-cors", credentials: "include", headers: {"Content-Type": "application/x-www-form-urlencoded"},
			body: "event=%s&verdict=valid&by=x&seen=9999999999999"}).then(r => "sent", e => "refused")`, d.url+"/verdict", id))
		told := text(t, ctx, fmt.Sprintf(`fetch(%q, {credentials: "include"}).then(r => r.text(), e => "refused")`, d.url+"/"))
		if told != "refused" {
			t.Errorf("%s: reads %.80s", from, told)
		}
		// A form, as a page may send anywhere.
		do(t, ctx, chromedp.Evaluate[chromedp.Void](fmt.Sprintf(`document.body.innerHTML = '<form method="post" action="%s/verdict"><input name="event" value="%s"><input name="verdict" value="valid"><input name="by" value="x"><input name="seen" value="9999999999999"></form>'; document.forms[0].submit()`, d.url, id)))
		wait(t, ctx, `location.href.startsWith("`+d.url+`") && document.body.innerText.includes("so it is refused")`)
		visit(t, ctx, from, "p")
		told = text(t, ctx, fmt.Sprintf(`new Promise(done => { const f = document.createElement("iframe"); f.onload = () => { try { done(String(f.contentDocument)); } catch (e) { done("shut off"); } }; f.src = %q; document.body.append(f); })`, d.url+"/"))
		if told != "null" && told != "shut off" {
			t.Errorf("%s: frames the desk: %s", from, told)
		}
	}
	// A name that leads to the desk is another address: no page of it, with or without the token.
	for _, path := range []string{"/", strings.TrimPrefix(d.address, d.url)} {
		visit(t, ctx, "http://elsewhere.example:"+port+path, "h1")
		if said := text(t, ctx, "document.body.innerText"); !strings.Contains(said, "only at its own address") {
			t.Errorf("by a foreign name %s shows: %.200s", path, said)
		}
	}
	if n := len(verdicts(t, archive)); n != 0 {
		t.Errorf("%d verdicts were given from elsewhere", n)
	}
}

// The report at the desk is in a sandbox, and its viewer works there with the samples of the
// whole flight.
func TestReportAtTheDesk(t *testing.T) {
	t.Parallel()
	archive, _, _ := scanned(t)
	d := open(t, deskOptions{archive: archive})
	ctx := openBrowser(t)
	visit(t, ctx, d.address, "#worklist")
	id := text(t, ctx, row+"[0].dataset.event")
	visit(t, ctx, d.url+"/occurrence/"+id, "iframe")
	frame := text(t, ctx, `document.querySelector("iframe").src`)
	visit(t, ctx, frame, "#viewer-data")
	do(t, ctx, chromedp.Evaluate[chromedp.Void](`[...document.querySelectorAll("button")].find(b => b.textContent.includes("look closer")).click()`))
	wait(t, ctx, `document.querySelector("#viewer svg")`)
	if origin := text(t, ctx, "window.origin"); origin != "null" {
		t.Errorf("the report has the origin %s", origin)
	}
	if cookie := text(t, ctx, `(() => { try { return document.cookie } catch (e) { return "shut off" } })()`); cookie != "shut off" {
		t.Errorf("the report reads cookies: %q", cookie)
	}
	if target := text(t, ctx, `document.querySelector(location.hash) !== null`); target != "true" {
		t.Errorf("%s leads to no event of the report", frame)
	}
	if told := text(t, ctx, fmt.Sprintf(`fetch(%q, {method: "POST", mode: "no-cors", body: "x"}).then(() => "sent", () => "refused")`, d.url+"/verdict")); told != "refused" {
		t.Errorf("a report sends requests: %s", told)
	}
	picture(t, ctx, "report-1280")
}
