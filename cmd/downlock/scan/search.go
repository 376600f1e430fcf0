package scan

import (
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"downlock/report"
	"downlock/schemas"
)

// search walks folders for exports. Links come after the files: one that leads back to
// what was found is counted among the files left out, so that nothing is read twice.
type search struct {
	found   *foundInputs
	own     map[string]bool // files and folders of the command line that are no inputs
	seen    map[string]bool // absolute paths of files found, as named and without links
	folders map[string]bool // below the folder at hand that were walked, without links in their paths
	links   []string        // of the folder at hand, to be followed
	exports int             // of the folder at hand
}

// add adds a file, unless it was added under that name before.
func (s *search) add(path string) {
	if key := schemas.Absolute(path); !s.seen[key] {
		s.seen[key] = true
		s.found.files = append(s.found.files, path)
	}
}

// addOf adds a file of the folder at hand, real without links; one that a link leads to is
// left out if it was added before under any name.
func (s *search) addOf(path, real string, linked bool) {
	s.exports++
	if linked && s.seen[real] {
		s.found.leftOut.add(path)
		return
	}
	s.add(path)
	s.seen[real] = true
}

func (s *search) fail(input string, err error) {
	s.found.failures = append(s.found.failures, report.Failure{Input: input, Err: err})
}

// folder adds the exports in and below a folder and returns how many there are, those
// found before too.
func (s *search) folder(arg string) (exports int) {
	s.exports, s.links, s.folders = 0, nil, map[string]bool{}
	s.walk(arg, false)
	real := resolved(arg)
	for len(s.links) > 0 { // following one may find others
		link := s.links[0]
		s.links = s.links[1:]
		s.follow(link, real)
	}
	return s.exports
}

// walk adds the files in and below a folder, which may be a link itself; linked says that
// a link leads to it.
func (s *search) walk(folder string, linked bool) {
	root, real := folder, resolved(folder)
	if !strings.HasSuffix(root, string(filepath.Separator)) {
		root += string(filepath.Separator) // what the link leads to
	}
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if path == root {
			path = folder
		}
		switch hidden := strings.HasPrefix(d.Name(), ".") && path != folder; {
		case err != nil:
			s.fail(path, err)
		case s.own[schemas.Absolute(path)] && d.IsDir() || d.IsDir() && !s.enter(path):
			return fs.SkipDir
		case d.IsDir() && hidden:
			s.found.leftOut.add(path + string(filepath.Separator))
			return fs.SkipDir
		case d.IsDir() || s.own[schemas.Absolute(path)]:
		case !hidden && d.Type().IsRegular() && isExport(path):
			rest, _ := filepath.Rel(folder, path) // is below it
			s.addOf(path, filepath.Join(real, rest), linked)
		case !hidden && d.Type()&fs.ModeSymlink != 0:
			s.links = append(s.links, path)
		default:
			s.found.leftOut.add(path)
		}
		return nil
	})
	if err != nil {
		s.fail(folder, err)
	}
}

// enter notes that a folder is walked; it is false for one that was walked before.
func (s *search) enter(path string) bool {
	real := resolved(path)
	before := s.folders[real]
	s.folders[real] = true
	return !before
}

// follow adds what a link leads to. folder is the one that is searched, without links in
// its path.
func (s *search) follow(link, folder string) {
	real, err := filepath.EvalSymlinks(schemas.Absolute(link))
	info, looking := os.Stat(link)
	switch {
	case err != nil || looking != nil: // to nothing, or to itself
		s.lose(link)
	case info.IsDir() && within(folder, real): // around in a circle
		s.lose(link)
	case within(real, folder) || s.own[real] || s.folders[real]:
		s.found.leftOut.add(link) // read by its own name, or none of the inputs
	case info.IsDir():
		s.found.followed = append(s.found.followed, link)
		s.walk(link, true)
	case info.Mode().IsRegular() && (isExport(link) || isExport(real)):
		s.found.followed = append(s.found.followed, link)
		s.addOf(link, real, true)
	default:
		s.found.leftOut.add(link)
	}
}

func (s *search) lose(link string) {
	s.found.lost = append(s.found.lost, link)
	s.found.leftOut.add(link)
}

// resolved is the absolute path of a file without links in it; as far as that can be told.
func resolved(path string) string {
	if real, err := filepath.EvalSymlinks(schemas.Absolute(path)); err == nil {
		return real
	}
	return schemas.Absolute(path)
}

// within reports whether a path is a folder or lies below it.
func within(path, folder string) bool {
	rest, err := filepath.Rel(folder, path)
	return err == nil && rest != ".." && !strings.HasPrefix(rest, ".."+string(filepath.Separator))
}

func isExport(path string) bool {
	return slices.Contains(exportEndings, strings.ToLower(filepath.Ext(path)))
}
