package desk

import (
	"fmt"
	"io"
	"io/fs"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"testing"
)

// attack is a request that must not pass, beside one that differs in that point alone and
// must.
type attack struct {
	name   string
	method string
	path   string
	change func(*http.Request)
	code   int
}

// do sends a request with the browser's cookie, without following what it leads to.
func (s *served) do(t testing.TB, method, path string, change func(*http.Request)) *http.Response {
	t.Helper()
	r, err := http.NewRequest(method, s.url+path, nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range s.client.Jar.Cookies(r.URL) {
		r.AddCookie(c)
	}
	if method == http.MethodPost {
		r.Header.Set("Origin", s.url)
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	if change != nil {
		change(r)
	}
	reply, err := http.DefaultTransport.RoundTrip(r)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { reply.Body.Close() })
	return reply
}

func TestGuard(t *testing.T) {
	t.Parallel()
	s := serve(t, Options{Archive: newArchive(t)})
	host := strings.TrimPrefix(s.url, "http://")
	_, port, _ := strings.Cut(host, ":")
	header := func(name, value string) func(*http.Request) {
		return func(r *http.Request) { r.Header.Set(name, value) }
	}
	named := func(host string) func(*http.Request) { return func(r *http.Request) { r.Host = host } }
	cookie := func(value string) func(*http.Request) {
		return func(r *http.Request) {
			r.Header.Del("Cookie")
			if value != "" {
				r.AddCookie(&http.Cookie{Name: s.guard.name, Value: value})
			}
		}
	}
	for _, a := range []attack{
		{"as the browser", "GET", "/", nil, 200},
		{"own origin", "GET", "/", header("Origin", s.url), 200},
		{"foreign origin", "GET", "/", header("Origin", "http://elsewhere.example"), 403},
		{"a sandbox", "GET", "/", header("Origin", "null"), 403},
		{"own name, another port", "GET", "/", header("Origin", "http://127.0.0.1:1"), 403},
		{"own name, other scheme", "GET", "/", header("Origin", "https://"+host), 403},
		{"two origins", "GET", "/", func(r *http.Request) { r.Header["Origin"] = []string{s.url, "http://elsewhere.example"} }, 403},
		{"a name that was made to lead here", "GET", "/", named("elsewhere.example"), 421},
		{"the same with the port", "GET", "/", named("elsewhere.example:" + port), 421},
		{"own name, another port", "GET", "/", named("127.0.0.1:1"), 421},
		{"own name behind a user", "GET", "/", named("127.0.0.1@elsewhere.example"), 421},
		{"no cookie", "GET", "/", cookie(""), 403},
		{"an empty cookie", "GET", "/", func(r *http.Request) { r.Header.Set("Cookie", s.guard.name+"=") }, 403},
		{"another cookie", "GET", "/", cookie(NewToken()), 403},
		{"the token as a cookie", "GET", "/", cookie(s.Token), 403},
		{"part of the cookie", "GET", "/", cookie(s.guard.cookie[:63]), 403},
		{"a longer cookie", "GET", "/", cookie(s.guard.cookie + "0"), 403},
		{"another cookie before", "GET", "/", func(r *http.Request) { r.Header.Set("Cookie", s.guard.name+"=x; "+s.guard.name+"="+s.guard.cookie) }, 200},
		{"a guessed token", "GET", "/?token=" + NewToken(), cookie(""), 403},
		{"an empty token", "GET", "/?token=", cookie(""), 403},
		{"part of the token", "GET", "/?token=" + s.Token[:63], cookie(""), 403},
		{"the token elsewhere", "GET", "/trends?token=" + s.Token, cookie(""), 403},
		{"the token and a foreign host", "GET", "/?token=" + s.Token, named("elsewhere.example"), 421},
		{"the token by POST", "POST", "/?token=" + s.Token, cookie(""), 403},
		{"the token", "GET", "/?token=" + s.Token, cookie(""), 303},
		{"own post, nothing in it", "POST", "/verdict", nil, 422},
		{"post without origin", "POST", "/verdict", func(r *http.Request) { r.Header.Del("Origin") }, 403},
		{"post of a foreign page", "POST", "/verdict", header("Origin", "http://elsewhere.example"), 403},
		{"post of a sandbox", "POST", "/verdict", header("Origin", "null"), 403},
		{"post of a page a browser calls foreign", "POST", "/verdict", header("Sec-Fetch-Site", "cross-site"), 403},
		{"post of a sister site", "POST", "/verdict", header("Sec-Fetch-Site", "same-site"), 403},
		{"post of own page", "POST", "/verdict", header("Sec-Fetch-Site", "same-origin"), 422},
		{"post without cookie", "POST", "/verdict", cookie(""), 403},
		{"verdict by GET", "GET", "/verdict?verdict=valid&by=x&event=E000000000000", nil, 404},
		{"verdict by HEAD", "HEAD", "/verdict", nil, 404},
		{"delete", "DELETE", "/verdict", header("Origin", s.url), 405},
		{"put", "PUT", "/", header("Origin", s.url), 405},
		{"options", "OPTIONS", "/verdict", header("Origin", s.url), 405},
		{"post elsewhere", "POST", "/trends", nil, 404},
	} {
		reply := s.do(t, a.method, a.path, a.change)
		if reply.StatusCode != a.code {
			t.Errorf("%s: %s %s gives %d, not %d", a.name, a.method, a.path, reply.StatusCode, a.code)
		}
		for name, want := range map[string]string{"X-Content-Type-Options": "nosniff", "Referrer-Policy": "same-origin", "Cache-Control": "no-store", "Access-Control-Allow-Origin": ""} {
			if got := reply.Header.Get(name); got != want {
				t.Errorf("%s: %s is %q", a.name, name, got)
			}
		}
		if policy := reply.Header.Get("Content-Security-Policy"); !strings.HasPrefix(policy, "default-src 'none'") || strings.Contains(policy, "unsafe") {
			t.Errorf("%s: policy %q", a.name, policy)
		}
		if set := reply.Header.Get("Set-Cookie"); (set != "") != (a.code == 303) || a.code == 303 && (!strings.Contains(set, "; HttpOnly") || !strings.Contains(set, "; SameSite=Strict")) {
			t.Errorf("%s: sets %q", a.name, set)
		}
		if to := reply.Header.Get("Location"); strings.Contains(to, "token") || a.code == 303 && to != "/" {
			t.Errorf("%s: leads to %q", a.name, to)
		}
	}
}

// Files beside the archive, and those of the archive that are no page, stay where they are.
func TestPathsStayInside(t *testing.T) {
	t.Parallel()
	dir := newArchive(t)
	const secret = "nobody shall read this"
	outside := filepath.Dir(dir)
	reports := filepath.Join(outside, "reports")
	for _, path := range []string{filepath.Join(outside, "secret.html"), filepath.Join(dir, "secret.html"), filepath.Join(dir, "runs", "20310101T000000.000Z", "secret.json"), filepath.Join(reports, "secret.html"), filepath.Join(outside, "report.html"), filepath.Join(outside, "report.json")} {
		if err := os.MkdirAll(filepath.Dir(path), 0o777); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(secret), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	s := serve(t, Options{Archive: dir, Reports: reports})
	id := firstEvent(t, s)
	ways := []string{"secret.html", "../secret.html", "..%2fsecret.html", "%2e%2e/secret.html", "..%5csecret.html", "....//secret.html", "%00", "secret.html%00", filepath.Join(outside, "secret.html"), url.PathEscape(filepath.Join(outside, "secret.html")), id + "/../../secret.html", id + "%2f..%2f..%2fsecret.html"}
	for _, page := range []string{"/", "/occurrence/", "/report/", "/fleet/", "/reports/", "/runs/", "/tables/", "/templates/", "/desk.css/", "/static/"} {
		for _, way := range append(ways, "") {
			if page+way == "/" {
				continue
			}
			reply := s.do(t, "GET", page+way, nil)
			text, _ := io.ReadAll(reply.Body)
			if strings.Contains(string(text), secret) || reply.StatusCode == 200 {
				t.Errorf("GET %s gives %d: %.80s", page+way, reply.StatusCode, text)
			}
			if strings.Contains(string(text), "part.parquet") || !strings.Contains(way, outside) && strings.Contains(string(text), outside) {
				t.Errorf("GET %s names files: %.200s", page+way, text)
			}
		}
	}
	for _, path := range []string{"/runs", "/tables", "/reviews", "/ledger", "/reports", "/templates", "/.git", "/identity"} {
		if reply := s.do(t, "GET", path, nil); reply.StatusCode != 404 {
			t.Errorf("GET %s gives %d", path, reply.StatusCode)
		}
	}
}

// A report that is a link to a file elsewhere is not followed.
func TestReportIsNoWayOut(t *testing.T) {
	t.Parallel()
	dir := newArchive(t)
	outside := filepath.Dir(dir)
	reports := filepath.Join(outside, "reports")
	s := serve(t, Options{Archive: dir, Reports: reports})
	f, err := s.find(s.view(), firstEvent(t, s))
	if err != nil {
		t.Fatal(err)
	}
	folder := filepath.Join(reports, folders(f)[0])
	elsewhere := filepath.Join(outside, "elsewhere")
	for _, d := range []string{folder, elsewhere} {
		if err := os.MkdirAll(d, 0o777); err != nil {
			t.Fatal(err)
		}
	}
	write := func(path, text string) {
		t.Helper()
		if err := os.WriteFile(path, []byte(text), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	about := `{"flight": {"id": "` + f.flight.FlightID + `"}}`
	write(filepath.Join(folder, "report.json"), about)
	write(filepath.Join(folder, "report.html"), "the report")
	path := "/report/" + f.events[0].EventID
	if code, body := s.get(t, path); code != 200 || body != "the report" {
		t.Fatalf("the stored report: %d %.200s", code, body)
	}
	reply := s.do(t, "GET", path, nil)
	if policy := reply.Header.Get("Content-Security-Policy"); !strings.HasPrefix(policy, "sandbox") || strings.Contains(policy, "allow-same-origin") {
		t.Errorf("a report is not shut off: %s", policy)
	}
	write(filepath.Join(folder, "report.json"), `{"flight": {"id": "another"}}`)
	if code, _ := s.get(t, path); code != 404 {
		t.Errorf("the report of another flight is shown: %d", code)
	}
	write(filepath.Join(folder, "report.json"), about)
	write(filepath.Join(elsewhere, "report.html"), "elsewhere")
	if err := os.Remove(filepath.Join(folder, "report.html")); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink(filepath.Join(elsewhere, "report.html"), filepath.Join(folder, "report.html")); err != nil {
		t.Skip("no links here: ", err)
	}
	if code, body := s.get(t, path); code != 404 || strings.Contains(body, "elsewhere") {
		t.Errorf("a link leads out: %d %.200s", code, body)
	}
}

// No GET changes a file.
func TestGetChangesNothing(t *testing.T) {
	t.Parallel()
	dir := newArchive(t)
	before := tree(t, dir)
	s := serve(t, Options{Archive: dir})
	id := firstEvent(t, s)
	for _, path := range []string{"/", "/?state=all&page=2", "/occurrence/" + id, "/fleet/" + id, "/report/" + id, "/trends", "/nights", "/verdict?event=" + id + "&verdict=valid&by=x"} {
		s.get(t, path)
	}
	if after := tree(t, dir); after != before {
		t.Error("the archive is another one after reading")
	}
}

func tree(t testing.TB, dir string) string {
	t.Helper()
	var b strings.Builder
	err := fs.WalkDir(os.DirFS(dir), ".", func(path string, e fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		info, err := e.Info()
		fmt.Fprintln(&b, path, info.Size(), info.ModTime().UnixNano())
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// Ten thousand requests of somebody who guesses, of whom none passes; then the desk works
// as before, and holds nothing of them.
func TestTenThousandRequests(t *testing.T) {
	s := serve(t, Options{Archive: newArchive(t)})
	const requests, workers = 10_000, 20
	s.get(t, "/")
	began := runtime.NumGoroutine()
	transport := &http.Transport{MaxIdleConnsPerHost: workers}
	var wait sync.WaitGroup
	var mu sync.Mutex
	codes := map[int]int{}
	for w := range workers {
		wait.Go(func() {
			for i := range requests / workers {
				path := []string{"/?token=" + NewToken(), "/trends", "/report/E0123456789ab", "/changes", "/" + strings.Repeat("a", 200)}[i%5]
				r, err := http.NewRequest("GET", s.url+path, nil)
				if err != nil {
					t.Error(err)
					return
				}
				if (i+w)%7 == 0 {
					r.Method, r.Body = "POST", io.NopCloser(strings.NewReader("event=E0123456789ab&verdict=valid&by=x"))
				}
				r.AddCookie(&http.Cookie{Name: s.guard.name, Value: NewToken()})
				reply, err := transport.RoundTrip(r)
				if err != nil {
					t.Error(err)
					return
				}
				io.Copy(io.Discard, reply.Body)
				reply.Body.Close()
				mu.Lock()
				codes[reply.StatusCode]++
				mu.Unlock()
			}
		})
	}
	wait.Wait()
	transport.CloseIdleConnections()
	if len(codes) != 1 || codes[403] != requests {
		t.Errorf("answers: %v", codes)
	}
	if code, body := s.get(t, "/"); code != 200 || !strings.Contains(body, `id="worklist"`) {
		t.Errorf("afterwards the worklist: %d", code)
	}
	if n := len(s.hub.listeners); n != 0 {
		t.Errorf("%d listen", n)
	}
	for i := 0; runtime.NumGoroutine() > began+workers; i++ { // connections end in their own time
		if runtime.Gosched(); i == 1_000_000 {
			t.Fatalf("%d goroutines, %d before", runtime.NumGoroutine(), began)
		}
	}
}
