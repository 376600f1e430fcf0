package scan

import (
	"runtime/debug"
	"sync"

	"downlock/ingest"
)

// besidePacked is the memory in bytes that a packed recording may take besides its
// packed samples, or more where one parameter takes more in use. A few unpacked parameters, or
// one flight with all of them, fit in.
const besidePacked = 96 << 20

// besideLimit is the memory in bytes that reading an input may take beside the content that
// --max-size allows. With the slack of the collector, which follows its limit roughly, that
// is less than a gigabyte.
const besideLimit = 896 << 20

// memoryLimit makes the collector work harder where its leisure would cost much memory: by
// default it waits until the garbage is as large as the memory in use. While inputs are
// read, the limit is what they may take. While packed recordings are in use, of which nearly
// all unpacked samples are garbage soon, it is little above their size. A lower limit of
// GOMEMLIMIT stays in force.
type memoryLimit struct {
	sync.Mutex
	users  int
	bytes  int64 // that they may take
	before int64 // the limit when there were none
}

// read sets the limit for an input of a size until it has been read.
func (m *memoryLimit) read(maxBytes int64) (release func()) { return m.add(maxBytes + besideLimit) }

// keep sets the limit for a packed recording until it is released.
func (m *memoryLimit) keep(r *ingest.Recording) (release func()) {
	bytes, longest := int64(0), 0
	for _, stretch := range r.Stretches() {
		bytes += stretch.PackedBytes()
		for _, s := range stretch.Series {
			longest = max(longest, s.Len())
		}
	}
	if bytes == 0 {
		return func() {}
	}
	return m.add(bytes + max(besidePacked, ingest.SampleBytes*int64(longest)))
}

func (m *memoryLimit) add(bytes int64) (release func()) {
	m.change(1, bytes)
	return func() { m.change(-1, -bytes) }
}

func (m *memoryLimit) change(users int, bytes int64) {
	m.Lock()
	defer m.Unlock()
	if m.users == 0 {
		m.before = debug.SetMemoryLimit(-1)
	}
	m.users, m.bytes = m.users+users, m.bytes+bytes
	limit := m.before
	if m.users > 0 {
		limit = min(limit, m.bytes)
	}
	debug.SetMemoryLimit(limit)
}
