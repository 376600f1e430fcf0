package report

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"downlock/detect"
	"downlock/schemas"
)

// measurementPart is one value kept from the flight. Value is null unless the
// outcome is measured; a bound is null where the samples give none. At is when,
// null for what has no one time. Number and the ends are those of the opportunity it
// was measured in, null where it is of the flight or outside of all.
type measurementPart struct {
	Measurement    string   `json:"measurement"`
	Title          string   `json:"title"`
	Group          string   `json:"group"`
	Definition     string   `json:"definition"`
	Pack           string   `json:"pack"`
	Unit           string   `json:"unit"`
	Outcome        string   `json:"outcome"`
	Certainty      string   `json:"certainty"`
	Coverage       string   `json:"coverage"`
	Value          *number  `json:"value"`
	Lowest         *number  `json:"lowest"`
	Highest        *number  `json:"highest"`
	At             *instant `json:"at"`
	UnknownSeconds number   `json:"unknown_seconds"`
	Missing        []string `json:"missing"`
	Fallbacks      []string `json:"fallbacks"`
	Opportunity    string   `json:"opportunity"` // the kind
	Number         *int     `json:"opportunity_number"`
	Begins         *instant `json:"opportunity_begins"`
	Ends           *instant `json:"opportunity_ends"`
}

func measurementParts(result *detect.Result) []measurementPart {
	parts := make([]measurementPart, len(result.Measurements))
	for i, m := range result.Measurements {
		parts[i] = measurementPart{
			Measurement: clean(m.Rule.ID), Title: clean(m.Rule.Title), Group: clean(m.Rule.Group), Definition: clean(m.Rule.Definition),
			Pack: clean(m.Rule.Pack), Unit: clean(m.Rule.Unit),
			Outcome: string(m.Outcome), Certainty: string(m.Certainty), Coverage: string(m.Coverage()),
			UnknownSeconds: finite(m.UnknownSeconds, 0), Missing: cleanAll(m.Missing), Fallbacks: cleanAll(m.Fallbacks),
			Opportunity: clean(string(m.Rule.Opportunity)),
		}
		if m.Opportunity > 0 {
			parts[i].Number, parts[i].Begins, parts[i].Ends = &m.Opportunity, optionalInstant(result.Flight, &m.Begins), optionalInstant(result.Flight, &m.Ends)
		}
		if m.Outcome == detect.Measured {
			parts[i].Value, parts[i].Lowest, parts[i].Highest = known(m.Value), known(m.Lowest), known(m.Highest)
			parts[i].At = optionalInstant(result.Flight, m.At)
		}
	}
	return parts
}

// known is a number for JSON, null where there is none.
func known(x float64) *number {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return nil
	}
	n := number(x)
	return &n
}

// measurementColumns is the header of measurements.csv: one line per flight and
// measurement, or per opportunity. Value and bounds are in the unit beside them and
// empty where there are none; at is when, in seconds on the recording's axis;
// recorded says which part of the flight the recording holds. Number and ends of the
// opportunity are empty where the value is of the flight or outside of all.
var measurementColumns = []string{
	"flight_id", "recording", "flight", "aircraft", "start_utc", "recorded", "measurement", "title", "group", "outcome", "certainty", "coverage",
	"value", "lowest", "highest", "unit", "at_s", "at_utc", "unknown_s", "missing", "definition", "registration", "month",
	"opportunity", "opportunity_number", "opportunity_begins_s", "opportunity_ends_s", schemas.CautionColumn,
}

// measurementRows returns one row per measurement, as measurementColumns names
// them.
func measurementRows(doc *document) [][]string {
	rows := make([][]string, len(doc.Measurements))
	for i, m := range doc.Measurements {
		var at, atUTC, number, begins, ends string
		if m.At != nil {
			at, atUTC = m.At.Nominal.String(), m.At.UTC
		}
		if m.Number != nil {
			number, begins, ends = strconv.Itoa(*m.Number), m.Begins.Nominal.String(), m.Ends.Nominal.String()
		}
		rows[i] = []string{
			guard(doc.Flight.ID), guard(doc.Provenance.Input.Name), strconv.Itoa(doc.Flight.Number), guard(doc.Provenance.Profile.Aircraft), doc.Flight.StartUTC, doc.Flight.Recorded(),
			guard(m.Measurement), guard(m.Title), guard(m.Group), m.Outcome, m.Certainty, m.Coverage,
			orEmpty(m.Value), orEmpty(m.Lowest), orEmpty(m.Highest), guard(m.Unit), at, atUTC,
			m.UnknownSeconds.String(), guard(strings.Join(m.Missing, "; ")), guard(m.Definition),
			guard(doc.Provenance.Profile.Registration), doc.Flight.Month, guard(m.Opportunity), number, begins, ends, schemas.Caution,
		}
	}
	return rows
}

