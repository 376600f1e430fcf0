// Package duckdb holds what DuckDB, an independent reader of Parquet and another
// program's sums, makes of archives against what downlock says: the reference's queries
// on the demonstration flights, and the queries of the trends' page on an
// invented fleet. It is a module of its own: DuckDB is half a gigabyte that
// nothing else here needs.
//
//	cd testdata/duckdb && go test
//	cd testdata/duckdb && go test -run '^$' -bench Million -benchtime 1x -timeout 30m
package duckdb

import (
	"database/sql"
	"testing"

	_ "github.com/marcboeker/go-duckdb"
)

func open(t testing.TB) *sql.DB {
	t.Helper()
	db, err := sql.Open("duckdb", "")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { db.Close() })
	return db
}

// ask gives the rows a query has.
func ask(t testing.TB, db *sql.DB, query string) (out [][]any) {
	t.Helper()
	rows, err := db.Query(query)
	if err != nil {
		t.Fatalf("%v in\n%s", err, query)
	}
	defer rows.Close()
	columns, err := rows.Columns()
	if err != nil {
		t.Fatal(err)
	}
	for rows.Next() {
		cells := make([]any, len(columns))
		to := make([]any, len(columns))
		for i := range cells {
			to[i] = &cells[i]
		}
		if err := rows.Scan(to...); err != nil {
			t.Fatal(err)
		}
		out = append(out, cells)
	}
	if err := rows.Err(); err != nil {
		t.Fatal(err)
	}
	return out
}
