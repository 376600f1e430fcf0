package simulator

// shortest (s) is the shortest duration that counts. A condition that ends as another
// begins shares that moment with it.
const shortest = 1e-3

// within returns the recorded part, without stretches shorter than shortest.
func (f *Flight) within(s stretches) stretches {
	return intersection(s, stretches{{f.Scenario.Start, f.Scenario.End}}).atLeast(shortest)
}

// spanEvent is the event of a stretch in which a condition really holds. It is
// certain when the samples are sure of the condition for atLeast seconds of it.
func (f *Flight) spanEvent(rule string, k known, s stretch, atLeast float64) Event {
	e := Event{Rule: rule, Start: s.start, End: s.end, Certainty: Possible}
	if len(intersection(k.surely, stretches{s}).atLeast(atLeast)) > 0 {
		e.Certainty = Certain
	}
	return e
}

// spanEvents returns the events of a rule of spans.
func (f *Flight) spanEvents(r spanRule) []Event {
	gap := r.gap
	if gap == 0 {
		gap = mergeGap
	}
	var events []Event
	for _, s := range joined(gap, f.within(r.condition.really)...).atLeast(r.atLeast) {
		events = append(events, f.spanEvent(r.id, r.condition, s, r.atLeast))
	}
	if !r.undecided {
		return events
	}
	for _, s := range joined(gap, f.within(r.condition.never.outside())...) {
		var kept []Event
		isSure := false
		for _, e := range events {
			inside := e.Start >= s.start && e.End <= s.end
			isSure = isSure || inside && e.Certainty == Certain
			if !inside || e.Certainty == Certain {
				kept = append(kept, e)
			}
		}
		events = kept
		if !isSure {
			events = append(events, Event{Rule: r.id, Start: s.start, End: s.end, Certainty: Possible})
		}
	}
	return events
}

// momentEvents returns the events of a rule of moments. An event is certain when the
// samples are sure of the condition at every possible time of the moment.
func (f *Flight) momentEvents(r momentRule) []Event {
	var events []Event
	for _, m := range r.moments {
		if m.at < f.Scenario.Start || m.at > f.Scenario.End {
			continue
		}
		if s, ok := r.condition.really.at(m.at); !ok || s.seconds() < shortest {
			continue
		}
		e := Event{Rule: r.id, Start: m.at, End: m.at, Moment: true, Certainty: Possible}
		if s, ok := r.condition.surely.at(m.earliest); ok && s.end >= m.latest {
			e.Certainty = Certain
		}
		events = append(events, e)
	}
	return events
}
