package effort

import (
	"flag"
	"testing"
)

func TestOf(t *testing.T) {
	short := flag.Lookup("test.short")
	defer short.Value.Set(short.Value.String())
	for _, c := range []struct {
		short, variable string
		want            int
	}{
		{"true", "", 1},
		{"true", "0", 1},
		{"false", "", 2},
		{"false", "0", 2},
		{"false", "1", 3},
		{"true", "1", 3},
	} {
		t.Setenv(Variable, c.variable)
		if err := short.Value.Set(c.short); err != nil {
			t.Fatal(err)
		}
		if got := Of(1, 2, 3); got != c.want {
			t.Errorf("-short=%s, %s=%s: %d, want %d", c.short, Variable, c.variable, got, c.want)
		}
	}
}
