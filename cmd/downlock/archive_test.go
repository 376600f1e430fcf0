package main

import (
	"path/filepath"

	"github.com/rogpeppe/go-internal/testscript"
)

// sameTables compares the tables of two archives byte by byte: sametables A B.
func sameTables(ts *testscript.TestScript, neg bool, args []string) {
	if len(args) != 2 {
		ts.Fatalf("usage: sametables A B")
	}
	sameTree(ts, neg, []string{filepath.Join(args[0], "tables"), filepath.Join(args[1], "tables")})
}
