package trend

import (
	"math"

	"downlock/report/trend/statistics"
	"downlock/report/trend/tally"
)

// RateRow is the events of a rule in a month or period, of all flights or a
// group, of all severities or one.
type RateRow struct {
	Rule         string   `parquet:"rule,dict" json:"rule"`
	Title        string   `parquet:"title,dict" json:"title"`
	Period       string   `parquet:"period,dict" json:"period"`     // month YYYY-MM, or FIRST to LAST
	Column       string   `parquet:"column,dict" json:"column"`     // of flights; phase; "" for all flights
	Value        string   `parquet:"value,dict" json:"value"`       // in that column
	Severity     string   `parquet:"severity,dict" json:"severity"` // "" for all
	Events       int64    `parquet:"events" json:"events"`
	FlightsWith  int64    `parquet:"flights_with_event" json:"flights_with_event"` // of all severities
	Able         float64  `parquet:"flights_able" json:"flights_able"`
	Evaluated    int64    `parquet:"flights_evaluated" json:"flights_evaluated"`
	Partly       int64    `parquet:"flights_partly_evaluated" json:"flights_partly_evaluated"`
	NotEvaluable int64    `parquet:"flights_not_evaluable" json:"flights_not_evaluable"`
	Rate         *float64 `parquet:"rate_per_1000,optional" json:"rate_per_1000"` // flights; absent without able ones
	Low          *float64 `parquet:"low,optional" json:"low"`
	High         *float64 `parquet:"high,optional" json:"high"`
	Small        bool     `parquet:"small_number" json:"small_number"`
	// By opportunities; absent where flights from before they were counted are among
	// those read.
	NoOpportunity int64    `parquet:"flights_without_opportunity" json:"flights_without_opportunity"`
	Opportunities *float64 `parquet:"opportunities,optional" json:"opportunities"` // evaluated, and the known parts of others
	OpenRate      *float64 `parquet:"per_1000_opportunities,optional" json:"per_1000_opportunities"`
	OpenLow       *float64 `parquet:"opportunities_low,optional" json:"opportunities_low"`
	OpenHigh      *float64 `parquet:"opportunities_high,optional" json:"opportunities_high"`
	// Counted says what events, rates and flights_with_event are of: events, or
	// occurrences.
	Counted string `parquet:"counted,dict" json:"counted"`
}

func (t *Trend) rateRow(rule int, period, column, value, severity string, events int, c count) RateRow {
	rate := statistics.Rate{Events: events, Flights: c.Able()}
	i := rate.Interval(Confidence)
	row := RateRow{Rule: t.Rules[rule], Title: t.title(t.Rules[rule]), Period: period, Column: column, Value: value, Severity: severity,
		Events: int64(events), FlightsWith: int64(c.With), Able: c.Able(),
		Evaluated: int64(c.Evaluated), Partly: int64(c.Partly), NotEvaluable: int64(c.NotEvaluable),
		Rate: finite(rate.Per1000()), Low: finite(i.Low), High: finite(i.High), Small: events < Fewest, NoOpportunity: int64(c.NoOpportunity), Counted: t.Nouns()}
	if t.PerOpportunity() {
		open := statistics.Rate{Events: events, Flights: c.Opportunities}
		i := open.Interval(Confidence)
		row.Opportunities, row.OpenRate, row.OpenLow, row.OpenHigh = finite(c.Opportunities), finite(open.Per1000()), finite(i.Low), finite(i.High)
	}
	return row
}

// RateRows lists all flights by month, and both periods by group, severity and
// phase.
func (t *Trend) RateRows() (rows []RateRow) {
	add := func(r int, period, column, value string, c count) {
		rows = append(rows, t.rateRow(r, period, column, value, "", c.Events, c))
		for s, n := range c.Severity {
			rows = append(rows, t.rateRow(r, period, column, value, tally.Severity(s).String(), n, c))
		}
	}
	groups := t.groups()
	for r := range t.Rules {
		for m, c := range t.monthly[r] {
			add(r, t.Tally.Months[m].Name, "", "", c)
		}
		for _, p := range []Period{t.Before, t.Recent} {
			all := t.of(r, p, nil)
			add(r, t.Name(p), "", "", all)
			for _, g := range groups {
				add(r, t.Name(p), g.Column, g.Value, t.of(r, p, g.strata))
			}
			for _, phase := range sortedKeys(t.counts[p].phases[r]) {
				rows = append(rows, t.rateRow(r, t.Name(p), "phase", phase, "", t.counts[p].phases[r][phase], all))
			}
		}
	}
	return rows
}

