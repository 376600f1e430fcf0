package main

import (
	"bytes"
	"os"
	"os/exec"
	"strings"
	"testing"
)

// TestEarly: signals are caught before the packages are set up that take nearly all of the
// time until main begins; the runtime says in which order it does that.
func TestEarly(t *testing.T) {
	var trace bytes.Buffer
	cmd := exec.Command(os.Args[0], "-test.run", "^$")
	cmd.Env, cmd.Stderr = append(os.Environ(), "GODEBUG=inittrace=1"), &trace
	if err := cmd.Run(); err != nil {
		t.Fatal(err)
	}
	place := func(name string) int { return strings.Index(trace.String(), "init "+name+" @") }
	caught := place("downlock/cmd/downlock/command/early")
	for _, heavy := range []string{"github.com/parquet-go/parquet-go/hashprobe", "downlock/schemas", "downlock/report/archive"} {
		if at := place(heavy); caught < 0 || at < caught {
			t.Errorf("%s is set up at %d, signals are caught at %d of the trace: %s", heavy, at, caught, &trace)
		}
	}
}
