package scan

import (
	"bytes"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"downlock/cmd/downlock/command"
	"downlock/ingest"
	"downlock/ingest/export"
	"downlock/ingest/simulator"
	"downlock/schemas"
	"downlock/testdata/effort"
)

// allInOne is the demonstration flights one after the other, a minute apart, as
// one recording, with a further source of the airspeed that is off for a while.
func allInOne(t *testing.T) export.Table {
	t.Helper()
	demo, err := simulator.Demo()
	if err != nil {
		t.Fatal(err)
	}
	whole := export.Table{TimeName: "time", Epoch: demo[0].Flight.Scenario.Epoch}
	place := map[string]int{}
	end := 0.0
	for _, d := range demo {
		table := d.Flight.Record()
		shift := end + 60 - d.Flight.Scenario.Start
		for _, c := range table.Columns {
			if _, known := place[c.Name]; !known {
				place[c.Name] = len(whole.Columns)
				whole.Columns = append(whole.Columns, export.Column{Name: c.Name, Unit: c.Unit})
			}
			to := &whole.Columns[place[c.Name]]
			for i, at := range c.Times {
				to.Times = append(to.Times, at+shift)
				if c.Texts != nil {
					to.Texts = append(to.Texts, c.Texts[i])
				} else {
					to.Texts = append(to.Texts, strconv.FormatFloat(c.Numbers[i], 'f', c.Decimals, 64))
				}
			}
		}
		end = shift + d.Flight.Scenario.End
	}
	standby := whole.Columns[place["airspeed"]]
	standby.Name, standby.Texts = "airspeed standby", slices.Clone(standby.Texts)
	for i := 9000; i < 9600; i++ {
		standby.Texts[i] = "100"
	}
	whole.Columns = append(whole.Columns, standby)
	return whole
}

// scanned scans a file, packed above so many samples, and returns everything written
// but the record of the run itself, and the lines about flights.
func scanned(t *testing.T, file, profile, key string, packAbove int) (files map[string]string, lines string) {
	t.Helper()
	dir := t.TempDir()
	o := scanOptions{profile: profile, out: filepath.Join(dir, "out"), archive: filepath.Join(dir, "fleet"), jobs: 1, maxSize: 1 << 10,
		quiet: true, packAbove: packAbove, deidentify: key}
	say := command.Messages{To: t.Output()}
	var ok bool
	if o.key, ok = command.ReadKey(key, say); !ok {
		t.Fatal("no key")
	}
	found := findInputs([]string{file}, o)
	s, _ := newScan(o, found.files, newStopping(say), say)
	if s == nil {
		t.Fatal("no scan")
	}
	var out bytes.Buffer
	code := s.run(found, &out, t.Output())
	s.close()
	if code != command.ExitDone {
		t.Fatalf("exit code %d", code)
	}
	files = map[string]string{}
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		name, _ := filepath.Rel(dir, path)
		if err != nil || d.IsDir() || strings.HasPrefix(name, "fleet/runs") || name == "fleet/lock" {
			return err
		}
		data, err := os.ReadFile(path)
		files[name] = string(data)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return files, strings.ReplaceAll(out.String(), dir, "")
}

// TestPackedScanIsTheSame: the demonstration flights in one recording lead to the same bytes of
// every output whether they are read as a whole or packed, and then taken flight
// by flight.
func TestPackedScanIsTheSame(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("takes some seconds a format")
	}
	table := allInOne(t)
	dir := t.TempDir()
	profile, key := filepath.Join(dir, "th120.yaml"), filepath.Join(dir, "key")
	for name, data := range map[string][]byte{profile: schemas.ShippedProfileText(), key: []byte("a key of more than sixteen bytes")} {
		if err := os.WriteFile(name, data, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	for _, c := range []struct {
		format export.Format
		key    string
	}{
		{export.Format{Layout: export.WideCSV, Compression: export.Gzip}, key},
		{export.Format{Layout: export.WideParquet}, ""},
		{export.Format{Layout: export.LongCSV, Compression: export.Zstd}, ""},
		{export.Format{Layout: export.WideCSV}, ""},
	}[:effort.Of(2, 2, 4)] {
		t.Run(fmt.Sprint(c.format.Layout, " ", c.format.Compression), func(t *testing.T) {
			var b bytes.Buffer
			if err := export.Write(&b, c.format, table); err != nil {
				t.Fatal(err)
			}
			file := filepath.Join(t.TempDir(), "all")
			if err := os.WriteFile(file, b.Bytes(), 0o600); err != nil {
				t.Fatal(err)
			}
			samePacked(t, file, profile, c.key)
		})
	}
}

func samePacked(t *testing.T, file, profileFile, key string) {
	profile, err := schemas.ReadProfile(profileFile)
	if err != nil {
		t.Fatal(err)
	}
	packed, err := ingest.Limits{PackAbove: 1}.ReadParts([]string{file}, profile)
	if err != nil || !packed.Packed() {
		t.Fatalf("not packed: %v", err)
	}
	want, flights := scanned(t, file, profileFile, key, 0)
	got, same := scanned(t, file, profileFile, key, 1)
	if diff := cmp.Diff(flights, same); diff != "" || strings.Count(flights, "\n") < 21 {
		t.Errorf("%d flights; %s", strings.Count(flights, "\n")-1, diff)
	}
	if len(want) != len(got) || len(want) < 100 {
		t.Errorf("%d files, want %d", len(got), len(want))
	}
	observed := false
	for name, data := range want {
		observed = observed || strings.Contains(data, "airspeed and airspeed standby differ")
		if got[name] != data {
			diff := ""
			if strings.HasSuffix(name, ".json") {
				diff = cmp.Diff(strings.Split(data, "\n"), strings.Split(got[name], "\n"))
			}
			t.Fatalf("%s is not the same %s", name, diff)
		}
	}
	if !observed {
		t.Error("no report says that the sources differ")
	}
}
