package simulator

import (
	"bytes"
	"crypto/sha256"
	"encoding/json"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"testing"
)

var update = flag.Bool("update", false, "write testdata/demo, demo440 and formats anew")

// folder is the testdata of the whole project.
const folder = "../../testdata"

// The shipped files are the simulator's output. The other tests of this package check
// that output with figures worked out by hand.
func TestShippedFilesAreReproduced(t *testing.T) {
	t.Parallel()
	for _, x := range []struct {
		folder string
		files  func() ([]DemoFile, error)
	}{{"demo", Demo}, {"demo440", DemoLarge}} {
		demo, err := x.files()
		if err != nil {
			t.Fatal(err)
		}
		var manifest bytes.Buffer
		for _, d := range demo {
			data := shipped(t, x.folder, d)
			fmt.Fprintf(&manifest, "%x  %s\n", sha256.Sum256(data), d.Name)
		}
		compare(t, x.folder+"/manifest", manifest.Bytes())
		compare(t, x.folder+"/truth.json", truthJSON(t, demo))
	}
	formats, err := Formats()
	if err != nil {
		t.Fatal(err)
	}
	for _, d := range formats {
		shipped(t, "formats", d)
	}
	sample, err := SampleFlights()
	if err != nil {
		t.Fatal(err)
	}
	for _, d := range sample {
		shipped(t, "mat", d)
	}
	compare(t, "mat/truth.json", truthJSON(t, sample))
}

// shipped makes a file twice and compares the two with each other and with the
// shipped file.
func shipped(t *testing.T, sub string, d DemoFile) []byte {
	t.Helper()
	data, err := d.Bytes()
	if err != nil {
		t.Fatal(err)
	}
	again, err := d.Bytes()
	if err != nil || !bytes.Equal(data, again) {
		t.Errorf("%s: not the same bytes twice (%v)", d.Name, err)
	}
	compare(t, sub+"/"+d.Name, data)
	return data
}

func compare(t *testing.T, name string, want []byte) {
	t.Helper()
	path := filepath.Join(folder, filepath.FromSlash(name))
	if *update {
		if err := os.WriteFile(path, want, 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	got, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want) {
		t.Errorf("%s differs from what the simulator makes; look why before writing it anew with -update", path)
	}
}

func truthJSON(t *testing.T, demo []DemoFile) []byte {
	t.Helper()
	type file struct {
		File    string  `json:"file"`
		About   string  `json:"about"`
		Flights []Truth `json:"flights"`
	}
	all := struct {
		Rules []string `json:"rules"`
		Files []file   `json:"files"`
	}{Rules: Rules()}
	for _, d := range demo {
		all.Files = append(all.Files, file{d.Name, d.About, d.Flight.Truths()})
	}
	text, err := json.MarshalIndent(all, "", " ")
	if err != nil {
		t.Fatal(err)
	}
	return append(text, '\n')
}

// testdata as a whole has at most 6 MiB.
func TestTestdataIsSmall(t *testing.T) {
	t.Parallel()
	total := int64(0)
	err := filepath.Walk(folder, func(_ string, info os.FileInfo, err error) error {
		if err == nil && !info.IsDir() {
			total += info.Size()
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	if total > 6<<20 {
		t.Errorf("testdata holds %d bytes, more than 6 MiB", total)
	}
}
