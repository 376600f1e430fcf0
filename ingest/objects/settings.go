package objects

import (
	"cmp"
	"crypto/x509"
	"errors"
	"fmt"
	"io/fs"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"github.com/go-ini/ini"
	"github.com/minio/minio-go/v7"
	"github.com/minio/minio-go/v7/pkg/credentials"
)

// settings say where the store is and who asks. Names and precedence are those of the "AWS SDKs and Tools
// Reference Guide", settings reference.
type settings struct {
	endpoint  *url.URL // nil for that of AWS
	region    string   // "" where the store is to say it
	attempts  int
	keys      *credentials.Credentials
	who       string // for messages
	anonymous bool
	bundle    string // file of certificates, "" for those of the system
}

// environment is what a process is given.
type environment struct {
	getenv func(string) string
	shared sharedFiles
}

// first returns the first variable that is set.
func (e environment) first(names ...string) string {
	for _, name := range names {
		if value := e.getenv(name); value != "" {
			return value
		}
	}
	return ""
}

func readSettings(getenv func(string) string) (*settings, error) {
	shared, err := readShared(getenv)
	if err != nil {
		return nil, err
	}
	e := environment{getenv, shared}
	s := &settings{bundle: e.first("AWS_CA_BUNDLE"), attempts: usualTries().most}
	if s.bundle == "" {
		s.bundle = shared.value("ca_bundle")
	}
	if text := e.first("AWS_MAX_ATTEMPTS"); text != "" {
		if s.attempts, err = strconv.Atoi(text); err != nil || s.attempts < 1 {
			return nil, &Error{Cause: fmt.Sprintf("AWS_MAX_ATTEMPTS is %q, which is no number of attempts", text), Help: "set it to 1 or more"}
		}
	}
	if err := s.setEndpoint(e); err != nil {
		return nil, err
	}
	s.region = cmp.Or(e.first("AWS_REGION", "AWS_DEFAULT_REGION"), shared.value("region"))
	if s.region == "" && s.endpoint != nil {
		s.region = "us-east-1" // stores of one place take any, and this one most of all
	}
	return s, s.setKeys(e)
}

func (s *settings) setEndpoint(e environment) error {
	text := ""
	if ignored, _ := strconv.ParseBool(e.first("AWS_IGNORE_CONFIGURED_ENDPOINT_URLS")); !ignored {
		text = cmp.Or(e.first("AWS_ENDPOINT_URL_S3", "AWS_ENDPOINT_URL"), e.shared.service("s3", "endpoint_url"), e.shared.value("endpoint_url"))
	}
	if text == "" {
		return nil
	}
	u, err := url.Parse(text)
	if err != nil || u.Host == "" || u.Scheme != "http" && u.Scheme != "https" || strings.Trim(u.Path, "/") != "" {
		return &Error{Cause: fmt.Sprintf("the address of the store, %q, is not valid", text),
			Help: "set AWS_ENDPOINT_URL_S3, or endpoint_url in the shared file, to https:// and its host name, without a path"}
	}
	s.endpoint = u
	return nil
}

// setKeys looks for the keys where programs for such stores do: in the environment, in the shared files, and
// with the service that hands them out to the machine.
func (s *settings) setKeys(e environment) error {
	id, secret := e.first("AWS_ACCESS_KEY_ID"), e.first("AWS_SECRET_ACCESS_KEY")
	switch {
	case id != "" && secret != "":
		s.keys, s.who = credentials.NewStaticV4(id, secret, e.first("AWS_SESSION_TOKEN")), "the key "+id+" of the environment"
		return nil
	case id != "" || secret != "":
		return &Error{Cause: "only one of AWS_ACCESS_KEY_ID and AWS_SECRET_ACCESS_KEY is set", Help: "set both, or none to use the shared file"}
	}
	of := fmt.Sprintf("of the profile %s in the shared file", e.shared.profile)
	if section := e.shared.with("credential_process"); section != nil {
		s.keys, s.who = credentials.NewFileAWSCredentials(section.file, section.Name()), "the key "+of
		if _, err := s.keys.GetWithContext(nil); err != nil {
			return &Error{Cause: "the credential_process " + of + " gave no key: " + err.Error(), Help: "it must be a program with at least one argument that prints a key as JSON"}
		}
		return nil
	}
	if id := e.shared.value("aws_access_key_id"); id != "" {
		s.keys, s.who = credentials.NewStaticV4(id, e.shared.value("aws_secret_access_key"), e.shared.value("aws_session_token")), "the key "+id+" "+of
		return nil
	}
	given := e.first("AWS_WEB_IDENTITY_TOKEN_FILE", "AWS_CONTAINER_CREDENTIALS_FULL_URI", "AWS_CONTAINER_CREDENTIALS_RELATIVE_URI") != ""
	if off, _ := strconv.ParseBool(e.first("AWS_EC2_METADATA_DISABLED")); given || !off {
		wait := 2 * time.Second // outside such a machine nobody answers
		if given {
			wait = 30 * time.Second
		}
		keys := credentials.New(&credentials.IAM{Client: &http.Client{Timeout: wait}, Region: s.region})
		_, err := keys.GetWithContext(nil)
		if err == nil {
			s.keys, s.who = keys, "the role of this machine"
			return nil
		}
		if given {
			return &Error{Cause: "the service that gives this machine its keys gave none: " + err.Error(), Help: "check AWS_WEB_IDENTITY_TOKEN_FILE and AWS_ROLE_ARN, or the role of the container"}
		}
	}
	s.keys, s.who, s.anonymous = credentials.NewStatic("", "", "", credentials.SignatureAnonymous), "a request without a key", true
	return nil
}

