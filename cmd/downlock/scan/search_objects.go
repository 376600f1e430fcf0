package scan

import (
	"errors"
	"io/fs"
	"slices"
	"strings"

	"downlock/ingest/objects"
	"downlock/report/archive"
	"downlock/schemas"
)

// objects adds the object of an address, or those below it that are exports: a prefix is searched as a
// folder is, and a slash parts its names. Whoever may list and not get, or the other way round, is
// told what is missing where it is needed.
func (s *search) objects(arg string, allowEmpty bool) {
	var missing error
	if !strings.HasSuffix(arg, "/") && strings.Contains(strings.TrimPrefix(arg, schemas.ObjectScheme), "/") {
		switch o, err := objects.Stat(arg); {
		case err == nil:
			s.addObject(o)
			return
		case errors.Is(err, fs.ErrNotExist) || errors.Is(err, fs.ErrPermission): // it may be a prefix
			missing = err
		default:
			s.fail(arg, err)
			return
		}
	}
	all, err := objects.List(arg)
	switch {
	case err != nil:
		s.fail(arg, err)
		return
	case len(all) == 0 && missing != nil && !errors.Is(missing, fs.ErrNotExist):
		s.fail(arg, missing)
		return
	}
	s.below(arg, all, allowEmpty)
}

// below adds those of the objects below a prefix that are exports, in the order of files in and below a folder.
func (s *search) below(arg string, all []objects.Object, allowEmpty bool) {
	slices.SortFunc(all, func(a, b objects.Object) int {
		return slices.Compare(strings.Split(a.Address, "/"), strings.Split(b.Address, "/"))
	})
	exports, hidden := 0, ""
	folder := strings.TrimSuffix(arg, "/") + "/"
	for _, o := range all {
		switch at := hiddenFolder(o.Address, folder); {
		case at != "":
			if at != hidden {
				s.found.leftOut.add(at)
			}
			hidden = at
		case strings.HasPrefix(baseName(o.Address), ".") || !isExport(o.Address):
			s.found.leftOut.add(o.Address)
		default:
			exports++
			s.addObject(o)
		}
	}
	switch {
	case exports > 0:
	case allowEmpty && len(all) == 0:
		s.found.gone = append(s.found.gone, arg)
	case allowEmpty:
		s.found.empty = append(s.found.empty, arg)
	case len(all) == 0:
		s.fail(arg, &schemas.Problem{File: arg, Cause: "there is no such object, nor any below it", Hint: "check the address: a prefix ends at a slash of the names; --allow-empty accepts an empty prefix"})
	default:
		s.fail(arg, &schemas.Problem{File: arg, Cause: "there is no export below it", Hint: emptyHint})
	}
}

func (s *search) addObject(o objects.Object) {
	s.add(o.Address)
	s.found.listed[o.Address] = archive.SightOf(o)
}

// hiddenFolder returns the outermost hidden folder below another that an address lies in, "" for none.
func hiddenFolder(address, folder string) string {
	rest := strings.TrimPrefix(address, folder)
	for at := 0; ; {
		name, _, more := strings.Cut(rest[at:], "/")
		if !more {
			return ""
		}
		at += len(name) + 1
		if strings.HasPrefix(name, ".") {
			return folder + rest[:at]
		}
	}
}

func baseName(address string) string { return address[strings.LastIndexByte(address, '/')+1:] }
