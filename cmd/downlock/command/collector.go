package command

import (
	"os"
	"runtime/debug"
)

// garbagePercent is how much garbage may lie about, in percent of the memory in use. At the 100
// of the runtime a start collects once or twice for nothing, and a night spends a ninth of its
// time on it. Where inputs are large a limit goes before it; see scan.
const garbagePercent = 200

// SetCollector sets the collector for a process that is a command, unless GOGC says how.
func SetCollector() {
	if os.Getenv("GOGC") == "" {
		debug.SetGCPercent(garbagePercent)
	}
}
