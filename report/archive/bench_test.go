package archive

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/parquet-go/parquet-go"

	"downlock/detect"
	"downlock/testdata/effort"
)

// A night of the benchmark: two thousand recordings of a flight, each with as
// many rows as the built-in rules make.
const (
	nightRecordings  = 2000
	ruleCount        = 70
	measurementCount = 40
)

// benchResults are the results of one recording with rows as many as usual.
func benchResults(n int) (sha string, results []*detect.Result) {
	sha, results = fixtureResults(fixtureRun("1"), "", fmt.Sprintf("2031-03 %d", n))
	r := results[0]
	for i := len(r.Evaluations); i < ruleCount; i++ {
		e := r.Evaluations[0]
		e.Rule = benchRules[i]
		r.Evaluations = append(r.Evaluations, e)
	}
	for i := len(r.Measurements); i < measurementCount; i++ {
		m := r.Measurements[0]
		m.Value += float64(n%100) + float64(i)
		r.Measurements = append(r.Measurements, m)
	}
	return sha, results[:1]
}

var benchRules = func() (rules []*detect.Rule) {
	for i := range ruleCount {
		rules = append(rules, &detect.Rule{ID: fmt.Sprintf("rule-number-%d", i), Title: "A rule", Group: "Rules"})
	}
	return rules
}()

// writeMonth makes an archive that holds so many recordings of one month, and
// their entries in the ledger, by writing tables and ledger as they are.
func writeMonth(b *testing.B, dir string, recordings int) {
	b.Helper()
	numbers := map[string]int{}
	for n := range recordings {
		sha, _ := fixtureResults(fixtureRun("1"), "", fmt.Sprintf("2031-03 %d", n))
		numbers[sha] = n
	}
	order := sortedKeys(numbers)
	var writers []*parquet.GenericWriter[any]
	for i := range tables {
		f, err := realDisk{}.create(filepath.Join(dir, partPath(tables[i].name, "2031-03")))
		if err != nil {
			b.Fatal(err)
		}
		defer f.Close()
		writers = append(writers, tables[i].newWriter(f))
	}
	shards := map[string][]string{}
	for _, sha := range order {
		_, results := benchResults(numbers[sha])
		f := newFlightRows(fixtureRun("1"), results[0])
		for i := range tables {
			if _, err := writers[i].WriteRows(tables[i].rows(&f)); err != nil {
				b.Fatal(err)
			}
		}
		for shard, entry := range map[string]any{
			recordingShard(sha): recordingEntry{Key: sha, Holders: []holder{{Input: sha[:32], Name: "a.csv"}}, Months: []string{"2031-03"}},
			inputShard("/old/" + sha[:2] + "/x"): inputEntry{Key: sha[:32], Path: "/old/" + sha, SHA256: sha, Recording: sha,
				Profile: sha, Packs: []string{sha, sha}, Version: "1", Outcome: done, Flights: 1},
		} {
			shards[shard] = append(shards[shard], string(encodeLine(entry)))
		}
	}
	for _, w := range writers {
		if err := w.Close(); err != nil {
			b.Fatal(err)
		}
	}
	for shard, lines := range shards {
		slices.Sort(lines)
		if err := writeFile(realDisk{}, filepath.Join(dir, shard), shard, false, func(w io.Writer) error {
			_, err := w.Write([]byte(strings.Join(lines, "\n") + "\n"))
			return err
		}); err != nil {
			b.Fatal(err)
		}
	}
	list, err := (&Archive{dir: dir}).firstChecksums()
	if err != nil {
		b.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, checksumsName), list.text(), 0o600); err != nil {
		b.Fatal(err)
	}
}

