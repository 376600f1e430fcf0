package ingest

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"strings"

	"downlock/schemas"
)

// GroupParts puts the files together that make up one recording: those in the
// same folder whose names differ only in the profile's endings, in the order of
// the endings. Other files are groups of one. Groups come in the order of their
// first file.
func GroupParts(paths []string, profile *schemas.Profile) [][]string {
	var groups [][]string
	place := map[string]int{} // of the group, by folder and common name
	for _, path := range paths {
		stem, part := splitPart(path, profile)
		i, known := place[stem]
		if part < 0 || !known {
			if part >= 0 {
				place[stem] = len(groups)
			}
			groups = append(groups, []string{path})
			continue
		}
		groups[i] = append(groups[i], path)
	}
	for _, group := range groups {
		slices.SortStableFunc(group, func(a, b string) int {
			_, first := splitPart(a, profile)
			_, second := splitPart(b, profile)
			return first - second
		})
	}
	return groups
}

// PartsPath is the name a group of GroupParts goes by: the path of its file, or the part
// the paths of its parts have in common.
func PartsPath(group []string, profile *schemas.Profile) string {
	stem, part := splitPart(group[0], profile)
	if part < 0 {
		return stem
	}
	if schemas.IsObject(stem) {
		return strings.TrimSuffix(stem, filepath.Base(stem)) + commonName(stem)
	}
	return filepath.Join(filepath.Dir(stem), commonName(stem))
}

// commonName is the name of a recording of several parts.
func commonName(stem string) string {
	name := filepath.Base(stem)
	if short := strings.TrimRight(name, "-_. "); short != "" {
		return short
	}
	return name
}

// splitPart takes the longest of the profile's endings off a path and returns its
// place among them; -1 where it has none.
func splitPart(path string, profile *schemas.Profile) (stem string, part int) {
	part = -1
	for i, ending := range profile.Parts {
		name := filepath.Base(path)
		if strings.HasSuffix(name, ending) && len(name) > len(ending) && (part < 0 || len(ending) > len(profile.Parts[part])) {
			part = i
		}
	}
	if part < 0 {
		return path, -1
	}
	return strings.TrimSuffix(path, profile.Parts[part]), part
}

// MissingParts says for each part that a group of GroupParts lacks that it is missing. A
// file that is a recording by itself lacks none.
func MissingParts(group []string, profile *schemas.Profile) (notes []string) {
	have := map[int]bool{}
	stem := ""
	for _, path := range group {
		s, part := splitPart(path, profile)
		if part < 0 {
			return nil
		}
		stem, have[part] = s, true
	}
	for i, ending := range profile.Parts {
		if !have[i] {
			notes = append(notes, fmt.Sprintf("part %q is missing", filepath.Base(stem)+ending))
		}
	}
	return notes
}

// ReadParts reads files that make up one recording, a group of GroupParts, as
// one. Its name is what their names have in common, its hash that of the bytes
// of all parts in their order, and a part that is missing is a note. A parameter
// in several parts is taken from the source the profile prefers, then from the
// first part; the others are its Alternatives. One path alone is read as Read does.
func ReadParts(paths []string, profile *schemas.Profile) (*Recording, error) {
	return Limits{}.ReadParts(paths, profile)
}

// ReadParts is the function ReadParts within the limits, which hold for each
// part.
func (l Limits) ReadParts(paths []string, profile *schemas.Profile) (*Recording, error) {
	if len(paths) == 0 {
		return nil, &schemas.Problem{File: "the parts of a recording", Cause: "there is no file", Hint: "name an export"}
	}
	stem, part := splitPart(paths[0], profile)
	if part < 0 && len(paths) == 1 {
		return l.Read(paths[0], profile)
	}
	sums := newSums(true)
	whole := &mergedStretches{profile: profile}
	have := map[int]bool{}
	var nothing unmappedError
	for _, path := range paths {
		other, part := splitPart(path, profile)
		if part < 0 || other != stem || have[part] {
			return nil, &schemas.Problem{File: path, Cause: fmt.Sprintf("is not a part of the same recording as %s", paths[0]),
				Hint: "names of parts differ only in the endings under parts in the profile: " + strings.Join(profile.Parts, ", ")}
		}
		have[part] = true
		recording, err := l.readFile(path, profile, sums)
		if errors.As(err, &nothing) {
			whole.bytes += nothing.bytes
			whole.notes = append(whole.notes, filepath.Base(path)+": has no column that the profile maps")
			continue
		}
		if err != nil {
			return nil, err
		}
		if err := whole.add(path, recording); err != nil {
			return nil, err
		}
	}
	if len(whole.all) == 0 {
		return nil, nothing
	}
	whole.notes = append(whole.notes, MissingParts(paths, profile)...)
	out := whole.finish(commonName(stem), len(paths))
	(&reading{limit: l.maxBytes()}).boundUse(out)
	sums.identify(out)
	return out, nil
}

