package objects

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync/atomic"
	"testing"
	"time"
)

// A store of one bucket, "flights", which answers as the "Amazon S3 API Reference" says: HeadObject, GetObject with
// Range and If-Match, ListObjectsV2, and the codes of its section "Error responses". testdata/objects asks a real server.
type pretender struct {
	objects map[string]string // content, by key
	fault   func(w http.ResponseWriter, r *http.Request) bool
	asked   atomic.Int32
}

func (p *pretender) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	p.asked.Add(1)
	if p.fault != nil && p.fault(w, r) {
		return
	}
	bucket, key, _ := strings.Cut(strings.TrimPrefix(r.URL.Path, "/"), "/")
	content, there := p.objects[key]
	switch {
	case bucket != "flights":
		refuse(w, r, http.StatusNotFound, "NoSuchBucket")
	case r.URL.Query().Has("list-type"):
		p.list(w, r)
	case !there:
		refuse(w, r, http.StatusNotFound, "NoSuchKey")
	default:
		w.Header().Set("ETag", etag(content))
		http.ServeContent(w, r, "", time.Unix(2e9, 0), strings.NewReader(content)) // RFC 9110: ranges and conditions
	}
}

func etag(content string) string { return fmt.Sprintf(`"%x"`, len(content)) }

// list lists two objects at a time.
func (p *pretender) list(w http.ResponseWriter, r *http.Request) {
	q := r.URL.Query()
	var keys []string
	for _, key := range []string{"a.csv", "a/", "a/1.csv", "a/2 ü+.csv", "a/3.csv", "b.csv"} { // in order
		if _, there := p.objects[key]; there && strings.HasPrefix(key, q.Get("prefix")) && key > max(q.Get("start-after"), q.Get("continuation-token")) {
			keys = append(keys, key)
		}
	}
	more := len(keys) > 2
	keys = keys[:min(len(keys), 2)]
	fmt.Fprintf(w, "<ListBucketResult><IsTruncated>%t</IsTruncated><KeyCount>%d</KeyCount>", more, len(keys))
	for _, key := range keys {
		fmt.Fprintf(w, "<Contents><Key>%s</Key><LastModified>2031-03-02T10:15:00.000Z</LastModified><ETag>%s</ETag><Size>%d</Size></Contents>", key, etag(p.objects[key]), len(p.objects[key]))
	}
	if more {
		fmt.Fprintf(w, "<NextContinuationToken>%s</NextContinuationToken>", keys[1])
	}
	io.WriteString(w, "</ListBucketResult>")
}

func refuse(w http.ResponseWriter, r *http.Request, status int, code string) {
	w.WriteHeader(status)
	if r.Method != http.MethodHead {
		fmt.Fprintf(w, `<?xml version="1.0" encoding="UTF-8"?><Error><Code>%s</Code><Message>as it is</Message>%s</Error>`, code, map[string]string{"AuthorizationHeaderMalformed": "<Region>eu-north-1</Region>"}[code])
	}
}

// store returns the store that a server is, with tries that do not wait.
func (p *pretender) store(t *testing.T) *Store {
	server := httptest.NewServer(p)
	t.Cleanup(server.Close)
	s := New(environmentOf(map[string]string{"AWS_ENDPOINT_URL_S3": server.URL, "AWS_ACCESS_KEY_ID": "id", "AWS_SECRET_ACCESS_KEY": "secret", "AWS_MAX_ATTEMPTS": "3"}))
	s.tries.first, s.tries.last = time.Microsecond, time.Microsecond
	return s
}

// environmentOf is an environment without the files of whoever runs the tests.
func environmentOf(variables map[string]string) func(string) string {
	for _, file := range []string{"AWS_SHARED_CREDENTIALS_FILE", "AWS_CONFIG_FILE"} {
		if variables[file] == "" {
			variables[file] = "/does/not/exist"
		}
	}
	return func(name string) string { return variables[name] }
}

func readAll(s *Store, address string) (string, error) {
	in, size, err := s.Open(address)
	if err != nil {
		return "", err
	}
	defer in.Close()
	content, err := io.ReadAll(in)
	if err == nil && int64(len(content)) != size {
		err = fmt.Errorf("%d bytes of %d", len(content), size)
	}
	return string(content), err
}

// large is longer than five ranges, and no two ranges are alike.
func large() string {
	var b strings.Builder
	for i := 0; b.Len() < 5*rangeBytes+12_345; i++ {
		fmt.Fprintf(&b, "%d,", i)
	}
	return b.String()
}

