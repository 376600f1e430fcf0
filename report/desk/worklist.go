package desk

import (
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"downlock/report"
	"downlock/report/review"
)

// pageRows is how many occurrences a page of the worklist shows.
const pageRows = 100

// frame is what every page has.
type frame struct {
	Title, Version string
	At             string // which of the pages it is, for the navigation
	Seen           int64  // when it was made, in ms since 1970
	Turn           int    // of the view it was made of
	Cautions       []string
	ReadOnly       string
	By             string // the reviewer's name, as last given
	Causes         []string
	Back           string // the query of the worklist
}

// Worklist is the address of the worklist as it was filtered.
func (f frame) Worklist() string { return filterOf(queryOf(f.Back)).Address() }

// reviewerCookie keeps the name a reviewer gave last.
const reviewerCookie = "downlock_reviewer"

func (d *Desk) frame(r *http.Request, title, at string) frame {
	f := frame{Title: title, Version: d.Version, At: at, Seen: d.millis(), Cautions: report.Cautions(), ReadOnly: d.ReadOnly, Causes: d.book.usualCauses()}
	if c, err := r.Cookie(reviewerCookie); err == nil {
		if name, err := url.QueryUnescape(c.Value); err == nil {
			f.By = report.Clean(name[:min(len(name), 200)])
		}
	}
	return f
}

// row is an occurrence of the worklist.
type row struct {
	Event, Title, Severity, Certainty string
	Others                            int
	OtherIDs                          []string
	Aircraft, When, From, To          string
	State                             standing
	Link                              string
}

type worklistPage struct {
	frame
	Filter                                  filter
	Total, Events, High, Medium, Low        int
	First, Last, Pages                      int
	Previous, Next                          string
	Rows                                    []row
	Severities, Certainties, States, Orders []string
	Actions                                 []string
	Rules                                   []choice
	AircraftWords, AerodromeWords, Months   []string
	Flights                                 int
}

// choice is an entry of a list to choose from.
type choice struct{ Value, Title string }

func (d *Desk) worklist(w http.ResponseWriter, r *http.Request) {
	v := d.view()
	f := filterOf(r.URL.Query())
	p := d.pick(v, f)
	pages := max(1, (len(p.places)+pageRows-1)/pageRows)
	f.Page = min(f.Page, pages)
	first := (f.Page - 1) * pageRows
	shown := p.places[first:min(len(p.places), first+pageRows)]
	page := worklistPage{frame: d.frame(r, "Worklist", "worklist"), Filter: f, Total: len(p.places), Events: p.events, High: p.counts[2], Medium: p.counts[1], Low: p.counts[0],
		First: first + 1, Last: first + len(shown), Pages: pages,
		Severities: []string{"high", "medium", "low"}, Certainties: []string{"certain", "possible"}, States: states, Orders: orders, Actions: d.book.actionChoices(f.Action)}
	page.Back, page.Turn = f.Query(), v.turn
	if f.Page > 1 {
		page.Previous = f.Turn(-1)
	}
	if f.Page < pages {
		page.Next = f.Turn(1)
	}
	for _, at := range shown {
		page.Rows = append(page.Rows, d.row(v, at, f))
	}
	d.addChoices(v, &page)
	d.show(w, "worklist", page)
}

// mostChoices bounds a list to choose from; any text can be typed.
const mostChoices = 1000

func (d *Desk) addChoices(v *view, p *worklistPage) {
	rules, aircraft, aerodromes := map[uint32]bool{}, map[uint32]bool{}, map[uint32]bool{}
	for _, m := range v.months {
		p.Months = append(p.Months, m.name)
		p.Flights += m.total
		for i := range m.events {
			rules[m.events[i].rule] = true
		}
		for i := range m.flights {
			f := &m.flights[i]
			aircraft[f.aircraft], aircraft[f.registration] = true, true
			aerodromes[f.departure], aerodromes[f.end] = true, true
		}
	}
	for n := range rules {
		p.Rules = append(p.Rules, choice{d.words.text(n), d.words.title(n)})
	}
	slices.SortFunc(p.Rules, func(a, b choice) int { return strings.Compare(a.Title, b.Title) })
	texts := func(set map[uint32]bool) (list []string) {
		for n := range set {
			if n != 0 {
				list = append(list, d.words.text(n))
			}
		}
		slices.Sort(list)
		return list[:min(len(list), mostChoices)]
	}
	p.AircraftWords, p.AerodromeWords = texts(aircraft), texts(aerodromes)
	slices.Reverse(p.Months)
}

func (d *Desk) row(v *view, at place, f filter) row {
	m, o := v.at(at)
	events := m.of(o)
	lead := &events[0]
	flight := &m.flights[o.flight]
	out := row{Event: lead.id.String(), Title: d.words.title(lead.rule), Severity: severities[lead.severity], Certainty: certainty(lead), Others: len(events) - 1,
		Aircraft: strings.TrimPrefix(d.words.text(flight.aircraft)+", "+d.words.text(flight.registration), ", "),
		When:     when(m, flight, lead), From: d.words.text(flight.departure), To: d.words.text(flight.end), State: d.state(events)}
	out.Aircraft = strings.TrimSuffix(out.Aircraft, ", ")
	for _, e := range events[1:] {
		out.OtherIDs = append(out.OtherIDs, e.id.String())
	}
	out.Link = f.On(out.Event)
	return out
}

func certainty(e *event) string {
	if e.possible {
		return "possible"
	}
	return "certain"
}