func (s *settings) String() string {
	if s.endpoint == nil {
		return "s3.amazonaws.com"
	}
	return s.endpoint.Host
}

// client returns a client that leaves nearly all trying again to tries: of its own two, one is for
// the region that the store says a bucket is in.
func (s *settings) client() (*minio.Client, error) {
	options := &minio.Options{Creds: s.keys, Secure: s.endpoint == nil || s.endpoint.Scheme == "https", Region: s.region, MaxRetries: 2}
	transport, err := minio.DefaultTransport(options.Secure)
	if err != nil {
		return nil, err
	}
	if options.Secure && s.bundle != "" {
		pem, err := os.ReadFile(s.bundle)
		pool := x509.NewCertPool()
		if err != nil || !pool.AppendCertsFromPEM(pem) {
			return nil, &Error{Cause: fmt.Sprintf("AWS_CA_BUNDLE names %s, which holds no certificate that can be read", s.bundle), Help: "name a file of certificates in PEM"}
		}
		transport.TLSClientConfig.RootCAs = pool
	}
	options.Transport = transport
	client, err := minio.New(s.String(), options)
	if err != nil {
		return nil, &Error{Cause: fmt.Sprintf("the store %s: %v", s, err), Help: "check AWS_ENDPOINT_URL_S3"}
	}
	return client, nil
}

// sharedFiles are the sections of a profile in the files of credentials and settings, the file of
// credentials first.
type sharedFiles struct {
	profile  string
	sections []sharedSection
	config   *ini.File
}

type sharedSection struct {
	*ini.Section
	file string
}

func readShared(getenv func(string) string) (shared sharedFiles, err error) {
	shared.profile = cmp.Or(getenv("AWS_PROFILE"), "default")
	home, _ := os.UserHomeDir()
	for _, file := range []struct {
		path   string
		titles []string // of the section
	}{
		{cmp.Or(getenv("AWS_SHARED_CREDENTIALS_FILE"), filepath.Join(home, ".aws", "credentials")), []string{shared.profile}},
		{cmp.Or(getenv("AWS_CONFIG_FILE"), filepath.Join(home, ".aws", "config")), []string{"profile " + shared.profile, shared.profile}},
	} {
		read, err := ini.LoadSources(ini.LoadOptions{AllowNestedValues: true, SpaceBeforeInlineComment: true}, file.path)
		if errors.Is(err, fs.ErrNotExist) {
			continue
		}
		if err != nil {
			return shared, &Error{Cause: fmt.Sprintf("the shared file %s cannot be read: %v", file.path, err), Help: "it has sections in brackets, with lines of the form name = value"}
		}
		shared.config = read // the last one is that of settings
		for _, title := range file.titles {
			if read.HasSection(title) {
				section, _ := read.GetSection(title)
				shared.sections = append(shared.sections, sharedSection{section, file.path})
				break
			}
		}
	}
	if len(shared.sections) == 0 && getenv("AWS_PROFILE") != "" {
		return shared, &Error{Cause: fmt.Sprintf("AWS_PROFILE is %q, and the shared files have no such profile", shared.profile),
			Help: "they are ~/.aws/credentials and ~/.aws/config, or those that AWS_SHARED_CREDENTIALS_FILE and AWS_CONFIG_FILE name"}
	}
	return shared, nil
}

// with returns the first section that has a value of a name.
func (f sharedFiles) with(name string) *sharedSection {
	for i := range f.sections {
		if f.sections[i].HasKey(name) {
			return &f.sections[i]
		}
	}
	return nil
}

func (f sharedFiles) value(name string) string {
	if section := f.with(name); section != nil {
		return section.Key(name).Value() // as it stands: a secret may have a percent sign
	}
	return ""
}

// service returns a value of a service, which stands indented below its name in a section of its own:
//
//	[services NAME]
//	s3 =
//	  endpoint_url = https://store.example
func (f sharedFiles) service(of, name string) string {
	title := f.value("services")
	if title == "" || f.config == nil {
		return ""
	}
	for _, line := range f.config.Section("services " + title).Key(of).NestedValues() {
		if key, value, ok := strings.Cut(line, "="); ok && strings.TrimSpace(key) == name {
			return strings.TrimSpace(value)
		}
	}
	return ""
}