// TestRead reads objects of no byte, of one, of exactly a range, around it, and of many.
func TestRead(t *testing.T) {
	t.Parallel()
	all := large()
	p := &pretender{objects: map[string]string{}}
	p.fault = func(_ http.ResponseWriter, r *http.Request) bool {
		var from, to int
		if fmt.Sscanf(r.Header.Get("Range"), "bytes=%d-%d", &from, &to); r.Method == http.MethodGet {
			if size := len(p.objects[r.URL.Path[len("/flights/"):]]); from%rangeBytes != 0 || to != min(from+rangeBytes, size)-1 {
				t.Errorf("of %d bytes %d to %d are asked for", size, from, to)
			}
		}
		return false
	}
	s := p.store(t)
	for _, size := range []int{0, 1, rangeBytes - 1, rangeBytes, rangeBytes + 1, 2 * rangeBytes, len(all)} {
		key := fmt.Sprint(size)
		p.objects[key] = all[:size]
		if content, err := readAll(s, "s3://flights/"+key); err != nil || content != all[:size] {
			t.Errorf("%d bytes come as %d: %v", size, len(content), err)
		}
	}
}

// TestAhead: while nobody reads on, no more than the ranges ahead and the one at hand are asked for, and those side by side.
func TestAhead(t *testing.T) {
	t.Parallel()
	all := large()
	p := &pretender{objects: map[string]string{"a.csv": all}}
	var ranges, most atomic.Int32
	together := make(chan bool)
	p.fault = func(w http.ResponseWriter, r *http.Request) bool {
		if r.Method == http.MethodHead {
			return false
		}
		if n := ranges.Add(1); n == 1+rangesAhead {
			close(together)
		} else if n > 1+rangesAhead {
			most.Store(n)
		}
		<-together
		return false
	}
	in, _, err := p.store(t).Open("s3://flights/a.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer in.Close()
	if _, err := io.ReadFull(in, make([]byte, 1)); err != nil || most.Load() != 0 {
		t.Errorf("%d requests: %v", most.Load(), err)
	}
}

// TestReadCutOff cuts every answer off, and at times sends nothing at all: the bytes are complete and each is asked for once
// it is known to be missing. A store that never sends more ends it.
func TestReadCutOff(t *testing.T) {
	t.Parallel()
	all := large()
	p := &pretender{objects: map[string]string{"a.csv": all}}
	var n atomic.Int32
	p.fault = func(w http.ResponseWriter, r *http.Request) bool {
		var from, to int
		if fmt.Sscanf(r.Header.Get("Range"), "bytes=%d-%d", &from, &to); r.Method == http.MethodHead || to-from < 1<<20 {
			return false
		}
		w.Header().Set("ETag", etag(all))
		w.Header().Set("Last-Modified", "Sun, 02 Mar 2031 10:15:00 GMT")
		w.Header().Set("Content-Range", fmt.Sprintf("bytes %d-%d/%d", from, to, len(all)))
		w.Header().Set("Content-Length", fmt.Sprint(to-from+1))
		w.WriteHeader(http.StatusPartialContent)
		if n.Add(1)%3 != 0 {
			io.WriteString(w, all[from:from+1<<20])
		}
		panic(http.ErrAbortHandler)
	}
	if content, err := readAll(p.store(t), "s3://flights/a.csv"); err != nil || content != all {
		t.Errorf("%d bytes of %d come: %v", len(content), len(all), err)
	}
	for _, begins := range []bool{false, true} {
		p := &pretender{objects: p.objects}
		p.fault = func(w http.ResponseWriter, r *http.Request) bool {
			if r.Method == http.MethodHead {
				return false
			}
			if begins {
				w.Header().Set("ETag", etag(all))
				w.Header().Set("Last-Modified", "Sun, 02 Mar 2031 10:15:00 GMT")
				w.Header().Set("Content-Range", strings.Replace(r.Header.Get("Range"), "=", " ", 1)+"/*")
				w.Header().Set("Content-Length", "1000")
				w.WriteHeader(http.StatusPartialContent)
				w.(http.Flusher).Flush()
			}
			panic(http.ErrAbortHandler)
		}
		want := map[bool]string{false: "gave no answer: it closed the connection", true: "gave no answer: unexpected EOF"}[begins]
		var e *Error
		if _, err := readAll(p.store(t), "s3://flights/a.csv"); !errors.As(err, &e) || !strings.HasSuffix(e.Cause, want) || !strings.Contains(e.Help, "and the network, then scan again") {
			t.Errorf("begun %t: the error is %v", begins, err)
		}
	}
}

// TestSilence has a store that holds its answers back: before them, and in the middle.
func TestSilence(t *testing.T) {
	t.Parallel()
	for _, middle := range []bool{false, true} {
		p := &pretender{objects: map[string]string{"a.csv": "content"}}
		var n atomic.Int32
		p.fault = func(w http.ResponseWriter, r *http.Request) bool {
			if r.Method == http.MethodHead || n.Add(1) == 3 {
				return false
			}
			if middle {
				w.Header().Set("ETag", etag("content"))
				w.Header().Set("Last-Modified", "Sun, 02 Mar 2031 10:15:00 GMT")
				w.Header().Set("Content-Length", "7")
				w.(http.Flusher).Flush()
			}
			<-r.Context().Done()
			return true
		}
		s := p.store(t)
		var content string
		err := errSilent
		for silence := 20 * time.Millisecond; err != nil && silence < time.Minute; silence *= 4 { // a busy machine is slow to answer
			n.Store(0)
			s.tries.silence = silence
			content, err = readAll(s, "s3://flights/a.csv")
		}
		if err != nil || content != "content" || n.Load() != 3 {
			t.Errorf("in the middle %t: %q comes at request %d: %v", middle, content, n.Load(), err)
		}
		n.Store(-1000)
		s.tries.silence = 20 * time.Millisecond
		if _, err := readAll(s, "s3://flights/a.csv"); err == nil || !strings.Contains(err.Error(), "gave no answer: it sends nothing, for 20ms") {
			t.Errorf("in the middle %t: the error is %v", middle, err)
		}
	}
}

// TestReplaced exchanges an object while it is read, in a store that knows conditions, and in one that does not.
func TestReplaced(t *testing.T) {
	t.Parallel()
	all := large()
	for _, knows := range []bool{true, false} {
		p := &pretender{objects: map[string]string{"a.csv": all}}
		p.fault = func(w http.ResponseWriter, r *http.Request) bool {
			if condition := r.Header.Get("If-Match"); r.Method == http.MethodGet && condition != etag(all) {
				t.Errorf("the condition is %q", condition)
			}
			if !knows {
				r.Header.Del("If-Match")
			}
			if r.Method == http.MethodGet && !strings.HasPrefix(r.Header.Get("Range"), "bytes=0-") {
				content := all + "and more"
				w.Header().Set("ETag", etag(content))
				http.ServeContent(w, r, "", time.Unix(2e9, 0), strings.NewReader(content))
				return true
			}
			return false
		}
		if _, err := readAll(p.store(t), "s3://flights/a.csv"); err == nil || err.Error() != "s3://flights/a.csv: changed while it was read" {
			t.Errorf("a store that knows conditions, %t: the error is %v", knows, err)
		}
	}
}

// TestNoRanges has a store that sends the whole whatever was asked for.
func TestNoRanges(t *testing.T) {
	t.Parallel()
	all := large()
	p := &pretender{objects: map[string]string{"a.csv": all, "b.csv": all[:1000]}}
	p.fault = func(_ http.ResponseWriter, r *http.Request) bool {
		r.Header.Del("Range")
		return false
	}
	s := p.store(t)
	if content, err := readAll(s, "s3://flights/b.csv"); err != nil || content != all[:1000] {
		t.Errorf("%d bytes come: %v", len(content), err)
	}
	p.asked.Store(0)
	if _, err := readAll(s, "s3://flights/a.csv"); err == nil || !strings.Contains(err.Error(), "does not support requests for a range") || p.asked.Load() > 1+6 {
		t.Errorf("the error after %d requests is %v", p.asked.Load(), err)
	}
}

// TestList lists as a folder: by whole names, over several pages, one of which fails at first, without what stands for a folder.
func TestList(t *testing.T) {
	t.Parallel()
	p := &pretender{objects: map[string]string{"a.csv": "1", "a/": "", "a/1.csv": "12", "a/2 ü+.csv": "123", "a/3.csv": "1234", "b.csv": "12345"}}
	var n atomic.Int32
	p.fault = func(w http.ResponseWriter, r *http.Request) bool {
		failed := r.URL.Query().Has("continuation-token") && n.Add(1) < 4
		if failed {
			refuse(w, r, http.StatusServiceUnavailable, "SlowDown")
		}
		return failed
	}
	s := p.store(t)
	for address, want := range map[string]string{
		"s3://flights/a":  "s3://flights/a/1.csv 2, s3://flights/a/2 ü+.csv 3, s3://flights/a/3.csv 4",
		"s3://flights/a/": "s3://flights/a/1.csv 2, s3://flights/a/2 ü+.csv 3, s3://flights/a/3.csv 4",
		"s3://flights":    "s3://flights/a.csv 1, s3://flights/a/1.csv 2, s3://flights/a/2 ü+.csv 3, s3://flights/a/3.csv 4, s3://flights/b.csv 5",
		"s3://flights/b":  "",
	} {
		found, err := s.List(address)
		var said []string
		for _, o := range found {
			if o.ETag != fmt.Sprint(o.Size) {
				t.Errorf("the ETag of %s is %q", o.Address, o.ETag)
			}
			said = append(said, fmt.Sprint(o.Address, " ", o.Size))
		}
		if got := strings.Join(said, ", "); err != nil || got != want {
			t.Errorf("%s has %s; want %s (%v)", address, got, want, err)
		}
	}
}

// TestRefused: what a store says becomes a cause and a remedy, is like an error of a file where there is one, and is tried again
// only where that may help.
func TestRefused(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		status      int
		code        string
		cause, help string
		like        error
		tries       bool
	}{
		{403, "AccessDenied", "the key id of the environment may not read it", "(s3:GetObject)", fs.ErrPermission, false},
		{403, "InvalidAccessKeyId", "does not accept the key id of the environment (InvalidAccessKeyId)", "check AWS_ACCESS_KEY_ID", nil, false},
		{400, "ExpiredToken", "does not accept the key id of the environment (ExpiredToken)", "temporary keys expire", nil, false},
		{403, "RequestTimeTooSkewed", "the clock of this machine differs from that of the store", "set the clock", nil, false},
		{404, "NoSuchKey", "there is no such object", "check the name", fs.ErrNotExist, false},
		{404, "NoSuchBucket", "has no bucket flights", "AWS_ENDPOINT_URL_S3", nil, false},
		{412, "PreconditionFailed", "changed while it was read", "scan it again", nil, false},
		{401, "Unauthorized", "the key id of the environment may not read it", "(s3:ListBucket)", fs.ErrPermission, false},
		{400, "AuthorizationHeaderMalformed", "is in another region than us-east-1", "that of the bucket, eu-north-1", nil, false},
		{301, "MovedPermanently", "is in another region than us-east-1", "set AWS_REGION", nil, false},
		{301, "PermanentRedirect", "is in another region than us-east-1", "set AWS_REGION", nil, false},
		{403, "InvalidObjectState", "is in the store's archive", "restore it in the store", nil, false},
		{418, "Teapot", "answered 418 Teapot: as it is", "its documentation", nil, false},
		{500, "InternalError", "failed 3 times, the last time with 500 InternalError", "AWS_MAX_ATTEMPTS", nil, true},
		{503, "SlowDown", "failed 3 times, the last time with 503 SlowDown", "AWS_MAX_ATTEMPTS", nil, true},
		{429, "TooManyRequests", "failed 3 times, the last time with 429", "AWS_MAX_ATTEMPTS", nil, true},
	} {
		p := &pretender{objects: map[string]string{}, fault: func(w http.ResponseWriter, r *http.Request) bool {
			refuse(w, r, c.status, c.code)
			return true
		}}
		_, err := p.store(t).List("s3://flights/a")
		var e *Error
		if !errors.As(err, &e) || e.Address != "s3://flights/a" || !strings.Contains(e.Cause, c.cause) || !strings.Contains(e.Hint(), c.help) {
			t.Errorf("%d %s: %v\n%s", c.status, c.code, err, e.Hint())
			continue
		}
		for _, like := range []error{fs.ErrPermission, fs.ErrNotExist} {
			if errors.Is(err, like) != (c.like == like) {
				t.Errorf("%d %s is like %v: %t", c.status, c.code, like, c.like != like)
			}
		}
		if asked := p.asked.Load(); asked > 2 != c.tries || asked > 6 {
			t.Errorf("%d %s: asked %d times", c.status, c.code, asked)
		}
	}
}

