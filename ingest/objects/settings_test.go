package objects

import (
	"encoding/pem"
	"errors"
	"io"
	"log"
	"maps"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// TestSettings: names and precedence of the "AWS SDKs and Tools Reference Guide", settings reference: the environment goes before
// the files, a service before all of them, the file of credentials before that of settings.
func TestSettings(t *testing.T) {
	t.Parallel()
	keys := map[string]string{"AWS_ACCESS_KEY_ID": "id", "AWS_SECRET_ACCESS_KEY": "secret"}
	const here, there = "[default]\naws_access_key_id = here\naws_secret_access_key = s;e#c%(r)et\n", "[profile other]\naws_access_key_id = there\naws_secret_access_key = x\nregion = eu-west-2\nendpoint_url = https://files.example\n"
	for name, c := range map[string]struct {
		env                       map[string]string
		credentials, config       string
		endpoint, region, id, say string
	}{
		"AWS":                  {env: keys, endpoint: "s3.amazonaws.com", id: "id"},
		"region":               {env: map[string]string{"AWS_REGION": "eu-central-1", "AWS_DEFAULT_REGION": "x"}, credentials: here, endpoint: "s3.amazonaws.com", region: "eu-central-1", id: "here"},
		"older region":         {env: map[string]string{"AWS_DEFAULT_REGION": "eu-central-1"}, credentials: here, endpoint: "s3.amazonaws.com", region: "eu-central-1", id: "here"},
		"a store":              {env: map[string]string{"AWS_ENDPOINT_URL": "http://store.example:9000/"}, credentials: here, endpoint: "store.example:9000", region: "us-east-1", id: "here"},
		"a store for S3":       {env: map[string]string{"AWS_ENDPOINT_URL": "http://x", "AWS_ENDPOINT_URL_S3": "https://s3.example"}, credentials: here, endpoint: "s3.example", region: "us-east-1", id: "here"},
		"a profile":            {env: map[string]string{"AWS_PROFILE": "other"}, config: there, endpoint: "files.example", region: "eu-west-2", id: "there"},
		"environment first":    {env: map[string]string{"AWS_PROFILE": "other", "AWS_ENDPOINT_URL": "https://s3.example", "AWS_REGION": "r", "AWS_ACCESS_KEY_ID": "id", "AWS_SECRET_ACCESS_KEY": "secret"}, config: there, endpoint: "s3.example", region: "r", id: "id"},
		"credentials first":    {env: map[string]string{"AWS_PROFILE": "other"}, credentials: "[other]\naws_access_key_id = first\naws_secret_access_key = y\n", config: there, endpoint: "files.example", region: "eu-west-2", id: "first"},
		"a service":            {credentials: here, config: "[default]\nservices = all\nendpoint_url = https://x\n[services all]\ns3 =\n  endpoint_url = https://service.example\n", endpoint: "service.example", region: "us-east-1", id: "here"},
		"titled profile":       {env: map[string]string{"AWS_PROFILE": "other"}, config: "[other]\naws_access_key_id = x\naws_secret_access_key = y\n" + there, endpoint: "files.example", region: "eu-west-2", id: "there"},
		"no such service":      {credentials: here, config: "[default]\nservices = none\nendpoint_url = https://x.example\n[services]\ns3 =\n  endpoint_url = https://y\n", endpoint: "x.example", region: "us-east-1", id: "here"},
		"one attempt":          {env: map[string]string{"AWS_MAX_ATTEMPTS": "1"}, credentials: here, endpoint: "s3.amazonaws.com", id: "here"},
		"no endpoints":         {env: map[string]string{"AWS_IGNORE_CONFIGURED_ENDPOINT_URLS": "true", "AWS_ENDPOINT_URL": "https://s3.example"}, credentials: here, endpoint: "s3.amazonaws.com", id: "here"},
		"nobody":               {endpoint: "s3.amazonaws.com"},
		"half a key":           {env: map[string]string{"AWS_ACCESS_KEY_ID": "id"}, say: "only one of AWS_ACCESS_KEY_ID and AWS_SECRET_ACCESS_KEY is set"},
		"no such profile":      {env: map[string]string{"AWS_PROFILE": "none"}, config: there, say: `AWS_PROFILE is "none", and the shared files have no such profile`},
		"no address":           {env: map[string]string{"AWS_ENDPOINT_URL": "store.example:9000"}, say: "the address of the store, \"store.example:9000\", is not valid"},
		"an address with path": {env: map[string]string{"AWS_ENDPOINT_URL": "https://store.example/flights"}, say: "is not valid"},
		"no attempts":          {env: map[string]string{"AWS_MAX_ATTEMPTS": "0"}, say: "AWS_MAX_ATTEMPTS"},
		"no such file":         {credentials: "[default\n", say: "cannot be read"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			env := map[string]string{"AWS_EC2_METADATA_DISABLED": "true"}
			maps.Copy(env, c.env)
			for variable, text := range map[string]string{"AWS_SHARED_CREDENTIALS_FILE": c.credentials, "AWS_CONFIG_FILE": c.config} {
				if env[variable] = filepath.Join(t.TempDir(), "file"); text == "" {
					continue
				}
				if err := os.WriteFile(env[variable], []byte(text), 0o600); err != nil {
					t.Fatal(err)
				}
			}
			s, err := readSettings(environmentOf(env))
			if c.say != "" {
				if err == nil || !strings.Contains(err.Error(), c.say) {
					t.Fatalf("the error is %v", err)
				}
				return
			}
			if err != nil {
				t.Fatal(err)
			}
			value, err := s.keys.GetWithContext(nil)
			if err != nil || value.AccessKeyID != c.id || c.id == "here" && value.SecretAccessKey != "s;e#c%(r)et" {
				t.Errorf("the key is %q %q: %v", value.AccessKeyID, value.SecretAccessKey, err)
			}
			if s.String() != c.endpoint || s.region != c.region || s.anonymous != (c.id == "") {
				t.Errorf("the store is %s, region %q, anonymous %t", s, s.region, s.anonymous)
			}
			if _, err := s.client(); err != nil {
				t.Error(err)
			}
		})
	}
}

