package trend

import (
	"fmt"
	"strings"

	"downlock/report/trend/tally"
)

// Query is SQL that gives one of the tables again, for DuckDB.
type Query struct{ Name, Title, SQL string }

// Queries gives the SQL of the page.
func (t *Trend) Queries() []Query {
	first, last := t.Tally.Months[0].Name, t.Tally.Months[len(t.Tally.Months)-1].Name
	table := func(name string) string {
		return fmt.Sprintf("read_parquet(%s, hive_partitioning = true)", quoted(t.Archive+"/tables/"+name+"/*/part.parquet"))
	}
	within := fmt.Sprintf("month BETWEEN %s AND %s", quoted(first), quoted(last))
	recent := fmt.Sprintf("month BETWEEN %s AND %s", quoted(t.Tally.Months[t.Recent.First].Name), quoted(last))
	counted := ""
	if t.CertainOnly {
		counted = " AND certainty = 'certain'"
	}
	const able = `sum(CASE WHEN coverage = 'evaluated' THEN 1.0
           WHEN coverage = 'partly evaluated' AND scope_seconds > 0
             THEN 1 - least(greatest(unknown_seconds / scope_seconds, 0), 1)
           ELSE 0 END) AS flights_able`
	queries := []Query{
		{"rates", "Events per 1,000 flights, by rule and month", `WITH able AS (
  SELECT rule, month, ` + able + `
  FROM ` + table("evaluations") + `
  WHERE ` + within + ` GROUP BY ALL),
counted AS (
  SELECT rule, month, count(*) AS events, count(DISTINCT flight_id) AS flights_with_event
  FROM ` + table("events") + `
  WHERE ` + within + counted + ` GROUP BY ALL)
SELECT rule, month, coalesce(events, 0) AS events, coalesce(flights_with_event, 0) AS flights_with_event,
  flights_able, 1000 * coalesce(events, 0) / nullif(flights_able, 0) AS rate_per_1000
FROM able LEFT JOIN counted USING (rule, month) ORDER BY ALL`},
		{"measurements", "Quantiles of the measurements, by month", `SELECT measurement, month, count(value) AS flights,
  quantile_disc(value, 0.05) AS p5, quantile_disc(value, 0.25) AS p25, quantile_disc(value, 0.5) AS median,
  quantile_disc(value, 0.75) AS p75, quantile_disc(value, 0.95) AS p95
FROM ` + table("measurements") + `
WHERE ` + within + ` GROUP BY ALL ORDER BY ALL`},
		{"audits", "Agreement of the warnings, by month", `SELECT warning, month, sum(agreement_seconds) /
  nullif(sum(due_seconds) + sum(sounded_seconds) - sum(agreement_seconds), 0) AS agreement,
  sum(missed) AS missed, sum(late) AS late, sum(nuisance) AS nuisance
FROM ` + table("audits") + `
WHERE ` + within + ` AND coverage <> 'not evaluable' GROUP BY ALL ORDER BY ALL`},
	}
	for _, column := range t.Columns {
		queries = append(queries, Query{"groups " + column, "Events and able flights in " + t.Name(t.Recent) + ", by rule and " + strings.ReplaceAll(column, "_", " "),
			`WITH flights AS (
  SELECT flight_id, ` + t.columnSQL(column) + ` AS value
  FROM ` + table("flights") + ` WHERE ` + recent + `),
able AS (
  SELECT rule, value, ` + able + `
  FROM ` + table("evaluations") + ` JOIN flights USING (flight_id)
  WHERE ` + recent + ` GROUP BY ALL),
counted AS (
  SELECT rule, value, count(*) AS events
  FROM ` + table("events") + ` JOIN flights USING (flight_id)
  WHERE ` + recent + counted + ` GROUP BY ALL)
SELECT rule, value, coalesce(events, 0) AS events, flights_able
FROM able LEFT JOIN counted USING (rule, value) ORDER BY ALL`})
	}
	return queries
}

// columnSQL is a group column as the tally reads it.
func (t *Trend) columnSQL(column string) string {
	if column == tally.RegistrationColumn && t.AirframePattern != "" {
		return "coalesce(nullif(registration, ''), regexp_extract(recording_name, " + quoted(t.AirframePattern) + ", 1))"
	}
	return `CAST("` + strings.ReplaceAll(column, `"`, `""`) + `" AS VARCHAR)`
}

func quoted(s string) string { return "'" + strings.ReplaceAll(s, "'", "''") + "'" }
