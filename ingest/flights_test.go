package ingest

import (
	"path/filepath"
	"testing"

	"downlock/schemas"
)

func x100(t testing.TB, profile string) *schemas.Profile {
	t.Helper()
	p, err := schemas.ReadProfile(filepath.Join("..", "testdata", "x100", profile))
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func readX100(t *testing.T, file, profile string) *Recording {
	t.Helper()
	r, err := Read(filepath.Join("..", "testdata", "x100", file), x100(t, profile))
	if err != nil {
		t.Fatal(err)
	}
	return r
}
