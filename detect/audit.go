package detect

import (
	"downlock/detect/readings"
)

// Audit is one warning of one flight: where it should have sounded, where the
// recording says it did, and where the two differ.
type Audit struct {
	Warning  *Warning
	Coverage Coverage
	Missing  []string // why it could not be audited
	// Due counts the stretches in which it was to sound (silencing taken into
	// account) and Sounded those in which it did, in the nominal reading;
	// Agreement is how long it sounded when it was to.
	Due, Sounded                                 int
	DueSeconds, SoundedSeconds, AgreementSeconds float64
	UnknownSeconds                               float64
	Findings                                     []AuditFinding
	// Soundings is every stretch in which it sounds, with its cause, also where it could
	// not be audited.
	Soundings []Sounding
	// SwitchUses is every use of the horn cut-out in the air, whether or not
	// anything came of it; nil for a warning without one.
	SwitchUses []SwitchUse

	unknown readings.Spans
	// The nominal stretches in which it is to sound whether or not it may be silenced,
	// in which it sounds, and in which its switch is in effect.
	due, sounded, silenced readings.Spans
}

// AuditFinding is one stretch of time an audit says something about. Delay is
// how long the warning was quiet before a late one sounded, in s.
type AuditFinding struct {
	Finding    Finding
	Certainty  Certainty
	Start, End Time
	Delay      Time

	sure, maybe readings.Spans
}

// SwitchUse is one use of the horn cut-out.
type SwitchUse struct {
	Start, End  Time
	Height      float64 // ft above the aerodrome at the start
	HeightKnown bool
	// LockedAfter is the time in s from the start until every leg was down and locked;
	// Locked is false when that did not happen in the flight, or they were locked.
	LockedAfter float64
	Locked      bool
}

// audit holds one warning against the recording.
func audit(env *Tracks, w *Warning) *Audit {
	a := &Audit{Warning: w, Coverage: Evaluated}
	env = env.assuming(w.Optional)
	a.Missing, _ = env.needs(w.names())
	if a.Missing = unique(append(env.ownCriteria(w), a.Missing...)); len(a.Missing) > 0 {
		a.Coverage = NotEvaluable
		if absent, _ := env.needs(w.sounded.Names); len(absent) == 0 {
			unknown := readings.Unknown(env.windows())
			a.Soundings = soundings(env, w.sounded.Condition(env), unknown, unknown, unknown, 0)
		}
		return a
	}
	windows := env.windows()
	delay, _ := w.delay.Fixed(env)
	due, sounded := w.required.Condition(env), w.sounded.Condition(env)
	quietAllowed, inEffect := readings.Never(windows), readings.Never(windows)
	if w.silenced != nil {
		inEffect = w.silenced.Condition(env)
		quietAllowed = readings.And(w.mayBeSilenced.Condition(env), inEffect)
	}
	expected := readings.And(due, readings.Not(quietAllowed, windows))
	quiet := readings.And(expected, readings.Not(sounded, windows))

	a.due, a.sounded, a.silenced = due.True, sounded.True, inEffect.True
	a.Due, a.DueSeconds = len(expected.True), expected.True.Seconds()
	a.Sounded, a.SoundedSeconds = len(sounded.True), sounded.True.Seconds()
	a.AgreementSeconds = readings.Intersect(expected.True, sounded.True).Seconds()
	a.unknown = readings.Union(expected.Missing(windows), sounded.Missing(windows))
	if a.UnknownSeconds = a.unknown.Seconds(); len(a.unknown) > 0 {
		a.Coverage = PartlyEvaluated
	}
	a.quietFindings(quiet, expected, sounded, inEffect, delay)
	tolerated := readings.Never(windows)
	if w.tolerated != nil {
		tolerated = w.tolerated.Condition(env)
	}
	nuisance := unexpected(sounded, readings.Or(expected, tolerated), delay, windows)
	a.add(Nuisance, nuisance, 0)
	a.Soundings = soundings(env, sounded, expected, tolerated, nuisance, delay)
	if w.silenced != nil {
		silenced := readings.And(readings.And(due, quietAllowed), readings.Not(sounded, windows))
		a.add(Silenced, silenced, delay)
		a.SwitchUses = switchUses(env, inEffect)
	}
	return a
}

