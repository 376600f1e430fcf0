package desk

import (
	"bytes"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"io"
	"math/big"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"downlock/cmd/downlock/command"
	"downlock/report/archive"
	"downlock/report/identity"
	"downlock/schemas"
)

func TestMistakesInFlags(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	for _, c := range []struct {
		args []string
		code int
		says string
	}{
		{nil, command.ExitUsage, "needs --archive"},
		{[]string{"--archive", dir, "more"}, command.ExitUsage, "takes no"},
		{[]string{"--archive", dir, "--listen", "8080"}, command.ExitUsage, "is not an address"},
		{[]string{"--archive", dir, "--listen", "0.0.0.0:0"}, command.ExitUsage, "needs --cert and --key"},
		{[]string{"--archive", dir, "--listen", ":0"}, command.ExitUsage, "needs --cert and --key"},
		{[]string{"--archive", dir, "--listen", "[::]:0"}, command.ExitUsage, "needs --cert and --key"},
		{[]string{"--archive", dir, "--listen", "localhost.elsewhere.example:0"}, command.ExitUsage, "needs --cert and --key"},
		{[]string{"--archive", dir, "--cert", "x"}, command.ExitUsage, "go together"},
		{[]string{"--archive", dir, "--cert", "x", "--key", "y"}, command.ExitInvalid, "x, y"},
		{[]string{"--archive", dir, "--rules", filepath.Join(dir, "none.yaml")}, command.ExitInvalid, "none.yaml"},
		{[]string{"--archive", dir}, command.ExitOutput, "is not an archive"},
		{[]string{"--archive", filepath.Join(dir, "none")}, command.ExitOutput, "is not an archive"},
	} {
		var out, said bytes.Buffer
		code := Command(c.args, &out, &said)
		if code != c.code || !strings.Contains(said.String(), c.says) || out.Len() > 0 {
			t.Errorf("%q ends with %d: %s%s", c.args, code, out.String(), said.String())
		}
	}
}

var eventID = regexp.MustCompile(`data-event="(E[0-9a-f]{12})"`)

func firstEvent(t testing.TB, d *opened) string {
	t.Helper()
	_, body := d.get(t, "/?state=all")
	found := eventID.FindStringSubmatch(body)
	if found == nil {
		t.Fatalf("no event: %.300s", body)
	}
	return found[1]
}

// A report is made from the recording while that is there and unchanged, and from the
// profile it was scanned with; else the stored one is shown.
func TestReports(t *testing.T) {
	t.Parallel()
	dir, reports, downloads := scanned(t, "--samples", "all")
	d := open(t, deskOptions{archive: dir})
	id := firstEvent(t, d)
	code, made := d.get(t, "/report/"+id)
	if code != 200 || !strings.Contains(made, "Configuration events of one flight") {
		t.Fatalf("%d %.300s", code, made)
	}
	// It is the page that scan wrote, without the link to the index beside it.
	const index = `<a href="../index.html">All flights of the run</a>`
	var stored []byte
	pages, err := filepath.Glob(filepath.Join(reports, "*", "report.html"))
	if err != nil {
		t.Fatal(err)
	}
	if !slices.ContainsFunc(pages, func(page string) bool {
		stored, _ = os.ReadFile(page)
		return strings.Contains(string(stored), index) && strings.Replace(string(stored), index, "", 1) == made
	}) {
		t.Error("the page is none of those that scan wrote")
	}
	// The verdicts given since are on it.
	form := url.Values{"event": {id}, "verdict": {"follow-up"}, "by": {"Analyst A"}, "comment": {"ask maintenance"}, "seen": {"9999999999999"}}
	r, err := http.NewRequest("POST", d.url+"/verdict", strings.NewReader(form.Encode()))
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Origin", d.url)
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	reply, err := d.client.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	reply.Body.Close()
	if _, after := d.get(t, "/report/"+id); !strings.Contains(after, "ask maintenance") {
		t.Error("the report lacks the verdict")
	}
	// With another registration it would be another report.
	other := open(t, deskOptions{archive: dir, again: again("TH-ABC")})
	if code, body := other.get(t, "/report/"+id); code != 404 || !strings.Contains(body, "another profile, registration") {
		t.Errorf("with another registration: %d %.300s", code, body)
	}
	if err := os.RemoveAll(downloads); err != nil {
		t.Fatal(err)
	}
	if code, body := d.get(t, "/report/"+id); code != 404 || !strings.Contains(body, "no longer where it was") || strings.Contains(body, downloads) {
		t.Errorf("without recordings: %d %.300s", code, body)
	}
	kept := open(t, deskOptions{archive: dir, reports: reports})
	if code, body := kept.get(t, "/report/"+id); code != 200 || body != made {
		t.Errorf("the stored report: %d %.300s", code, body)
	}
}

