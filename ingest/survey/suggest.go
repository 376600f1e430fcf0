package survey

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"downlock/schemas"
)

// Confidence says how sure a suggestion is.
type Confidence string

const (
	Sure     Confidence = "high"   // the name says it and nothing contradicts it
	Likely   Confidence = "medium" // the name says most of it, or the column holds little to confirm it
	Doubtful Confidence = "low"    // a guess by behaviour or part of a name; commented out in a draft
)

// Suggestion maps one column to one parameter, with its evidence.
type Suggestion struct {
	Parameter  string            `json:"parameter"`
	Column     string            `json:"column"`
	Confidence Confidence        `json:"confidence"`
	Samples    []string          `json:"samples,omitempty"` // the columns of one row's samples, Column the first
	Unit       string            `json:"unit,omitempty"`
	Scale      float64           `json:"scale,omitempty"` // 0: none
	TrueWhen   []string          `json:"true_when,omitempty"`
	FalseWhen  []string          `json:"false_when,omitempty"`
	States     map[string]string `json:"states,omitempty"`
	TrueAbove  *float64          `json:"true_above,omitempty"`
	FalseBelow *float64          `json:"false_below,omitempty"`
	TrueBelow  *float64          `json:"true_below,omitempty"`
	FalseAbove *float64          `json:"false_above,omitempty"`
	Evidence   []string          `json:"evidence"`
	// Decide lists the points the user has to decide or check before using the
	// mapping.
	Decide []string `json:"decide"`

	score float64
	named float64   // the score of its name alone
	rests []float64 // where it stays, for points whose values only the user knows
}

// Suggest compares every column with every canonical parameter. For each parameter it
// keeps the column that fits best; one column serves one parameter. The order is that
// of the vocabulary.
func (s *Survey) Suggest() []Suggestion {
	speed, height := s.reference()
	j := judge{survey: s, phases: s.phases(speed, height), speed: speed, height: height}
	fromZero := slices.ContainsFunc(s.Columns, func(c Column) bool { return strings.Contains(c.Name, "[0]") })
	sampled := s.sampled()
	var all []Suggestion
	for i := range s.Columns {
		c := &s.Columns[i]
		said := wordsOf(counted(bareName(c.Name), fromZero))
		if w := sampled[c.Name]; w != nil {
			said = wordsOf(w.name)
		}
		said = legPosition(c, said)
		for _, p := range schemas.Parameters() {
			if one, ok := j.judge(c, said, p); ok {
				all = append(all, one)
			}
		}
	}
	all = append(all, j.byBehaviour()...)
	all = slices.DeleteFunc(all, func(one Suggestion) bool {
		return sampled[one.Column] != nil && sampled[one.Column].columns[0] != one.Column
	})
	for i := range all {
		if w := sampled[all[i].Column]; w != nil {
			all[i].Samples = w.columns
			all[i].evidence("%d columns hold the samples of one row: the last is ahead of the first by as much as the values change", len(w.columns))
			if w.doubt != "" {
				all[i].decide("%s", w.doubt)
			}
		}
	}
	slices.SortStableFunc(all, func(a, b Suggestion) int { return cmp.Compare(b.score, a.score) })
	taken, given := map[string]bool{}, map[string]bool{}
	out := []Suggestion{}
	for _, one := range all {
		if !taken[one.Column] && !given[one.Parameter] {
			taken[one.Column], given[one.Parameter] = true, true
			out = append(out, one)
		}
	}
	out = append(out, otherEnds(out)...)
	order := map[string]int{}
	for i, p := range schemas.Parameters() {
		order[p.Name] = i
	}
	slices.SortStableFunc(out, func(a, b Suggestion) int { return order[a.Parameter] - order[b.Parameter] })
	j.relate(out)
	s.leftOut(out)
	return out
}

// judge compares columns with parameters.
type judge struct {
	survey        *Survey
	phases        phases
	speed, height *Column
}

// Below leastScore of a name nothing is suggested. From likelyScore a suggestion is
// likely, from sureScore it is sure.
const (
	leastScore  = 0.45
	likelyScore = 0.6
	sureScore   = 0.85
)

// judge scores a column for a parameter; ok is false when it cannot be that
// parameter.
func (j *judge) judge(c *Column, said []string, p schemas.Parameter) (out Suggestion, ok bool) {
	fitting, less := which(said, p.Name)
	score := nameScore(fitting, p.Name) - less
	if score < leastScore || c.Samples == 0 {
		return out, false
	}
	out = Suggestion{Parameter: p.Name, Column: c.Name, Decide: []string{}, score: score, named: score}
	out.Evidence = []string{fmt.Sprintf("the name reads as %q", plain.Replace(strings.Join(said, " ")))}
	if strings.HasSuffix(p.Name, "_strut_compressed") && slices.ContainsFunc(said, isNumber) {
		out.atMostLikely()
		out.decide("which leg a number means is assumed: check it")
	}
	if strings.HasSuffix(p.Name, "_locked") && !slices.Contains(said, "locked") {
		out.atMostLikely()
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

// plain writes for people the words that the dictionary joins.
var plain = strings.NewReplacer("weightonwheels", "weight on wheels", "nosewheel", "nose wheel")

// settle turns the score into a confidence.
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

// atMostLikely keeps a suggestion from being sure.
func (s *Suggestion) atMostLikely() { s.score = min(s.score, sureScore-0.1) }
