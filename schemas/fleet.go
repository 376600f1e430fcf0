package schemas

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"
	"slices"
	"strings"
)

// Fleet says which profile the exports of a mixed fleet are read with, and of which
// aircraft they are, by the names of their files. It is read once and shared; nobody
// changes it.
type Fleet struct {
	Schema string
	Title  string // one line for the index; "" for none
	Inputs []FleetEntry

	// File is the file the fleet was read from; SHA256 (hex) is the hash of its text.
	File   string `yaml:"-"`
	SHA256 string `yaml:"-"`
}

// FleetEntry holds for the files whose names fit its pattern and no earlier one.
type FleetEntry struct {
	Files        string // see namePattern
	Profile      string // its file, relative to the folder of the fleet's
	Registration string // "" where the name holds it, or the profile
	FileDate     string `yaml:"file_date"` // as in a profile, and before it; "" for none

	pattern *namePattern
	profile *Profile
}

// FleetPlace is the place of an export in a fleet.
type FleetPlace struct {
	Entry        *FleetEntry
	Registration string // "" where only the profile may hold one
}

// ParseFleet checks the text of a fleet file and decodes it. It calls read once for the
// path of each profile. The error is Problems, of the fleet file or of a profile.
func ParseFleet(file string, data []byte, read func(path string) (*Profile, error)) (*Fleet, error) {
	doc, err := ParseDocument(file, data)
	if err != nil {
		return nil, err
	}
	schema, err := Schema(FleetSchema)
	if err != nil {
		return nil, err
	}
	if err := doc.Validate(schema); err != nil {
		return nil, err
	}
	sum := sha256.Sum256(data)
	f := &Fleet{File: file, SHA256: hex.EncodeToString(sum[:])}
	if err := doc.Decode(f); err != nil {
		return nil, err
	}
	var found Problems
	first := map[string]int{} // entry, by pattern
	for i := range f.Inputs {
		found = append(found, f.Inputs[i].check(doc, fmt.Sprintf("/inputs/%d", i))...)
		files := f.Inputs[i].Files
		if n, twice := first[files]; twice {
			found = append(found, doc.Problem(fmt.Sprintf("/inputs/%d/files", i), fmt.Sprintf("no file reaches this entry: entry %d has the same pattern, and the first that fits counts", n+1), "remove one of the two"))
			continue
		}
		first[files] = i
	}
	found = append(found, f.readProfiles(doc, read)...)
	if len(found) > 0 {
		return nil, found.InOrder()
	}
	return f, nil
}

// check reads the patterns of an entry.
func (e *FleetEntry) check(doc *Document, at string) (found Problems) {
	var err error
	if e.pattern, err = parseNamePattern(e.Files); err != nil {
		found = append(found, doc.Problem(at+"/files", err.Error(), "* stands for any text and {registration} for the registration; a date belongs in file_date"))
	} else if e.pattern.registration && e.Registration != "" {
		found = append(found, doc.Problem(at+"/registration", "the registration is already in the pattern of the name", "remove one of the two"))
	}
	if e.FileDate != "" {
		if _, err := ParseFileDate(e.FileDate); err != nil {
			found = append(found, doc.Problem(at+"/file_date", err.Error(), fileDateHint))
		}
	}
	return found
}

// readProfiles reads each profile once. The problems of a profile are of its own file.
func (f *Fleet) readProfiles(doc *Document, read func(path string) (*Profile, error)) (found Problems) {
	known := map[string]*Profile{}
	for i := range f.Inputs {
		e := &f.Inputs[i]
		path := e.Profile
		if !filepath.IsAbs(path) {
			path = filepath.Join(filepath.Dir(f.File), path)
		}
		if _, done := known[path]; !done {
			p, err := read(path)
			var faults Problems
			switch {
			case errors.As(err, &faults):
				found = append(found, faults...)
			case err != nil:
				var of *fs.PathError
				if errors.As(err, &of) {
					err = of.Err
				}
				found = append(found, doc.Problem(fmt.Sprintf("/inputs/%d/profile", i), fmt.Sprintf("the profile %s cannot be read: %v", path, err), "paths of profiles start at the folder of this file"))
			}
			known[path] = p
		}
		e.profile = known[path]
	}
	return found
}

// Place returns the place of an export: that of the first entry whose pattern fits its
// name. The error is a Problem of the export.
func (f *Fleet) Place(path string) (FleetPlace, error) {
	for i := range f.Inputs {
		e := &f.Inputs[i]
		registrations, fits := e.pattern.match(path)
		switch {
		case !fits:
		case len(registrations) > 1:
			return FleetPlace{}, &Problem{File: path, Cause: fmt.Sprintf("its name fits entry %d of the fleet, and its registration may be %q or %q", i+1, registrations[0], registrations[1]),
				Hint: "write more of the name in the pattern under files, or give the entry its registration"}
		case len(registrations) == 1:
			return FleetPlace{e, registrations[0]}, nil
		default:
			return FleetPlace{e, e.Registration}, nil
		}
	}
	return FleetPlace{}, &Problem{File: path, Cause: "its name fits no entry of the fleet, so no profile is known for it",
		Hint: "add an entry to the fleet file with a pattern under files that fits it, or move the file out of the folder"}
}

// Profile returns the profile of the place, with its registration and its date.
func (p FleetPlace) Profile() *Profile {
	out := *p.Entry.profile
	if p.Registration != "" {
		out.Registration = p.Registration
	}
	if p.Entry.FileDate != "" {
		out.Time.FileDate = p.Entry.FileDate
	}
	return &out
}

// Summary returns a profile that stands for the fleet where results name one for a
// whole run: it holds the types, title, file and hash, and nothing to read by.
func (f *Fleet) Summary() *Profile {
	var types []string
	for _, e := range f.Inputs {
		if !slices.Contains(types, e.profile.Aircraft) {
			types = append(types, e.profile.Aircraft)
		}
	}
	s := &Profile{Aircraft: strings.Join(types, ", "), Title: f.Title, File: f.File, SHA256: f.SHA256}
	if s.Title == "" {
		s.Title = "Fleet: " + s.Aircraft
	}
	return s
}
