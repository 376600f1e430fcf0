package detect

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"downlock/detect/language"
	"downlock/detect/readings"
	"downlock/detect/samples"
	"downlock/schemas"
)

// Tracks is all that was read from the samples of one flight: every parameter and
// every derived name of the rule language over time, in three readings. Rules,
// measurements and audits are evaluated on it, and pages draw it, so that none can
// see something else. Each track is made when first asked for, and conditions are
// kept; one goroutine may use it.
type Tracks struct {
	flight     *Flight
	criteria   criteria
	conditions map[string]readings.Condition
	compared   map[comparison]readings.Condition
	recorded   []Recorded
	envelopes  map[string]envelope
	off        map[string]bool     // discretes taken as never true
	own        []schemas.Parameter // that packs declare
	assumed    map[string]*Tracks  // see assuming
}

// envelope is one that was worked out, or the note that there is none.
type envelope struct {
	of    readings.Envelope
	known bool
}

type comparison struct {
	name     string
	relation readings.Relation
	constant float64
}

// criteria are those of the profile, or the usual ones in their place, compiled, by name.
type criteria map[string]*language.Expression

func newTracks(f *Flight, c criteria) *Tracks {
	return &Tracks{flight: f, criteria: c, conditions: map[string]readings.Condition{}, compared: map[comparison]readings.Condition{},
		envelopes: map[string]envelope{}, assumed: map[string]*Tracks{}}
}

// UsualFigure ends the note of a value that stands for one the profile does not give.
const UsualFigure = ", the usual figure, because the profile gives none"

// assuming are the tracks for a rule that can do without some discretes and states:
// those that are not recorded are taken as never true.
func (t *Tracks) assuming(optional []string) *Tracks {
	off := map[string]bool{}
	for _, name := range optional {
		if p, ok := schemas.FindParameter(name, t.own); ok && !p.Numeric() && !t.Has(name) {
			off[name] = true
		}
	}
	if len(off) == 0 {
		return t
	}
	key := strings.Join(slices.Sorted(maps.Keys(off)), " ")
	other := t.assumed[key]
	if other == nil {
		other = newTracks(t.flight, t.criteria)
		other.off, other.own, other.envelopes = off, t.own, t.envelopes
		t.assumed[key] = other
	}
	return other
}

// ReadTracks reads the samples of a flight that no Detector has found, without the
// criteria of its profile.
func ReadTracks(f *Flight) *Tracks {
	f.signals = samples.New(f.Recording)
	f.signals.EstimateAccuracies()
	return newTracks(f, nil)
}

// Parameters lists the canonical parameters and the profile's own.
func (t *Tracks) Parameters() []schemas.Parameter { return t.flight.Profile.Parameters() }

// Window is the flight, in seconds on the recording's axis.
func (t *Tracks) Window() readings.Span { return t.flight.Span }

func (t *Tracks) windows() readings.Spans { return readings.Spans{t.flight.Span} }

func (t *Tracks) keep(key string, make func() readings.Condition) readings.Condition {
	c, ok := t.conditions[key]
	if !ok {
		c = make()
		t.conditions[key] = c
	}
	return c
}

// Condition is where a discrete, or a derived condition, holds.
func (t *Tracks) Condition(name string) readings.Condition {
	return t.keep(name, func() readings.Condition {
		if d := derivedNames()[name]; d.condition != nil {
			return d.condition(t)
		}
		if t.off[name] {
			return readings.Never(t.windows())
		}
		return t.flight.signals.Discrete(name, t.windows())
	})
}

// State is where a parameter of states is in one of them.
func (t *Tracks) State(name, state string) readings.Condition {
	if t.off[name] {
		return readings.Never(t.windows())
	}
	return t.keep(name+"="+state, func() readings.Condition { return t.flight.signals.State(name, state, t.windows()) })
}

// Moments are those of a derived name.
func (t *Tracks) Moments(name string) []readings.Moment {
	if d := derivedNames()[name]; d.moments != nil {
		return d.moments(t)
	}
	return nil
}

// Steps are the moments at which a held parameter changes in the direction, and
// the part of the flight in which they may have been missed.
func (t *Tracks) Steps(name string, d readings.Direction) ([]readings.Moment, readings.Spans) {
	if h := t.flight.signals.Code(name); h != nil {
		return readings.Steps(h, d, t.windows())
	}
	if h := t.flight.signals.Step(name); h != nil {
		return movements(h, d, t.windows())
	}
	return nil, t.windows()
}

// Number is a numeric parameter or derived number within spans of time, in its
// unit.
func (t *Tracks) Number(name string, within readings.Spans) readings.Number {
	if d := derivedNames()[name]; d.number != nil {
		return d.number(t, within)
	}
	if limit, ok := t.flight.Profile.Limits[name]; ok {
		return readings.Through(limit.Points, t.Number(limit.By, within))
	}
	if value, ok := t.Fixed(name); ok {
		return readings.Constant(value, within)
	}
	return t.flight.signals.Number(name, within)
}

// Nominal is the nominal reading of Number, without the bounds: the line that is drawn.
func (t *Tracks) Nominal(name string, within readings.Spans) readings.Curve {
	if name == heightName {
		return t.flight.height.Nominal(within)
	}
	_, derived := derivedNames()[name]
	_, limit := t.flight.Profile.Limits[name]
	if _, fixed := t.Fixed(name); derived || limit || fixed {
		return t.Number(name, within).Nominal
	}
	return t.flight.signals.Nominal(name, within)
}

