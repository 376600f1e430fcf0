// Package trend finds in an archive the rules and measurements that get worse, where, and
// whether it is real: rates of events per thousand opportunities, and per thousand
// flights that could have shown them, with exact intervals; two periods and all groups of
// flights compared, corrected for the number of comparisons; distributions of the
// measurements; and a page that says first in words which findings stand out.
//
// In goes a tally.Tally, out come a Trend and its files: trend.html, flights/
// (the flights behind the numbers, a page per rule), trend.json, and every table
// as CSV and Parquet. The same archive and options give the same bytes.
//
// Nothing here calls a person or an aircraft unsafe: it compares counts.
package trend

import (
	"downlock/report/trend/statistics"
	"downlock/report/trend/tally"
)

// Options says how to compare.
type Options struct {
	Months     int     // in each of the two periods; 0: see usualMonths
	Level      float64 // chance of a false alarm anywhere (Holm), or share of false ones (Benjamini-Hochberg)
	Correction string  // holm or benjamini-hochberg
	// Archive is how the page's SQL calls the folder of the archive.
	Archive string
	// RunMonth is the month YYYY-MM in which the archive was last added to, so that it was
	// not over; "" where not known.
	RunMonth        string
	AirframePattern string // as the tally was read with; "" for none
	CertainOnly     bool   // as the tally was read
	Occurrences     bool   // as the tally was read
	Reviewed        bool   // a review took false events out
	Version         string
	Doubts          []string // about the archive, for the top of the page
}

// Corrections.
const (
	Holm              = "holm"
	BenjaminiHochberg = "benjamini-hochberg"
)

// Fewest is the number of events below which nothing is called a finding: on
// three events no statement rests.
const Fewest = 5

// Confidence of every interval.
const Confidence = 0.95

// Trend holds the findings of an archive.
type Trend struct {
	*tally.Tally
	Options
	Before, Recent Period

	catalogue
	counts       map[Period]*counts
	monthly      [][]count // by rule, month
	comparisons  []comparison
	shifts       []shift
	seasons      []season
	spreads      [][]spread // of measurements, by month
	Findings     []Finding  // significant and worse or changed, the strongest first
	Improvements []Finding  // significant and better
	Doubtful     []Finding  // would be significant alone, is not among so many; or rests on few events
	Seasonal     []Finding  // significant waves over the year
	Tests        int        // that the correction allows for

	measured []measured        // by measurement; nil before ReadFlights
	reports  map[string]string // by flight id, as seen from the page
}

// New makes the trends. The error is a schemas.Problem when there are too few
// months to compare.
func New(t *tally.Tally, o Options) (*Trend, error) {
	tr := &Trend{Tally: t, Options: o, counts: map[Period]*counts{}}
	if err := tr.choosePeriods(); err != nil {
		return nil, err
	}
	tr.catalogue = newCatalogue(t)
	tr.count()
	tr.compareRates()
	tr.compareMeasurements()
	tr.findSeasons()
	tr.correct()
	tr.rank()
	return tr, nil
}

// correct corrects every p value for all of them together.
func (t *Trend) correct() {
	var all []*float64
	var p []float64
	add := func(raw float64, corrected *float64) { p, all = append(p, raw), append(all, corrected) }
	for i := range t.comparisons {
		if c := &t.comparisons[i]; c.tested() {
			add(c.Result.P, &c.Corrected)
		}
	}
	for i := range t.shifts {
		if s := &t.shifts[i]; s.tested() {
			add(s.Result.P, &s.Corrected)
		}
	}
	for i := range t.seasons {
		add(t.seasons[i].P, &t.seasons[i].Corrected)
	}
	t.Tests = len(p)
	corrected := statistics.Holm(p)
	if t.Correction == BenjaminiHochberg {
		corrected = statistics.BenjaminiHochberg(p)
	}
	for i := range all {
		*all[i] = corrected[i]
	}
}