// when says when an event was, as exactly as the archive does.
func when(m *month, f *flight, e *event) string {
	at := e.at
	if at == 0 {
		at = f.at
	}
	if at == 0 {
		return m.name
	}
	return time.UnixMilli(at).UTC().Format("2006-01-02 15:04")
}

// verdict takes the verdict of a form, or of the script, which asks for JSON.
func (d *Desk) verdict(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, 256<<10)
	if err := r.ParseForm(); err != nil {
		d.answer(w, r, http.StatusBadRequest, "The form could not be read: "+err.Error()+".", false)
		return
	}
	form := r.PostForm
	c := decision{finding: review.Finding(form.Get("verdict")), cause: strings.TrimSpace(form.Get("cause")),
		comment: strings.TrimSpace(form.Get("comment")), by: strings.TrimSpace(form.Get("by")), anyway: form.Get("anyway") == "yes"}
	for _, group := range form["event"] { // one event, or those of an occurrence
		c.events = append(c.events, strings.Fields(group)...)
	}
	c.seen, _ = strconv.ParseInt(form.Get("seen"), 10, 64)
	c.turn, _ = strconv.Atoi(form.Get("turn"))
	if d.ReadOnly != "" {
		d.answer(w, r, http.StatusForbidden, d.ReadOnly, false)
		return
	}
	if wrong := c.mistake(); wrong != "" {
		d.answer(w, r, http.StatusUnprocessableEntity, wrong, false)
		return
	}
	d.rememberName(w, c.by)
	noted, err := d.decide(c)
	var others *conflict
	switch {
	case errors.As(err, &others):
		d.answer(w, r, http.StatusConflict, "Nothing was recorded, because since this page was loaded: "+strings.Join(others.lines[:min(len(others.lines), 10)], "; ")+".", !others.final)
	case err != nil:
		d.Warn(err.Error())
		d.answer(w, r, http.StatusInternalServerError, fmt.Sprintf("The verdict could not be recorded%s: %v.", onSome(noted), err), false)
	default:
		words := fmt.Sprintf("%s on %s recorded.", c.finding, counted(noted, "event"))
		if left := len(c.events) - noted; left > 0 {
			words += fmt.Sprintf(" %s no longer in the archive.", map[bool]string{true: "The other one is", false: "The others are"}[left == 1])
		}
		d.answer(w, r, http.StatusOK, words, false)
	}
}

// rememberName fills in the name the next time.
func (d *Desk) rememberName(w http.ResponseWriter, name string) {
	http.SetCookie(w, &http.Cookie{Name: reviewerCookie, Value: url.QueryEscape(name), Path: "/", HttpOnly: true, SameSite: http.SameSiteStrictMode, Secure: d.Secure, MaxAge: 90 * 24 * 3600})
}

// onSome says on how many events something was noted before it failed.
func onSome(noted int) string {
	if noted == 0 {
		return ""
	}
	return " on all; it was recorded on " + counted(noted, "event")
}

// answer answers a form: in JSON for the script, else with a page; after one that was
// noted, with the page it came from. again says that the form may be sent again as it is. What was
// written in it is shown, so that no note is lost.
func (d *Desk) answer(w http.ResponseWriter, r *http.Request, code int, words string, again bool) {
	if strings.Contains(r.Header.Get("Accept"), "application/json") {
		w.Header().Set("Content-Type", "application/json")
		w.WriteHeader(code)
		var changed []rowChange
		if code == http.StatusOK {
			changed = d.rowChanges(r.PostForm["event"])
		}
		w.Write(jsonOf(map[string]any{"words": words, "seen": d.millis(), "changed": changed, "again": again}))
		return
	}
	back := filterOf(queryOf(r.PostForm.Get("back")))
	to := back.Address()
	if ids := r.PostForm["event"]; r.PostForm.Get("from") == "occurrence" && len(ids) > 0 {
		id, _, _ := strings.Cut(ids[0], ":")
		if _, ok := keyOf(strings.Fields(id + " .")[0]); ok {
			to = back.On(strings.Fields(id)[0])
		}
	}
	if code == http.StatusOK {
		http.Redirect(w, r, to, http.StatusSeeOther)
		return
	}
	page := struct {
		frame
		Words, To string
		Again     []choice
		Written   []choice
	}{frame: d.frame(r, "Not recorded", ""), Words: words, To: to}
	for _, name := range []string{"verdict", "cause", "comment", "by", "back", "from"} {
		value := r.PostForm.Get(name)
		page.Again = append(page.Again, choice{name, value})
		if value != "" && (name == "verdict" || name == "cause" || name == "comment") {
			page.Written = append(page.Written, choice{name, report.Clean(value)})
		}
	}
	for _, id := range r.PostForm["event"] {
		page.Again = append(page.Again, choice{"event", withoutEvidence(id)})
	}
	if !again {
		page.Again = nil
	}
	text, err := render("unnoted", page)
	if err != nil {
		d.failed(w, err)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(code)
	w.Write(text)
}

// withoutEvidence leaves the ids of events alone.
func withoutEvidence(group string) string {
	ids := strings.Fields(group)
	for i, id := range ids {
		ids[i], _, _ = strings.Cut(id, ":")
	}
	return strings.Join(ids, " ")
}

func queryOf(text string) url.Values {
	query, err := url.ParseQuery(text)
	if err != nil {
		return url.Values{}
	}
	return query
}

func counted(n int, thing string) string {
	if n != 1 {
		thing += "s"
	}
	return strconv.Itoa(n) + " " + thing
}
