package objects

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"net"
	"net/http"
	"time"

	"github.com/minio/minio-go/v7"
)

// tries says how often a request is made, and how long to wait before it is made again: twice as long
// as the time before, up to a limit, and less by chance, so that the tasks of an array that a store
// has turned away do not all come back at once.
type tries struct {
	most        int           // without a byte in between
	first, last time.Duration // waits
	silence     time.Duration // after which a store that sends nothing is asked again
	ended       context.Context
	end         context.CancelFunc // no more tries
}

// usualTries waits some 20 s in all, for a store that restarts.
func usualTries() tries {
	ended, end := context.WithCancel(context.Background())
	return tries{most: 8, first: 250 * time.Millisecond, last: 8 * time.Second, silence: 30 * time.Second, ended: ended, end: end}
}

// errSilent is the error of a store that sent nothing for too long.
var errSilent = errors.New("it sends nothing")

// do makes a request until it succeeds, fails for good, or failed often enough. The request calls
// alive when something came, and goes on there when it is made again.
func (t *tries) do(ctx context.Context, request func(ctx context.Context, alive func()) error) error {
	for failed := 0; ; {
		came, err := t.once(ctx, request)
		if came {
			failed = 0
		}
		failed++
		if err == nil || ctx.Err() != nil || !passing(err) || failed >= t.most || !t.wait(failed) {
			return err
		}
	}
}

// once makes a request, and gives it up when nothing comes any more.
func (t *tries) once(ctx context.Context, request func(ctx context.Context, alive func()) error) (came bool, err error) {
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	watch := time.AfterFunc(t.silence, func() { cancel(fmt.Errorf("%w, for %v", errSilent, t.silence)) })
	defer watch.Stop()
	err = request(ctx, func() {
		came = true
		watch.Reset(t.silence)
	})
	if cause := context.Cause(ctx); err != nil && errors.Is(cause, errSilent) {
		err = cause
	}
	return came, err
}

// wait waits before a request is made again; it returns false where it is not to be.
func (t *tries) wait(failed int) bool {
	pause := min(t.first<<(min(failed, 16)-1), t.last)
	timer := time.NewTimer(pause/2 + rand.N(pause/2+1))
	defer timer.Stop()
	select {
	case <-timer.C:
		return true
	case <-t.ended.Done():
		return false
	}
}

// passing reports whether an error may be gone at the next try: the store is overloaded, or the
// connection failed otherwise than for a name or a certificate.
func passing(err error) bool {
	var own *Error
	var said minio.ErrorResponse
	switch {
	case errors.As(err, &own):
		return false
	case errors.As(err, &said) && said.StatusCode != 0:
		return said.StatusCode >= http.StatusInternalServerError || said.StatusCode == http.StatusTooManyRequests || said.StatusCode == http.StatusRequestTimeout
	}
	return !distrusted(err) && !unknown(err)
}

// unknown reports whether there is no host of the store's name: it is mistyped, and whoever answered knows.
func unknown(err error) bool {
	var lookup *net.DNSError
	return errors.As(err, &lookup) && lookup.IsNotFound
}