// unexpected is where a warning sounds and is not due, nor was or will be
// within the delay.
func unexpected(sounded, expected readings.Condition, delay float64, windows readings.Spans) readings.Condition {
	around := func(s readings.Spans) readings.Spans { return readings.Intersect(s.Widen(-delay, delay), windows) }
	near := readings.Condition{
		Certain:  around(expected.Certain),
		True:     around(expected.True),
		Possible: around(expected.Possible),
	}
	near.False = readings.Union(near.True, around(expected.Missing(windows))).Complement(windows)
	return readings.And(sounded, readings.Not(near, windows))
}

// quietFindings sorts the stretches in which a warning is required and quiet for
// longer than the delay: late where it sounds in the end and was quiet from the
// start, wrongly silenced where the switch is in effect, else missed.
func (a *Audit) quietFindings(quiet, expected, sounded, inEffect readings.Condition, delay float64) {
	for _, f := range findings(quiet, delay) {
		span := stretch(f.Start.Nominal, f.End.Nominal)
		whole := containing(expected.True, span)
		soundsAfter := len(sounded.True.Within(stretch(span.End, whole.End))) > 0
		switch {
		case inEffect.True.Within(span).Seconds() > span.Seconds()/2:
			f.Finding = WronglySilenced
		case span.Start-whole.Start < delay && soundsAfter:
			f.Finding = Late
			f.Delay = Time{span.Seconds(), f.sure.Seconds(), f.maybe.Seconds()}
		default:
			f.Finding = Missed
		}
		a.Findings = append(a.Findings, f)
	}
}

// add makes findings of one kind of the stretches longer than the shortest.
func (a *Audit) add(kind Finding, c readings.Condition, shortest float64) {
	for _, f := range findings(c, shortest) {
		f.Finding = kind
		a.Findings = append(a.Findings, f)
	}
}

// findings are the nominal stretches of a condition longer than so many
// seconds; certain where the certain reading is as long.
func findings(c readings.Condition, longerThan float64) []AuditFinding {
	var out []AuditFinding
	for _, n := range longer(c.True, longerThan) {
		p := containing(c.Possible, n)
		f := AuditFinding{Certainty: Possible, sure: c.Certain.Within(n), maybe: c.Possible.Within(p),
			Start: Time{n.Start, p.Start, p.End}, End: Time{n.End, p.Start, p.End}}
		if sure := longer(f.sure, longerThan); len(sure) > 0 {
			// As of an event, in the history with no more than these it is one of them.
			f.Certainty = Certain
			f.Start.Latest, f.End.Earliest = sure[len(sure)-1].Start, sure[0].End
		}
		out = append(out, f)
	}
	return out
}

// longer keeps the spans of more than so many seconds; ten microseconds more,
// a few widths of a sample, is none.
func longer(s readings.Spans, seconds float64) readings.Spans {
	return s.AtLeast(seconds + 1e-5)
}

// containing is the span of the list that holds x, x itself when none does.
func containing(spans readings.Spans, x Span) Span {
	for _, s := range spans {
		if s.Start <= x.Start && x.End <= s.End {
			return s
		}
	}
	return x
}

// switchUses lists every use of the switch in the air.
func switchUses(env *Tracks, inEffect readings.Condition) []SwitchUse {
	used := readings.And(inEffect, env.Condition("airborne"))
	locked := env.Condition("gear_down_locked")
	uses := []SwitchUse{}
	for _, f := range findings(used, 0) {
		u := SwitchUse{Start: f.Start, End: f.End}
		u.Height, u.HeightKnown = env.flight.height.At(f.Start.Nominal)
		if !locked.True.Contains(f.Start.Nominal) {
			for _, l := range locked.True {
				if l.Start >= f.Start.Nominal {
					u.LockedAfter, u.Locked = l.Start-f.Start.Nominal, true
					break
				}
			}
		}
		uses = append(uses, u)
	}
	return uses
}

// auditEvents makes the events of a rule of an audit.
func auditEvents(env *Tracks, rule *Rule, a *Audit) []Event {
	var events []Event
	for _, f := range a.Findings {
		if f.Finding != rule.Audit.Finding {
			continue
		}
		e := Event{Rule: rule, Certainty: f.Certainty, Start: f.Start, End: f.End, Sure: f.sure, Maybe: f.maybe}
		e.complete(env)
		events = append(events, e)
	}
	return events
}
