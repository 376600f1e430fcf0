package desk

import (
	"fmt"
	"slices"
	"strings"
	"sync"
	"time"

	"downlock/detect"
	"downlock/report"
	"downlock/report/archive"
	"downlock/report/identity"
	"downlock/report/review"
	"downlock/schemas"
)

// book holds the verdict that counts for each event.
type book struct {
	mu      sync.RWMutex
	latest  map[eventKey]verdict
	changes int           // verdicts noted since the desk was opened
	read    tableState    // of the table of verdicts, when it was read
	dirty   chan struct{} // holds one where the table lacks a verdict of this desk
	untold  bool          // the same, for take
	causes  map[string]int
	acts    map[eventKey]acts
	acted   tableState // of the table of actions, when it was read
}

type verdict struct {
	finding, cause, comment, by string
	at                          time.Time
	outdated                    bool
}

// open reports whether somebody has to look at the event.
func (v verdict) open() bool { return v.finding == string(review.FollowUp) || v.outdated }

type tableState struct {
	size, time int64
	there      bool
}

func newBook() *book {
	return &book{latest: map[eventKey]verdict{}, dirty: make(chan struct{}, 1), causes: map[string]int{}, acts: map[eventKey]acts{}}
}

// of returns the verdict on an event, false where there is none.
func (b *book) of(id eventKey) (verdict, bool) {
	b.mu.RLock()
	defer b.mu.RUnlock()
	v, ok := b.latest[id]
	return v, ok
}

// note takes a verdict in, unless a later one is known, and reports whether it is news.
func (b *book) note(id eventKey, v verdict) bool {
	b.mu.Lock()
	defer b.mu.Unlock()
	was, there := b.latest[id]
	// The table has times in whole milliseconds.
	if there && v.at.Truncate(time.Millisecond).Before(was.at.Truncate(time.Millisecond)) || there && alike(was, v) {
		return false
	}
	b.latest[id] = v
	b.changes++
	if v.finding == string(review.False) && v.cause != "" {
		b.causes[v.cause]++
	}
	return true
}

func alike(a, b verdict) bool {
	a.at, b.at = a.at.Truncate(time.Millisecond), b.at.Truncate(time.Millisecond)
	return a.finding == b.finding && a.cause == b.cause && a.comment == b.comment && a.by == b.by && a.outdated == b.outdated && a.at.Equal(b.at)
}

// soil says that the table of verdicts lacks one, and take that it is being written.
func (b *book) soil() {
	b.mu.Lock()
	b.untold = true
	b.mu.Unlock()
	select {
	case b.dirty <- struct{}{}:
	default:
	}
}

func (b *book) take() bool {
	b.mu.Lock()
	defer b.mu.Unlock()
	was := b.untold
	b.untold = false
	return was
}

// usualCauses lists the causes given most often.
func (b *book) usualCauses() (list []string) {
	b.mu.RLock()
	defer b.mu.RUnlock()
	for cause := range b.causes {
		list = append(list, cause)
	}
	slices.SortFunc(list, func(x, y string) int {
		if n := b.causes[y] - b.causes[x]; n != 0 {
			return n
		}
		return strings.Compare(x, y)
	})
	return list[:min(len(list), 20)]
}

// verdictCells are the columns of the table of verdicts that the book needs.
type verdictCells struct {
	EventID  string    `parquet:"event_id,dict"`
	Verdict  string    `parquet:"verdict,dict"`
	Cause    string    `parquet:"cause"`
	Comment  string    `parquet:"comment"`
	By       string    `parquet:"by,dict"`
	AtUTC    time.Time `parquet:"at_utc,timestamp(millisecond)"`
	Latest   bool      `parquet:"latest"`
	Outdated bool      `parquet:"outdated"`
}

// readVerdicts reads the table of verdicts where it has changed since, which every
// reviewer and every scan brings up to date, and tells browsers what is new.
func (d *Desk) readVerdicts() error {
	part, there, err := archive.VerdictsPart(d.Archive)
	if err != nil {
		return err
	}
	now := tableState{part.Size, part.Time, there}
	d.book.mu.Lock()
	same := d.book.read == now
	d.book.read = now
	d.book.mu.Unlock()
	if same {
		return nil
	}
	return archive.VerdictColumns(d.Archive, func(rows []verdictCells) error {
		for _, r := range rows {
			id, ok := keyOf(r.EventID)
			if !ok || !r.Latest {
				continue
			}
			v := verdict{report.Clean(r.Verdict), report.Clean(r.Cause), report.Clean(r.Comment), report.Clean(r.By), r.AtUTC, r.Outdated}
			if d.book.note(id, v) {
				d.tellVerdict(id)
			}
		}
		return nil
	})
}

// conflict says that somebody has decided, or a scan has changed or removed the event,
// since the page was made that a verdict comes from.
type conflict struct {
	lines []string
	final bool // asking again does not help: no event is left
}

func (c *conflict) Error() string { return strings.Join(c.lines, "; ") }

// decision is what a reviewer says about some events.
type decision struct {
	events  []string // ids; each may have the evidence that was looked at behind a colon
	finding review.Finding
	cause   string
	comment string
	by      string
	seen    int64 // when the page was made, in ms since 1970
	turn    int   // of the view the page was made of; 0 where it does not say
	anyway  bool  // also where others have decided since
}

// mostAtOnce bounds the events of one decision.
const mostAtOnce = 2000

