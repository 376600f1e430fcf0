package main

import (
	"bytes"
	"crypto/sha256"
	"encoding/csv"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"html"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"

	gocmp "github.com/google/go-cmp/cmp"
	"github.com/rogpeppe/go-internal/testscript"

	"downlock/cmd/downlock/command"
	"downlock/cmd/downlock/demo"
	"downlock/report/trend/fleet"
)

// inventedFleet lays out the archive of a small invented fleet, the truth about
// which the scripts name: fleet DIR. Of its 45 rules lever-cycled drifts,
// takeoff-parking-brake is what aircraft TARN-02 has nine times too many of in the
// second year, and its left leg grows slow.
func inventedFleet(made func() (string, error)) func(*testscript.TestScript, bool, []string) {
	return func(ts *testscript.TestScript, neg bool, args []string) {
		dir, err := made()
		ts.Check(err)
		ts.Check(os.CopyFS(ts.MkAbs(args[0]), os.DirFS(dir)))
	}
}

// writeFleet writes it, once for all scripts.
func writeFleet(dir string) func() (string, error) {
	return sync.OnceValues(func() (string, error) {
		f := fleet.Fleet{Seed: 6, Flights: 24_000, Months: 24, First: "2031-01", Aircraft: 6, Rules: 45}
		truth, err := f.Truth()
		if err != nil {
			return "", err
		}
		if truth.DriftRule != "lever-cycled" || truth.AircraftRule != "takeoff-parking-brake" || truth.Aircraft != "TARN-02" || truth.SlowLeg != "retraction-time-left" {
			return "", fmt.Errorf("what is wrong with the fleet has changed: %+v", truth)
		}
		return dir, f.Write(dir)
	})
}

var (
	hrefs   = regexp.MustCompile(`href="([^"]*)"`)
	anchors = regexp.MustCompile(`id="([^"]*)"`)
)

// goodLinks follows every link of the pages below a folder, to files and to
// places in them: goodlinks DIR.
func goodLinks(ts *testscript.TestScript, neg bool, args []string) {
	dir := ts.MkAbs(args[0])
	places := map[string]map[string]bool{}
	placesOf := func(path string) map[string]bool {
		if places[path] == nil {
			places[path] = map[string]bool{"": true}
			for _, found := range anchors.FindAllStringSubmatch(ts.ReadFile(path), -1) {
				places[path][found[1]] = true
			}
		}
		return places[path]
	}
	followed := 0
	for name, data := range tree(ts, dir) {
		if filepath.Ext(name) != ".html" {
			continue
		}
		for _, found := range hrefs.FindAllSubmatch(data, -1) {
			followed++
			link := html.UnescapeString(string(found[1]))
			file, place, _ := strings.Cut(link, "#")
			path := filepath.Join(dir, name)
			if file != "" {
				path = filepath.Join(filepath.Dir(path), filepath.FromSlash(file))
			}
			if _, err := os.Stat(path); err != nil || !placesOf(path)[place] {
				ts.Fatalf("%s: leads to %s, which is not there", name, link)
			}
		}
	}
	if followed == 0 {
		ts.Fatalf("no page below %s links to anything", args[0])
	}
	ts.Logf("%d links lead somewhere", followed)
}

