package schemas

import (
	"errors"
	"path/filepath"
	"strings"
	"testing"
)

func TestAddresses(t *testing.T) {
	t.Parallel()
	here, err := filepath.Abs(".")
	if err != nil {
		t.Fatal(err)
	}
	for name, want := range map[string]struct {
		object, other bool
		absolute      string
	}{
		"s3://bucket/a//../b c":  {object: true, absolute: "s3://bucket/a//../b c"},
		"s3://":                  {object: true, absolute: "s3://"},
		"S3://bucket/a":          {other: true},
		"gs://bucket/a":          {other: true},
		"https://x.example/a":    {other: true},
		"a/../s3:/b":             {absolute: filepath.Join(here, "s3:", "b")},
		"night.csv":              {absolute: filepath.Join(here, "night.csv")},
		filepath.Join(here, "x"): {absolute: filepath.Join(here, "x")},
	} {
		if IsObject(name) != want.object {
			t.Errorf("%s is an object: %t", name, !want.object)
		}
		err := OtherAddress(name)
		var p *Problem
		if (err != nil) != want.other || err != nil && (!errors.As(err, &p) || !strings.Contains(p.Hint, "s3://")) {
			t.Errorf("%s: %v", name, err)
		}
		if got := Absolute(name); want.absolute != "" && got != want.absolute {
			t.Errorf("%s is %s", name, got)
		}
	}
}
