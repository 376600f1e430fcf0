package detect

import (
	"crypto/sha256"
	_ "embed"
	"encoding/hex"
	"errors"
	"fmt"
	"os"
	"slices"

	"downlock/detect/language"
	"downlock/schemas"
)

//go:embed packs/builtin.yaml
var builtinPack []byte

//go:embed packs/measurements.yaml
var measurementsPack []byte

// As prepared by schemas.Prepare.
//
//go:embed packs/builtin.prepared
var preparedBuiltin string

//go:embed packs/measurements.prepared
var preparedMeasurements string

// How problems and reports call the packs that are compiled in.
const (
	builtinFile      = "builtin.yaml"
	measurementsFile = "measurements.yaml"
)

// Pack is a file of rules.
type Pack struct {
	Name   string
	File   string
	SHA256 string // hex
}

// RuleSet is every rule in force, from all packs.
type RuleSet struct {
	Packs []Pack
	// Own are the parameters the packs declare, beyond the canonical ones.
	Own   []schemas.Parameter
	Rules []*Rule // in pack order, those switched off left out
	// Warnings are those whose criteria are held against the recording.
	Warnings []*Warning
	// Measurements are kept from every flight.
	Measurements []*MeasurementRule
	// OldNames says which names of earlier versions the packs use.
	OldNames []string
}

// Rule finds a rule by id, nil when there is none.
func (s *RuleSet) Rule(id string) *Rule {
	for _, r := range s.Rules {
		if r.ID == id {
			return r
		}
	}
	return nil
}

// IDs lists the rules' ids.
func (s *RuleSet) IDs() []string {
	ids := make([]string, len(s.Rules))
	for i, r := range s.Rules {
		ids[i] = r.ID
	}
	return ids
}

// LoadRules reads the built-in packs and the given files after them. A rule in a
// later pack with the id of an earlier one changes the fields it states; a
// measurement takes the earlier one's place. The error is schemas.Problems, or
// one from the file system.
func LoadRules(files ...string) (*RuleSet, error) {
	set := &RuleSet{}
	if err := set.addPrepared(builtinFile, builtinPack, preparedBuiltin); err != nil {
		return nil, err
	}
	if err := set.addPrepared(measurementsFile, measurementsPack, preparedMeasurements); err != nil {
		return nil, err
	}
	for _, file := range files {
		data, err := os.ReadFile(file)
		if err != nil {
			return nil, err
		}
		if err := set.add(file, data); err != nil {
			return nil, err
		}
	}
	return set, nil
}

// ParseRules reads one pack alone, without the built-in one.
func ParseRules(file string, data []byte) (*RuleSet, error) {
	set := &RuleSet{}
	if err := set.add(file, data); err != nil {
		return nil, err
	}
	return set, nil
}

// packText is a pack as written.
type packText struct {
	Pack         string
	Parameters   []schemas.Parameter
	Warnings     []warningText
	Rules        []ruleText
	Measurements []measurementText
}

// ruleText is a rule as written; nil and empty fields are not given.
type ruleText struct {
	ID, Title, Group, Meaning, When, At, Basis, Caution, Opportunity string
	ContinuesWhile                                                   string   `yaml:"continues_while"`
	AtLeast                                                          *float64 `yaml:"at_least"`
	MergeGap                                                         *float64 `yaml:"merge_gap"`
	AlsoPossible                                                     *bool    `yaml:"also_possible"`
	Severity                                                         *severityText
	Measure                                                          []measureText
	Optional, Trace, Systems                                         []string
	FollowsFrom                                                      []string `yaml:"follows_from"`
	Audit                                                            *auditText
	Off                                                              bool
}

type measureText struct{ Name, Of, Take string }

type severityText struct {
	Always, By        string
	Low, Medium, High *float64
	LoweredWhile      string `yaml:"lowered_while"`
}

// UnmarshalYAML takes one word or thresholds.
func (s *severityText) UnmarshalYAML(unmarshal func(any) error) error {
	if err := unmarshal(&s.Always); err == nil {
		return nil
	}
	type plain severityText
	return unmarshal((*plain)(s))
}

func (set *RuleSet) add(file string, data []byte) error {
	doc, err := schemas.ParseDocument(file, data)
	if err != nil {
		return err
	}
	schema, err := schemas.Schema(schemas.RulePackSchema)
	if err != nil {
		return err
	}
	if err := doc.Validate(schema); err != nil {
		return err
	}
	var text packText
	if err := doc.Decode(&text); err != nil {
		return err
	}
	return set.addText(file, data, doc, text)
}

// addPrepared adds a pack that is compiled in, without holding it against the schema: tests
// do that. Where something in it is wrong all the same it is read as any other.
func (set *RuleSet) addPrepared(file string, data []byte, prepared string) error {
	var text packText
	if !schemas.ReadPrepared(data, prepared, &text) {
		return set.add(file, data)
	}
	before := *set
	if set.addText(file, data, &schemas.Document{File: file}, text) == nil {
		return nil
	}
	*set = before
	return set.add(file, data)
}

func (set *RuleSet) addText(file string, data []byte, doc *schemas.Document, text packText) error {
	sum := sha256.Sum256(data)
	set.Packs = append(set.Packs, Pack{Name: text.Pack, File: file, SHA256: hex.EncodeToString(sum[:])})
	set.OldNames = append(set.OldNames, doc.OldNames()...)
	reader := packReader{doc: doc, pack: text.Pack, set: set}
	reader.addOwn(text.Parameters)
	reader.words = withOwn(set.Own)
	for i, t := range text.Warnings {
		set.addWarning(reader.warning(fmt.Sprintf("/warnings/%d", i), t))
	}
	for i, t := range text.Rules {
		set.addRule(&reader, fmt.Sprintf("/rules/%d", i), t, text.Rules[:i])
	}
	for i, t := range text.Measurements {
		set.addMeasurement(&reader, fmt.Sprintf("/measurements/%d", i), t, text.Measurements[:i])
	}
	reader.checkCauses(text.Rules)
	if len(reader.found) > 0 {
		return reader.found.InOrder()
	}
	return nil
}

