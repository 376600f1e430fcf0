package schemas

import (
	"fmt"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"unicode"
)

// namePattern is a pattern of the name of a file. In it * stands for any text without a
// slash, {registration} for letters, digits and hyphens with a letter among them, and
// everything else for itself.
// A pattern with slashes is held against as many folders above the file, too.
type namePattern struct {
	registration bool // the pattern holds it
	folders      int  // above the file
	// longest takes as much as fits for each * and registration, from the left, shortest
	// as little. Where they find different registrations the name is not clear.
	longest, shortest *regexp.Regexp
}

const registrationMark = "{registration}"

func parseNamePattern(text string) (*namePattern, error) {
	around := strings.Split(text, registrationMark)
	if len(around) > 2 {
		return nil, fmt.Errorf("%q has the registration twice", text)
	}
	for _, part := range around {
		if i := strings.IndexAny(part, "{}"); i >= 0 {
			return nil, fmt.Errorf("%q has braces around something other than registration", text)
		}
	}
	if strings.Contains(text, "//") || strings.HasPrefix(text, "/") || strings.HasSuffix(text, "/") {
		return nil, fmt.Errorf("%q has a slash without a name beside it", text)
	}
	source := func(more string) string {
		parts := make([]string, len(around))
		for i, part := range around {
			parts[i] = strings.ReplaceAll(regexp.QuoteMeta(part), `\*`, `[^/]*`+more)
		}
		return `^(?s:` + strings.Join(parts, `([\pL\pN-]+`+more+`)`) + `)$`
	}
	p := &namePattern{registration: len(around) == 2, folders: strings.Count(text, "/")}
	var err error
	if p.longest, err = regexp.Compile(source("")); err == nil {
		p.shortest, err = regexp.Compile(source("?"))
	}
	return p, err
}

// match reports whether a path fits, and the registrations in its name, in capitals:
// none where the pattern has none, and two where either may be meant.
func (p *namePattern) match(path string) (registrations []string, fits bool) {
	names := strings.Split(filepath.ToSlash(Absolute(path)), "/")
	if len(names) <= p.folders {
		return nil, false
	}
	name := strings.Join(names[len(names)-1-p.folders:], "/")
	for _, form := range []*regexp.Regexp{p.longest, p.shortest} {
		groups := form.FindStringSubmatch(name)
		if groups == nil {
			return nil, false
		}
		if !p.registration {
			return nil, true
		}
		if !strings.ContainsFunc(groups[1], unicode.IsLetter) {
			return nil, false // a year or a number: every mark has a letter (ICAO Annex 7, from memory)
		}
		if mark := strings.ToUpper(groups[1]); !slices.Contains(registrations, mark) {
			registrations = append(registrations, mark)
		}
	}
	return registrations, true
}
