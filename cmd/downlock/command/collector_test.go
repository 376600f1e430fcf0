package command

import "testing"

// The figures are worked out by hand: 64 MiB over what is in use.
func TestPercent(t *testing.T) {
	t.Parallel()
	for live, want := range map[uint64]int{0: 1600, 1 << 20: 1600, 4 << 20: 1600, 8 << 20: 800, 16 << 20: 400, 20 << 20: 320, 32 << 20: 200, 64 << 20: 100, 65 << 20: 100, 4 << 30: 100} {
		if got := percent(live); got != want {
			t.Errorf("%d bytes in use: %d %%, want %d %%", live, got, want)
		}
	}
}
