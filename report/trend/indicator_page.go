package trend

import (
	"fmt"
	"html/template"
	"math"
	"strings"

	"downlock/report/output"
)

// IndicatorsPage is the one-page status of the indicators.
const IndicatorsPage = "indicators.html"

// IndicatorRow is the status of one indicator in one of its periods.
type IndicatorRow struct {
	Indicator string   `parquet:"indicator,dict" json:"indicator"`
	Title     string   `parquet:"title,dict" json:"title"`
	Unit      string   `parquet:"unit,dict" json:"unit"`
	Period    string   `parquet:"period,dict" json:"period"`
	Current   bool     `parquet:"current" json:"current"` // else one of those the levels come from
	Value     *float64 `parquet:"value,optional" json:"value"`
	Events    int64    `parquet:"events" json:"events"`
	Able      float64  `parquet:"flights_able" json:"flights_able"`
	Mean      *float64 `parquet:"mean,optional" json:"mean"` // of the preceding points
	SD        *float64 `parquet:"standard_deviation,optional" json:"standard_deviation"`
	Target    *float64 `parquet:"target,optional" json:"target"`
	Status    string   `parquet:"status,dict" json:"status"`    // of the indicator as a whole
	Alert     string   `parquet:"alert,dict" json:"alert"`      // what makes it one
	Open      float64  `parquet:"divided_by" json:"divided_by"` // opportunities or able flights, as the unit says; of a measurement its values
}

// Word is the status in one or two words.
func (s Status) Word() string {
	switch {
	case !s.Judged():
		return "not enough data"
	case s.Alert != "":
		return "alert"
	case s.Small:
		return "small number"
	}
	return "no alert"
}

// Latest is the newest point; there is at least one.
func (s Status) Latest() Point {
	if len(s.Points) == 0 {
		return Point{Name: "–", Value: math.NaN()}
	}
	return s.Points[len(s.Points)-1]
}

func indicatorRows(all []Status) (rows []IndicatorRow) {
	for _, s := range all {
		for i, p := range s.Points {
			row := IndicatorRow{Indicator: s.ID, Title: s.Title, Unit: s.Unit, Period: p.Name, Current: i >= s.Before, Value: finite(p.Value),
				Events: int64(p.Events), Able: p.Able, Target: s.TargetAt, Status: s.Word(), Alert: s.Alert, Open: p.Open}
			if s.NotEnough == "" {
				row.Mean, row.SD = finite(s.Mean), finite(s.SD)
			}
			rows = append(rows, row)
		}
	}
	return rows
}

// WriteIndicators writes the status page and its table into dir.
func (t *Trend) WriteIndicators(dir string, in *Indicators, all []Status, sync, share bool) error {
	page := struct {
		*Indicators
		Version  string
		Statuses []indicatorView
		Alerts   int
		Counted  string
		Nouns    string
		NotOver  string
	}{Indicators: in, Version: t.Version, Counted: t.counted(), Nouns: t.Nouns(), NotOver: t.NotOver()}
	for _, s := range all {
		page.Statuses = append(page.Statuses, t.viewOf(s))
		if s.Alert != "" {
			page.Alerts++
		}
	}
	html, err := t.render("indicators", page)
	if err != nil {
		return err
	}
	files, err := tableFiles("indicators", indicatorRows(all))
	if err != nil {
		return err
	}
	return output.Write(dir, output.Options{Sync: sync, Share: share}, append(files, output.File{Name: IndicatorsPage, Data: html})...)
}

// indicatorView is an indicator on the page.
type indicatorView struct {
	Status
	drawing
	Page string // of the flights behind the newest point; "" for none
	SQL  string
	// Nouns is what its rate counts, Divisor what it divides by.
	Nouns, Divisor string
}

func (t *Trend) viewOf(s Status) indicatorView {
	v := indicatorView{Status: s, drawing: s.draw(), SQL: t.indicatorSQL(&s.Indicator), Nouns: t.Nouns(), Divisor: s.dividedBy(t)}
	names := t.pageNames()
	switch {
	case s.rule >= 0 && s.Period == aMonth && len(s.Points) > 0:
		v.Page = names.rules[s.Rule] + "#" + s.Latest().Name
	case s.rule >= 0:
		v.Page = names.rules[s.Rule]
	case s.measured >= 0 && t.measured != nil:
		v.Page = names.measurements[s.Measurement]
	}
	return v
}

// Count is the count the newest point rests on.
func (v indicatorView) Count() template.HTML {
	p := v.Latest()
	if v.Rule == "" {
		flights := flightNumber(v.Page, int(p.Able)) + template.HTML(" "+inPlural(int(p.Able), "flights"))
		if p.Open > p.Able {
			flights = template.HTML(plural(int(p.Open), "values")+" of ") + flights
		}
		return flights
	}
	return flightNumber(v.Page, p.Events) + template.HTML(fmt.Sprintf(" on %s %s", grouped(math.Round(p.Open)), v.Divisor))
}

// Words explains the numbers.
func (v indicatorView) Words() string {
	var parts []string
	switch {
	case !v.Judged():
		parts = append(parts, v.NotEnough)
	case v.Alert != "":
		parts = append(parts, "Alert: "+v.Alert)
	case v.Small:
		parts = append(parts, fmt.Sprintf("beyond a level, on fewer than %d %s: no alarm", Fewest, v.Nouns))
	}
	if high, on, none := v.atMost(); none {
		of, per := v.Divisor, " per 1,000"
		if v.Rule == "" {
			of, per = "values", " %"
		}
		parts = append(parts, fmt.Sprintf("none in %s %s: at most %s%s (95 %% interval)", grouped(math.Round(on)), of, decimals(high), per))
	}
	if v.NotOver != nil {
		parts = append(parts, v.NotOver.Name+" is not over and is not counted")
	}
	if len(v.Earlier) > 0 {
		parts = append(parts, "earlier alerts: "+strings.Join(v.Earlier, ", "))
	}
	return strings.Join(parts, "; ")
}
