package desk

import (
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"

	"downlock/report"
	"downlock/report/archive"
	"downlock/report/identity"
	"downlock/report/review"
	"downlock/schemas"
)

// acts are the actions that count on an event, by kind.
type acts map[review.ActionKind]act

type act struct {
	value, by string
	at        time.Time
}

// actionCells are the columns of the table of actions that the book needs.
type actionCells struct {
	EventID string    `parquet:"event_id,dict"`
	Action  string    `parquet:"action,dict"`
	Value   string    `parquet:"value,dict"`
	By      string    `parquet:"by,dict"`
	AtUTC   time.Time `parquet:"at_utc,timestamp(millisecond)"`
	Latest  bool      `parquet:"latest"`
}

// readReviews reads the tables of verdicts and of actions where they have changed since.
func (d *Desk) readReviews() error {
	if err := d.readVerdicts(); err != nil {
		return err
	}
	part, there, err := archive.ActionsPart(d.Archive)
	if err != nil {
		return err
	}
	now := tableState{part.Size, part.Time, there}
	d.book.mu.Lock()
	same := d.book.acted == now
	d.book.acted = now
	d.book.mu.Unlock()
	if same {
		return nil
	}
	return archive.ActionColumns(d.Archive, func(rows []actionCells) error {
		for _, r := range rows {
			id, ok := keyOf(r.EventID)
			if ok && r.Latest && d.book.act(id, review.ActionKind(r.Action), act{report.Clean(r.Value), report.Clean(r.By), r.AtUTC}) {
				d.tellVerdict(id)
			}
		}
		return nil
	})
}

// act takes an action in, unless a later one of its kind is known, and reports whether it is
// news.
func (b *book) act(id eventKey, kind review.ActionKind, a act) bool {
	b.mu.Lock()
	defer b.mu.Unlock()
	was, there := b.acts[id][kind]
	// The table has times in whole milliseconds.
	if there && (a.at.Truncate(time.Millisecond).Before(was.at.Truncate(time.Millisecond)) || was.value == a.value && was.by == a.by) {
		return false
	}
	if b.acts[id] == nil {
		b.acts[id] = acts{}
	}
	b.acts[id][kind] = a
	return true
}

// standing returns the value of each kind of action that counts on an event.
func (b *book) standing(id eventKey) map[review.ActionKind]string {
	b.mu.RLock()
	defer b.mu.RUnlock()
	values := map[review.ActionKind]string{}
	for kind, a := range b.acts[id] {
		values[kind] = a.value
	}
	return values
}

// actionNames are the kinds of action in words.
var actionNames = map[review.ActionKind]string{review.AssignedTo: "assigned to", review.Due: "due", review.Maintenance: "referred to maintenance:", review.CrewContact: "crew contact:"}

// actionWords lists the actions on an occurrence: those of its events that count and were not
// taken back, each once.
func (b *book) actionWords(events []event) string {
	b.mu.RLock()
	defer b.mu.RUnlock()
	var words []string
	for _, kind := range review.ActionKinds {
		for i := range events {
			a, ok := b.acts[events[i].id][kind]
			text := actionNames[kind] + " " + a.value
			if ok && a.value != review.NoValue && !slices.Contains(words, text) {
				words = append(words, text)
			}
		}
	}
	return strings.Join(words, ", ")
}

// action takes the form with the actions on an occurrence. A field that is as the page had
// it is left alone; one that was emptied takes back what there was.
func (d *Desk) action(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, 256<<10)
	if err := r.ParseForm(); err != nil {
		d.answer(w, r, http.StatusBadRequest, "The form could not be read: "+err.Error()+".", false)
		return
	}
	ids := strings.Fields(strings.Join(r.PostForm["event"], " "))
	by := strings.TrimSpace(r.PostForm.Get("by"))
	switch {
	case d.ReadOnly != "":
		d.answer(w, r, http.StatusForbidden, d.ReadOnly, false)
		return
	case len(ids) == 0 || len(ids) > mostAtOnce:
		d.answer(w, r, http.StatusUnprocessableEntity, "Select an occurrence.", false)
		return
	case by == "" || len(by) > 200:
		d.answer(w, r, http.StatusUnprocessableEntity, "Say who records it, in at most 200 characters.", false)
		return
	}
	if by != review.Gatekeeper {
		d.rememberName(w, by)
	}
	noted, wrong, err := d.act(ids, by, r.PostForm)
	var others *conflict
	switch {
	case errors.As(err, &others):
		d.answer(w, r, http.StatusConflict, "Nothing was recorded, because since this page was loaded: "+strings.Join(others.lines[:min(len(others.lines), 10)], "; ")+".", false)
	case err != nil:
		d.Warn(err.Error())
		d.answer(w, r, http.StatusInternalServerError, "Not all actions could be recorded: "+err.Error()+".", false)
	case wrong != "":
		d.answer(w, r, http.StatusUnprocessableEntity, wrong+".", false)
	default:
		d.answer(w, r, http.StatusOK, counted(noted, "action")+" recorded.", false)
	}
}

