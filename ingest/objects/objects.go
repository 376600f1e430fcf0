// Package objects reads from object stores that speak the S3 interface, and never writes to them. An
// object has an address, s3://BUCKET/KEY; where the store is and who asks comes from the
// environment and the files that programs for such stores share (settings.go).
//
// An object is read as a stream of ranges (body.go), which may take the place of a file: its bytes
// are wanted once and in their order. So nothing of a recording, which is confidential, is
// put on a disk that the user has not named, and the memory is that of a few ranges.
// Every request is tried again where that may help (tries.go).
package objects

import (
	"context"
	"errors"
	"io"
	"net/http"
	"os"
	"strings"
	"sync"

	"github.com/minio/minio-go/v7"

	"downlock/schemas"
)

// Object is what a store says of an object. The ETag changes when the content does.
type Object struct {
	Address string
	Size    int64
	ETag    string
}

// Store is a store, to which the first request connects.
type Store struct {
	connect func() (*connection, error)
	tries   tries
}

// connection is a client, and what messages say of it.
type connection struct {
	*minio.Client
	settings *settings
}

// New returns the store that an environment speaks of.
func New(getenv func(string) string) *Store {
	s := &Store{tries: usualTries()}
	s.connect = sync.OnceValues(func() (*connection, error) {
		found, err := readSettings(getenv)
		if err != nil {
			return nil, err
		}
		s.tries.most = found.attempts
		client, err := found.client()
		return &connection{client, found}, err
	})
	return s
}

// usual is the store of the environment of this process.
var usual = New(os.Getenv)

// Stat asks about an object. The error is an Error.
func Stat(address string) (Object, error) { return usual.Stat(address) }

// Open opens an object. The error, and that of reading, is an Error.
func Open(address string) (in io.ReadCloser, size int64, err error) { return usual.Open(address) }

// List lists the objects below a prefix, see Store.List.
func List(address string) ([]Object, error) { return usual.List(address) }

// NoMoreTries lets requests that fail from now on fail at once: the run is to end.
func NoMoreTries() { usual.tries.end() }

// Stat is the function Stat.
func (s *Store) Stat(address string) (o Object, err error) {
	c, bucket, key, err := s.at(address)
	if err != nil {
		return o, err
	}
	err = s.tries.do(context.Background(), func(ctx context.Context, _ func()) error {
		info, err := c.StatObject(ctx, bucket, key, minio.StatObjectOptions{})
		o = Object{address, info.Size, info.ETag}
		return c.reason(ctx, bucket, key, err)
	})
	return o, c.failure(address, err)
}

// reason asks for the reason of a refusal: the answer to HEAD has no body that could hold it.
func (c *connection) reason(ctx context.Context, bucket, key string, err error) error {
	var said minio.ErrorResponse
	if !errors.As(err, &said) || said.StatusCode < http.StatusBadRequest || said.StatusCode >= http.StatusInternalServerError {
		return err
	}
	var options minio.GetObjectOptions
	if failed := options.SetRange(0, 0); failed != nil {
		return err
	}
	in, _, _, why := minio.Core{Client: c.Client}.GetObject(ctx, bucket, key, options)
	if why == nil {
		in.Close()
		return err
	}
	return why
}

// List lists the objects below a prefix as the files in and below a folder: with a slash after the
// prefix where it has none. Addresses with a slash at the end stand for folders, and are left
// out. The error is an Error.
func (s *Store) List(address string) (found []Object, err error) {
	c, bucket, prefix, err := s.at(address)
	if err != nil {
		return nil, err
	}
	if prefix != "" && !strings.HasSuffix(prefix, "/") {
		prefix += "/"
	}
	last := ""
	err = s.tries.do(context.Background(), func(ctx context.Context, alive func()) error {
		for o := range c.ListObjects(ctx, bucket, minio.ListObjectsOptions{Prefix: prefix, Recursive: true, StartAfter: last}) {
			if o.Err != nil {
				return o.Err
			}
			alive()
			last = o.Key
			if !strings.HasSuffix(o.Key, "/") {
				found = append(found, Object{schemas.ObjectScheme + bucket + "/" + o.Key, o.Size, o.ETag})
			}
		}
		return context.Cause(ctx)
	})
	return found, c.failure(address, err)
}

// at takes an address apart and connects to the store.
func (s *Store) at(address string) (c *connection, bucket, key string, err error) {
	bucket, key = split(address)
	if bucket == "" {
		return nil, "", "", &Error{Address: address, Cause: "names no bucket", Help: "write s3://bucket/prefix"}
	}
	c, err = s.connect()
	return c, bucket, key, err
}

// split takes an address apart. The key stands in it as it is, without escapes.
func split(address string) (bucket, key string) {
	bucket, key, _ = strings.Cut(strings.TrimPrefix(address, schemas.ObjectScheme), "/")
	return bucket, key
}