// merged is a recording put together from parts.
type merged struct {
	Recording
	profile *schemas.Profile
	first   string         // path of the first part
	place   map[string]int // of a parameter's series, by its name
	formats []string
}

// add takes over the content of a part.
func (m *merged) add(path string, part *Recording) error {
	if m.first == "" {
		m.first, m.Start, m.End, m.Epoch = path, part.Start, part.End, part.Epoch
	}
	shift := 0.0
	if !part.Epoch.IsZero() && !m.Epoch.IsZero() {
		shift = part.Epoch.Sub(m.Epoch).Seconds()
	}
	if part.Start+shift > m.End || part.End+shift < m.Start {
		return &schemas.Problem{File: path, Cause: fmt.Sprintf("runs from %g to %g s, and the parts before it from %g to %g s: they have no time in common", part.Start+shift, part.End+shift, m.Start, m.End),
			Hint: fmt.Sprintf("are %s and %s of the same recording, with the same time axis?", filepath.Base(m.first), filepath.Base(path))}
	}
	if m.Epoch.IsZero() {
		m.Epoch = part.Epoch
	}
	m.Month = cmp.Or(m.Month, part.Month)
	m.Start, m.End = math.Min(m.Start, part.Start+shift), math.Max(m.End, part.End+shift)
	m.Bytes += part.Bytes
	if !slices.Contains(m.formats, part.Format) {
		m.formats = append(m.formats, part.Format)
	}
	for i, note := range part.Notes {
		note = filepath.Base(path) + ": " + note
		if m.Notes = append(m.Notes, note); i < len(part.Repairs) {
			m.Repairs = append(m.Repairs, note)
		}
	}
	for _, s := range part.Series {
		m.take(s.Shifted(shift), filepath.Base(path))
	}
	for _, s := range part.Alternatives {
		m.compareWith(s.Shifted(shift))
	}
	return nil
}

// take keeps a series, or the better of two.
func (m *merged) take(s *Series, part string) {
	name := s.Parameter.Name
	i, known := m.place[name]
	if !known {
		m.place[name] = len(m.Series)
		m.Series = append(m.Series, s)
		return
	}
	used := m.Series[i]
	if m.preference(s) < m.preference(used) {
		m.Series[i], used, s = s, s, used
	}
	m.Notes = append(m.Notes, fmt.Sprintf("%s: %s is in more than one part; column %q is used, not %q", part, name, used.Column, s.Column))
	m.compareWith(s)
}

// compareWith keeps a further source of a parameter, the first of each column.
func (m *merged) compareWith(s *Series) {
	same := func(o *Series) bool { return o.Parameter.Name == s.Parameter.Name && o.Column == s.Column }
	if !same(m.Series[m.place[s.Parameter.Name]]) && !slices.ContainsFunc(m.Alternatives, same) {
		m.Alternatives = append(m.Alternatives, s)
	}
}

func (m *merged) preference(s *Series) int {
	return slices.IndexFunc(m.profile.Columns[s.Parameter.Name], func(source schemas.Source) bool { return source.Name() == s.Column })
}

// finish names the whole, sorts its series and lists parameters no part has.
func (m *merged) finish(name string, parts int) {
	m.Name = name
	m.Format = fmt.Sprintf("%d parts: %s", parts, strings.Join(m.formats, "; "))
	ordered := make([]*Series, 0, len(m.Series))
	for _, p := range m.profile.Parameters() {
		if i, ok := m.place[p.Name]; ok {
			ordered = append(ordered, m.Series[i])
			continue
		}
		var columns []string
		for _, source := range m.profile.Columns[p.Name] {
			columns = append(columns, source.Name())
		}
		if columns != nil {
			m.Absent = append(m.Absent, Absent{Parameter: p.Name, Columns: columns})
		}
	}
	m.Series = ordered
	places := map[string]int{}
	for i, p := range m.profile.Parameters() {
		places[p.Name] = i
	}
	slices.SortStableFunc(m.Alternatives, func(a, b *Series) int {
		return cmp.Or(places[a.Parameter.Name]-places[b.Parameter.Name], m.preference(a)-m.preference(b))
	})
}
