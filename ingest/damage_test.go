package ingest

import (
	"bytes"
	"math/rand"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"

	"github.com/klauspost/compress/zip"
	"golang.org/x/text/encoding/unicode"

	"downlock/ingest/export"
	"downlock/schemas"
	"downlock/testdata/effort"
)

// specimen is a sound file of one format.
type specimen struct {
	name     string
	data     []byte
	profile  *schemas.Profile
	budget   uint64 // bytes one read may take, damaged or not
	checked  bool   // a checksum covers the values: damage never gives other ones
	cutReads bool   // a part of it may be a whole file
}

// specimens are small files of every format ingest reads.
func specimens(t testing.TB) (all []specimen) {
	t.Helper()
	table := export.Table{TimeName: "time", Columns: []export.Column{
		{Name: "CAS", Times: seq(400), Numbers: seq(400), Decimals: 3},
		{Name: "ALT", Times: seq(200), Numbers: seq(200)},
		{Name: "LEVER", Times: []float64{0, 3, 9.5}, Texts: []string{"DN", "UP", "DN"}},
		{Name: "WOW", Times: []float64{0, 3, 9.5}, Numbers: []float64{1, 0, 1}},
	}}
	profile := profileOf(t, "column: time", testColumns)
	for _, layout := range export.Layouts {
		for _, compression := range []export.Compression{export.Plain, export.Gzip, export.Zstd} {
			var b bytes.Buffer
			if err := export.Write(&b, export.Format{Layout: layout, Compression: compression}, table); err != nil {
				t.Fatal(err)
			}
			s := specimen{name: string(layout), data: b.Bytes(), profile: profile, budget: 24 << 20, checked: compression != export.Plain}
			switch layout {
			case export.WideCSV, export.LongCSV, export.FixedWidth:
				s.cutReads = compression == export.Plain
			case export.WideParquet, export.LongParquet:
				s.budget = 180 << 20 // a page may claim 128 MiB
			case export.WideArrow:
				s.budget = 120 << 20 // a buffer may claim 64 MiB
			}
			if compression != export.Plain {
				s.name += ", " + string(compression)
			}
			all = append(all, s)
			if s.name == string(export.WideCSV) {
				all = append(all, specimen{name: "zip", data: zipped(t, map[string][]byte{"a.csv": s.data}), profile: profile, budget: s.budget, checked: true})
				wide, err := unicode.UTF16(unicode.LittleEndian, unicode.UseBOM).NewEncoder().Bytes(s.data)
				if err != nil {
					t.Fatal(err)
				}
				all = append(all, specimen{name: "UTF-16", data: wide, profile: profile, budget: s.budget, cutReads: true})
			}
		}
	}
	for _, name := range []string{"circuit.mat", "classes.mat", "big-endian.mat"} {
		data, err := os.ReadFile(filepath.Join("..", "testdata", "mat", name))
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, specimen{name: name, data: data, profile: matProfile(t, name), budget: 24 << 20, checked: name == "circuit.mat", cutReads: true})
	}
	return all
}

// zipped packs files into an archive, in the order of a map: one is usual.
func zipped(t testing.TB, files map[string][]byte) []byte {
	t.Helper()
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for name, data := range files {
		w, err := z.Create(name)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := w.Write(data); err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// outcomes counts what became of damaged files.
type outcomes struct{ refused, same, other int }

// Bytes changed and files cut at thousands of places: an error with cause and
// hint, the same recording, or another one where the format cannot know; never a
// panic, never memory for bytes that are not there.
func TestDamageOfEveryFormat(t *testing.T) {
	perFormat := effort.Of(50, 150, 400)
	random := rand.New(rand.NewSource(7))
	for _, s := range specimens(t) {
		t.Run(s.name, func(t *testing.T) {
			sound, err := ReadBytes("sound", s.data, s.profile)
			if err != nil {
				t.Fatal(err)
			}
			var flipped, cut outcomes
			for range perFormat {
				damaged := bytes.Clone(s.data)
				for range 1 + random.Intn(3) {
					at := random.Intn(len(damaged))
					damaged[at] = [...]byte{damaged[at] ^ 1<<random.Intn(8), byte(random.Intn(256)), 0, 0xff, ',', '\n'}[random.Intn(6)]
				}
				flipped.count(t, s, sound, damaged)
			}
			for range perFormat {
				if r := cut.count(t, s, sound, bytes.Clone(s.data[:random.Intn(len(s.data))])); r != nil {
					checkBeginning(t, sound, r)
				}
			}
			t.Logf("bytes changed: %+v; cut: %+v", flipped, cut)
			if s.checked && flipped.other > 0 {
				t.Errorf("%d damaged files gave other values, though a checksum covers them", flipped.other)
			}
			if !s.cutReads && cut.same+cut.other > 0 {
				t.Errorf("%d of the files cut off were read", cut.same+cut.other)
			}
			if flipped.refused == 0 || cut.refused == 0 && !s.cutReads {
				t.Error("no damage was refused")
			}
		})
	}
}

// count reads one damaged file and holds the outcome against the rules.
func (o *outcomes) count(t *testing.T, s specimen, sound *Recording, damaged []byte) *Recording {
	t.Helper()
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	r, err := ReadBytes("damaged", damaged, s.profile)
	runtime.ReadMemStats(&after)
	if took := after.TotalAlloc - before.TotalAlloc; took > s.budget {
		t.Errorf("one read takes %d MiB", took>>20)
	}
	switch {
	case err != nil:
		o.refused++
		problemsOf(t, err)
	case sameRecording(sound, r) == "":
		o.same++
	default:
		o.other++
		checkSound(t, r)
	}
	return r
}

// checkBeginning wants every series of a file cut off to be the beginning of the
// one in the whole file; where the cut may have gone through the last value, a
// note must say so.
func checkBeginning(t *testing.T, whole, cut *Recording) {
	t.Helper()
	samples := samplesOf(whole)
	open := slices.ContainsFunc(cut.Notes, func(note string) bool { return strings.Contains(note, "has no line end") })
	for name, part := range samplesOf(cut) {
		if n := len(part); open && n > 0 && part[n-1][0] == cut.End {
			part = part[:n-1]
		}
		if n := len(part); n > len(samples[name]) || n > 0 && !slices.Equal(part, samples[name][:n]) {
			t.Errorf("%s: %d samples of a file cut off are not the first ones of the whole", name, n)
		}
	}
}
