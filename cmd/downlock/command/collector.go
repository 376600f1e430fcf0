package command

import (
	"os"
	"runtime"
	"runtime/debug"
	"runtime/metrics"
)

// leisure is how much garbage in bytes may lie about however little memory is in use. The
// runtime collects when it is as large as the memory in use, which is once or twice while a
// command starts, for nothing, and takes a ninth of the time of a night.
const leisure = 64 << 20

// atStart is the garbage in percent before anything is in use: of the 4 MiB that the runtime
// takes for the least, all the leisure, which is more than one flight needs.
const atStart = 1600

// SetCollector gives the collector leisure in a process that is a command, unless GOGC says
// how it works. Where more memory is in use it works as it does by default, and where there
// is a limit, as in scan, to that.
func SetCollector() {
	if os.Getenv("GOGC") == "" {
		debug.SetGCPercent(atStart)
		afterCollection()
	}
}

// afterCollection adapts the collector after each collection, of which it learns because an
// object that nothing refers to is finalized then.
func afterCollection() {
	runtime.SetFinalizer(new(*int), func(**int) {
		live := []metrics.Sample{{Name: "/gc/heap/live:bytes"}}
		metrics.Read(live)
		debug.SetGCPercent(percent(live[0].Value.Uint64()))
		afterCollection()
	})
}

// percent is the garbage that may lie about when that many bytes are in use.
func percent(live uint64) int {
	return int(min(max(100*leisure/max(live, 1), 100), atStart))
}
