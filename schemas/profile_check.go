package schemas

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"maps"
	"slices"
	"strings"
)

// ParseProfile checks a profile text and decodes it. The error is Problems.
func ParseProfile(file string, data []byte) (*Profile, error) {
	doc, err := ParseDocument(file, data)
	if err != nil {
		return nil, err
	}
	schema, err := Schema(ProfileSchema)
	if err != nil {
		return nil, err
	}
	if err := doc.Validate(schema); err != nil {
		return nil, err
	}
	sum := sha256.Sum256(data)
	p := &Profile{File: file, SHA256: hex.EncodeToString(sum[:]), document: doc}
	if err := doc.Decode(p); err != nil {
		return nil, err
	}
	var found Problems
	found = append(found, p.checkTime()...)
	found = append(found, CheckOwn(doc, p.Own)...)
	found = append(found, p.checkColumns()...)
	found = append(found, p.checkFlaps()...)
	found = append(found, p.checkValues()...)
	if len(found) > 0 {
		return nil, found.InOrder()
	}
	p.fillDefaults()
	return p, nil
}

// Document returns the YAML document of the profile. Problems found later in its
// expressions point into it.
func (p *Profile) Document() *Document { return p.document }

// HasSystem reports whether the type has an optional system.
func (p *Profile) HasSystem(name string) bool { return slices.Contains(p.Systems, name) }

func (p *Profile) checkColumns() (found Problems) {
	for _, name := range slices.Sorted(maps.Keys(p.Columns)) {
		path := "/columns/" + name
		parameter, ok := p.Parameter(name)
		if !ok {
			found = append(found, p.document.KeyProblem(path, fmt.Sprintf("unknown parameter %q", name), Suggest(name, p.parameterNames())))
			continue
		}
		_, list := p.document.nodes[path+"/0"]
		for i := range p.Columns[name] {
			at := path
			if list {
				at = fmt.Sprintf("%s/%d", path, i)
			}
			found = append(found, p.checkSource(at, parameter, &p.Columns[name][i])...)
		}
	}
	return found
}