// trendOf scans and makes the trends, and returns the folder of the trends.
func trendOf(t *testing.T, scan, trend []string) string {
	t.Helper()
	dir := t.TempDir()
	out := filepath.Join(dir, "trends")
	var said bytes.Buffer
	common := []string{"--archive", filepath.Join(dir, "archive")}
	if code := run(slices.Concat([]string{"scan", "--quiet", "--out", filepath.Join(dir, "reports")}, common, scan), &said, &said); code != command.ExitDone && code != command.ExitInputsFailed {
		t.Fatalf("scan ends with %d:\n%s", code, said.String())
	}
	if code := run(slices.Concat([]string{"trend", "--out", out, "--reports", filepath.Join(dir, "reports")}, common, trend), &said, &said); code != command.ExitDone {
		t.Fatalf("trend ends with %d:\n%s", code, said.String())
	}
	if err := os.WriteFile(filepath.Join(out, "said"), said.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	return out
}

// rowsOf reads a table by the names of its columns.
func rowsOf(t *testing.T, path string) (out []map[string]string) {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(bytes.NewReader(data)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range rows[1:] {
		cells := map[string]string{}
		for i, name := range rows[0] {
			cells[name] = row[i]
		}
		out = append(out, cells)
	}
	return out
}

// The events of the demonstration flights are counted as the truth about them has
// them. One flight has no date and is in no month: that of tarnholm-18, whose rows
// have clock times only.
func TestTrendOfDemonstration(t *testing.T) {
	t.Parallel()
	exports := t.TempDir()
	if _, err := demo.Write(exports, "th120"); err != nil {
		t.Fatal(err)
	}
	text, err := os.ReadFile(filepath.Join(exports, "truth.json"))
	if err != nil {
		t.Fatal(err)
	}
	var truth struct {
		Rules []string
		Files []struct {
			File    string
			Flights []struct {
				Events []struct{ Rule, Certainty string }
			}
		}
	}
	if err := json.Unmarshal(text, &truth); err != nil {
		t.Fatal(err)
	}
	want := map[string]int{}
	for _, file := range truth.Files {
		for _, flight := range file.Flights {
			for _, e := range flight.Events {
				if file.File != "tarnholm-18.csv.gz" {
					want[e.Rule+" "+e.Certainty]++
				}
			}
		}
	}
	out := trendOf(t, []string{exports}, nil)
	got, inMonths := map[string]int{}, map[string]int{}
	for _, row := range rowsOf(t, filepath.Join(out, "events.csv")) {
		if slices.Contains(truth.Rules, row["rule"]) {
			got[row["rule"]+" "+row["certainty"]]++
		}
		inMonths[row["rule"]+" "+row["month"]]++
	}
	if diff := gocmp.Diff(want, got); diff != "" || len(want) < 50 {
		t.Errorf("%d kinds of events; truth and trend:\n%s", len(want), diff)
	}
	// By hand, from the dates in the exports: the gear is late on tarnholm-08 of 24
	// March.
	if inMonths["gear-late 2031-03"] == 0 {
		t.Error("no late gear in March")
	}
	for _, row := range rowsOf(t, filepath.Join(out, "rates.csv")) {
		if row["column"] == "" && row["severity"] == "" && len(row["period"]) == 7 && row["events"] != "0" {
			key := row["rule"] + " " + row["period"]
			if row["events"] != strconv.Itoa(inMonths[key]) {
				t.Errorf("%s: %s events in rates.csv, %d in events.csv", key, row["events"], inMonths[key])
			}
			delete(inMonths, key)
		}
	}
	if len(inMonths) > 0 {
		t.Errorf("not in rates.csv: %v", inMonths)
	}
}

// The trends of an archive without identities are those of one with them: the
// same figures and the same page but for names, in which nothing identifies.
func TestTrendOfWithheldIdentity(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("takes some seconds, and does nothing at once that others do not")
	}
	e := newSecretExports(t)
	april := demoText(t, "tarnholm-13.csv.gz")
	path := filepath.Join(e.dir, secretRegistration+"_"+secretFlight+"_april.csv")
	if err := os.WriteFile(path, []byte(april), 0o600); err != nil {
		t.Fatal(err)
	}
	sum := sha256.Sum256([]byte(april))
	e.hashes, e.files, e.positions = append(e.hashes, hex.EncodeToString(sum[:])), append(e.files, path), append(e.positions, positionsIn(april)...)
	scan := []string{"--profile", e.profile, e.dir}
	named := trendOf(t, scan, nil)
	withheld := trendOf(t, append([]string{"--deidentify", e.key}, scan...), nil)
	for _, table := range []string{"rates", "comparisons", "measurements", "audits", "events"} {
		a, b := anonymous(rowsOf(t, filepath.Join(named, table+".csv"))), anonymous(rowsOf(t, filepath.Join(withheld, table+".csv")))
		if diff := gocmp.Diff(a, b); diff != "" || len(a) == 0 {
			t.Errorf("%s, %d rows, with names and without:\n%s", table, len(a), diff)
		}
	}
	pages := [2]string{}
	for i, dir := range []string{named, withheld} {
		page, err := os.ReadFile(filepath.Join(dir, "trend.html"))
		if err != nil {
			t.Fatal(err)
		}
		pages[i] = nameless.ReplaceAllString(strings.ReplaceAll(string(page), filepath.Dir(dir), ""), "NAME")
	}
	if pages[0] != pages[1] {
		t.Errorf("the pages differ:\n%s", gocmp.Diff(strings.Split(pages[0], "\n"), strings.Split(pages[1], "\n")))
	}
	namedTexts, texts := everyText(t, named), everyText(t, withheld)
	for what, form := range e.identifiers() {
		if where := foundIn(texts, form); where != "" {
			t.Errorf("%s: %s", what, where)
		}
	}
	if foundIn(namedTexts, regexp.MustCompile(secretRegistration)) == "" || foundIn(texts, regexp.MustCompile(`r-[a-z2-7]{12}-flight-1/report.html`)) == "" {
		t.Error("the search finds nothing, or no flight leads to its report")
	}
}

// nameless finds the texts that tell flights, aircraft and folders apart, with names and
// without.
var nameless = regexp.MustCompile(`F[0-9a-f]{12}|` + secretRegistration + `|a-[a-z2-7]{12}`)

// anonymous makes rows that can be compared: sorted, without the names of a flight
// or an aircraft.
func anonymous(rows []map[string]string) (out []string) {
	for _, row := range rows {
		delete(row, "flight_id")
		row["report"] = filepath.Base(row["report"])
		text, _ := json.Marshal(row)
		out = append(out, nameless.ReplaceAllString(string(text), "NAME"))
	}
	slices.Sort(out)
	return out
}