// In an archive without identity no page shows what the archive does not hold: not by the
// ledger, not from reports with names that lie beside. And no verdict is given without the
// key, and none with a name with it.
func TestDeidentified(t *testing.T) {
	t.Parallel()
	from, err := exports()
	if err != nil {
		t.Fatal(err)
	}
	work := t.TempDir()
	key, dir, named := filepath.Join(work, "key"), filepath.Join(work, "fleet"), filepath.Join(work, "named")
	if err := os.WriteFile(key, bytes.Repeat([]byte("k7"), 16), 0o600); err != nil {
		t.Fatal(err)
	}
	scanInto(t, "--aircraft", "TH-KXN", "--out", named, from)
	scanInto(t, "--aircraft", "TH-KXN", "--deidentify", key, "--archive", dir, from)
	d := open(t, deskOptions{archive: dir, reports: named})
	id := firstEvent(t, d)
	seen := 0
	for _, path := range []string{"/", "/?state=all&order=oldest+first", "/?aircraft=TH-KXN", "/occurrence/" + id, "/fleet/" + id, "/report/" + id, "/trends", "/nights"} {
		code, body := d.get(t, path)
		if path == "/?aircraft=TH-KXN" {
			body = strings.ReplaceAll(body, `name="aircraft" value="TH-KXN"`, "") // as it was typed
		}
		for _, secret := range []string{"TH-KXN", "tarnholm", from, "2031-03-1", "2031-03-2", "N46.1"} {
			if strings.Contains(body, secret) {
				t.Errorf("%s (%d) shows %s", path, code, secret)
			}
		}
		if strings.Contains(body, "2031-03") {
			seen++ // the month may be shown
		}
	}
	if seen == 0 {
		t.Error("no page shows even the month")
	}
	give := func(d *opened) (code int, body string) {
		form := url.Values{"event": {id}, "verdict": {"valid"}, "by": {"Analyst A"}, "seen": {"9999999999999"}}
		r, err := http.NewRequest("POST", d.url+"/verdict", strings.NewReader(form.Encode()))
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("Origin", d.url)
		r.Header.Set("Accept", "application/json")
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		reply, err := d.client.Do(r)
		if err != nil {
			t.Fatal(err)
		}
		defer reply.Body.Close()
		text, _ := io.ReadAll(reply.Body)
		return reply.StatusCode, string(text)
	}
	if code, body := give(d); code != 403 || !strings.Contains(body, "without its key") || len(verdicts(t, dir)) != 0 {
		t.Errorf("without the key: %d %s", code, body)
	}
	withKey := open(t, deskOptions{archive: dir, deidentify: key})
	withKey.get(t, "/")
	if code, body := give(withKey); code != 200 {
		t.Errorf("with the key: %d %s", code, body)
	}
	secret, _, err := identity.ReadKey(key)
	if err != nil {
		t.Fatal(err)
	}
	if by := verdicts(t, dir)[id].By; by != secret.Token(identity.Person, "Analyst A") || strings.Contains(by, "Analyst A") {
		t.Errorf("by %s", by)
	}
}

// Over TLS the desk answers to the names of its certificate, and its cookie is Secure.
func TestOverTLS(t *testing.T) {
	t.Parallel()
	dir, _, _ := scanned(t)
	cert, key := selfSigned(t, "desk.example")
	d := open(t, deskOptions{archive: dir, cert: cert, key: key})
	if !strings.HasPrefix(d.address, "https://desk.example:") {
		t.Fatalf("address %s", d.address)
	}
	_, port, _ := strings.Cut(strings.TrimPrefix(d.url, "https://"), ":")
	client := &http.Client{Transport: &http.Transport{TLSClientConfig: &tls.Config{InsecureSkipVerify: true}},
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	for host, want := range map[string]int{"desk.example:" + port: 303, "127.0.0.1:" + port: 421, "desk.example": 421} {
		r, err := http.NewRequest("GET", "https://127.0.0.1:"+port+strings.TrimPrefix(d.address, d.url), nil)
		if err != nil {
			t.Fatal(err)
		}
		r.Host = host
		reply, err := client.Do(r)
		if err != nil {
			t.Fatal(err)
		}
		reply.Body.Close()
		if reply.StatusCode != want {
			t.Errorf("as %s: %d", host, reply.StatusCode)
		}
		if set := reply.Header.Get("Set-Cookie"); want == 303 && !strings.Contains(set, "Secure") {
			t.Errorf("cookie %s", set)
		}
	}
}

func selfSigned(t *testing.T, name string) (cert, key string) {
	t.Helper()
	private, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	about := &x509.Certificate{SerialNumber: big.NewInt(1), Subject: pkix.Name{CommonName: name}, DNSNames: []string{name}, NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour)}
	der, err := x509.CreateCertificate(rand.Reader, about, about, &private.PublicKey, private)
	if err != nil {
		t.Fatal(err)
	}
	secret, err := x509.MarshalPKCS8PrivateKey(private)
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	cert, key = filepath.Join(dir, "cert.pem"), filepath.Join(dir, "key.pem")
	for path, block := range map[string]*pem.Block{cert: {Type: "CERTIFICATE", Bytes: der}, key: {Type: "PRIVATE KEY", Bytes: secret}} {
		if err := os.WriteFile(path, pem.EncodeToMemory(block), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	return cert, key
}

// The ledger says of each recording which file it is from.
func TestSources(t *testing.T) {
	t.Parallel()
	dir, _, downloads := scanned(t)
	found := 0
	err := archive.Flights(dir, "", func(_ string, f *schemas.FlightRow) error {
		sources, err := archive.Sources(dir, f.Recording)
		if err != nil {
			return err
		}
		if len(sources) != 1 || sources[0].Path != filepath.Join(downloads, f.RecordingName) {
			t.Errorf("%s: %+v", f.RecordingName, sources)
		}
		found++
		return nil
	})
	if err != nil || found == 0 {
		t.Error(found, err)
	}
	for _, none := range []string{"", "00", strings.Repeat("0", 64), "../../x"} {
		if sources, err := archive.Sources(dir, none); err != nil || len(sources) > 0 {
			t.Errorf("%q: %v %v", none, sources, err)
		}
	}
}
