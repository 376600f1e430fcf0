package objects

import (
	"context"
	"errors"
	"net"
	"net/url"
	"testing"
	"testing/synctest"
	"time"
)

// TestTries goes by a clock that runs while everybody waits: a request that fails is made again for a while, one to which
// something comes is left alone however long it takes, and one to which nothing comes is not.
func TestTries(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		tries := usualTries()
		defer tries.end()
		asked, failed, began := 0, errors.New("failed"), time.Now()
		err := tries.do(t.Context(), func(context.Context, func()) error {
			asked++
			return failed
		})
		// By hand: 0.25, 0.5, 1, 2, 4, 8 and 8 s are 23.75 s, and chance takes up to half of each.
		if took := time.Since(began); err != failed || asked != 8 || took < 11*time.Second || took > 24*time.Second {
			t.Errorf("%v after %d requests in %v", err, asked, took)
		}

		// A name server that says there is no such host knows; one that is too busy may answer later.
		for _, c := range []struct {
			lookup net.DNSError
			want   int
		}{{net.DNSError{IsNotFound: true}, 1}, {net.DNSError{IsTemporary: true}, 8}, {net.DNSError{IsTimeout: true}, 8}} {
			asked = 0
			err := tries.do(t.Context(), func(context.Context, func()) error {
				asked++
				return &url.Error{Err: &net.OpError{Op: "dial", Err: &c.lookup}}
			})
			if asked != c.want || err == nil {
				t.Errorf("%+v: %v after %d requests", c.lookup, err, asked)
			}
		}

		asked = 0
		err = tries.do(t.Context(), func(ctx context.Context, alive func()) error {
			asked++
			for range 10 {
				time.Sleep(20 * time.Second)
				alive()
			}
			return context.Cause(ctx)
		})
		if err != nil || asked != 1 {
			t.Errorf("%v after %d requests", err, asked)
		}

		asked = 0
		err = tries.do(t.Context(), func(ctx context.Context, alive func()) error {
			if asked++; asked < 30 {
				alive() // and then no more
			}
			<-ctx.Done()
			return ctx.Err()
		})
		if !errors.Is(err, errSilent) || asked != 30+7-1 {
			t.Errorf("%v after %d requests", err, asked)
		}
	})
}
