package scan

import (
	"runtime/debug"
	"sync"

	"downlock/ingest"
)

// besidePacked is the memory in bytes that a packed recording may take besides its
// packed samples. A few unpacked parameters, or one flight with all of them, fit in.
const besidePacked = 96 << 20

// memoryLimit makes the collector work harder while packed recordings are in use.
// Nearly all unpacked samples are garbage soon, and by default the collector waits until
// the garbage is as large as the memory in use. A lower limit of GOMEMLIMIT stays in
// force.
type memoryLimit struct {
	sync.Mutex
	recordings int
	bytes      int64 // of the recordings in use, with besidePacked for each
	before     int64 // the limit when there were none
}

// keep sets the limit until the recording is released.
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
