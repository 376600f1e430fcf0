package duckdb

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"sort"
	"strings"
	"testing"
)

const repository = "../.."

// queries are the SQL blocks of `downlock help tables`, in order.
func queries(t *testing.T) []string {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(repository, "cmd", "downlock", "topics", "tables.md"))
	if err != nil {
		t.Fatal(err)
	}
	var found []string
	for _, block := range strings.Split(string(text), "```sql\n")[1:] {
		query, _, _ := strings.Cut(block, "```")
		found = append(found, query)
	}
	if len(found) != 3 {
		t.Fatalf("the reference has %d queries, want 3", len(found))
	}
	return found
}

// scan makes archive and reports of the demonstration flights in a folder.
func scan(t *testing.T) (dir string) {
	t.Helper()
	dir = t.TempDir()
	program := filepath.Join(dir, "downlock")
	for _, args := range [][]string{
		{"go", "build", "-o", program, "./cmd/downlock"},
		{program, "demo", filepath.Join(dir, "demo")},
		{program, "scan", "--quiet", "--archive", filepath.Join(dir, "fleet"), "--out", filepath.Join(dir, "reports"), filepath.Join(dir, "demo")},
	} {
		cmd := exec.Command(args[0], args[1:]...)
		cmd.Dir = repository
		if out, err := cmd.CombinedOutput(); err != nil {
			t.Fatalf("%v: %v: %s", args, err, out)
		}
	}
	return dir
}

// lines gives the rows of a query, cells separated by |.
func lines(t *testing.T, query string) (out []string) {
	t.Helper()
	for _, row := range ask(t, open(t), query) {
		words := make([]string, len(row))
		for i, cell := range row {
			words[i] = fmt.Sprint(cell)
		}
		out = append(out, strings.Join(words, "|"))
	}
	return out
}

func TestQueriesOfReference(t *testing.T) {
	list := queries(t)
	dir := scan(t)
	t.Chdir(dir)
	sameLines(t, "rates", firstCells(lines(t, list[0]), 3), rates(t))
	sameLines(t, "flights to look at", firstCells(without(lines(t, list[1]), 2), 4), flightsToLookAt(t))
	sameLines(t, "what is missing", lines(t, list[2]), missing(t))
}

func sameLines(t *testing.T, what string, got, want []string) {
	t.Helper()
	sort.Strings(got)
	sort.Strings(want)
	if len(want) == 0 || !slices.Equal(got, want) {
		t.Errorf("%s: DuckDB gives\n%s\nthe reports\n%s", what, strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
}

func firstCells(lines []string, n int) []string {
	for i, line := range lines {
		lines[i] = strings.Join(strings.Split(line, "|")[:n], "|")
	}
	return lines
}

func without(lines []string, column int) []string {
	for i, line := range lines {
		lines[i] = strings.Join(slices.Delete(strings.Split(line, "|"), column, column+1), "|")
	}
	return lines
}

func readJSON(t *testing.T, path string, into any) {
	t.Helper()
	data, err := os.ReadFile(path)
	if err == nil {
		err = json.Unmarshal(data, into)
	}
	if err != nil {
		t.Fatal(err)
	}
}

// rates are those of index.json.
func rates(t *testing.T) (lines []string) {
	type counts struct{ Certain, Possible int }
	var index struct {
		Rules []struct {
			Rule   string
			Able   int `json:"flights_able"`
			Events struct{ High, Medium, Low counts }
		}
	}
	readJSON(t, "reports/index.json", &index)
	for _, r := range index.Rules {
		events := 0
		for _, c := range []counts{r.Events.High, r.Events.Medium, r.Events.Low} {
			events += c.Certain + c.Possible
		}
		lines = append(lines, fmt.Sprintf("%s|%d|%d", r.Rule, r.Able, events))
	}
	return lines
}

// flightsToLookAt are the events of high severity in June, of events.csv.
func flightsToLookAt(t *testing.T) (lines []string) {
	f, err := os.Open("reports/events.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	column := func(name string) int { return slices.Index(rows[0], name) }
	for _, r := range rows[1:] {
		if r[column("severity")] == "high" && strings.HasPrefix(r[column("start_utc")], "2031-06") {
			lines = append(lines, fmt.Sprintf("%s|%s|%s|%s", r[column("recording")], r[column("flight")], r[column("rule")], r[column("certainty")]))
		}
	}
	return lines
}

// missing counts what every report.json says is missing.
func missing(t *testing.T) (lines []string) {
	reports, err := filepath.Glob("reports/*/report.json")
	if err != nil {
		t.Fatal(err)
	}
	flights, rules := map[string]map[string]bool{}, map[string]map[string]bool{}
	for _, path := range reports {
		var report struct {
			Evaluations []struct {
				Rule    string
				Missing []string
			}
		}
		readJSON(t, path, &report)
		for _, e := range report.Evaluations {
			for _, reason := range e.Missing {
				if flights[reason] == nil {
					flights[reason], rules[reason] = map[string]bool{}, map[string]bool{}
				}
				flights[reason][path], rules[reason][e.Rule] = true, true
			}
		}
	}
	for reason := range flights {
		lines = append(lines, fmt.Sprintf("%s|%d|%d", reason, len(flights[reason]), len(rules[reason])))
	}
	return lines
}
