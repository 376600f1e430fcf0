package detect_test

import (
	"compress/gzip"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"strings"
	"testing"

	"downlock/detect"
	"downlock/ingest"
	"downlock/schemas"
)

// linesOf reads the lines of a packed wide export.
func linesOf(t *testing.T, path string) []string {
	t.Helper()
	file, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	unpacked, err := gzip.NewReader(file)
	if err != nil {
		t.Fatal(err)
	}
	text, err := io.ReadAll(unpacked)
	if err != nil {
		t.Fatal(err)
	}
	return strings.Split(strings.TrimSpace(string(text)), "\n")
}

// layouts write the same samples in other ways: an export each, or all in one.
var layouts = []struct {
	name  string
	write func(exports [][]string) []string
}{
	{"as given", eachOf(asGiven)},
	{"long form", eachOf(longForm)},
	{"held columns", eachOf(heldColumns)},
	{"elapsed resets", allInOne(asGiven)},
	{"elapsed resets, long form", allInOne(longForm)},
}

func textOf(lines []string) string { return strings.Join(lines, "\n") + "\n" }

func eachOf(write func([]string) []string) func([][]string) []string {
	return func(exports [][]string) (out []string) {
		for _, lines := range exports {
			out = append(out, textOf(write(lines)))
		}
		return out
	}
}

// allInOne writes one export after the other below the first one's heading: elapsed
// time begins anew with each.
func allInOne(write func([]string) []string) func([][]string) []string {
	return func(exports [][]string) []string {
		var all []string
		for _, lines := range exports {
			all = append(all, write(lines)[min(1, len(all)):]...)
		}
		return []string{textOf(all)}
	}
}

func asGiven(lines []string) []string { return lines }

// longForm makes a row of each sample; date and clock are parameters like the others.
func longForm(lines []string) []string {
	out := []string{"time_s,parameter,value"}
	names := strings.Split(lines[0], ",")
	for _, row := range lines[1:] {
		cells := strings.Split(row, ",")
		for i, cell := range cells[1:] {
			if cell != "" {
				out = append(out, cells[0]+","+names[i+1]+","+cell)
			}
		}
	}
	return out
}

// heldColumns fills every cell with the value before it, as many tools do.
func heldColumns(lines []string) []string {
	out := lines[:1:1]
	held := make([]string, strings.Count(lines[0], ",")+1)
	for _, line := range lines[1:] {
		for k, cell := range strings.Split(line, ",") {
			if cell != "" {
				held[k] = cell
			}
		}
		out = append(out, strings.Join(held, ","))
	}
	return out
}

// resultsOf are those of each export, however they were written.
func resultsOf(t *testing.T, d *detect.Detector, p *schemas.Profile, texts []string) (out [][]*detect.Result) {
	t.Helper()
	for _, text := range texts {
		r, err := ingest.ReadBytes("all.csv", []byte(text), p)
		if err != nil {
			t.Fatal(err)
		}
		var last *ingest.Recording
		for _, result := range d.Detect(r) {
			if result.Flight.Recording != last {
				out, last = append(out, nil), result.Flight.Recording
			}
			out[len(out)-1] = append(out[len(out)-1], result)
		}
	}
	return out
}

// The check flights of testdata/x100 written in other ways: every true event is found,
// nothing is certain and wrong, and no bounds exclude the truth.
func TestX100Layouts(t *testing.T) {
	t.Parallel()
	const dir = "../testdata/x100/"
	p, err := schemas.ReadProfile(dir + "profile.yaml")
	if err != nil {
		t.Fatal(err)
	}
	numbers := []int{1, 2, 3, 4, 5, 7, 8} // the sixth has a profile of its own
	var exports [][]string
	for _, n := range numbers {
		exports = append(exports, linesOf(t, fmt.Sprintf("%sflight-%d.csv.gz", dir, n)))
	}
	for _, layout := range layouts {
		t.Run(layout.name, func(t *testing.T) {
			found := found{}
			results := resultsOf(t, detectorOf(t, p), p, layout.write(exports))
			if len(results) != len(numbers) {
				t.Fatalf("%d recordings, want %d", len(results), len(numbers))
			}
			for i, of := range results {
				if len(of) != 1 {
					t.Fatalf("flight-%d: %d flights, want 1", numbers[i], len(of))
				}
				t.Logf("flight-%d", numbers[i])
				found.add(readTruth(t, fmt.Sprintf("%struth/flight-%d.json", dir, numbers[i])).hold(t, of[0]))
			}
			found.check(t)
		})
	}
}

func TestOperationsLayouts(t *testing.T) {
	t.Parallel()
	const dir = "../testdata/operations/"
	p, err := schemas.ReadProfile(dir + "profile.yaml")
	if err != nil {
		t.Fatal(err)
	}
	p.Long = schemas.LongColumns{Parameter: "parameter", Value: "value"}
	var exports [][]string
	for n := 1; n <= 6; n++ {
		exports = append(exports, linesOf(t, fmt.Sprintf("%sop-%d.csv.gz", dir, n)))
	}
	references := map[int][]detect.Event{}
	for _, layout := range layouts {
		t.Run(layout.name, func(t *testing.T) {
			found := found{}
			results := resultsOf(t, detectorOf(t, p), p, layout.write(exports))
			if len(results) != len(exports) {
				t.Fatalf("%d recordings, want %d", len(results), len(exports))
			}
			for i, of := range results {
				var truth groundTruth
				text, err := os.ReadFile(fmt.Sprintf("%struth/op-%d.json", dir, i+1))
				if err == nil {
					err = json.Unmarshal(text, &truth)
				}
				if err != nil {
					t.Fatal(err)
				}
				if layout.name == "as given" {
					for _, r := range of {
						references[i] = append(references[i], r.Events...)
					}
				}
				t.Logf("op-%d", i+1)
				found.add(truth.hold(t, of, references[i], true))
			}
			found.check(t)
		})
	}
}
