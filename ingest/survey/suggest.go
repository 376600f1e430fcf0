package survey

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"downlock/schemas"
)

// Confidence says how sure a suggestion is of its column.
type Confidence string

const (
	Sure     Confidence = "high"   // the name says it and nothing speaks against it
	Likely   Confidence = "medium" // the name says most of it, or little stands in the column to confirm it
	Doubtful Confidence = "low"    // a guess by behaviour or part of a name; commented out in a draft
)

// Suggestion maps one column to one parameter, with what speaks for it.
type Suggestion struct {
	Parameter  string            `json:"parameter"`
	Column     string            `json:"column"`
	Confidence Confidence        `json:"confidence"`
	Unit       string            `json:"unit,omitempty"`
	Scale      float64           `json:"scale,omitempty"` // 0: none
	TrueWhen   []string          `json:"true_when,omitempty"`
	FalseWhen  []string          `json:"false_when,omitempty"`
	States     map[string]string `json:"states,omitempty"`
	Evidence   []string          `json:"evidence"`
	// Decide is what the user has to decide or check before the mapping is used.
	Decide []string `json:"decide"`

	score float64
}

// Suggest holds every column against every canonical parameter and keeps, for
// each parameter, the column that fits best; one column serves one parameter.
// The order is that of the vocabulary.
func (s *Survey) Suggest() []Suggestion {
	speed, height := s.reference()
	j := judge{survey: s, phases: s.phases(speed, height), speed: speed, height: height}
	var all []Suggestion
	for i := range s.Columns {
		c := &s.Columns[i]
		said := wordsOf(bareName(c.Name))
		for _, p := range schemas.Parameters() {
			if one, ok := j.judge(c, said, p); ok {
				all = append(all, one)
			}
		}
	}
	all = append(all, j.byBehaviour()...)
	slices.SortStableFunc(all, func(a, b Suggestion) int { return cmp.Compare(b.score, a.score) })
	taken, given := map[string]bool{}, map[string]bool{}
	out := []Suggestion{}
	for _, one := range all {
		if !taken[one.Column] && !given[one.Parameter] {
			taken[one.Column], given[one.Parameter] = true, true
			out = append(out, one)
		}
	}
	order := map[string]int{}
	for i, p := range schemas.Parameters() {
		order[p.Name] = i
	}
	slices.SortStableFunc(out, func(a, b Suggestion) int { return order[a.Parameter] - order[b.Parameter] })
	j.relate(out)
	return out
}

// judge holds columns against parameters.
type judge struct {
	survey        *Survey
	phases        phases
	speed, height *Column
}

// leastScore is the score of a name below which nothing is suggested, and the
// ones from which a suggestion is likely and sure.
const (
	leastScore  = 0.45
	likelyScore = 0.6
	sureScore   = 0.85
)

// judge scores a column for a parameter; ok is false when it cannot be it.
func (j *judge) judge(c *Column, said []string, p schemas.Parameter) (out Suggestion, ok bool) {
	score := nameScore(said, p.Name)
	if score < leastScore || c.Samples == 0 {
		return out, false
	}
	out = Suggestion{Parameter: p.Name, Column: c.Name, Decide: []string{}, score: score}
	out.Evidence = []string{fmt.Sprintf("the name reads as %q", plain.Replace(strings.Join(said, " ")))}
	if strings.HasSuffix(p.Name, "_strut_compressed") && (slices.Contains(said, "1") || slices.Contains(said, "2")) {
		out.score = min(out.score, sureScore-0.1)
		out.decide("which side a number stands for is assumed, 1 for left: check it")
	}
	switch {
	case p.Numeric():
		ok = j.number(&out, c, p)
	case p.Kind == schemas.State:
		ok = j.state(&out, c)
	default:
		ok = j.discrete(&out, c, p)
	}
	out.settle()
	return out, ok
}

// plain writes words the dictionary has as one for people.
var plain = strings.NewReplacer("weightonwheels", "weight on wheels", "nosewheel", "nose wheel")

// settle makes the score a confidence.
func (s *Suggestion) settle() {
	switch {
	case s.score >= sureScore:
		s.Confidence = Sure
	case s.score >= likelyScore:
		s.Confidence = Likely
	default:
		s.Confidence = Doubtful
	}
}

func (s *Suggestion) evidence(format string, args ...any) {
	s.Evidence = append(s.Evidence, fmt.Sprintf(format, args...))
}

func (s *Suggestion) decide(format string, args ...any) {
	s.Decide = append(s.Decide, fmt.Sprintf(format, args...))
}

// bareName takes a unit in brackets off the end of a name.
func bareName(name string) string {
	bare, _ := splitUnit(name)
	return bare
}

// splitUnit splits "altitude (ft)" or "altitude [ft]" where the brackets hold a
// known unit.
func splitUnit(name string) (bare, unit string) {
	name = strings.TrimSpace(name)
	for _, brackets := range []string{"()", "[]"} {
		open := strings.LastIndexByte(name, brackets[0])
		if open > 0 && strings.HasSuffix(name, brackets[1:]) {
			if unit, known := schemas.UnitName(name[open+1 : len(name)-1]); known {
				return strings.TrimSpace(name[:open]), unit
			}
		}
	}
	return name, ""
}
