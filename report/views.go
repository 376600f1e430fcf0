package report

import (
	"slices"
	"strconv"
	"strings"

	"downlock/detect"
)

// rulesView sorts the evaluations for the page: by group, then those without an
// opportunity, and those that could not be evaluated by the missing parameter.
type rulesView struct {
	Groups  []ruleGroup
	None    []evaluationPart // no opportunity
	Missing []missingReason
}

// ruleGroup holds the rules of a group that could be evaluated: those with
// something to say, and those evaluated throughout without an event.
type ruleGroup struct {
	Name   string
	Rules  []evaluationPart
	Silent []evaluationPart
}

// missingReason is one thing missing and the rules or measurements that could
// not do without.
type missingReason struct {
	Reason string
	Rules  []string
}

// Percent is the part of the rule's scope in which it could not be decided.
func (e evaluationPart) Percent() string {
	if e.ScopeSeconds <= 0 || e.UnknownSeconds <= 0 {
		return ""
	}
	share := 100 * float64(e.UnknownSeconds) / float64(e.ScopeSeconds)
	if share < 0.1 {
		return "under 0.1 %"
	}
	return decimals(share, 1) + " %"
}

// Whole, Partly, Not and None say which coverage it is.
func (e evaluationPart) Whole() bool  { return e.Coverage == string(detect.Evaluated) }
func (e evaluationPart) Partly() bool { return e.Coverage == string(detect.PartlyEvaluated) }
func (e evaluationPart) Not() bool    { return e.Coverage == string(detect.NotEvaluable) }
func (e evaluationPart) None() bool   { return e.Coverage == string(detect.NoOpportunity) }

// Chances words the opportunities: 3 approaches, 1 partly. A rule that
// looks at the flight as a whole has no more to say of them.
func (e evaluationPart) Chances() string {
	o := e.Opportunities
	if o.All == 0 || e.Opportunity == string(detect.OpenFlight) {
		return ""
	}
	s := count(o.All, strings.Replace(e.Opportunity, " time", " stretch", 1))
	if o.Partly > 0 {
		s += ", " + strconv.Itoa(o.Partly) + " partly"
	}
	if o.Not > 0 {
		s += ", " + strconv.Itoa(o.Not) + " not"
	}
	return s
}

func newRulesView(evaluations []evaluationPart) rulesView {
	var v rulesView
	for _, e := range evaluations {
		i := slices.IndexFunc(v.Groups, func(g ruleGroup) bool { return g.Name == e.Group })
		if i < 0 {
			i = len(v.Groups)
			v.Groups = append(v.Groups, ruleGroup{Name: e.Group})
		}
		g := &v.Groups[i]
		switch {
		case e.None():
			v.None = append(v.None, e)
		case e.Not():
			v.Missing = addReasons(v.Missing, e.Missing, e.Title)
		case e.Whole() && e.Events == 0 && len(e.Fallbacks) == 0:
			g.Silent = append(g.Silent, e)
		default:
			g.Rules = append(g.Rules, e)
		}
	}
	v.Groups = slices.DeleteFunc(v.Groups, func(g ruleGroup) bool { return len(g.Rules)+len(g.Silent) == 0 })
	sortReasons(v.Missing)
	return v
}

// addReasons notes why something with that title was not evaluable.
func addReasons(list []missingReason, reasons []string, title string) []missingReason {
	for _, reason := range reasons {
		k := slices.IndexFunc(list, func(m missingReason) bool { return m.Reason == reason })
		if k < 0 {
			k = len(list)
			list = append(list, missingReason{Reason: reason})
		}
		list[k].Rules = append(list[k].Rules, title)
	}
	return list
}

// sortReasons puts those that concern most first.
func sortReasons(list []missingReason) {
	slices.SortStableFunc(list, func(a, b missingReason) int { return len(b.Rules) - len(a.Rules) })
}

// qualityView is the data quality in a few figures.
type qualityView struct {
	Recorded  int
	Dropped   []parameterPart // with samples dropped
	Gaps      []parameterPart // with gaps in the flight
	Slow      []parameterPart // sampled less often than regulation requires
	Samples   int             // dropped, all parameters
	Fallbacks []string        // of any rule, and of finding the flight
}

func newQualityView(doc *document) qualityView {
	q := qualityView{Recorded: len(doc.Parameters), Fallbacks: slices.Clone(doc.Flight.Notes)}
	for _, p := range doc.Parameters {
		if n := p.Dropped.Total(); n > 0 {
			q.Dropped = append(q.Dropped, p)
			q.Samples += n
		}
		if p.Gaps > 0 {
			q.Gaps = append(q.Gaps, p)
		}
		if p.Slow() {
			q.Slow = append(q.Slow, p)
		}
	}
	var usual []string
	for _, e := range doc.Evaluations {
		for _, f := range e.Fallbacks {
			name, isUsual := strings.CutSuffix(f, detect.UsualFigure)
			switch {
			case isUsual && !slices.Contains(usual, name):
				usual = append(usual, name)
			case !isUsual && !slices.Contains(q.Fallbacks, f):
				q.Fallbacks = append(q.Fallbacks, f)
			}
		}
	}
	if len(usual) > 0 {
		q.Fallbacks = append(q.Fallbacks, "usual figures, used because the profile gives none: "+strings.Join(usual, ", "))
	}
	return q
}
