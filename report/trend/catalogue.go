package trend

import (
	"slices"
	"strings"

	"downlock/detect"
	"downlock/report/trend/tally"
)

// catalogue holds the titles of rules, measurements and warnings: those of the
// archive, and the built-in ones, which an archive may not have seen yet.
type catalogue struct {
	titles, ruleGroups  map[string]string // by id
	rules, measurements []string
	severities          map[string][]detect.Severity // of each built-in rule
	audited             map[audited]string           // rule that makes events of it
}

// audited is the finding of an audit about a warning.
type audited struct {
	Warning string
	Finding detect.Finding
}

func newCatalogue(t *tally.Tally) catalogue {
	c := catalogue{titles: map[string]string{}, ruleGroups: map[string]string{}, rules: slices.Clone(t.Rules), audited: map[audited]string{}, severities: map[string][]detect.Severity{}}
	for _, m := range t.Measured {
		c.measurements = append(c.measurements, m.Name)
	}
	if set, err := detect.LoadRules(); err == nil {
		for _, r := range set.Rules {
			c.titles[r.ID], c.rules = r.Title, append(c.rules, r.ID)
			c.severities[r.ID], c.ruleGroups[r.ID] = r.Severity.Levels(), r.Group
			if r.Audit != nil {
				c.audited[audited{r.Audit.Warning, r.Audit.Finding}] = r.ID
			}
		}
		for _, m := range set.Measurements {
			c.titles[m.ID], c.measurements = m.Title, append(c.measurements, m.ID)
		}
		for _, w := range set.Warnings {
			c.titles[w.Name] = w.Title
		}
	}
	for rule, title := range t.Titles { // of the events themselves
		c.titles[rule] = title
	}
	return c
}

// title is the title of a rule, measurement or warning on the page.
func (c *catalogue) title(id string) string {
	if title := c.titles[id]; title != "" {
		return title
	}
	return strings.ReplaceAll(id, "_", " ")
}