// mistake says what is wrong with a decision, "" for nothing.
func (c *decision) mistake() string {
	switch {
	case len(c.events) == 0:
		return "Select at least one occurrence."
	case len(c.events) > mostAtOnce:
		return fmt.Sprintf("Select at most %d events at once.", mostAtOnce)
	case !slices.Contains(review.Findings, c.finding):
		return "A verdict is valid, false or follow-up."
	case c.finding == review.False && c.cause == "":
		return "A false event needs a cause: say why it was reported, such as a wrong profile or a faulty sensor."
	case c.by == "":
		return "Say who decides: a verdict has a name."
	case len(c.by) > 200 || len(c.cause) > 500 || len(c.comment) > 4000:
		return "A name has at most 200 characters, a cause 500 and a note 4000."
	}
	return ""
}

// decide writes a verdict on each event and returns how many there were. Of those that a
// scan has changed or removed meanwhile, or others have decided, the error is a conflict, and
// nothing is written; a decision anyway is written on those that are still there. Other
// errors are a schemas.Problem or an output.Error; then those that were written before it stay.
func (d *Desk) decide(c decision) (noted int, err error) {
	d.writing.Lock()
	defer d.writing.Unlock()
	rows, others, err := d.current(c.events, c.turn)
	if err != nil {
		return 0, err
	}
	for i := range rows {
		key, _ := keyOf(rows[i].EventID)
		if w, ok := d.book.of(key); ok && w.at.UnixMilli() > c.seen {
			others.lines = append(others.lines, fmt.Sprintf("%s: %s has given the verdict %s", report.Clean(rows[i].Title), w.by, w.finding))
		}
	}
	others.final = len(rows) == 0
	if len(others.lines) > 0 && (!c.anyway || others.final) {
		return 0, others
	}
	for i := range rows {
		if err := d.write(&rows[i], c); err != nil {
			return i, err
		}
	}
	return len(rows), nil
}

// current reads some events as they are in the archive now, and says which of them a scan
// has changed or removed since a page was made of the view of a turn. An id may have the
// evidence that was looked at behind a colon; without it a scan that has written the
// event's month counts as a change.
func (d *Desk) current(events []string, turn int) (rows []schemas.EventRow, others *conflict, err error) {
	if err := d.update(); err != nil {
		return nil, nil, err
	}
	others = &conflict{}
	months := map[string]map[string]string{} // of ids and evidence, by month
	written := map[string]bool{}             // months since the page was made
	v := d.view()
	for _, text := range events {
		id, evidence, _ := strings.Cut(text, ":")
		key, ok := keyOf(id)
		if !ok {
			return nil, nil, &schemas.Problem{File: fmt.Sprintf("%.40q", id), Cause: "is not the id of an event"}
		}
		name := ""
		if p, there := v.find(key); there {
			name = v.months[p.month].name
			written[name] = turn > 0 && v.months[p.month].turn > turn
		}
		if months[name] == nil {
			months[name] = map[string]string{}
		}
		months[name][id] = evidence
	}
	for name, wanted := range months {
		if name != "" {
			err := archive.EventsOf(d.Archive, name, func(id string) bool { _, ok := wanted[id]; return ok }, func(e *schemas.EventRow) error {
				rows = append(rows, *e)
				switch seen := wanted[e.EventID]; {
				case seen != "" && seen != review.Evidence(*e):
					others.lines = append(others.lines, fmt.Sprintf("%s has changed since the page was loaded: a scan has found it with other figures", report.Clean(e.Title)))
				case seen == "" && written[name]:
					others.lines = append(others.lines, fmt.Sprintf("%s: a scan has written its month, and it may have changed since the page was loaded", report.Clean(e.Title)))
				}
				delete(wanted, e.EventID)
				return nil
			})
			if err != nil {
				return nil, nil, err
			}
		}
		for id := range wanted {
			others.lines = append(others.lines, id+" is no longer in the archive: a scan has removed it, or has found it at another time")
		}
	}
	slices.Sort(others.lines)
	return rows, others, nil
}

// Verdict returns the verdict on an event for a report of its flight; nil for none.
func (d *Desk) Verdict(f *detect.Flight, e *detect.Event) *report.Verdict {
	key, _ := keyOf(e.ID)
	v, ok := d.book.of(key)
	if !ok {
		return nil
	}
	return &report.Verdict{Finding: v.finding, Cause: v.cause, Comment: v.comment, By: v.by, At: v.at.UTC().Format("2006-01-02T15:04:05Z"), Outdated: v.outdated}
}

// write writes one verdict. The last one counts, so its time is after all others', even
// where a clock was set back.
func (d *Desk) write(e *schemas.EventRow, c decision) error {
	history, _, err := review.History(d.Archive, e.EventID)
	if err != nil {
		return err
	}
	at := d.Now()
	if n := len(history); n > 0 && !at.After(history[n-1].At.Add(time.Millisecond)) {
		at = history[n-1].At.Add(time.Millisecond)
	}
	v := review.Verdict{Event: e.EventID, Finding: c.finding, Cause: c.cause, Comment: c.comment,
		By: d.Identity.Token(identity.Person, c.by), At: at, Evidence: review.Evidence(*e)}
	if _, err := review.Write(d.Archive, v, d.Share); err != nil {
		return err
	}
	key, _ := keyOf(e.EventID)
	d.book.note(key, verdict{string(v.Finding), report.Clean(v.Cause), report.Clean(v.Comment), report.Clean(v.By), v.At, false})
	d.book.soil()
	d.tellVerdict(key)
	return nil
}
