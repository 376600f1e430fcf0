package detect

import (
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"downlock/detect/samples"
	"downlock/ingest"
	"downlock/schemas"
)

// The samples of two sources of a packed recording are unpacked once, however often they
// are compared: the second time takes less memory than the times of one of them.
func TestSourcesUnpackedOnce(t *testing.T) {
	const rows = 50_000
	profile, err := schemas.ParseProfile("test.yaml", []byte("schema: downlock profile 1\naircraft: T\ntitle: test\nlegs: [nose, left, right]\nengines: 2\n"+
		"time: {column: time}\ncolumns:\n  computed_airspeed: [{column: CAS, unit: kt}, {column: CAS 2, unit: kt}]\n"+
		"  gear_lever: [{column: LEVER, states: {U: UP, D: DOWN}}, {column: LEVER 2, states: {U: UP, D: DOWN}}]\n"+
		"  flap_handle: [{column: FLAP, unit: deg}, {column: FLAP 2, unit: deg}]\n"))
	if err != nil {
		t.Fatal(err)
	}
	var text strings.Builder
	text.WriteString("time,CAS,CAS 2,LEVER,LEVER 2,FLAP,FLAP 2\n")
	for row := range rows {
		fmt.Fprintf(&text, "%d,%d,%d,%c,%c,%d,%d\n", row, 100+row/7%9, 101+row/5%9, "UD"[row/100%2], "UD"[row/110%2], row/200%2*15, row/300%2*15)
	}
	path := filepath.Join(t.TempDir(), "large.csv")
	if err := os.WriteFile(path, []byte(text.String()), 0o600); err != nil {
		t.Fatal(err)
	}
	r, err := ingest.Limits{PackAbove: 1}.Read(path, profile)
	if err != nil {
		t.Fatal(err)
	}
	if !r.Packed() || len(r.Alternatives) != 3 {
		t.Fatalf("packed: %v, with %d further sources", r.Packed(), len(r.Alternatives))
	}
	f := &Flight{Recording: r, Span: stretch(20_000, 20_100), signals: samples.New(r)}
	taken := func() (bytes uint64) {
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		for _, s := range r.Series {
			disagreements(f, s.Parameter)
		}
		runtime.ReadMemStats(&after)
		return after.TotalAlloc - before.TotalAlloc
	}
	if first := taken(); first < 5*rows*8 { // their times, which are the same, and the numbers of four columns
		t.Errorf("%d bytes the first time: nothing was unpacked", first)
	}
	if again := taken(); again > rows*8 {
		t.Errorf("%d bytes the second time", again)
	}
}
