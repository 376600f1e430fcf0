package report

import (
	"slices"
	"strings"

	"downlock/detect"
)

// operationPart is one thing the flight contains that rules look at: a take-off
// roll, an approach, a touchdown. At is its moment, where it has one: the contact
// of a touchdown, the lowest point of a go-around.
type operationPart struct {
	Kind     string        `json:"kind"`
	Begins   instant       `json:"begins"`
	Ends     instant       `json:"ends"`
	Ended    string        `json:"ended,omitempty"` // how, where there is more than one way
	At       *instant      `json:"at"`
	Measures []measurePart `json:"measures"`
}

// opportunityCounts counts the opportunities of a rule by how far the samples let
// each be evaluated.
type opportunityCounts struct {
	All       int `json:"all"`
	Evaluated int `json:"evaluated"`
	Partly    int `json:"partly"`
	Not       int `json:"not"`
}

func (c *opportunityCounts) addAll(other opportunityCounts) {
	c.All += other.All
	c.Evaluated += other.Evaluated
	c.Partly += other.Partly
	c.Not += other.Not
}

// operationParts lists the opportunities of a flight. Those of a kind come in the
// order of the flight's own lists, which know more of them.
func operationParts(result *detect.Result) []operationPart {
	f := result.Flight
	parts := make([]operationPart, len(result.Opportunities))
	seen := map[detect.OpportunityKind]int{}
	for i, o := range result.Opportunities {
		at, measures := detailsOf(f, o.Kind, seen[o.Kind])
		seen[o.Kind]++
		parts[i] = operationPart{
			Kind: clean(string(o.Kind)), Ended: clean(o.Ended), At: optionalInstant(f, at), Measures: measureParts(measures),
			Begins: newInstant(o.Begins, f.Span, f.Recording.Epoch), Ends: newInstant(o.Ends, f.Span, f.Recording.Epoch),
		}
	}
	return parts
}

// detailsOf finds the moment and the figures of the n-th opportunity of a kind.
func detailsOf(f *detect.Flight, kind detect.OpportunityKind, n int) (*detect.Time, []detect.Measure) {
	contacts := map[detect.OpportunityKind]detect.Landed{
		detect.OpenLanding: detect.FullStop, detect.OpenTouchAndGo: detect.TouchAndGo, detect.OpenBalkedLanding: detect.BalkedLanding}
	switch kind {
	case detect.OpenTakeOffRoll:
		if n < len(f.Rolls) {
			r := f.Rolls[n]
			return nil, []detect.Measure{{Name: "highest_speed", Unit: "kt", Value: r.HighestSpeed, Known: r.Known}}
		}
	case detect.OpenGoAround:
		if n < len(f.GoArounds) {
			g := f.GoArounds[n]
			return &g.Lowest, []detect.Measure{{Name: "lowest_height", Unit: "ft", Value: g.Height, Known: g.Known}}
		}
	case detect.OpenTouchdown:
		if n < len(f.Touchdowns) {
			return &f.Touchdowns[n].Time, nil
		}
	default:
		if landed, ok := contacts[kind]; ok {
			if times := f.TouchedDown(landed); n < len(times) {
				return &times[n], nil
			}
		}
	}
	return nil, nil
}

// When is the moment of an operation that has one, else its beginning.
func (o operationPart) When() instant {
	if o.At != nil {
		return *o.At
	}
	return o.Begins
}

// Whole is the value rounded for a page.
func (m measurePart) Whole() string { return decimals(float64(*m.Value), 0) }

// pageKinds are the operations a page lists. The others are told by these: a
// touchdown says whether it was a landing, a take-off roll whether it lifted off.
var pageKinds = []detect.OpportunityKind{detect.OpenTakeOffRoll, detect.OpenRetraction, detect.OpenExtension,
	detect.OpenApproach, detect.OpenGoAround, detect.OpenTouchdown}

// operationRows are the operations of the page, in order of time.
func operationRows(parts []operationPart) []operationPart {
	rows := slices.DeleteFunc(slices.Clone(parts), func(o operationPart) bool { return !slices.Contains(pageKinds, detect.OpportunityKind(o.Kind)) })
	slices.SortStableFunc(rows, func(a, b operationPart) int {
		switch {
		case a.When().Nominal < b.When().Nominal:
			return -1
		case a.When().Nominal > b.When().Nominal:
			return 1
		}
		return 0
	})
	return rows
}

// WithoutLiftOff lists the take-off rolls of a flight that lead to none, in words: rejected
// take-off at 84 kt.
func (d *document) WithoutLiftOff() string {
	var found []string
	for _, o := range d.Operations {
		if o.Kind != string(detect.OpenTakeOffRoll) || o.Ended == string(detect.InLiftOff) {
			continue
		}
		text := "recording ends in a take-off roll"
		if o.Ended == string(detect.Rejected) {
			text = "rejected take-off"
		}
		if len(o.Measures) > 0 && o.Measures[0].Value != nil {
			text += " at " + decimals(float64(*o.Measures[0].Value), 0) + " kt"
		}
		found = append(found, text)
	}
	return strings.Join(found, ", ")
}

// operationTotal is one kind of operation over all flights of a run.
type operationTotal struct {
	Kind  string       `json:"kind"`
	Total int          `json:"total"`
	Ended []endedTotal `json:"ended"`
}

// endedTotal counts those that ended in one way.
type endedTotal struct {
	How   string `json:"how"`
	Total int    `json:"total"`
}

// newOperationTotals begins with every kind, so that what never happened is said too.
func newOperationTotals() []operationTotal {
	totals := make([]operationTotal, len(detect.OpportunityKinds))
	for i, kind := range detect.OpportunityKinds {
		totals[i] = operationTotal{string(kind), 0, []endedTotal{}}
	}
	return totals
}

func (t *operationTotal) add(ended string) {
	t.Total++
	if ended == "" {
		return
	}
	i, known := slices.BinarySearchFunc(t.Ended, ended, func(e endedTotal, how string) int { return strings.Compare(e.How, how) })
	if !known {
		t.Ended = slices.Insert(t.Ended, i, endedTotal{How: ended})
	}
	t.Ended[i].Total++
}
