package simulator

import (
	"fmt"
	"slices"

	"downlock/schemas"
)

// Operation is a recording of ordinary operations with the statements a report must
// and must not make.
type Operation struct {
	Row    int // of the table of operations
	Title  string
	Flight *Flight
	Truth  OperationsTruth
	May    map[string]bool // rules that may report or not
	// Apart: clock and date are written in rows of their own. Cuts are the times at
	// which the recorder's clock restarts.
	Apart bool
	Cuts  []float64
}

// operation is one row and the way a pilot flies it.
type operation struct {
	title string
	fly   func(*pilot)
	apart bool // clock and date are recorded in rows of their own
}

// Operations returns the number of rows; they are counted from 1.
func Operations() int { return len(operations()) }

// FlyOperation flies a row with the figures of a seed.
func FlyOperation(row int, seed uint64) (Operation, error) {
	o := operations()[row-1]
	profile, err := schemas.ShippedProfileNamed("th120")
	if err != nil {
		return Operation{}, err
	}
	p := newPilot(seed)
	o.fly(p)
	if p.End == 0 {
		p.End = p.now
	}
	scenario := p.done()
	scenario.Name = fmt.Sprintf("row %d, seed %d: %s", row, seed, o.title)
	f, err := New(scenario, profile)
	if err != nil {
		return Operation{}, err
	}
	p.truth.Recording, p.truth.Description, p.truth.Seconds = scenario.Name, o.title, scenario.End-scenario.Start
	p.truth.Facts.BeginsInAir = f.InAir(scenario.Start)
	p.truth.Facts.EndsInAir = f.InAir(scenario.End)
	p.truth.MustNot = append(p.truth.MustNot, p.barred()...)
	return Operation{Row: row, Title: o.title, Flight: f, Truth: p.truth, May: p.may, Apart: o.apart, Cuts: p.cuts}, nil
}

// barred lists every rule that neither must nor may report an event.
func (p *pilot) barred() (out []Barred) {
	for _, rule := range Rules() {
		due := slices.ContainsFunc(p.truth.Must, func(d Due) bool { return d.Rule != nil && *d.Rule == rule && d.What != Partly })
		if !due && !p.may[rule] {
			out = append(out, Barred{Rule: rule})
		}
	}
	return out
}