// ComparisonRow is one comparison of rates.
type ComparisonRow struct {
	Rule      string   `parquet:"rule,dict" json:"rule"`
	Column    string   `parquet:"column,dict" json:"column"` // "" for the two periods
	Value     string   `parquet:"value,dict" json:"value"`
	Against   string   `parquet:"against,dict" json:"against"`
	Counted   string   `parquet:"counted,dict" json:"counted"` // events or occurrences, or flights with one
	Count     int64    `parquet:"count" json:"count"`
	Able      float64  `parquet:"flights_able" json:"flights_able"`
	Count2    int64    `parquet:"against_count" json:"against_count"`
	Able2     float64  `parquet:"against_flights_able" json:"against_flights_able"`
	Ratio     *float64 `parquet:"rate_ratio,optional" json:"rate_ratio"` // absent where not finite
	Low       *float64 `parquet:"low,optional" json:"low"`
	High      *float64 `parquet:"high,optional" json:"high"`
	P         float64  `parquet:"p" json:"p"`
	Corrected float64  `parquet:"p_corrected" json:"p_corrected"`
	Tested    bool     `parquet:"tested" json:"tested"` // enough events to be one of the comparisons
	Small     bool     `parquet:"small_number" json:"small_number"`
	// DividedBy is opportunities or flights; of opportunities their number on both
	// sides, absent where flights divide.
	DividedBy string   `parquet:"divided_by,dict" json:"divided_by"`
	Open      *float64 `parquet:"opportunities,optional" json:"opportunities"`
	Open2     *float64 `parquet:"against_opportunities,optional" json:"against_opportunities"`
}

// ComparisonRows lists every comparison of rates.
func (t *Trend) ComparisonRows() []ComparisonRow {
	rows := make([]ComparisonRow, len(t.comparisons))
	for i := range t.comparisons {
		c := &t.comparisons[i]
		a, b := c.First.in(c.Unit), c.Second.in(c.Unit)
		row := ComparisonRow{Rule: t.Rules[c.Rule], Against: t.Name(t.Before), Counted: t.unitNouns(c.Unit),
			Count: int64(a.Events), Able: c.First.Able(), Count2: int64(b.Events), Able2: c.Second.Able(), DividedBy: t.dividedBy(c.Unit),
			Ratio: finite(c.Result.Ratio), Low: finite(c.Result.Interval.Low), High: finite(c.Result.Interval.High),
			P: c.Result.P, Corrected: c.Corrected, Tested: c.tested(), Small: c.small()}
		if row.DividedBy != byFlights {
			row.Open, row.Open2 = finite(a.Flights), finite(b.Flights)
		}
		if c.Group != nil {
			row.Column, row.Value, row.Against = c.Group.Column, c.Group.Value, c.Group.Against
		}
		rows[i] = row
	}
	return rows
}

// MeasurementRow is the distribution of a measurement in a month, or in the
// recent period or the one before of all flights or a group, with the one it was
// compared with.
type MeasurementRow struct {
	Measurement string   `parquet:"measurement,dict" json:"measurement"`
	Unit        string   `parquet:"unit,dict" json:"unit"`
	Period      string   `parquet:"period,dict" json:"period"`
	Column      string   `parquet:"column,dict" json:"column"`
	Value       string   `parquet:"value,dict" json:"value"`
	Flights     int64    `parquet:"flights" json:"flights"`
	P5          *float64 `parquet:"p5,optional" json:"p5"`
	P25         *float64 `parquet:"p25,optional" json:"p25"`
	Median      *float64 `parquet:"median,optional" json:"median"`
	P75         *float64 `parquet:"p75,optional" json:"p75"`
	P95         *float64 `parquet:"p95,optional" json:"p95"`
	Against     string   `parquet:"against,dict" json:"against"` // "" when compared with nothing
	Beyond      *float64 `parquet:"share_beyond_p95,optional" json:"share_beyond_p95"`
	Above       *float64 `parquet:"chance_above,optional" json:"chance_above"`
	P           *float64 `parquet:"p,optional" json:"p"`
	Corrected   *float64 `parquet:"p_corrected,optional" json:"p_corrected"`
	// Values are what the quantiles are of: several a flight where it is measured in
	// each opportunity. Chance and p are of one value a flight, the median of its own.
	Values int64 `parquet:"values" json:"values"`
}

