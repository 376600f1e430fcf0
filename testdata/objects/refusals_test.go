package objects

import (
	"context"
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// permit lets a user do one thing with a bucket (bucket policies: Amazon S3 User Guide, "Policies and permissions").
func permit(t *testing.T, bucket, statements string) {
	t.Helper()
	if err := client.SetBucketPolicy(context.Background(), bucket, `{"Version":"2012-10-17","Statement":[`+statements+`]}`); err != nil {
		t.Fatal(err)
	}
}

// TestRefusals: what a user may not do or mistypes is one clear error with a remedy, and exit code 1; with others it is done.
func TestRefusals(t *testing.T) {
	t.Parallel()
	folder := few(t)
	profile := filepath.Join(folder, "th120.yaml")
	put(t, folder, "refused", "night/")
	permit(t, "refused", `{"Effect":"Allow","Principal":{"AWS":["lister"]},"Action":["s3:ListBucket"],"Resource":["arn:aws:s3:::refused"]},
		{"Effect":"Allow","Principal":{"AWS":["getter"]},"Action":["s3:GetObject"],"Resource":["arn:aws:s3:::refused/*"]}`)
	store := "http://" + gateway
	for name, c := range map[string]struct {
		user    string
		more    string // of the environment
		args    []string
		code    int
		errors  int
		message []string
	}{
		"nothing permitted": {user: stranger, args: []string{"s3://refused/night"}, code: 1, errors: 1,
			message: []string{"s3://refused/night: the key stranger of the environment may not read it", "hint: let it list the bucket refused (s3:ListBucket) and get its objects (s3:GetObject)"}},
		"listing alone": {user: lister, args: []string{"s3://refused/night/"}, code: 1, errors: 5,
			message: []string{"s3://refused/night/tarnholm-07.csv.gz: the key lister of the environment may not read it", "s3:GetObject"}},
		"getting alone, a prefix": {user: getter, args: []string{"s3://refused/night/"}, code: 1, errors: 1,
			message: []string{"s3://refused/night/: the key getter of the environment may not read it", "s3:ListBucket"}},
		"getting alone, an object": {user: getter, args: []string{"s3://refused/night/tarnholm-07.csv.gz"}},
		"a key that is not known": {user: "nobody", args: []string{"s3://refused/night"}, code: 1, errors: 1,
			message: []string{"does not accept the key nobody of the environment (InvalidAccessKeyId)", "hint: check AWS_ACCESS_KEY_ID, AWS_SECRET_ACCESS_KEY"}},
		"a wrong secret": {user: owner, more: "AWS_SECRET_ACCESS_KEY=wrong", args: []string{"s3://refused/night"}, code: 1, errors: 1,
			message: []string{"does not accept the key owner of the environment (SignatureDoesNotMatch)"}},
		"no key": {user: "", more: "AWS_SECRET_ACCESS_KEY=", args: []string{"s3://refused/night"}, code: 1, errors: 1,
			message: []string{"a request without a key may not read it", "hint: no key was found: set AWS_ACCESS_KEY_ID"}},
		"another region": {user: owner, more: "AWS_REGION=eu-north-1", args: []string{"s3://refused/night"}, code: 1, errors: 1,
			message: []string{"the bucket refused is in another region than eu-north-1", "hint: set AWS_REGION to that of the bucket, us-east-1"}},
		"no such bucket": {user: owner, args: []string{"s3://not-there/night"}, code: 1, errors: 1,
			message: []string{"s3://not-there/night: the store " + gateway + " has no bucket not-there", "hint: check the name"}},
		"no such bucket, which may be empty": {user: owner, args: []string{"--allow-empty", "s3://not-there"}, code: 1, errors: 1,
			message: []string{"has no bucket not-there"}},
		"no bucket": {user: owner, args: []string{"s3://"}, code: 1, errors: 1, message: []string{"names no bucket"}},
		"nothing there": {user: owner, args: []string{"s3://refused/nigh"}, code: 1, errors: 1,
			message: []string{"s3://refused/nigh: there is no such object, nor any below it", "hint: check the address: a prefix ends at a slash of the names"}},
		"nothing there, which may be": {user: owner, args: []string{"--allow-empty", "s3://refused/nigh"}, message: []string{"s3://refused/nigh: is missing, which --allow-empty accepts"}},
		"no store": {user: owner, more: "AWS_ENDPOINT_URL_S3=http://127.0.0.1:1", args: []string{"s3://refused/night"}, code: 1, errors: 1,
			message: []string{"the store 127.0.0.1:1 gave no answer", "refused", "hint: check AWS_ENDPOINT_URL_S3"}},
		"not encrypted": {user: owner, more: "AWS_ENDPOINT_URL_S3=https://" + gateway, args: []string{"s3://refused/night"}, code: 1, errors: 1,
			message: []string{"gave no answer: http: server gave HTTP response to HTTPS client", "write http://"}},
		"and others": {user: owner, args: []string{"s3://not-there", filepath.Join(folder, "tarnholm-07.csv.gz"), "s3://refused/night/tarnholm-08.csv.gz"}, code: 1, errors: 1,
			message: []string{"has no bucket not-there"}},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			cmd := process(t, store, c.user, append([]string{"scan", "-q", "--profile", profile, "--out", filepath.Join(t.TempDir(), "reports")}, c.args...)...)
			cmd.Env = append(cmd.Env, "AWS_MAX_ATTEMPTS=2", c.more)
			r := finish(t, cmd)
			if r.code != c.code || strings.Count(r.message, "error:") != c.errors {
				t.Errorf("exit code %d, want %d with %d errors: %s", r.code, c.code, c.errors, r.message)
			}
			for _, want := range c.message {
				if !strings.Contains(r.message, want) {
					t.Errorf("%q is not in %s", want, r.message)
				}
			}
		})
	}
}

