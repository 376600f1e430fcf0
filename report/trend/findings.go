package trend

import (
	"cmp"
	"slices"
)

// Finding is one line of the ranked list.
type Finding struct {
	Headline string   `json:"headline"` // what changed, and by how much
	Detail   string   `json:"detail"`   // on how many flights
	Sureness string   `json:"sureness"`
	Beside   string   `json:"beside,omitempty"`
	Subject  string   `json:"subject"` // id of the rule or measurement
	Column   string   `json:"column,omitempty"`
	Value    string   `json:"value,omitempty"`
	P        float64  `json:"p_corrected"`
	Small    bool     `json:"small_number,omitempty"`
	Rests    string   `json:"rests_on,omitempty"` // aircraft without which it would not stand out
	Strength float64  `json:"strength"`           // that the list is ranked by
	Flights  []Flight `json:"flights"`            // behind it, see flightsBehind and ReadFlights
	More     int      `json:"flights_left_out"`
	SQL      string   `json:"sql"` // that gives its figures again
	Anchor   string   `json:"-"`   // of the chart it belongs to

	comparison *comparison // of rates; nil for other findings
	shift      *shift      // of a measurement; nil for other findings
}

// rank sorts the findings into the four lists. Strength is the smallest ratio
// the interval allows, and for a measurement the odds that one value of it is
// above one of the rest, so that sure and large differences come first.
func (t *Trend) rank() {
	for i := range t.comparisons {
		t.rankComparison(&t.comparisons[i])
	}
	told := map[shiftOf]bool{} // those that have a line
	for _, periods := range []bool{false, true} {
		for i := range t.shifts {
			if t.shifts[i].Periods == periods {
				t.rankShift(&t.shifts[i], told)
			}
		}
	}
	for _, s := range t.seasons {
		if s.Corrected < t.Level {
			t.Seasonal = append(t.Seasonal, t.seasonFinding(s))
		}
	}
	t.explain()
	for _, list := range []*[]Finding{&t.Findings, &t.Improvements, &t.Doubtful, &t.Seasonal} {
		slices.SortStableFunc(*list, func(a, b Finding) int { return cmp.Compare(b.Strength, a.Strength) })
	}
	t.Doubtful = t.Doubtful[:min(len(t.Doubtful), mostDoubtful)]
}

// The doubtful are listed up to so many, and from a ratio on that is surely above
// this when looked at alone.
const (
	mostDoubtful = 12
	doubtfulFrom = 1.2
)

func (t *Trend) rankComparison(c *comparison) {
	worse := c.Result.Ratio > 1
	f := Finding{Subject: t.Rules[c.Rule], P: c.Corrected, Small: c.small(), Strength: c.Result.Interval.Low, Anchor: anchor("rule", c.Rule)}
	if !worse {
		f.Strength = 1 / c.Result.Interval.High
	}
	if c.Group != nil {
		f.Column, f.Value = c.Group.Column, c.Group.Value
	}
	sure := c.Corrected < t.Level && c.tested() && !f.Small
	alone := c.Result.P < 0.05 && worse && f.Strength > doubtfulFrom
	if !sure && !alone {
		return
	}
	f.Headline, f.Detail, f.Sureness, f.Beside = t.comparisonHeadline(c), t.comparisonDetail(c), t.comparisonSureness(c), t.comparisonBeside(c)
	f.SQL, f.comparison = t.comparisonSQL(c), c
	if worse {
		f.Flights, f.More = t.flightsBehind(c.Rule, c.Group)
	}
	switch {
	case !sure:
		t.Doubtful = append(t.Doubtful, f)
	case worse:
		t.Findings = append(t.Findings, f)
	default:
		t.Improvements = append(t.Improvements, f)
	}
}

// shiftOf is a measurement and the group it shifted in, by its kind and value; both
// are "" for all flights.
type shiftOf struct {
	measurement int
	kind, value string
}

func (t *Trend) rankShift(s *shift, told map[shiftOf]bool) {
	key := shiftOf{measurement: s.Measurement}
	f := Finding{Subject: t.Measured[s.Measurement].Name, P: s.Corrected, Strength: s.effect() / max(1-s.effect(), 1e-3), Anchor: anchor("measurement", s.Measurement)}
	if s.Group != nil {
		f.Column, f.Value = s.Group.Column, s.Group.Value
		key.kind, key.value = s.Group.kind(), s.Group.Value
	}
	if told[key] || !s.tested() || s.Corrected >= t.Level || !s.noteworthy() {
		return
	}
	told[key] = true
	f.Headline, f.Detail, f.Sureness, f.Beside = t.shiftHeadline(s), t.shiftDetail(s), t.shiftSureness(s), t.shiftBeside(s)
	f.SQL, f.shift = t.shiftSQL(s), s
	t.Findings = append(t.Findings, f)
}