func (t *Trend) measurementRow(n int, period string, s spread) MeasurementRow {
	m := t.Measured[n]
	return MeasurementRow{Measurement: m.Name, Unit: m.Unit, Period: period, Flights: int64(s.Flights), Values: int64(s.N),
		P5: finite(s.P5), P25: finite(s.Lower), Median: finite(s.Median), P75: finite(s.Upper), P95: finite(s.P95)}
}

// MeasurementRows lists every distribution.
func (t *Trend) MeasurementRows() (rows []MeasurementRow) {
	for n := range t.Measured {
		for m, s := range t.spreads[n] {
			rows = append(rows, t.measurementRow(n, t.Tally.Months[m].Name, s))
		}
	}
	for i := range t.shifts {
		s := &t.shifts[i]
		row := t.measurementRow(s.Measurement, t.Name(t.Recent), s.First)
		row.Against, row.Beyond, row.Above = t.Name(t.Before), finite(s.Beyond), finite(s.Result.Above)
		row.P, row.Corrected = finite(s.Result.P), finite(s.Corrected)
		if s.Group != nil {
			row.Column, row.Value = s.Group.Column, s.Group.Value
			if !s.Periods {
				row.Against = "all of its kind"
			}
		}
		rows = append(rows, row)
	}
	return rows
}

// AuditRow is one warning in a month, held against its criteria.
type AuditRow struct {
	Warning         string   `parquet:"warning,dict" json:"warning"`
	Month           string   `parquet:"month,dict" json:"month"`
	Flights         int64    `parquet:"flights_audited" json:"flights_audited"`
	Agreement       *float64 `parquet:"agreement,optional" json:"agreement"` // share of the time due or sounded that was both
	DueSeconds      float64  `parquet:"due_seconds" json:"due_seconds"`
	SoundedSeconds  float64  `parquet:"sounded_seconds" json:"sounded_seconds"`
	Missed          int64    `parquet:"missed" json:"missed"`
	Late            int64    `parquet:"late" json:"late"`
	Nuisance        int64    `parquet:"nuisance" json:"nuisance"`
	Silenced        int64    `parquet:"silenced" json:"silenced"`
	WronglySilenced int64    `parquet:"wrongly_silenced" json:"wrongly_silenced"`
}

// AuditRows lists every warning by month.
func (t *Trend) AuditRows() (rows []AuditRow) {
	for w, warning := range t.Warnings {
		for _, m := range t.Tally.Months {
			a := m.Audits[w]
			rows = append(rows, AuditRow{warning, m.Name, int64(a.Flights), finite(a.Agreement()), a.DueSeconds, a.SoundedSeconds,
				int64(a.Missed), int64(a.Late), int64(a.Nuisance), int64(a.Silenced), int64(a.WronglySilenced)})
		}
	}
	return rows
}

// EventRow is one event that was counted, or the most severe one of an occurrence,
// with the flight it leads to.
type EventRow struct {
	Month     string `parquet:"month,dict" json:"month"`
	Rule      string `parquet:"rule,dict" json:"rule"`
	FlightID  string `parquet:"flight_id" json:"flight_id"`
	Severity  string `parquet:"severity,dict" json:"severity"`
	Certainty string `parquet:"certainty,dict" json:"certainty"`
	Phase     string `parquet:"phase,dict" json:"phase"`
	Group     string `parquet:"flight_group,dict" json:"flight_group"` // column=value of every column flights are grouped by
	Report    string `parquet:"report" json:"report"`
	Further   int64  `parquet:"further_events" json:"further_events"` // of the occurrence; 0 where events are counted
}

// EventRows lists all that was counted.
func (t *Trend) EventRows() (rows []EventRow) {
	groups := make([]string, len(t.Strata))
	for s, values := range t.Strata {
		for i, v := range values {
			if i > 0 {
				groups[s] += "; "
			}
			groups[s] += t.Columns[i] + "=" + v
		}
	}
	for _, m := range t.Tally.Months {
		for _, e := range m.Events {
			f := flight(e, m.Name)
			rows = append(rows, EventRow{m.Name, t.Rules[e.Rule], f.ID, f.Severity, f.Certainty, e.Phase, groups[e.Stratum], t.reports[f.ID], int64(e.Further)})
		}
	}
	return rows
}

// finite is absent for a value that is no number.
func finite(x float64) *float64 {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return nil
	}
	return &x
}
