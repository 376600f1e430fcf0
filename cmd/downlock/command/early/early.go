// Package early catches the signals that come before a subcommand watches for them. It imports
// little, so that it is initialised before the packages with much to set up: until then, about
// a millisecond, the system ends the process.
package early

import (
	"os"
	"os/signal"
	"syscall"
)

var signals = watch()

// watch ends the process with 128 plus the number of the first signal.
func watch() chan os.Signal {
	c := make(chan os.Signal, 1)
	signal.Notify(c, syscall.SIGINT, syscall.SIGTERM)
	go func() {
		if got, ok := (<-c).(syscall.Signal); ok {
			os.Exit(128 + int(got))
		}
	}()
	return c
}

// Release leaves signals to whoever watches for them by now, or to the system.
func Release() { signal.Stop(signals) }
