// Package objects holds a scan of an object store against one of a folder: a real server that speaks the S3
// interface, and between it and downlock a proxy that cuts connections, turns requests away, holds answers back and
// exchanges objects. It is a module of its own, for the size of the server. downlock is built from the module around
// it, with the libraries of that.
//
//	cd testdata/objects && go test
package objects

import (
	"bytes"
	"context"
	"fmt"
	"log"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/minio/minio-go/v7"
	"github.com/minio/minio-go/v7/pkg/credentials"
	"github.com/versity/versitygw/auth"
	"github.com/versity/versitygw/backend/meta"
	"github.com/versity/versitygw/backend/posix"
	"github.com/versity/versitygw/embedgw"
)

// Keys: of the owner of the buckets; of one who may list alone, one who may get alone, and one who
// may do nothing.
const (
	owner, lister, getter, stranger = "owner", "lister", "getter", "stranger"
	secret                          = "no secret at all"
)

var (
	place    string // a folder
	downlock string // the program
	gateway  string // host and port of the server
	client   *minio.Client
)

func TestMain(m *testing.M) {
	log.SetFlags(0)
	os.Exit(func() int {
		var err error
		if place, err = os.MkdirTemp("", "objects"); err != nil {
			log.Fatal(err)
		}
		defer os.RemoveAll(place)
		downlock = filepath.Join(place, "downlock")
		build := exec.Command("go", "build", "-o", downlock, "./cmd/downlock")
		build.Dir = "../.."
		if out, err := build.CombinedOutput(); err != nil {
			log.Fatalf("%v: %s", err, out)
		}
		stop, err := serve()
		if err != nil {
			log.Fatal(err)
		}
		defer stop()
		return m.Run()
	}())
}

// serve starts the server, which goes into its folder: paths of tests are absolute.
func serve() (stop context.CancelFunc, err error) {
	for _, folder := range []string{"root", "metadata", "accounts"} {
		if err := os.Mkdir(filepath.Join(place, folder), 0o700); err != nil {
			return nil, err
		}
	}
	metadata, err := meta.NewSideCar(filepath.Join(place, "metadata"))
	if err != nil {
		return nil, err
	}
	backend, err := posix.New(filepath.Join(place, "root"), metadata, posix.PosixOpts{SideCarDir: filepath.Join(place, "metadata")})
	if err != nil {
		return nil, err
	}
	accounts, err := auth.NewInternal(auth.Account{Access: owner, Secret: secret, Role: auth.RoleAdmin}, filepath.Join(place, "accounts"))
	if err != nil {
		return nil, err
	}
	for _, user := range []string{lister, getter, stranger} {
		if err := accounts.CreateAccount(auth.Account{Access: user, Secret: secret, Role: auth.RoleUser}); err != nil {
			return nil, err
		}
	}
	free, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return nil, err
	}
	gateway = free.Addr().String()
	free.Close()
	ctx, stop := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() {
		ended <- embedgw.RunVersityGW(ctx, backend, &embedgw.Config{RootUserAccess: owner, RootUserSecret: secret, Ports: []string{gateway},
			MaxConnections: 1000, MaxRequests: 1000, MultipartMaxParts: 10000, KeepAlive: true, Quiet: true, IAMService: accounts})
	}()
	client, err = minio.New(gateway, &minio.Options{Creds: credentials.NewStaticV4(owner, secret, ""), Region: "us-east-1"})
	if err != nil {
		return stop, err
	}
	for deadline := time.Now().Add(time.Minute); ; { // the client waits between its tries
		if _, err = client.ListBuckets(ctx); err == nil || time.Now().After(deadline) {
			return stop, err
		}
		select {
		case err := <-ended:
			return stop, fmt.Errorf("the server ended: %w", err)
		default:
		}
	}
}

