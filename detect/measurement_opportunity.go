package detect

import (
	"math"

	"downlock/detect/readings"
)

// The ways in which a measurement takes in more than its opportunity: a crew sets
// the landing flap before the approach begins, and retracts the flap after the
// climb that a lift-off is looked at for.
const (
	IncludingBefore = "before" // from the end of the one before it
	IncludingAfter  = "after"  // until the next one begins
)

// part is the part of a flight a measurement is made in: one opportunity, with the
// time before or after it where that is included; or all that lies outside of
// those found; or the whole flight.
//
// Its ends have bounds, so it is certain, nominal and possible like a condition, and
// what is measured holds or happens in it in the same three readings. A moment
// that makes an opportunity what it is (the selection, the contact, the lowest
// point) belongs to that one and to no other, however uncertain its time.
type part struct {
	whole        bool
	number       int
	open         Opportunity
	begins, ends Time             // of the part
	owned        map[float64]bool // nominal times of the moments that make one of the opportunities
	outside      []part
}

// mostMeasured is the number of opportunities of a kind in one flight up to which each
// is measured. A day of training has a few dozen; more come of a switch that chatters,
// and would fill the report.
const mostMeasured = 200

// partsOf lists the part of each opportunity, none for a measurement of the flight.
// told says that the recording shows all there were. Of gear movements it never
// does: legs also move that were selected on the ground, or by no lever.
func partsOf(env *Tracks, rule *MeasurementRule, all []Opportunity) (parts []part, told bool) {
	if rule.Opportunity == OpenFlight {
		return nil, true
	}
	open := ofKind(all, rule.Opportunity)
	owned := map[float64]bool{}
	for i := range open {
		for _, t := range []float64{open[i].Begins.Nominal, open[i].Ends.Nominal, open[i].moment} {
			owned[t] = true
		}
	}
	for i, o := range open {
		p := part{number: i + 1, open: o, begins: o.Begins, ends: o.Ends, owned: owned}
		switch rule.Including {
		case IncludingBefore:
			if p.begins = exactly(env.flight.Span.Start); i > 0 {
				p.begins = earlier(open[i-1].Ends, o.Begins)
			}
		case IncludingAfter:
			if p.ends = exactly(env.flight.Span.End); i+1 < len(open) {
				p.ends = later(open[i+1].Begins, o.Ends)
			}
		}
		parts = append(parts, p)
	}
	return parts, env.tells(rule.Opportunity) && (!rule.ofMoments() || rule.Opportunity != OpenRetraction && rule.Opportunity != OpenExtension)
}

// span is where the part is.
func (p *part) span(windows readings.Spans) readings.Condition {
	return between(windows, []*part{p}, func(p *part) (begins, ends Time, ok bool) { return p.begins, p.ends, true })
}

// condition is c within the part.
func (p *part) condition(c readings.Condition, windows readings.Spans) readings.Condition {
	if p.whole {
		return c
	}
	return readings.And(c, p.span(windows))
}

// within is the portion of spans that may lie in the part.
func (p *part) within(s readings.Spans) readings.Spans {
	if p.whole {
		return s
	}
	if p.outside == nil {
		return s.Within(stretch(p.begins.Earliest, p.ends.Latest))
	}
	for i := range p.outside {
		o := &p.outside[i]
		s = readings.Intersect(s, readings.Spans{stretch(o.begins.Earliest, o.ends.Latest)}.Complement(s.Hull()))
	}
	return s
}

// moment is a moment as far as it lies in the part; ok is false where it cannot.
func (p *part) moment(m readings.Moment) (in readings.Moment, ok bool) {
	switch {
	case p.whole:
		return m, true
	case p.outside != nil:
		return p.beside(m)
	case m.InNominal() && p.open.owns(m.Nominal):
		return m, true
	case p.owned[m.Nominal]: // by another
		return m, false
	}
	if m.Latest < p.begins.Earliest || m.Earliest > p.ends.Latest || m.Earliest < m.Latest && (m.Latest == p.begins.Earliest || m.Earliest == p.ends.Latest) {
		return m, false
	}
	if m.Nominal < p.begins.Nominal || m.Nominal > p.ends.Nominal {
		m.Nominal = math.NaN()
	}
	m.Certain = m.Certain && m.Earliest >= p.begins.Latest && m.Latest <= p.ends.Earliest
	m.Earliest, m.Latest = max(m.Earliest, p.begins.Earliest), min(m.Latest, p.ends.Latest)
	return m, true
}

// beside is a moment as far as it lies outside of the opportunities found.
func (p *part) beside(m readings.Moment) (readings.Moment, bool) {
	for i := range p.outside {
		o := &p.outside[i]
		in, may := o.moment(m)
		switch {
		case !may:
		case in.InNominal() || m.Earliest >= o.begins.Latest && m.Latest <= o.ends.Earliest:
			return m, false
		default:
			m.Certain = false
		}
	}
	return m, true
}

// cutOff notes that the recording begins or ends in the air within the opportunity,
// where the rest of it may hold another value: a first one before, a last one
// after. The moments that make the opportunity are in the recording. Where nothing
// was found it may have happened in all that is looked at and not recorded.
func (m *Measurement) cutOff(f *Flight, p *part) {
	if p.number == 0 || m.At != nil && p.open.owns(m.At.Nominal) {
		return
	}
	begins, ends := p.open.Begins.Nominal, p.open.Ends.Nominal
	early, late := m.Rule.Take != "last", m.Rule.Take != "first"
	if m.Outcome == DidNotHappen {
		begins, ends, early, late = p.begins.Nominal, p.ends.Nominal, true, true
	}
	note := func(text string) {
		m.Partial = true
		m.Fallbacks = append(m.Fallbacks[:len(m.Fallbacks):len(m.Fallbacks)], text)
	}
	if early && f.BeginsInAir && begins <= f.Span.Start {
		note("the recording begins in the air: nothing before that is known")
	}
	if late && f.EndsInAir && ends >= f.Span.End {
		note("the recording ends in the air: nothing after that is known")
	}
	if m.Partial && m.Outcome == DidNotHappen {
		m.Certainty = Possible
	}
}
