package archive

import (
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/parquet-go/parquet-go"

	"downlock/schemas"
)

var sqlWord = regexp.MustCompile(`'[^']*'|[A-Za-z_][A-Za-z_0-9]*`)

// Words of the reference's queries that are SQL's own, or names the queries give.
var sqlWords = strings.Fields(`SELECT FROM WHERE AND AS ON USING JOIN GROUP ORDER BY DESC FILTER DISTINCT
	count sum round nullif unnest read_parquet hive_partitioning union_by_name true month
	LEFT IS NULL IN OR NOT e f v flights_able per_1000_flights per_1000_opportunities reason flights rules`)

// TestQueriesNameColumns: the queries of `downlock help tables` read tables and columns there are.
// testdata/duckdb runs them.
func TestQueriesNameColumns(t *testing.T) {
	t.Parallel()
	reference, err := os.ReadFile("../../cmd/downlock/topics/tables.md")
	if err != nil {
		t.Fatal(err)
	}
	known := slices.Clone(sqlWords)
	globs := []string{"'fleet/tables/verdicts/part.parquet'"}
	for _, path := range parquet.SchemaOf(schemas.VerdictRow{}).Columns() {
		known = append(known, path[0])
	}
	for _, x := range tables {
		globs = append(globs, "'fleet/tables/"+x.name+"/*/part.parquet'")
		for _, path := range x.schema.Columns() {
			known = append(known, path[0])
		}
	}
	blocks := strings.Split(string(reference), "```sql\n")[1:]
	if len(blocks) == 0 {
		t.Fatal("the reference has no query")
	}
	for _, block := range blocks {
		query, _, _ := strings.Cut(block, "```")
		for _, word := range sqlWord.FindAllString(query, -1) {
			switch {
			case strings.HasPrefix(word, "'fleet") && !slices.Contains(globs, word):
				t.Errorf("%s is no table", word)
			case word[0] != '\'' && !slices.Contains(known, word):
				t.Errorf("%s is no column, in\n%s", word, query)
			}
		}
	}
}
