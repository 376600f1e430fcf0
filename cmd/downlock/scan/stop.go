package scan

import (
	"context"
	"io"
	"os"
	"os/signal"
	"sync"
	"sync/atomic"
	"syscall"

	"downlock/cmd/downlock/command"
	"downlock/cmd/downlock/command/early"
	"downlock/ingest/objects"
	"downlock/report/archive"
	"downlock/schemas"
)

// stopping is a run that a signal may stop.
type stopping struct {
	received atomic.Int32  // number of the signal, 0 for none
	done     chan struct{} // closed once the run is asked to stop
	signals  chan os.Signal

	mutex sync.Mutex // of what follows
	say   command.Messages
	bar   progress
	begun bool // inputs are being read
}

// watchSignals lets SIGINT and SIGTERM end a run. Until begin is called the first of them
// ends the process: a run that is cut off there loses nothing. After that it ends the run
// in good order: inputs that are being read are finished and kept, and no more are begun.
// The second signal ends the process at once.
func watchSignals(say command.Messages) *stopping {
	stop := newStopping(say)
	signal.Notify(stop.signals, syscall.SIGINT, syscall.SIGTERM)
	early.Release()
	go func() {
		if got, ok := (<-stop.signals).(syscall.Signal); ok { // not when end was called
			stop.receive(got)
		}
	}()
	return stop
}

// newStopping returns a run that no signal reaches yet.
func newStopping(say command.Messages) *stopping {
	return &stopping{signals: make(chan os.Signal, 1), done: make(chan struct{}), say: say}
}

// stoppedBy returns a run that ends with a context.
func stoppedBy(ctx context.Context) *stopping {
	s := newStopping(command.Messages{To: io.Discard})
	context.AfterFunc(ctx, func() {
		s.received.Store(int32(syscall.SIGTERM))
		close(s.done)
	})
	return s
}

func (s *stopping) receive(got syscall.Signal) {
	s.mutex.Lock()
	defer s.mutex.Unlock()
	if !s.begun {
		s.say.Warning("stopped (" + got.String() + ") before an input was read")
		os.Exit(command.ExitSignal + int(got))
	}
	s.received.Store(int32(got))
	signal.Stop(s.signals)
	objects.NoMoreTries()
	s.bar.clear()
	s.say.Warning("stopping (" + got.String() + "): inputs being read are finished and kept; interrupt again to stop at once")
	close(s.done)
}

// sayWith sets where the messages go.
func (s *stopping) sayWith(say command.Messages) {
	s.mutex.Lock()
	defer s.mutex.Unlock()
	s.say = say
}

// begin says that inputs are read from now on.
func (s *stopping) begin(bar progress) {
	s.mutex.Lock()
	defer s.mutex.Unlock()
	s.bar, s.begun = bar, true
}

// end ends the watch for signals.
func (s *stopping) end() {
	signal.Stop(s.signals)
	close(s.signals)
}

// asked reports whether the run is to stop.
func (s *stopping) asked() bool { return s.received.Load() != 0 }

// signal returns the number of the signal that stopped the run, 0 for none.
func (s *stopping) signal() int { return int(s.received.Load()) }

// unless does work that may take for ever, such as opening a file on a disk that does not
// answer, unless the run is asked to stop meanwhile; then stopped is true, and the work is
// left to itself.
func unless[T any](s *stopping, work func() (T, error)) (result T, stopped bool, err error) {
	type outcome struct {
		result T
		err    error
	}
	finished := make(chan outcome, 1)
	go func() {
		result, err := work()
		finished <- outcome{result, err}
	}()
	select {
	case o := <-finished:
		return o.result, false, o.err
	case <-s.done:
		return result, true, nil
	}
}

// look looks at an input, unless the run is stopped.
func (s *scan) look(in input) (sight archive.Sight, stopped bool, err error) {
	return unless(s.stop, in.Look)
}

// tryOpen opens the files of an input, unless the run is stopped: reading them cannot be
// given up any more.
func (s *scan) tryOpen(in input) (stopped bool, err error) {
	_, stopped, err = unless(s.stop, func() (struct{}, error) {
		if isStdin(in.Files) {
			return struct{}{}, s.options.awaitStdin()
		}
		for _, path := range in.Files {
			if schemas.IsObject(path) { // a store that does not answer is given up
				continue
			}
			f, err := os.Open(path)
			if err != nil {
				return struct{}{}, err
			}
			f.Close()
		}
		return struct{}{}, nil
	})
	return stopped, err
}