// TestSharedFiles takes store and key from the files that programs share, in the ways they may stand there.
func TestSharedFiles(t *testing.T) {
	t.Parallel()
	folder := few(t)
	put(t, folder, "shared", "")
	profile := filepath.Join(folder, "th120.yaml")
	key := fmt.Sprintf("aws_access_key_id = %s\naws_secret_access_key = %s\n", owner, secret)
	for name, c := range map[string]struct {
		credentials, config string
		profile             string
	}{
		"endpoint of the profile": {"[default]\n" + key, "[default]\nregion = us-east-1\nendpoint_url = http://" + gateway + "\n", ""},
		"endpoint of a service":   {"[night]\n" + key, "[profile night]\nservices = here\n[services here]\ns3 =\n  endpoint_url = http://" + gateway + "\n", "night"},
		"key in the settings":     {"", "[profile night]\n" + key + "endpoint_url = http://" + gateway + "\n", "night"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			cmd := process(t, "", "", "scan", "-q", "--profile", profile, "--out", filepath.Join(t.TempDir(), "reports"), "s3://shared/tarnholm-07.csv.gz")
			cmd.Env = []string{"HOME=" + cmd.Dir, "AWS_EC2_METADATA_DISABLED=true", "AWS_PROFILE=" + c.profile}
			for file, text := range map[string]string{"credentials": c.credentials, "config": c.config} {
				if err := os.MkdirAll(filepath.Join(cmd.Dir, ".aws"), 0o700); err != nil {
					t.Fatal(err)
				}
				if err := os.WriteFile(filepath.Join(cmd.Dir, ".aws", file), []byte(text), 0o600); err != nil {
					t.Fatal(err)
				}
			}
			if r := finish(t, cmd); r.code != 0 {
				t.Errorf("exit code %d: %s", r.code, r.message)
			}
		})
	}
}

// TestHandedOut takes a key from the service that hands them out to a container ("AWS SDKs and Tools Reference Guide", "Container
// credential provider"), and from a program ("Process credential provider").
func TestHandedOut(t *testing.T) {
	t.Parallel()
	folder := few(t)
	put(t, folder, "handed-out", "")
	profile := filepath.Join(folder, "th120.yaml")
	service := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.URL.Path != "/key" {
			http.NotFound(w, r)
			return
		}
		fmt.Fprintf(w, `{"AccessKeyId":%q,"SecretAccessKey":%q,"Expiration":"2099-01-01T00:00:00Z"}`, owner, secret)
	}))
	t.Cleanup(service.Close)
	giver := filepath.Join(t.TempDir(), "giver")
	text := fmt.Sprintf("#!/bin/sh\necho '{\"Version\":1,\"AccessKeyId\":%q,\"SecretAccessKey\":%q}'\n", owner, secret)
	if err := os.WriteFile(giver, []byte(text), 0o700); err != nil {
		t.Fatal(err)
	}
	config := filepath.Join(t.TempDir(), "config")
	if err := os.WriteFile(config, []byte("[default]\ncredential_process = "+giver+" now\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	broken := filepath.Join(t.TempDir(), "config")
	if err := os.WriteFile(broken, []byte("[default]\ncredential_process = false now\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct {
		env  string
		code int
		says string
	}{
		"broken program":         {"AWS_CONFIG_FILE=" + broken, 1, "the credential_process of the profile default in the shared file gave no key"},
		"container":              {"AWS_CONTAINER_CREDENTIALS_FULL_URI=" + service.URL + "/key", 0, ""},
		"container without role": {"AWS_CONTAINER_CREDENTIALS_FULL_URI=" + service.URL + "/none", 1, "the service that gives this machine its keys gave none: 404"},
		"program":                {"AWS_CONFIG_FILE=" + config, 0, ""},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			cmd := process(t, "", "", "scan", "-q", "--profile", profile, "--out", filepath.Join(t.TempDir(), "reports"), "s3://handed-out/tarnholm-07.csv.gz")
			cmd.Env = []string{"HOME=" + cmd.Dir, "AWS_ENDPOINT_URL_S3=http://" + gateway, "AWS_EC2_METADATA_DISABLED=true", c.env}
			if r := finish(t, cmd); r.code != c.code || !strings.Contains(r.message, c.says) {
				t.Errorf("exit code %d: %s", r.code, r.message)
			}
		})
	}
}
