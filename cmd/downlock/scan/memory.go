package scan

import (
	"runtime/debug"
	"sync"

	"downlock/ingest"
)

// besidePacked is the memory that is granted a packed recording besides its packed
// samples: for a few of its parameters unpacked, or a flight with all of them.
const besidePacked = 200 << 20

// memoryLimit has the collector work harder while packed recordings are at hand.
// Nearly all that is unpacked of them is garbage soon, and by itself the collector
// waits until there is as much of it as of what is in use. Whatever GOMEMLIMIT says
// is kept to, if it is less.
type memoryLimit struct {
	sync.Mutex
	recordings int
	bytes      int64 // of the recordings at hand
	before     int64 // the limit when there were none
}

// keep sets the limit for as long as the recording is at hand.
func (m *memoryLimit) keep(r *ingest.Recording) (release func()) {
	bytes := int64(0)
	for _, stretch := range r.Stretches() {
		bytes += stretch.PackedBytes()
	}
	if bytes == 0 {
		return func() {}
	}
	bytes += besidePacked
	m.change(1, bytes)
	return func() { m.change(-1, -bytes) }
}

func (m *memoryLimit) change(recordings int, bytes int64) {
	m.Lock()
	defer m.Unlock()
	if m.recordings == 0 {
		m.before = debug.SetMemoryLimit(-1)
	}
	m.recordings, m.bytes = m.recordings+recordings, m.bytes+bytes
	limit := m.before
	if m.recordings > 0 {
		limit = min(limit, m.bytes)
	}
	debug.SetMemoryLimit(limit)
}