// act writes the actions of a form on some events, all or, where one of them is wrong or an
// event is gone, none.
func (d *Desk) act(ids []string, by string, form url.Values) (noted int, wrong string, err error) {
	d.writing.Lock()
	defer d.writing.Unlock()
	rows, others, err := d.current(ids, 0)
	switch {
	case err != nil:
		return 0, "", err
	case len(others.lines) > 0:
		return 0, "", others
	}
	var asked []review.Action
	for i := range rows {
		key, _ := keyOf(rows[i].EventID)
		standing := d.book.standing(key)
		for _, kind := range review.ActionKinds {
			if !form.Has(string(kind)) {
				continue
			}
			a := review.Action{Event: rows[i].EventID, Kind: kind, Value: strings.TrimSpace(form.Get(string(kind))), By: by}
			if a.Value == form.Get("was-"+string(kind)) {
				continue // as the page had it: another may have changed it since
			}
			if a.Value == "" && (kind == review.AssignedTo || kind == review.Due) && standing[kind] != "" {
				a.Value = review.NoValue
			}
			if a.Value == "" || a.Value == standing[kind] {
				continue
			}
			if cause, hint := a.Mistake(); cause != "" {
				return 0, strings.TrimSuffix(cause+": "+hint, ": "), nil
			}
			asked = append(asked, a)
		}
	}
	for _, a := range asked {
		if err := d.writeAction(a); err != nil {
			return noted, "", err
		}
		noted++
	}
	return noted, "", nil
}

func (d *Desk) writeAction(a review.Action) error {
	list, _, err := review.Actions(d.Archive, a.Event)
	if err != nil {
		return err
	}
	a.At = d.Now()
	if last, ok := review.Standing(list)[a.Kind]; ok && !a.At.After(last.At.Add(time.Millisecond)) {
		a.At = last.At.Add(time.Millisecond)
	}
	if a.By != review.Gatekeeper {
		a.By = d.Identity.Token(identity.Person, a.By)
	}
	if a.Kind == review.AssignedTo && review.IsInitials(a.Value) {
		a.Value = d.Identity.Token(identity.Person, a.Value)
	}
	if _, err := review.WriteAction(d.Archive, a, d.Share); err != nil {
		return err
	}
	key, _ := keyOf(a.Event)
	d.book.act(key, a.Kind, act{a.Value, report.Clean(a.By), a.At})
	d.book.soil()
	d.tellVerdict(key)
	return nil
}

// actionPart is the form with the actions on an occurrence.
type actionPart struct {
	Events  string // ids
	History []pastAction
	// Those that count on the most severe event, "" where none does.
	AssignedTo, Due, Maintenance, CrewContact string
}

type pastAction struct{ Event, Words, By, At string }

func (d *Desk) actionPart(events []schemas.EventRow) (p actionPart, damaged schemas.Problems, err error) {
	several := len(events) > 1
	for i := range events {
		id := events[i].EventID
		p.Events = strings.TrimSpace(p.Events + " " + id)
		list, bad, err := review.Actions(d.Archive, id)
		if err != nil {
			return p, damaged, err
		}
		damaged = append(damaged, bad...)
		for _, a := range slices.Backward(list) {
			past := pastAction{Words: report.Clean(fmt.Sprint(actionNames[a.Kind], " ", a.Value)), By: report.Clean(a.By), At: a.At.UTC().Format("2006-01-02 15:04:05")}
			if several {
				past.Event = report.Clean(events[i].Title)
			}
			p.History = append(p.History, past)
		}
		if i == 0 {
			last := review.Standing(list)
			value := func(kind review.ActionKind) string {
				return strings.TrimPrefix(last[kind].Value, review.NoValue)
			}
			p.AssignedTo, p.Due, p.Maintenance, p.CrewContact = value(review.AssignedTo), value(review.Due), value(review.Maintenance), value(review.CrewContact)
		}
	}
	return p, damaged, nil
}
