package desk

import (
	"cmp"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"
)

// filter says which occurrences a worklist shows, and in which order. Empty fields ask
// for nothing.
type filter struct {
	Severity  string // of the most severe event
	Certainty string // of that event
	Rule      string // of any event
	Aircraft  string // a registration, or a type
	Aerodrome string // of departure or arrival
	From, To  string // months YYYY-MM, both included; unknown is after all
	State     string // of the review; see states
	Action    string // see actionFilters
	Order     string // see orders
	Page      int    // from 1
}

// The states a worklist can ask for: open is what somebody has to look at.
var states = []string{stateOpen, stateNew, "follow-up", stateOutdated, "valid", "false", stateAll}

const (
	stateOpen     = "open"
	stateNew      = "not looked at"
	stateOutdated = "outdated"
	stateAll      = "all"
)

var orders = []string{worstFirst, oldestFirst, newestFirst}

const (
	worstFirst  = "worst first"
	oldestFirst = "oldest first"
	newestFirst = "newest first"
)

// filterOf reads a filter from an address. What it does not know is left out.
func filterOf(query url.Values) filter {
	f := filter{
		Severity: oneOf(query.Get("severity"), severities), Certainty: oneOf(query.Get("certainty"), []string{"certain", "possible"}),
		Rule: query.Get("rule"), Aircraft: query.Get("aircraft"), Aerodrome: query.Get("aerodrome"), From: query.Get("from"), To: query.Get("to"),
		State: cmp.Or(oneOf(query.Get("state"), states), stateOpen), Action: actionFilter(query.Get("action")), Order: cmp.Or(oneOf(query.Get("order"), orders), worstFirst),
	}
	f.Page, _ = strconv.Atoi(query.Get("page"))
	f.Page = min(max(f.Page, 1), 1_000_000)
	return f
}

func oneOf(text string, known []string) string {
	if slices.Contains(known, text) {
		return text
	}
	return ""
}

// Query writes the filter as the query of an address, "" for the usual one.
func (f filter) Query() string {
	q := url.Values{}
	for name, value := range map[string]string{"severity": f.Severity, "certainty": f.Certainty, "rule": f.Rule, "aircraft": f.Aircraft,
		"aerodrome": f.Aerodrome, "from": f.From, "to": f.To, "action": f.Action} {
		if value != "" {
			q.Set(name, value)
		}
	}
	if f.State != stateOpen {
		q.Set("state", f.State)
	}
	if f.Order != worstFirst {
		q.Set("order", f.Order)
	}
	if f.Page > 1 {
		q.Set("page", strconv.Itoa(f.Page))
	}
	return q.Encode()
}

// Address is the address of the worklist, On that of an event in it.
func (f filter) Address() string {
	if q := f.Query(); q != "" {
		return "/?" + q
	}
	return "/"
}

func (f filter) On(event string) string {
	if q := f.Query(); q != "" {
		return "/occurrence/" + event + "?" + q
	}
	return "/occurrence/" + event
}

// Turn is the address of another page.
func (f filter) Turn(by int) string {
	f.Page += by
	return f.Address()
}

// picked are the occurrences a filter asks for, in its order.
type picked struct {
	places []place
	counts [3]int // by severity
	events int
}

// compiled is a filter with the numbers of its texts.
type compiled struct {
	filter
	severity                  int
	rule, aircraft, aerodrome uint32
	nothing                   bool // a text that no event has
}

func (d *Desk) compile(f filter) compiled {
	c := compiled{filter: f, severity: slices.Index(severities, f.Severity)}
	for _, t := range []struct {
		text string
		to   *uint32
	}{{f.Rule, &c.rule}, {f.Aircraft, &c.aircraft}, {f.Aerodrome, &c.aerodrome}} {
		n, known := d.words.find(t.text)
		*t.to = n
		c.nothing = c.nothing || !known
	}
	return c
}

// pick finds the occurrences of a filter in all months. It looks at every event once: some
// milliseconds for a hundred thousand.
func (d *Desk) pick(v *view, f filter) picked {
	c := d.compile(f)
	var by [3][]place
	var p picked
	if c.nothing {
		return p
	}
	today := d.Now().UTC().Format(time.DateOnly)
	d.book.mu.RLock()
	defer d.book.mu.RUnlock()
	for i, m := range v.months {
		if f.From != "" && m.name < f.From || f.To != "" && m.name > f.To {
			continue
		}
		for k := range m.occurrences {
			o := &m.occurrences[k]
			events := m.of(o)
			if !c.wants(m, o, events) || !d.book.stands(events, f.State) || !d.book.actionsAre(events, f.Action, today) {
				continue
			}
			severity := 0
			if f.Order == worstFirst {
				severity = int(events[0].severity)
			}
			by[severity] = append(by[severity], place{uint32(i), uint32(k)})
			p.counts[events[0].severity]++
			p.events += len(events)
		}
	}
	p.places = slices.Concat(by[2], by[1], by[0])
	if f.Order == newestFirst {
		slices.Reverse(p.places)
	}
	return p
}

// wants holds an occurrence against the filter, but for its review.
func (c *compiled) wants(m *month, o *occurrence, events []event) bool {
	lead := &events[0]
	switch {
	case c.severity >= 0 && int(lead.severity) != c.severity,
		c.Certainty != "" && lead.possible != (c.Certainty == "possible"):
		return false
	}
	if c.rule != 0 && !slices.ContainsFunc(events, func(e event) bool { return e.rule == c.rule }) {
		return false
	}
	f := &m.flights[o.flight]
	return (c.aircraft == 0 || f.registration == c.aircraft || f.aircraft == c.aircraft) &&
		(c.aerodrome == 0 || f.departure == c.aerodrome || f.end == c.aerodrome)
}

// stands reports whether the review of an occurrence is in a state: whether one of its
// events is. The book is locked.
func (b *book) stands(events []event, state string) bool {
	if state == stateAll {
		return true
	}
	for i := range events {
		v, seen := b.latest[events[i].id]
		switch state {
		case stateOpen:
			if !seen || v.open() {
				return true
			}
		case stateNew:
			if !seen {
				return true
			}
		case stateOutdated:
			if seen && v.outdated {
				return true
			}
		default:
			if seen && v.finding == state {
				return true
			}
		}
	}
	return false
}

// standing is the review of an occurrence in words.
type standing struct {
	Name  string // one verdict, open, or mixed
	Words string
	Open  bool
}

// state says how far the review of some events is.
func (d *Desk) state(events []event) standing {
	count, order := map[string]int{}, []string{}
	var last verdict
	s := standing{}
	for _, e := range events {
		v, seen := d.book.of(e.id)
		name := "open"
		if seen {
			name = v.finding
			if v.outdated {
				name += ", outdated"
			}
			if v.at.After(last.at) {
				last = v
			}
		}
		s.Open = s.Open || !seen || v.open()
		if count[name] == 0 {
			order = append(order, name)
		}
		count[name]++
	}
	if len(order) == 1 {
		s.Name, s.Words = order[0], order[0]
	} else {
		s.Name = "mixed"
		var parts []string
		for _, name := range order {
			parts = append(parts, strconv.Itoa(count[name])+" "+name)
		}
		s.Words = strings.Join(parts, ", ")
	}
	if last.by != "" {
		s.Words += " (" + last.by + ", " + last.at.UTC().Format("2006-01-02 15:04") + " UTC)"
	}
	if words := d.book.actionWords(events); words != "" {
		s.Words += "; " + words
	}
	return s
}
