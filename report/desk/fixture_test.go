package desk

import (
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/parquet-go/parquet-go"

	"downlock/report/trend/fleet"
	"downlock/schemas"
)

// small is an invented fleet of some hundred occurrences.
var small = fleet.Fleet{Seed: 3, Flights: 1500, Months: 24, First: "2031-01", Aircraft: 6, Rules: 45, Causes: 5}

// smallArchive is written once for all tests.
var smallArchive = sync.OnceValues(func() (string, error) {
	dir, err := os.MkdirTemp("", "desk")
	if err != nil {
		return "", err
	}
	return dir, small.Write(dir)
})

func TestMain(m *testing.M) {
	code := m.Run()
	if dir, err := smallArchive(); err == nil {
		os.RemoveAll(dir)
	}
	os.Exit(code)
}

// newArchive returns an archive of the small fleet of the test's own.
func newArchive(t testing.TB) string {
	t.Helper()
	from, err := smallArchive()
	if err != nil {
		t.Fatal(err)
	}
	dir := filepath.Join(t.TempDir(), "fleet")
	if err := os.CopyFS(dir, os.DirFS(from)); err != nil {
		t.Fatal(err)
	}
	return dir
}

// served is a desk behind a real server, and a browser that was let in.
type served struct {
	*Desk
	url    string
	client *http.Client
}

func serve(t testing.TB, o Options) *served {
	t.Helper()
	server := httptest.NewUnstartedServer(nil)
	o.Hosts, o.Version = []string{server.Listener.Addr().String()}, "test"
	if o.Token == "" {
		o.Token = NewToken()
	}
	d, err := New(o)
	if err != nil {
		t.Fatal(err)
	}
	server.Config.Handler = d.Handler()
	server.Start()
	t.Cleanup(server.Close)
	t.Cleanup(d.hub.close)
	s := &served{d, server.URL, newBrowser(t)}
	if code, _ := s.get(t, "/?token="+o.Token); code != http.StatusOK {
		t.Fatalf("the token lets nobody in: %d", code)
	}
	return s
}

func newBrowser(t testing.TB) *http.Client {
	t.Helper()
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	return &http.Client{Jar: jar, Timeout: time.Minute}
}

// get asks for a page as the browser does.
func (s *served) get(t testing.TB, path string) (code int, body string) {
	t.Helper()
	reply, err := s.client.Get(s.url + path)
	if err != nil {
		t.Fatal(err)
	}
	defer reply.Body.Close()
	text, err := io.ReadAll(reply.Body)
	if err != nil {
		t.Fatal(err)
	}
	return reply.StatusCode, string(text)
}

// post sends a verdict as the desk's own script does, postTo another form, and postPage a
// verdict as the page does without script.
func (s *served) post(t testing.TB, form url.Values) (code int, body string) {
	t.Helper()
	return s.send(t, "/verdict", "application/json", form)
}

func (s *served) postTo(t testing.TB, path string, form url.Values) (code int, body string) {
	t.Helper()
	return s.send(t, path, "application/json", form)
}

func (s *served) postPage(t testing.TB, form url.Values) (code int, body string) {
	t.Helper()
	return s.send(t, "/verdict", "text/html", form)
}

func (s *served) send(t testing.TB, path, accept string, form url.Values) (code int, body string) {
	t.Helper()
	r, err := http.NewRequest(http.MethodPost, s.url+path, strings.NewReader(form.Encode()))
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("Origin", s.url)
	r.Header.Set("Accept", accept)
	reply, err := s.client.Do(r)
	if err != nil {
		t.Error(err) // may be another goroutine than the test's
		return 0, ""
	}
	defer reply.Body.Close()
	text, _ := io.ReadAll(reply.Body)
	return reply.StatusCode, string(text)
}

// writeMonth writes the events of a month in place of those that are there, as a scan does.
func writeMonth(t testing.TB, place string, rows []schemas.EventRow) {
	t.Helper()
	if err := parquet.WriteFile(place+"-new", rows, parquet.KeyValueMetadata("downlock.table_version", strconv.Itoa(schemas.TableVersions[schemas.EventsTable]))); err != nil {
		t.Fatal(err)
	}
	if err := os.Rename(place+"-new", place); err != nil {
		t.Fatal(err)
	}
}
