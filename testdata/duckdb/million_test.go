package duckdb

import (
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"downlock/report/trend"
	"downlock/report/trend/fleet"
	"downlock/report/trend/tally"
)

// mostMemory is what trend may take, in KiB.
const mostMemory = 1 << 20

// BenchmarkMillion times `downlock trend` over a million flights, 45 million
// evaluations, and in the same run DuckDB with the SQL of the page, which is less
// work: no comparison, no season, no page. Each is a process of its own. All that
// the SQL gives must be what trend gives, and what is wrong with the fleet on top.
//
// TREND_FLIGHTS makes a smaller fleet; TREND_ARCHIVE names a folder to keep the
// archive in.
//
// `BenchmarkMillion` in `testdata/duckdb` (`TREND_ARCHIVE=/var/tmp/million` keeps the archive): 1 million flights, 45 rules, 60
// aircraft, 60 months, 276 MiB. The command as a process of its own, against DuckDB on two threads with the SQL of the page, which
// is less work, in five runs on two busy cores:
//
// | | trend / DuckDB |
// |---|---|
// | time by the clock | 0.57 to 0.74 |
// | time of the processors | 0.66 to 0.75 |
// | most memory | 0.60 to 0.70, at most 433 MiB |
//
// It reads 115 of the 276 MiB, 51 for the last 24 months (0.54 of the processor time), and with groups by both aerodromes, 2,160
// of them, takes 1.6 times the processor time and 807 MiB. All figures of the SQL are the same, and what stands out is what was put
// in: the slow leg, the bad aircraft at 9.2 times the rate (9 was put in), the drift at 2.0 (2). The season is called one.
// CI runs it with 100,000 flights.
func BenchmarkMillion(b *testing.B) {
	f := fleet.Million
	if n, err := strconv.Atoi(os.Getenv("TREND_FLIGHTS")); err == nil {
		f.Flights = n
	}
	work := b.TempDir()
	dir := os.Getenv("TREND_ARCHIVE")
	if dir == "" {
		dir = filepath.Join(work, "fleet")
	}
	if _, err := os.Stat(filepath.Join(dir, "tables")); err != nil {
		if err := f.Write(dir); err != nil {
			b.Fatal(err)
		}
	}
	program := filepath.Join(work, "downlock")
	build := exec.Command("go", "build", "-o", program, "./cmd/downlock")
	build.Dir = repository
	run(b, build)
	tr := trendOf(b, tally.Options{Archive: dir, By: []string{"aircraft"}}, trend.Options{})
	queries, answers := filepath.Join(work, "queries"), filepath.Join(work, "answers")
	save(b, queries, tr.Queries())
	for b.Loop() {
		ours := run(b, exec.Command(program, "trend", "--quiet", "--archive", dir, "--out", filepath.Join(work, "trends")))
		ask := exec.Command(os.Args[0], "-test.run", "^TestAnswer$")
		ask.Env = append(os.Environ(), "TREND_QUERIES="+queries, "TREND_ANSWERS="+answers)
		theirs := run(b, ask)
		b.ReportMetric(ours.wall, "s/trend")
		b.ReportMetric(theirs.wall, "s/duckdb")
		b.ReportMetric(ours.wall/theirs.wall, "wall-trend/duckdb")
		b.ReportMetric(ours.processor/theirs.processor, "processor-trend/duckdb")
		b.ReportMetric(float64(ours.peak)/1024, "MiB/trend")
		b.ReportMetric(float64(theirs.peak)/1024, "MiB/duckdb")
		if ours.peak > mostMemory || ours.peak == 0 {
			b.Errorf("trend took %d KiB", ours.peak)
		}
		checkFindings(b, f, ours.said)
	}
	var found map[string]map[string][]float64
	load(b, answers, &found)
	for _, q := range tr.Queries() {
		same(b, q.Name, found[q.Name], ours(tr, q.Name))
	}
}

// checkFindings looks for what is wrong with the fleet in the lines trend gives:
// it is all that stands out, beside what rests on the one aircraft.
func checkFindings(b *testing.B, f fleet.Fleet, said string) {
	truth, err := f.Truth()
	if err != nil {
		b.Fatal(err)
	}
	want := map[string]bool{
		"stands out\t" + truth.DriftRule + "\t\t":                                 false,
		"stands out\t" + truth.AircraftRule + "\tregistration\t" + truth.Aircraft: false,
		"stands out\t" + truth.SlowLeg + "\tregistration\t" + truth.Aircraft:      false,
	}
	if f.Flights >= fleet.Million.Flights {
		want["season\t"+truth.SeasonRule+"\t\t"] = false
	}
	for i, line := range strings.Split(strings.TrimSpace(said), "\n")[1:] {
		cells := strings.Split(line, "\t")
		key := strings.Join(cells[:4], "\t")
		if _, ok := want[key]; ok {
			want[key] = true
		} else if cells[1] != truth.AircraftRule && (cells[0] != "season" || cells[1] != truth.SeasonRule) {
			b.Errorf("nothing is wrong here: %s", line)
		}
		if i == 0 && cells[3] != truth.Aircraft {
			b.Errorf("on top is %s", line)
		}
	}
	for key, found := range want {
		if !found {
			b.Errorf("not found: %q in\n%s", key, said)
		}
	}
}