func (p *Profile) checkSource(path string, parameter Parameter, s *Source) (found Problems) {
	problem := func(field, cause, hint string) {
		found = append(found, p.document.Problem(path+field, cause, hint))
	}
	if s.Column != "" && s.Samples != nil {
		problem("/samples", parameter.Name+" has both column and samples", "keep column where a row has one sample, samples where it has several")
	}
	for i, name := range s.Samples {
		if slices.Contains(s.Samples[:i], name) {
			problem(fmt.Sprintf("/samples/%d", i), fmt.Sprintf("%s: column %q appears twice", parameter.Name, name), "name each column of the row once, in the order of its samples")
		}
	}
	numeric := parameter.Numeric()
	if numeric && s.Unit == "" && p.Long.Unit == "" {
		problem("", parameter.Name+" needs a unit", fmt.Sprintf("add unit: %s, or the unit this export writes", parameter.Unit))
	}
	if numeric && s.Unit == "" && p.Long.Unit != "" {
		if f := p.first(path, "/scale", "/offset", "/points"); f != "" {
			problem(f, parameter.Name+" takes its unit from each row, and "+f[1:]+" needs one that is the same for all", "add unit, or remove "+f[1:])
		}
	}
	if s.readsDetents() {
		found = append(found, p.checkDetentSource(path, parameter, s)...)
	} else if numeric && s.Unit != "" {
		if _, err := UnitFactor(s.Unit, parameter.Unit); err != nil {
			problem("/unit", parameter.Name+": "+err.Error(), fmt.Sprintf("%s is kept in %s; give the unit the export writes", parameter.Name, parameter.Unit))
		}
	}
	if !numeric && s.Unit != "" {
		problem("/unit", fmt.Sprintf("%s is a %s and has no unit", parameter.Name, parameter.Kind), "remove it")
	}
	if (parameter.Kind == State) != (len(s.States) > 0) {
		if parameter.Kind == State {
			problem("", parameter.Name+" needs states", "add states: {text in the export: "+strings.Join(parameter.States, " or ")+"}")
		} else {
			problem("/states", fmt.Sprintf("%s is a %s and has no states", parameter.Name, parameter.Kind), "remove them")
		}
	}
	for _, text := range slices.Sorted(maps.Keys(s.States)) {
		if state := s.States[text]; parameter.Kind == State && !slices.Contains(parameter.States, state) {
			problem("/states/"+text, fmt.Sprintf("%s has no state %q", parameter.Name, state), "its states are "+strings.Join(parameter.States, ", "))
		}
	}
	found = append(found, p.checkCells(path, parameter, s)...)
	if parameter.Kind == Discrete && s.Bit != nil && len(s.TrueWhen)+len(s.FalseWhen) == 0 {
		s.TrueWhen, s.FalseWhen = Tokens{"1"}, Tokens{"0"}
	}
	if parameter.Kind == Discrete && !s.HasLevels() {
		if len(s.TrueWhen) == 0 {
			problem("", parameter.Name+" needs true_when", "add true_when: the cell text that means: "+parameter.Meaning)
		} else if len(s.FalseWhen) == 0 {
			s.FalseWhen = opposite(s.TrueWhen)
			if s.FalseWhen == nil {
				problem("/true_when", fmt.Sprintf("the opposite of %q is not known", strings.Join(s.TrueWhen, ", ")), "add false_when")
			}
		}
		for _, t := range s.TrueWhen {
			if slices.Contains(s.FalseWhen, t) {
				problem("/true_when", fmt.Sprintf("%q means both true and false", t), "remove it from one of true_when and false_when")
			}
		}
	} else if parameter.Kind != Discrete && len(s.TrueWhen)+len(s.FalseWhen) > 0 {
		problem("/true_when", fmt.Sprintf("%s is %s, not a discrete", parameter.Name, parameter.Kind), "remove true_when and false_when")
	}
	if _, given := p.document.nodes[path+"/scale"]; given && s.Scale == 0 {
		problem("/scale", "a scale of 0 makes every value 0", "leave it out if the values need none")
	}
	if s.Range != nil && s.Range[0] >= s.Range[1] {
		problem("/range", "the range is empty", "give [smallest, largest]")
	}
	return found
}

// opposites are pairs of cell texts whose meaning is beyond doubt, in lower case.
var opposites = [][2]string{{"0", "1"}, {"false", "true"}, {"off", "on"}, {"no", "yes"}, {"f", "t"}, {"n", "y"}}

func opposite(tokens Tokens) Tokens {
	var out Tokens
	for _, t := range tokens {
		lower := strings.ToLower(t)
		for _, pair := range opposites {
			if other := map[string]string{pair[0]: pair[1], pair[1]: pair[0]}[lower]; other != "" {
				switch t {
				case strings.ToUpper(t):
					other = strings.ToUpper(other)
				case lower:
				default:
					other = strings.ToUpper(other[:1]) + other[1:]
				}
				out = append(out, other)
			}
		}
	}
	if len(out) != len(tokens) {
		return nil
	}
	return out
}

func (p *Profile) checkFlaps() (found Problems) {
	for i := 1; i < len(p.Flaps.Detents); i++ {
		if p.Flaps.Detents[i].Angle <= p.Flaps.Detents[i-1].Angle {
			found = append(found, p.document.Problem(fmt.Sprintf("/flaps/detents/%d/angle", i), "detents must come in order of angle", "sort them, smallest first"))
		}
	}
	if p.usesDetents() || p.statesGiven() {
		found = append(found, p.checkDetentStates()...)
	}
	return found
}

func (p *Profile) checkValues() (found Problems) {
	found = append(found, unknownNames(p.document, "/values/", "value", p.Values, namesOf(Values(), func(v Value) string { return v.Name }))...)
	found = append(found, unknownNames(p.document, "/criteria/", "criterion", p.Criteria, namesOf(Criteria(), func(c Criterion) string { return c.Name }))...)
	found = append(found, unknownNames(p.document, "/tables/", "table", p.Tables, namesOf(Tables(), func(t Table) string { return t.Name }))...)
	for _, name := range slices.Sorted(maps.Keys(p.Tables)) {
		found = append(found, p.checkTable(name, p.Tables[name])...)
	}
	for _, name := range slices.Sorted(maps.Keys(p.Limits)) {
		found = append(found, p.checkLimit(name, p.Limits[name])...)
	}
	return found
}