// TestCertificates: a store of one's own is trusted by the file that AWS_CA_BUNDLE names, and not asked again without.
func TestCertificates(t *testing.T) {
	t.Parallel()
	p := &pretender{objects: map[string]string{"a.csv": "content"}}
	server := httptest.NewUnstartedServer(p)
	server.Config.ErrorLog = log.New(io.Discard, "", 0)
	server.StartTLS()
	t.Cleanup(server.Close)
	certificate := string(pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: server.Certificate().Raw}))
	for name, c := range map[string]struct{ bundle, says string }{
		"trusted":                    {certificate, ""},
		"trusted by the shared file": {certificate, ""},
		"not trusted":                {"", "give the certificate that signs it in AWS_CA_BUNDLE"},
		"no certificate":             {"none", "name a file of certificates in PEM"},
	} {
		env := map[string]string{"AWS_ENDPOINT_URL_S3": server.URL, "AWS_ACCESS_KEY_ID": "id", "AWS_SECRET_ACCESS_KEY": "secret"}
		if c.bundle != "" {
			env["AWS_CA_BUNDLE"] = filepath.Join(t.TempDir(), "bundle.pem")
			if err := os.WriteFile(env["AWS_CA_BUNDLE"], []byte(c.bundle), 0o600); err != nil {
				t.Fatal(err)
			}
		}
		if name == "trusted by the shared file" {
			env["AWS_CONFIG_FILE"] = filepath.Join(t.TempDir(), "config")
			if err := os.WriteFile(env["AWS_CONFIG_FILE"], []byte("[default]\nca_bundle = "+env["AWS_CA_BUNDLE"]+"\n"), 0o600); err != nil {
				t.Fatal(err)
			}
			delete(env, "AWS_CA_BUNDLE")
		}
		s := New(environmentOf(env))
		s.tries.first, s.tries.last = time.Hour, time.Hour
		content, err := readAll(s, "s3://flights/a.csv")
		var e *Error
		if c.says == "" && (err != nil || content != "content") || c.says != "" && (!errors.As(err, &e) || !strings.Contains(e.Help, c.says)) {
			t.Errorf("%s: %q comes: %v", name, content, err)
		}
	}
}

// TestSessionToken: a temporary key has a token, in the header that the API reference names.
func TestSessionToken(t *testing.T) {
	t.Parallel()
	p := &pretender{objects: map[string]string{"a.csv": "content"}}
	p.fault = func(w http.ResponseWriter, r *http.Request) bool {
		wrong := r.Header.Get("X-Amz-Security-Token") != "temporary"
		if wrong {
			refuse(w, r, http.StatusForbidden, "InvalidToken")
		}
		return wrong
	}
	server := httptest.NewServer(p)
	t.Cleanup(server.Close)
	env := map[string]string{"AWS_ENDPOINT_URL_S3": server.URL, "AWS_ACCESS_KEY_ID": "id", "AWS_SECRET_ACCESS_KEY": "secret", "AWS_SESSION_TOKEN": "temporary"}
	if content, err := readAll(New(environmentOf(env)), "s3://flights/a.csv"); err != nil || content != "content" {
		t.Errorf("%q comes: %v", content, err)
	}
}
