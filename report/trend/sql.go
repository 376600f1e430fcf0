package trend

import (
	"fmt"
	"strings"

	"downlock/report/trend/tally"
)

// Query is SQL that makes one of the tables again, for DuckDB.
type Query struct{ Name, Title, SQL string }

// The flights able to show an event: one that was partly evaluated counts with
// the known part of the scope.
const ableSQL = `CASE WHEN coverage = 'evaluated' THEN 1.0
    WHEN coverage = 'partly evaluated' AND scope_seconds > 0
      THEN 1 - least(greatest(unknown_seconds / scope_seconds, 0), 1)
    ELSE 0 END`

// openSQL is what rates divide by, as a column; "" where flights alone divide.
func (t *Trend) openSQL() string {
	if !t.PerOpportunity() {
		return ""
	}
	return ", sum(CASE WHEN coverage IN ('evaluated', 'partly evaluated') THEN opportunities_known ELSE 0 END) AS opportunities"
}

// rateSQL are the rates of a count, those by opportunity first, where
// they divide by that.
func (t *Trend) rateSQL(counted, per string) string {
	rate := func(by, name string) string {
		return "1000 * coalesce(" + counted + ", 0) / nullif(" + by + ", 0) AS " + name
	}
	flights := "flights_able, " + rate("flights_able", "rate_per_1000")
	if per == byFlights {
		return flights
	}
	return "opportunities, " + rate("opportunities", "per_1000_opportunities") + ",\n  " + flights
}

const severitiesSQL = `count(*) FILTER (WHERE severity = 'high') AS high,
    count(*) FILTER (WHERE severity = 'medium') AS medium, count(*) FILTER (WHERE severity = 'low') AS low`

const quantilesSQL = `count(DISTINCT flight_id) AS flights, count(*) AS "values", quantile_disc(value, 0.05) AS p5, quantile_disc(value, 0.25) AS p25,
  quantile_disc(value, 0.5) AS median, quantile_disc(value, 0.75) AS p75, quantile_disc(value, 0.95) AS p95`

// table is how a query reads a table of the archive. Older months may lack
// columns that were added since.
func (t *Trend) table(name string) string {
	return fmt.Sprintf("read_parquet(%s, hive_partitioning = true, union_by_name = true)", quoted(t.Archive+"/tables/"+name+"/*/part.parquet"))
}

// in limits a query to a period.
func (t *Trend) in(p Period) string {
	return fmt.Sprintf("month BETWEEN %s AND %s", quoted(t.Tally.Months[p.First].Name), quoted(t.Tally.Months[p.Last].Name))
}

func (t *Trend) whole() Period { return Period{0, len(t.Tally.Months) - 1} }

// numbersSQL counts events or occurrences, and the flights that have some.
func (t *Trend) numbersSQL() string {
	return "count(*) AS " + t.Nouns() + ", count(DISTINCT flight_id) AS " + t.flightsWith()
}

// flightsWith names the column of flights that have some.
func (t *Trend) flightsWith() string { return "flights_with_" + t.Noun() }

// noneSQL is a column of numbers, 0 where none was counted.
func noneSQL(column string) string { return "coalesce(" + column + ", 0) AS " + column }

// thatCount limits events to those that count.
func (t *Trend) thatCount() string {
	s := ""
	if t.CertainOnly {
		s = "\n    AND certainty = 'certain'"
	}
	if t.Reviewed {
		s += fmt.Sprintf("\n    AND event_id NOT IN (SELECT event_id FROM read_parquet(%s)\n      WHERE latest AND verdict = 'false' AND NOT outdated)", quoted(t.Archive+"/tables/verdicts/part.parquet"))
	}
	if t.Occurrences && t.Joined > 0 {
		// The filters above apply before one event of each occurrence is chosen.
		s += fmt.Sprintf("\n    AND event_id IN (SELECT event_id FROM read_parquet(%s, hive_partitioning = true, union_by_name = true, file_row_number = true)"+
			"\n      WHERE true%s\n      QUALIFY row_number() OVER (PARTITION BY flight_id, coalesce(nullif(occurrence_id, ''), event_id)"+
			"\n        ORDER BY severity = 'high' DESC, severity = 'medium' DESC, file_row_number) = 1)", quoted(t.Archive+"/tables/events/*/part.parquet"), s)
	}
	return s
}

