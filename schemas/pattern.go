package schemas

import (
	"regexp"
	"sync"
)

// Pattern compiles a regular expression when it is first asked for: every run would pay for
// those of variables, and most runs use none of them.
func Pattern(text string) func() *regexp.Regexp {
	return sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(text) })
}
