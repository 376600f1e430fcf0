package detect

import (
	"fmt"
	"slices"

	"downlock/detect/language"
	"downlock/schemas"
)

// Warning is a warning whose criteria are held against the recording.
type Warning struct {
	Name  string
	Title string
	// Expressions: Required is where it is to sound if nobody silences it; MayBeSilenced
	// the part of that where Silenced, the cut-out in effect, makes it
	// quiet; Sounded where the recording has it sound. MayBeSilenced and Silenced are ""
	// for a warning without a switch.
	Required, MayBeSilenced, Silenced, Sounded string
	// Tolerated is where sounding is no nuisance although it is not required: a test on the
	// stand, or what not every type does alike; "": nowhere.
	Tolerated string
	Optional  []string // discretes it can be audited without: not recorded, they count as not operated
	// Delay is the expression of the longest usual time in s from required to
	// sounding, and from not required to quiet.
	Delay string
	Pack  string

	required, mayBeSilenced, silenced, sounded, tolerated, delay *language.Expression
}

// Finding is the verdict of an audit on a stretch of time.
type Finding string

const (
	Missed          Finding = "missed"           // required, and it did not sound
	Late            Finding = "late"             // it sounded, after more than the usual delay
	Nuisance        Finding = "nuisance"         // it sounded, and was not required
	Silenced        Finding = "silenced"         // required, and the switch made it quiet, as it may
	WronglySilenced Finding = "wrongly silenced" // required in a way the switch must not silence, and quiet with the switch in effect
)

// Warning finds a warning by name, nil when there is none.
func (s *RuleSet) Warning(name string) *Warning {
	i := slices.IndexFunc(s.Warnings, func(w *Warning) bool { return w.Name == name })
	if i < 0 {
		return nil
	}
	return s.Warnings[i]
}

// addWarning adds a warning, or puts it in the place of one of that name.
func (s *RuleSet) addWarning(w *Warning) {
	if i := slices.IndexFunc(s.Warnings, func(o *Warning) bool { return o.Name == w.Name }); i >= 0 {
		s.Warnings[i] = w
		return
	}
	s.Warnings = append(s.Warnings, w)
}

// warningText is a warning as written in a pack.
type warningText struct {
	Warning, Title, Required, Silenced, Sounded, Tolerated, Delay string
	MayBeSilenced                                                 string `yaml:"may_be_silenced"`
	Due                                                           string // Required, in packs of earlier versions
	Optional                                                      []string
}

// auditText is a rule's audit as written.
type auditText struct{ Warning, Finding string }

func (p *packReader) warning(path string, t warningText) *Warning {
	required, field := t.Required, "/required"
	if required == "" {
		required, field = t.Due, "/due"
	}
	w := &Warning{Name: t.Warning, Title: t.Title, Required: required, MayBeSilenced: t.MayBeSilenced, Silenced: t.Silenced, Sounded: t.Sounded,
		Tolerated: t.Tolerated, Optional: t.Optional, Delay: t.Delay, Pack: p.pack}
	w.required = p.compile(path+field, required, language.Condition)
	w.sounded = p.compile(path+"/sounded", t.Sounded, language.Condition)
	if t.Tolerated != "" {
		w.tolerated = p.compile(path+"/tolerated", t.Tolerated, language.Condition)
	}
	w.delay = p.compile(path+"/delay", t.Delay, language.Number)
	if w.delay != nil && (!w.delay.Type.Fixed || w.delay.Type.Unit != "" && w.delay.Type.Unit != "s") {
		p.problem(path+"/delay", "the delay must be a number of seconds that does not change", "use warning_delay, or a number")
	}
	if (t.MayBeSilenced == "") != (t.Silenced == "") {
		p.problem(path, fmt.Sprintf("warning %q needs both may_be_silenced and silenced, or neither", t.Warning), "")
		return w
	}
	if t.Silenced != "" {
		w.mayBeSilenced = p.compile(path+"/may_be_silenced", t.MayBeSilenced, language.Condition)
		w.silenced = p.compile(path+"/silenced", t.Silenced, language.Condition)
	}
	return w
}

// expressions lists those a warning has.
func (w *Warning) expressions() []*language.Expression {
	var out []*language.Expression
	for _, x := range []*language.Expression{w.required, w.mayBeSilenced, w.silenced, w.sounded, w.tolerated, w.delay} {
		if x != nil {
			out = append(out, x)
		}
	}
	return out
}

// names lists the names a warning needs, each once.
func (w *Warning) names() []string {
	var out []string
	for _, x := range w.expressions() {
		out = append(out, x.Names...)
	}
	return unique(out)
}

func (p *packReader) checkAudit(path string, r *Rule) {
	w := p.set.Warning(r.Audit.Warning)
	if w == nil {
		names := make([]string, len(p.set.Warnings))
		for i, w := range p.set.Warnings {
			names[i] = w.Name
		}
		p.problem(path+"/audit/warning", fmt.Sprintf("unknown warning %q", r.Audit.Warning), schemas.Suggest(r.Audit.Warning, names))
		return
	}
	if r.When != "" || r.At != "" || r.ContinuesWhile != "" {
		p.problem(path, fmt.Sprintf("rule %q makes events of audit findings and has no condition of its own", r.ID), "remove when, at and continues_while")
	}
	if w.silenced == nil && (r.Audit.Finding == Silenced || r.Audit.Finding == WronglySilenced) {
		p.problem(path+"/audit/finding", fmt.Sprintf("the warning %q has no switch", w.Name), "use missed, late or nuisance")
	}
}