func orEmpty(n *number) string {
	if n == nil {
		return ""
	}
	return n.String()
}

// measured is one measurement of the flight with all of its values.
type measured []measurementPart

// byMeasurement puts the values of each measurement together; they come in order.
func byMeasurement(parts []measurementPart) (out []measured) {
	for i := range parts {
		if i == 0 || parts[i].Measurement != parts[i-1].Measurement {
			out = append(out, measured{})
		}
		out[len(out)-1] = append(out[len(out)-1], parts[i])
	}
	return out
}

// outcome is what became of the measurement on the flight: the best that became of
// it anywhere.
func (m measured) outcome() detect.Outcome {
	for _, outcome := range []detect.Outcome{detect.Measured, detect.NotRecorded, detect.DidNotHappen} {
		if slices.ContainsFunc(m, func(p measurementPart) bool { return p.Outcome == string(outcome) }) {
			return outcome
		}
	}
	return detect.NotMeasurable
}

// Several says that there is more than one value, or one and something to say beside
// it.
func (m measured) Several() bool { return len(m) > 1 }

// measurementsView sorts the measurements for the page: by group what has a
// value, then in a line what has none, and by reason what was not evaluable.
type measurementsView struct {
	Groups  []measurementGroup
	Missing []missingReason
	None    int // not evaluable
}

// measurementGroup holds the measurements of a group with a value, and the
// titles of those without.
type measurementGroup struct {
	Name                      string
	Values                    []measured
	DidNotHappen, NotRecorded []string
}

func newMeasurementsView(parts []measurementPart) measurementsView {
	var v measurementsView
	for _, m := range byMeasurement(parts) {
		first := m[0]
		if m.outcome() == detect.NotMeasurable {
			v.None++
			v.Missing = addReasons(v.Missing, first.Missing, first.Title)
			continue
		}
		i := slices.IndexFunc(v.Groups, func(g measurementGroup) bool { return g.Name == first.Group })
		if i < 0 {
			i = len(v.Groups)
			v.Groups = append(v.Groups, measurementGroup{Name: first.Group})
		}
		g := &v.Groups[i]
		switch m.outcome() {
		case detect.Measured:
			g.Values = append(g.Values, m)
		case detect.NotRecorded:
			g.NotRecorded = append(g.NotRecorded, first.Title)
		default:
			title := first.Title
			if slices.ContainsFunc(m, measurementPart.Possibly) {
				title += " (as far as recorded)"
			}
			g.DidNotHappen = append(g.DidNotHappen, title)
		}
	}
	sortReasons(v.Missing)
	return v
}

// Possibly says that it is so in some history only.
func (m measurementPart) Possibly() bool { return m.Certainty == string(detect.Possible) }

// Where is the number of the opportunity it was measured in.
func (m measurementPart) Where() string {
	if m.Number == nil {
		return "beside these"
	}
	return "no. " + strconv.Itoa(*m.Number)
}

// Nothing says in words that there is no value, and as far as what that is known.
func (m measurementPart) Nothing() string {
	switch {
	case m.Outcome == string(detect.NotRecorded):
		return "value not recorded"
	case m.Number == nil:
		return "perhaps more, not recorded"
	case m.Possibly():
		return "did not happen, as far as recorded"
	}
	return "did not happen"
}

// unitDecimals are those worth showing on a page; the tables have three.
var unitDecimals = map[string]int{"ft": 0, "ft/min": 0, "kg": 0, "1": 0, "g": 2}

func decimalsOf(unit string) int {
	if n, ok := unitDecimals[unit]; ok {
		return n
	}
	return 1
}

// rounded is a value as a page shows it, empty where there is none.
func rounded(n *number, unit string) string {
	if n == nil {
		return ""
	}
	return decimals(float64(*n), decimalsOf(unit))
}

// Bounds words the bounds, rounded outwards; empty where the value is exact.
func (m measurementPart) Bounds() string {
	places := decimalsOf(m.Unit)
	scale := math.Pow10(places)
	// A hair is taken off first, so that 0.1 in binary is not rounded to 0.2.
	low := func() string { return decimals(math.Floor(float64(*m.Lowest)*scale+1e-6)/scale, places) }
	high := func() string { return decimals(math.Ceil(float64(*m.Highest)*scale-1e-6)/scale, places) }
	switch {
	case m.Lowest == nil && m.Highest == nil:
		return "not bounded"
	case m.Lowest == nil:
		return "at most " + high()
	case m.Highest == nil:
		return "at least " + low()
	case *m.Lowest == *m.Highest:
		return ""
	}
	return low() + " to " + high()
}