// BenchmarkCommit merges a night into an empty archive, and into the last night
// of a month of such nights, of two nights in a short run.
//
// Years: a night rewrites its months' parts and the shards of the ledger that it touches, at most 256 of recordings and one
// for each folder of inputs; lines and rows nobody asks for are carried over. `BenchmarkCommit` merges a night of 2,000 flights
// into a month that holds 58,000 (9 s on two cores). The memory of a merge is bounded by a row group of each table.
func BenchmarkCommit(b *testing.B) {
	for _, nights := range []int{0, effort.Of(2, 29, 29)} {
		b.Run(fmt.Sprintf("after_%d_nights", nights), func(b *testing.B) {
			full := filepath.Join(b.TempDir(), "archive")
			writeMonth(b, full, nights*nightRecordings)
			for b.Loop() {
				b.StopTimer()
				dir := filepath.Join(b.TempDir(), "archive")
				if err := os.CopyFS(dir, os.DirFS(full)); err != nil {
					b.Fatal(err)
				}
				a, err := Open(dir, fixtureRun("1"), nil)
				if err != nil {
					b.Fatal(err)
				}
				for n := range nightRecordings {
					sha, results := benchResults(1e6 + n)
					if err := a.stageResults(Input{Path: fmt.Sprintf("/new/%d", n)}, Sight{}, time.Now(), sha, results); err != nil {
						b.Fatal(err)
					}
				}
				b.StartTimer()
				if err := a.Commit(); err != nil {
					b.Fatal(err)
				}
				a.Close()
			}
			b.ReportMetric(float64(nightRecordings*b.N)/b.Elapsed().Seconds(), "recordings/s")
		})
	}
}

// BenchmarkMergeArray merges the results of an array, a flight to an input, over ten years of months.
// ARRAY_FLIGHTS sets how many there are.
func BenchmarkMergeArray(b *testing.B) {
	flights := 256
	if n, err := strconv.Atoi(os.Getenv("ARRAY_FLIGHTS")); err == nil {
		flights = n
	}
	full := filepath.Join(b.TempDir(), "archive")
	run := fixtureRun("1")
	run.Began = time.Now()
	a, err := Open(full, run, nil)
	if err != nil {
		b.Fatal(err)
	}
	var inputs []ArrayInput
	for n := range flights {
		path := fmt.Sprintf("/exports/%d/%d", n%1000, n)
		inputs = append(inputs, ArrayInput{Path: path, Files: []string{path}, Sight: Sight{Size: 1e6}})
	}
	dir, err := a.PlanArray(inputs, 16, []byte(`{}`), nil)
	a.Close()
	if err != nil {
		b.Fatal(err)
	}
	r, err := OpenArray(dir)
	if err == nil {
		err = r.Use(run)
	}
	if err != nil {
		b.Fatal(err)
	}
	staged, plain := int64(0), 0
	for task := range r.Tasks {
		if err := r.EachChunk(task, func(n int, inputs []ArrayInput) error {
			c, err := r.Begin(n, inputs)
			if err != nil {
				return err
			}
			for _, in := range inputs {
				sha, results := benchResults(n*chunkInputs + len(c.records))
				rows := Rows{Recording: sha}
				rows.Add(run, results[0])
				f := &rows.flights[0]
				f.Month = fmt.Sprintf("%d-%02d", 2031+len(c.records)%10, 1+n%12)
				plain += len(marshal(f))
				if err := c.StageRows(Input{Path: in.Path, Files: in.Files}, in.Sight, time.Now(), rows); err != nil {
					return err
				}
			}
			err = c.End()
			if info, looking := os.Stat(r.chunkPath(n)); looking == nil {
				staged += info.Size()
			}
			return err
		}); err != nil {
			b.Fatal(err)
		}
	}
	for b.Loop() {
		b.StopTimer()
		dir := filepath.Join(b.TempDir(), "archive")
		if err := os.CopyFS(dir, os.DirFS(full)); err != nil {
			b.Fatal(err)
		}
		of := *r
		of.Dir = filepath.Join(dir, arraysFolder, filepath.Base(r.Dir))
		b.StartTimer()
		a, err := Open(dir, run, nil)
		if err != nil {
			b.Fatal(err)
		}
		if m, err := a.MergeArray(&of, 0, func(string, []MergedInput) {}); err != nil || m.Already+m.Superseded > 0 {
			b.Fatal(m, err)
		}
		a.Close()
	}
	b.ReportMetric(float64(flights*b.N)/b.Elapsed().Seconds(), "flights/s")
	b.ReportMetric(float64(staged)/float64(flights), "staged-bytes/flight")
	b.ReportMetric(float64(plain)/float64(flights), "JSON-bytes/flight")
}