func (set *RuleSet) addRule(reader *packReader, path string, t ruleText, earlier []ruleText) {
	if slices.ContainsFunc(earlier, func(e ruleText) bool { return e.ID == t.ID }) {
		reader.problem(path+"/id", fmt.Sprintf("rule %q appears twice in this pack", t.ID), "give it another id, or remove one")
		return
	}
	at := slices.IndexFunc(set.Rules, func(r *Rule) bool { return r.ID == t.ID })
	if t.Off {
		if at < 0 {
			reader.problem(path+"/id", fmt.Sprintf("there is no rule %q to switch off", t.ID), schemas.Suggest(t.ID, set.IDs()))
			return
		}
		set.Rules = slices.Delete(set.Rules, at, at+1)
		return
	}
	base := &Rule{Opportunity: OpenFlight, MergeGap: 3, Severity: SeverityRule{Always: Low}}
	if at >= 0 {
		base = set.Rules[at]
	}
	rule := reader.rule(path, t, *base)
	if at >= 0 {
		set.Rules[at] = rule
	} else {
		set.Rules = append(set.Rules, rule)
	}
}

// packReader checks the rules of one pack and gathers problems.
type packReader struct {
	doc   *schemas.Document
	pack  string
	set   *RuleSet
	words *language.Vocabulary
	found schemas.Problems
}

func (p *packReader) problem(path, cause, hint string) {
	p.found = append(p.found, p.doc.Problem(path, cause, hint))
}

// compile compiles the expression at a path.
func (p *packReader) compile(path, expression string, want language.Kind) *language.Expression {
	x, err := language.Compile(expression, p.words, want)
	var mistake *language.Error
	if errors.As(err, &mistake) {
		p.found = append(p.found, p.doc.TextProblem(path, mistake.Offset, mistake.Cause, mistake.Hint))
	}
	return x
}

// rule puts the fields of the text on top of the base.
func (p *packReader) rule(path string, t ruleText, r Rule) *Rule {
	r.ID, r.Pack, r.Packs = t.ID, p.pack, append(slices.Clone(r.Packs), p.pack)
	for _, f := range []struct {
		to   *string
		from string
	}{{&r.Title, t.Title}, {&r.Group, t.Group}, {&r.Meaning, t.Meaning}, {&r.Basis, t.Basis}, {&r.Caution, t.Caution}} {
		if f.from != "" {
			*f.to = f.from
		}
	}
	if t.When != "" {
		r.When, r.when = t.When, p.compile(path+"/when", t.When, language.Condition)
	}
	if t.At != "" {
		r.At, r.at = t.At, p.compile(path+"/at", t.At, language.Moments)
	}
	if t.ContinuesWhile != "" {
		r.ContinuesWhile, r.continuesWhile = t.ContinuesWhile, p.compile(path+"/continues_while", t.ContinuesWhile, language.Condition)
	}
	if t.Opportunity != "" {
		r.Opportunity = p.opportunity(path, t.Opportunity)
	}
	if t.AtLeast != nil {
		r.AtLeast = *t.AtLeast
	}
	if t.MergeGap != nil {
		r.MergeGap = *t.MergeGap
	}
	if t.AlsoPossible != nil {
		r.AlsoPossible = *t.AlsoPossible
	}
	if t.Optional != nil {
		r.Optional = t.Optional
	}
	if t.FollowsFrom != nil {
		r.FollowsFrom = t.FollowsFrom
	}
	if t.Trace != nil {
		r.Trace = t.Trace
	}
	if t.Systems != nil {
		r.Systems = t.Systems
	}
	if t.Audit != nil {
		r.Audit = &AuditRule{t.Audit.Warning, Finding(t.Audit.Finding)}
	}
	if t.Measure != nil {
		r.Measures = p.measures(path, t.Measure)
	}
	if t.Severity != nil {
		r.Severity = severity(*t.Severity)
		if r.Severity.LoweredWhile != "" {
			r.Severity.loweredWhile = p.compile(path+"/severity/lowered_while", r.Severity.LoweredWhile, language.Condition)
		}
	}
	p.checkWhole(path, &r)
	return &r
}

// opportunity checks the kind of opportunity a rule or measurement names.
func (p *packReader) opportunity(path, text string) OpportunityKind {
	kind := OpportunityKind(text)
	if !slices.Contains(OpportunityKinds, kind) {
		names := make([]string, len(OpportunityKinds))
		for i, k := range OpportunityKinds {
			names[i] = string(k)
		}
		p.problem(path+"/opportunity", fmt.Sprintf("unknown opportunity %q", text), schemas.Suggest(text, names))
	}
	return kind
}

// With is the set with one more pack on top; the set itself is not changed.
func (set *RuleSet) With(file string, data []byte) (*RuleSet, error) {
	more := &RuleSet{Packs: slices.Clone(set.Packs), Own: slices.Clone(set.Own), Rules: slices.Clone(set.Rules), Warnings: slices.Clone(set.Warnings),
		Measurements: slices.Clone(set.Measurements), OldNames: slices.Clone(set.OldNames)}
	if err := more.add(file, data); err != nil {
		return nil, err
	}
	return more, nil
}