// Compare is where a number stands in the relation to a constant.
func (t *Tracks) Compare(name string, r readings.Relation, constant float64) readings.Condition {
	key := comparison{name, r, constant}
	c, ok := t.compared[key]
	if !ok {
		_, isDerived := derivedNames()[name]
		_, isLimit := t.flight.Profile.Limits[name]
		if name == heightName {
			c = t.flight.compareHeight(r, constant)
		} else if isDerived || isLimit {
			closely := func(w readings.Spans) readings.Condition {
				return readings.Compare(t.Number(name, w), r, readings.Constant(constant, w), w)
			}
			if e, ok := t.Envelope(name); ok {
				c = readings.CompareClosely(e, r, readings.LevelEnvelope(constant), t.windows(), closely)
			} else {
				c = closely(t.windows())
			}
		} else {
			c = t.flight.signals.Compare(name, r, constant, t.windows())
		}
		t.compared[key] = c
	}
	return c
}

// stretchSeconds (s) is how long the stretches of envelopes are: some samples of most
// parameters, and shorter than anything that happens often.
const stretchSeconds = 16.0

// Envelope bounds a numeric parameter or derived number throughout the flight; ok is false
// for those it is not worked out for.
func (t *Tracks) Envelope(name string) (readings.Envelope, bool) {
	e, ok := t.envelopes[name]
	if !ok {
		e.of, e.known = t.envelope(name)
		t.envelopes[name] = e
	}
	return e.of, e.known
}

func (t *Tracks) envelope(name string) (e readings.Envelope, known bool) {
	if name == heightName {
		return t.flight.heightEnvelope(), true
	}
	if name == "flap_placard_speed" {
		return t.flapPlacardEnvelope()
	}
	if _, ok := derivedNames()[name]; ok {
		return e, false
	}
	if limit, ok := t.flight.Profile.Limits[name]; ok {
		e, known = t.Envelope(limit.By)
		return e.Through(limit.Points), known
	}
	if value, ok := t.Fixed(name); ok {
		return readings.LevelEnvelope(value), true
	}
	if l := t.flight.signals.Line(name); l != nil {
		return l.Envelope(t.flight.Span, stretchSeconds), true
	}
	if h := t.flight.signals.Step(name); h != nil {
		return h.Envelope(func(v float64) float64 { return v }, t.flight.Span, stretchSeconds), true
	}
	return e, false
}

// Fixed is a value of the profile, or the usual figure that stands for it; ok is false
// where there is neither, as for a limit that changes with a parameter.
func (t *Tracks) Fixed(name string) (float64, bool) {
	v, ok := t.flight.Profile.Values[name]
	if !ok {
		v, _, ok = schemas.DefaultOf(name)
	}
	return v, ok
}

// Table is a table of the profile, nil where it has none.
func (t *Tracks) Table(name string) [][2]float64 { return t.flight.Profile.Tables[name] }

// absent says in plain words why a parameter is not there.
func (t *Tracks) absent(parameter string) string {
	if reason, ok := t.flight.signals.Distrusted(parameter); ok {
		return parameter + ": " + reason
	}
	for _, a := range t.flight.Recording.Absent {
		if a.Parameter == parameter {
			return fmt.Sprintf("%s: the export has no column %s", parameter, joinWords(quotedAll(a.Columns)))
		}
	}
	if s := t.flight.Recording.Lookup(parameter); s != nil {
		return fmt.Sprintf("%s: column %q has no valid sample", parameter, s.Column)
	}
	return parameter + ": not mapped in the profile"
}

func quotedAll(words []string) []string {
	out := make([]string, len(words))
	for i, w := range words {
		out[i] = fmt.Sprintf("%q", w)
	}
	return out
}

// needs lists the parameters and values that the names need and do not have on this flight,
// and the substitutes used.
func (t *Tracks) needs(names []string) (missing, fallbacks []string) {
	for _, name := range names {
		m, f := t.needsOf(name)
		missing, fallbacks = append(missing, m...), append(fallbacks, f...)
	}
	return unique(missing), unique(fallbacks)
}

// ownCriteria lists the criteria of a warning that an audit lacks because the profile
// does not give them: against the usual ones a right warning of another type would be
// late or missed.
func (t *Tracks) ownCriteria(w *Warning) (missing []string) {
	for _, c := range schemas.Criteria() {
		if slices.Contains(w.names(), c.Name) && !c.Lenient && t.flight.Profile.Criteria[c.Name] == "" {
			missing = append(missing, c.Name+noCriterion)
		}
	}
	return missing
}

func (t *Tracks) needsOf(name string) (missing, fallbacks []string) {
	if d, ok := derivedNames()[name]; ok {
		return d.needs(t)
	}
	if _, isTable := vocabulary().Tables[name]; isTable {
		if len(t.flight.Profile.Tables[name]) == 0 {
			return []string{name + noTable}, nil
		}
		return nil, nil
	}
	if limit, ok := t.flight.Profile.Limits[name]; ok {
		return t.needsOf(limit.By)
	}
	if slices.ContainsFunc(schemas.Values(), func(v schemas.Value) bool { return v.Name == name }) {
		if _, ok := t.flight.Profile.Values[name]; ok {
			return nil, nil
		}
		if usual, unit, ok := schemas.DefaultOf(name); ok {
			return nil, []string{fmt.Sprintf("%s %g %s%s", name, usual, unit, UsualFigure)}
		}
		return []string{name + noValue}, nil
	}
	if t.flight.signals.Has(name) {
		return nil, nil
	}
	if t.off[name] {
		return nil, []string{name + " is not recorded: taken as not operated"}
	}
	return []string{t.absent(name)}, nil
}

func unique(words []string) []string {
	var out []string
	for _, w := range words {
		if !slices.Contains(out, w) {
			out = append(out, w)
		}
	}
	return out
}
