package objects

import (
	"fmt"
	"io"
	"log"
	"net/http"
	"net/http/httptest"
	"net/http/httputil"
	"net/url"
	"strings"
	"sync"
	"testing"
)

// proxy stands between downlock and the server. It keeps the name of the host that a request is for, which its
// signature holds.
type proxy struct {
	*httptest.Server
	// ask may answer a request itself: it returns true then. n says how often it was made before.
	ask func(w http.ResponseWriter, r *http.Request, n int) bool
	// answer may change an answer.
	answer func(r *http.Response, n int)

	mutex sync.Mutex
	made  map[string]int // requests, by what they ask for
}

func newProxy(t testing.TB) *proxy {
	p := &proxy{made: map[string]int{}}
	forward := &httputil.ReverseProxy{
		Rewrite: func(r *httputil.ProxyRequest) {
			r.SetURL(&url.URL{Scheme: "http", Host: gateway})
			r.Out.Host = r.In.Host
		},
		ModifyResponse: func(r *http.Response) error {
			if p.answer != nil {
				p.answer(r, p.count(r.Request)-1)
			}
			return nil
		},
		FlushInterval: -1,
		ErrorLog:      log.New(io.Discard, "", 0), // of what it cuts off
	}
	p.Server = httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		p.mutex.Lock()
		n := p.made[wanted(r)]
		p.made[wanted(r)]++
		p.mutex.Unlock()
		if p.ask == nil || !p.ask(w, r, n) {
			forward.ServeHTTP(w, r)
		}
	}))
	t.Cleanup(p.Close)
	return p
}

// wanted is what a request asks for: HEAD or GET, the path, and where its range ends, or LIST and the bucket. A request that goes
// on where another was cut off is the same one.
func wanted(r *http.Request) string {
	if r.URL.Query().Has("list-type") {
		return "LIST " + r.URL.Path
	}
	_, end, _ := strings.Cut(r.Header.Get("Range"), "-")
	return strings.TrimSpace(r.Method + " " + r.URL.Path + " " + end)
}

func (p *proxy) count(r *http.Request) int {
	p.mutex.Lock()
	defer p.mutex.Unlock()
	return p.made[wanted(r)]
}

// requests is the number of requests of a kind.
func (p *proxy) requests(kind string) (n int) {
	p.mutex.Lock()
	defer p.mutex.Unlock()
	for what, times := range p.made {
		if strings.HasPrefix(what, kind) {
			n += times
		}
	}
	return n
}

// turnAway answers as a store that is overloaded: the S3 API reference, "Error responses", SlowDown.
func turnAway(w http.ResponseWriter) {
	w.WriteHeader(http.StatusServiceUnavailable)
	io.WriteString(w, `<?xml version="1.0" encoding="UTF-8"?><Error><Code>SlowDown</Code><Message>Please reduce your request rate.</Message></Error>`)
}

// cutOff is a body that ends before its time.
type cutOff struct {
	io.ReadCloser
	left int
}

func (c *cutOff) Read(p []byte) (int, error) {
	if c.left <= 0 {
		return 0, fmt.Errorf("cut off")
	}
	n, err := c.ReadCloser.Read(p[:min(len(p), c.left)])
	c.left -= n
	return n, err
}

// trickle is a body of which a few bytes come at a time.
type trickle struct{ io.ReadCloser }

func (s trickle) Read(p []byte) (int, error) { return s.ReadCloser.Read(p[:min(len(p), 700)]) }
