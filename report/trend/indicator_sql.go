package trend

import (
	"fmt"
	"strconv"
	"strings"
)

// indicatorSQL returns the points of an indicator, one a row.
func (t *Trend) indicatorSQL(in *Indicator) string {
	point := "month"
	switch in.Period {
	case aQuarter:
		point = "left(month, 4) || ' Q' || ((CAST(right(month, 2) AS INTEGER) + 2) // 3)"
	case aYear:
		point = "left(month, 4)"
	}
	within := t.in(t.whole())
	if in.Rule == "" {
		value := ""
		if in.Beyond != nil {
			value = fmt.Sprintf("100 * avg(CASE WHEN value > %s THEN 1.0 ELSE 0 END)", plain(*in.Beyond))
		} else {
			value = fmt.Sprintf("quantile_disc(value, %s)", plain(*in.Quantile))
		}
		return `SELECT ` + point + ` AS point, count(DISTINCT flight_id) AS flights, count(*) AS "values", ` + value + ` AS value
FROM ` + t.table("measurements") + `
WHERE ` + within + ` AND measurement = ` + quoted(in.Measurement) + ` AND value IS NOT NULL GROUP BY ALL ORDER BY ALL`
	}
	wanted := ""
	if len(in.Severity) > 0 {
		wanted = " AND severity IN ('" + strings.Join(in.Severity, "', '") + "')"
	}
	open, divisor := "", "flights_able"
	if t.PerOpportunity() {
		open = ", opportunities"
	}
	if in.dividedBy(t) == byOpportunities {
		divisor = byOpportunities
	}
	return `WITH able AS (
  SELECT ` + point + ` AS point, sum(` + ableSQL + `) AS flights_able` + t.openSQL() + `
  FROM ` + t.table("evaluations") + `
  WHERE ` + within + ` AND rule = ` + quoted(in.Rule) + ` GROUP BY ALL),
counted AS (
  SELECT ` + point + ` AS point, count(*) AS ` + t.Nouns() + `
  FROM ` + t.table("events") + `
  WHERE ` + within + ` AND rule = ` + quoted(in.Rule) + wanted + t.thatCount() + ` GROUP BY ALL)
SELECT point, ` + noneSQL(t.Nouns()) + `, flights_able` + open + `,
  1000 * coalesce(` + t.Nouns() + `, 0) / nullif(` + divisor + `, 0) AS value
FROM able LEFT JOIN counted USING (point) ORDER BY ALL`
}

func plain(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }
