package detect

import (
	"testing"

	"downlock/detect/readings"
	"downlock/ingest"
	"downlock/schemas"
)

// A warning that sounds on within its usual delay still has the cause it had: due from 10
// to 20 s, heard from 21 to 23 s.
func TestSoundingWithinTheDelay(t *testing.T) {
	t.Parallel()
	env := ReadTracks(&Flight{Recording: &ingest.Recording{}, Profile: &schemas.Profile{}, Span: stretch(0, 100)})
	holds := func(start, end float64) readings.Condition {
		return readings.Always(env.windows()).Clip(readings.Spans{stretch(start, end)})
	}
	never := readings.Never(env.windows())
	for delay, want := range map[float64]Cause{0.5: WithoutCause, 2: CriteriaMet} {
		got := soundings(env, holds(21, 23), holds(10, 20), never, readings.Always(env.windows()), delay)
		if len(got) != 1 || got[0].Cause != want {
			t.Errorf("delay %g s: got %+v, want %q", delay, got, want)
		}
	}
}
