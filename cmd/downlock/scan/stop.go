package scan

import (
	"context"
	"os"
	"os/signal"
	"sync/atomic"
	"syscall"
)

// stopping is a run that a signal may stop.
type stopping struct {
	received atomic.Int32 // number of the signal, 0 for none
	signals  chan os.Signal
}

// stopOnSignal lets the first SIGINT or SIGTERM end the run in good order: inputs that
// were begun are finished and kept, and no more are begun. The second signal ends the
// process at once.
func (s *scan) stopOnSignal(bar progress) *stopping {
	stop := &stopping{signals: make(chan os.Signal, 1)}
	ctx, cancel := context.WithCancel(context.Background())
	s.stop = ctx
	signal.Notify(stop.signals, syscall.SIGINT, syscall.SIGTERM)
	go func() {
		defer cancel()
		got, ok := (<-stop.signals).(syscall.Signal)
		if !ok {
			return // ignore was called
		}
		stop.received.Store(int32(got))
		signal.Stop(stop.signals)
		bar.clear()
		s.say.Warning("stopping (" + got.String() + "): inputs being read are finished and kept; once more to stop at once")
	}()
	return stop
}

// ignore ends the watch for signals.
func (s *stopping) ignore() {
	signal.Stop(s.signals)
	close(s.signals)
}

// signal returns the number of the signal that stopped the run, 0 for none.
func (s *stopping) signal() int { return int(s.received.Load()) }