// put uploads the files in and below a folder.
func put(t testing.TB, folder, bucket, prefix string) {
	t.Helper()
	ctx := context.Background()
	if ok, err := client.BucketExists(ctx, bucket); err != nil {
		t.Fatal(err)
	} else if !ok {
		if err := client.MakeBucket(ctx, bucket, minio.MakeBucketOptions{}); err != nil {
			t.Fatal(err)
		}
	}
	names, err := filepath.Glob(filepath.Join(folder, "*"))
	if err != nil {
		t.Fatal(err)
	}
	for len(names) > 0 {
		name := names[0]
		names = names[1:]
		if info, err := os.Stat(name); err != nil {
			t.Fatal(err)
		} else if info.IsDir() {
			below, _ := filepath.Glob(filepath.Join(name, "*"))
			names = append(names, below...)
			continue
		}
		rest, _ := filepath.Rel(folder, name)
		if _, err := client.FPutObject(ctx, bucket, prefix+filepath.ToSlash(rest), name, minio.PutObjectOptions{}); err != nil {
			t.Fatalf("%s: %v", name, err)
		}
	}
}

// process is downlock with a store at an address and the key of a user.
func process(t testing.TB, store, user string, args ...string) *exec.Cmd {
	t.Helper()
	cmd := exec.Command(downlock, args...)
	cmd.Dir = t.TempDir()
	cmd.Env = []string{"HOME=" + cmd.Dir, "PATH=" + os.Getenv("PATH"), "AWS_ENDPOINT_URL_S3=" + store, "AWS_ACCESS_KEY_ID=" + user, "AWS_SECRET_ACCESS_KEY=" + secret, "AWS_EC2_METADATA_DISABLED=true"}
	cmd.Stdout, cmd.Stderr = &bytes.Buffer{}, &bytes.Buffer{}
	return cmd
}

// result is what a process came to.
type result struct {
	code           int
	lines, message string // stdout, stderr
}

func finish(t testing.TB, cmd *exec.Cmd) result {
	t.Helper()
	cmd.Run()
	return resultOf(t, cmd)
}

func resultOf(t testing.TB, cmd *exec.Cmd) result {
	t.Helper()
	if cmd.ProcessState == nil {
		t.Fatalf("%v did not start", cmd.Args)
	}
	return result{cmd.ProcessState.ExitCode(), cmd.Stdout.(*bytes.Buffer).String(), cmd.Stderr.(*bytes.Buffer).String()}
}

// run runs downlock as the owner.
func run(t testing.TB, store string, args ...string) result {
	t.Helper()
	return finish(t, process(t, store, owner, args...))
}

// must runs downlock and wants it to succeed.
func must(t testing.TB, store string, args ...string) result {
	t.Helper()
	r := run(t, store, args...)
	if r.code != 0 {
		t.Fatalf("%v: exit code %d: %s", args, r.code, r.message)
	}
	return r
}

// demo lays out the demonstration flights.
func demo(t testing.TB) (folder string) {
	t.Helper()
	folder = filepath.Join(t.TempDir(), "demo")
	must(t, "", "demo", folder)
	return folder
}

// files returns the content of the files below a folder by their names, but those that say when a run was.
func files(t testing.TB, folder string) map[string]string {
	t.Helper()
	all := map[string]string{}
	err := filepath.WalkDir(folder, func(path string, d os.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		text, err := os.ReadFile(path)
		name, _ := filepath.Rel(folder, path)
		all[filepath.ToSlash(name)] = string(text)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return all
}

// same compares files, of which those with one of the beginnings are wanted.
func same(t testing.TB, got, want map[string]string, beginnings ...string) {
	t.Helper()
	compared := 0
	for name, text := range want {
		for _, beginning := range beginnings {
			if strings.HasPrefix(name, beginning) {
				compared++
				if got[name] != text {
					t.Errorf("%s is another one than from the folder", name)
				}
			}
		}
	}
	if compared == 0 || len(got) != len(want) {
		t.Errorf("%d files compared; %d files, and %d from the folder", compared, len(got), len(want))
	}
}