// unknownNames finds the keys of an entry that are not in the vocabulary.
func unknownNames[T any](d *Document, path, kind string, given map[string]T, known []string) (found Problems) {
	for _, name := range slices.Sorted(maps.Keys(given)) {
		if !slices.Contains(known, name) {
			found = append(found, d.KeyProblem(path+name, fmt.Sprintf("unknown %s %q", kind, name), Suggest(name, known)))
		}
	}
	return found
}

// checkPoints wants points in the order of their first numbers.
func (p *Profile) checkPoints(path string, points [][2]float64) (found Problems) {
	for i := 1; i < len(points); i++ {
		if points[i][0] <= points[i-1][0] {
			cause := fmt.Sprintf("the points must be in order, without two at one place: %g follows %g", points[i][0], points[i-1][0])
			return Problems{p.document.Problem(fmt.Sprintf("%s/%d", path, i), cause, "sort them by their first number")}
		}
	}
	return nil
}

func (p *Profile) checkLimit(name string, l Limit) (found Problems) {
	path := "/limits/" + name
	var known []string
	for _, v := range Values() {
		if v.Limit {
			known = append(known, v.Name)
		} else if v.Name == name {
			return Problems{p.document.KeyProblem(path, name+" cannot change with a parameter", "give it under values")}
		}
	}
	if !slices.Contains(known, name) {
		return Problems{p.document.KeyProblem(path, fmt.Sprintf("unknown limit %q", name), Suggest(name, known))}
	}
	if _, both := p.Values[name]; both {
		found = append(found, p.document.KeyProblem(path, name+" is also given under values", "keep one of the two"))
	}
	by, ok := p.Parameter(l.By)
	switch {
	case !ok:
		found = append(found, p.document.Problem(path+"/by", fmt.Sprintf("unknown parameter %q", l.By), Suggest(l.By, p.parameterNames())))
	case !by.Numeric():
		found = append(found, p.document.Problem(path+"/by", fmt.Sprintf("%s is a %s, not a number", l.By, by.Kind), "name a parameter with numbers, such as pressure_altitude or gross_weight"))
	}
	if wrong := p.checkPoints(path+"/points", l.Points); wrong != nil {
		return append(found, wrong...)
	}
	rises := l.Points[len(l.Points)-1][1] >= l.Points[0][1]
	for i := 1; i < len(l.Points); i++ {
		if step := l.Points[i][1] - l.Points[i-1][1]; step < 0 && rises || step > 0 && !rises {
			found = append(found, p.document.Problem(fmt.Sprintf("%s/points/%d", path, i), "the values change direction: they must rise throughout or fall throughout", "check whether a figure is mistyped"))
		}
	}
	return found
}

func (p *Profile) checkTable(name string, points [][2]float64) (found Problems) {
	if wrong := p.checkPoints("/tables/"+name, points); wrong != nil {
		return wrong
	}
	for i := 1; i < len(points); i++ {
		if points[i][1] < points[i-1][1] {
			found = append(found, p.document.Problem(fmt.Sprintf("/tables/%s/%d", name, i), "the second numbers must not fall", "a floor that falls with airspeed is not supported"))
		}
	}
	return found
}

func (p *Profile) fillDefaults() {
	for _, sources := range p.Columns {
		for i := range sources {
			if sources[i].Scale == 0 {
				sources[i].Scale = 1
			}
		}
	}
}

func (p *Profile) parameterNames() []string {
	return namesOf(p.Parameters(), func(p Parameter) string { return p.Name })
}

func namesOf[T any](entries []T, name func(T) string) []string {
	names := make([]string, len(entries))
	for i, e := range entries {
		names[i] = name(e)
	}
	return names
}