// Queries returns the SQL of the page.
func (t *Trend) Queries() []Query {
	within := t.in(t.whole())
	queries := []Query{
		{"totals", "Flights, and " + t.Nouns() + " by severity, by month", `WITH counted AS (
  SELECT month, count(*) AS ` + t.Nouns() + `, ` + severitiesSQL + `
  FROM ` + t.table("events") + `
  WHERE ` + within + t.thatCount() + ` GROUP BY ALL)
SELECT 'all' AS rules, month, count(*) AS flights, any_value(coalesce(` + t.Nouns() + `, 0)) AS ` + t.Nouns() + `,
  any_value(coalesce(high, 0)) AS high, any_value(coalesce(medium, 0)) AS medium, any_value(coalesce(low, 0)) AS low
FROM ` + t.table("flights") + ` LEFT JOIN counted USING (month)
WHERE ` + within + ` GROUP BY ALL ORDER BY ALL`},
		{"rates", capital(t.Nouns()) + " per 1,000 " + t.Per() + ", by rule and month", `WITH able AS (
  SELECT rule, month, sum(` + ableSQL + `) AS flights_able` + t.openSQL() + `
  FROM ` + t.table("evaluations") + `
  WHERE ` + within + ` GROUP BY ALL),
counted AS (
  SELECT rule, month, ` + t.numbersSQL() + `
  FROM ` + t.table("events") + `
  WHERE ` + within + t.thatCount() + ` GROUP BY ALL)
SELECT rule, month, ` + noneSQL(t.Nouns()) + `, ` + noneSQL(t.flightsWith()) + `,
  ` + t.rateSQL(t.Nouns(), t.Per()) + `
FROM able LEFT JOIN counted USING (rule, month) ORDER BY ALL`},
		{"measurements", "Quantiles of the measurements, by month", `SELECT measurement, month, ` + quantilesSQL + `
FROM ` + t.table("measurements") + `
WHERE ` + within + ` AND value IS NOT NULL GROUP BY ALL ORDER BY ALL`},
		{"audits", "Warnings against their criteria, by month", `SELECT warning, month, sum(agreement_seconds) /
  nullif(sum(due_seconds) + sum(sounded_seconds) - sum(agreement_seconds), 0) AS agreement,
  sum(missed) AS missed, sum(late) AS late, sum(nuisance) AS nuisance,
  sum(wrongly_silenced) AS wrongly_silenced, count(*) AS flights_audited
FROM ` + t.table("audits") + `
WHERE ` + within + ` AND coverage <> 'not evaluable' GROUP BY ALL ORDER BY ALL`},
	}
	for _, column := range t.Columns {
		queries = append(queries, t.groupQueries(column)...)
	}
	return queries
}

// groupQueries are the events and measurements by a column of flights.
func (t *Trend) groupQueries(column string) []Query {
	words := strings.ReplaceAll(column, "_", " ")
	flights := `WITH flights AS (
  SELECT flight_id, ` + t.columnSQL(column) + ` AS value_of_column
  FROM ` + t.table("flights") + ` WHERE ` + t.in(t.Recent) + ` AND value_of_column <> '')`
	return []Query{
		{"groups " + column, capital(t.Nouns()) + " and flights evaluated in " + t.Name(t.Recent) + ", by rule and " + words, flights + `,
able AS (
  SELECT rule, value_of_column, sum(` + ableSQL + `) AS flights_able` + t.openSQL() + `
  FROM ` + t.table("evaluations") + ` JOIN flights USING (flight_id)
  WHERE ` + t.in(t.Recent) + ` GROUP BY ALL),
counted AS (
  SELECT rule, value_of_column, ` + t.numbersSQL() + `
  FROM ` + t.table("events") + ` JOIN flights USING (flight_id)
  WHERE ` + t.in(t.Recent) + t.thatCount() + ` GROUP BY ALL)
SELECT rule, value_of_column, ` + noneSQL(t.Nouns()) + `, ` + noneSQL(t.flightsWith()) + `,
  ` + t.rateSQL(t.Nouns(), t.Per()) + `
FROM able LEFT JOIN counted USING (rule, value_of_column) ORDER BY ALL`},
		{"measurements " + column, "Quantiles of the measurements in " + t.Name(t.Recent) + ", by " + words, flights + `
SELECT measurement, value_of_column, ` + quantilesSQL + `
FROM ` + t.table("measurements") + ` JOIN flights USING (flight_id)
WHERE ` + t.in(t.Recent) + ` AND value IS NOT NULL GROUP BY ALL ORDER BY ALL`},
	}
}

// columnSQL is a group column as the tally reads it.
func (t *Trend) columnSQL(column string) string {
	if column == tally.RegistrationColumn && t.AirframePattern != "" {
		return "coalesce(nullif(registration, ''), regexp_extract(recording_name, " + quoted(t.AirframePattern) + ", 1))"
	}
	return `CAST("` + strings.ReplaceAll(column, `"`, `""`) + `" AS VARCHAR)`
}

func quoted(s string) string { return "'" + strings.ReplaceAll(s, "'", "''") + "'" }