// TestReasonOfHead: the answer to HEAD has no body, so that a refused one is asked for its reason.
func TestReasonOfHead(t *testing.T) {
	t.Parallel()
	p := &pretender{objects: map[string]string{}, fault: func(w http.ResponseWriter, r *http.Request) bool {
		refuse(w, r, http.StatusForbidden, "SignatureDoesNotMatch")
		return true
	}}
	if _, err := p.store(t).Stat("s3://flights/a.csv"); err == nil || !strings.Contains(err.Error(), "(SignatureDoesNotMatch)") {
		t.Errorf("the error is %v", err)
	}
}

// TestNoMoreTries: a run that is to end waits for nothing.
func TestNoMoreTries(t *testing.T) {
	t.Parallel()
	p := &pretender{objects: map[string]string{}}
	s := p.store(t)
	s.tries.first, s.tries.last = time.Hour, time.Hour
	p.fault = func(w http.ResponseWriter, r *http.Request) bool {
		s.tries.end()
		refuse(w, r, http.StatusServiceUnavailable, "SlowDown")
		return true
	}
	if _, err := s.List("s3://flights"); err == nil || !strings.Contains(err.Error(), "503 SlowDown") || p.asked.Load() > 2 {
		t.Errorf("the error after %d requests is %v", p.asked.Load(), err)
	}
}
