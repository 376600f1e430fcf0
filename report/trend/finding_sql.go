package trend

import (
	"fmt"

	"downlock/report/trend/tally"
)

// The SQL of a finding computes its figures again, a row for the side that stands out and
// one for the other.

// sides divides flights into those that stand out and those they are held
// against. The SQL has the columns flight_id and side; months is the condition
// that limits a table to the months of both.
func (t *Trend) sides(g *group, periods bool) (sql, months string) {
	months = "(" + t.in(t.Before) + " OR " + t.in(t.Recent) + ")"
	side, where := "month >= "+quoted(t.Tally.Months[t.Recent.First].Name), ""
	if !periods {
		months = t.in(t.Recent)
		side = "coalesce(" + t.columnSQL(g.Column) + " = " + quoted(g.Value) + ", false)"
		if ofType := t.typeOf(g); ofType != "" {
			where = fmt.Sprintf(" AND (%s OR \"%s\" = %s)", side, tally.TypeColumn, quoted(ofType))
		}
	} else if g != nil {
		where = " AND " + t.columnSQL(g.Column) + " = " + quoted(g.Value)
	}
	return `flights AS (
  SELECT flight_id, CASE WHEN ` + side + ` THEN 'this' ELSE 'against' END AS side
  FROM ` + t.table("flights") + `
  WHERE ` + months + where + `)`, months
}

// typeOf is the aircraft type that a group is held against the rest of; "" where
// it is held against all flights.
func (t *Trend) typeOf(g *group) string {
	for i, column := range t.Columns {
		if column == tally.TypeColumn && g.Column == tally.RegistrationColumn {
			return t.Strata[g.strata[0]][i]
		}
	}
	return ""
}

func (t *Trend) comparisonSQL(c *comparison) string {
	flights, months := t.sides(c.Group, c.Group == nil)
	of := months + " AND rule = " + quoted(t.Rules[c.Rule])
	counted := t.Nouns()
	if c.Unit == ofFlights {
		counted = t.flightsWith()
	}
	return `WITH ` + flights + `,
able AS (
  SELECT side, sum(` + ableSQL + `) AS flights_able` + t.openSQL() + `
  FROM ` + t.table("evaluations") + ` JOIN flights USING (flight_id)
  WHERE ` + of + ` GROUP BY ALL),
counted AS (
  SELECT side, ` + t.numbersSQL() + `,
    ` + severitiesSQL + `
  FROM ` + t.table("events") + ` JOIN flights USING (flight_id)
  WHERE ` + of + t.thatCount() + ` GROUP BY ALL)
SELECT side, ` + noneSQL(counted) + `,
  ` + t.rateSQL(counted, t.dividedBy(c.Unit)) + `,
  coalesce(high, 0) AS high, coalesce(medium, 0) AS medium, coalesce(low, 0) AS low
FROM able LEFT JOIN counted USING (side) ORDER BY side DESC`
}

func (t *Trend) shiftSQL(s *shift) string {
	flights, months := t.sides(s.Group, s.Group == nil || s.Periods)
	// A group is among all of its kind, which it is held against.
	against := "side = 'against'"
	if s.Group != nil && !s.Periods {
		against = "true"
	}
	// One value a flight is ranked, the median of its own; quantiles are of all.
	return `WITH ` + flights + `,
measured AS (
  SELECT side, flight_id, value
  FROM ` + t.table("measurements") + ` JOIN flights USING (flight_id)
  WHERE ` + months + ` AND measurement = ` + quoted(t.Measured[s.Measurement].Name) + ` AND value IS NOT NULL),
by_flight AS (
  SELECT side, flight_id, quantile_disc(value, 0.5) AS value FROM measured GROUP BY ALL),
ranked AS (
  SELECT side, rank() OVER (ORDER BY value) + (count(*) OVER (PARTITION BY value) - 1) / 2.0 AS ranked FROM by_flight),
sums AS (
  SELECT count(*) FILTER (WHERE side = 'this') AS n, count(*) FILTER (WHERE side = 'against') AS rest,
    sum(ranked) FILTER (WHERE side = 'this') AS ranks FROM ranked),
usual AS (
  SELECT count(DISTINCT flight_id) AS n, count(*) AS "values", quantile_disc(value, 0.5) AS median, quantile_disc(value, 0.95) AS p95
  FROM measured WHERE ` + against + `),
this AS (
  SELECT count(*) AS "values", quantile_disc(value, 0.25) AS p25, quantile_disc(value, 0.5) AS median,
    quantile_disc(value, 0.75) AS p75, avg(CASE WHEN value > p95 THEN 1.0 ELSE 0 END) AS beyond
  FROM measured, usual WHERE side = 'this')
SELECT sums.n AS flights, this."values", this.median, this.p25, this.p75,
  usual.n AS flights_against, usual."values" AS values_against, usual.median AS median_against,
  usual.p95 AS p95_against, beyond AS share_beyond, (ranks - sums.n * (sums.n + 1) / 2.0) / (sums.n * rest) AS chance_above
FROM this, usual, sums`
}
