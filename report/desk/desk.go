// Package desk is the web page analysts work at: the occurrences of an archive that nobody
// has decided yet, one occurrence with its report and its place in the fleet, the
// verdicts on it, the rates of the last twelve months, and what nights could not read.
//
// In goes the folder of an archive; out comes an http.Handler. A page shows what the
// archive holds, and the reports that Options names, and nothing else of the disk.
// Verdicts are the files of package review: added and never changed.
//
// The desk keeps an index of the events in memory, about 50 bytes an event, and rereads
// the months that a scan has written since. It holds no lock of the archive.
//
// It is guarded as a server of notebooks is: guard.go says how.
package desk

import (
	"context"
	"fmt"
	"net/http"
	"sync"
	"time"

	"downlock/detect"
	"downlock/report/archive"
	"downlock/report/identity"
)

// Options says what a desk shows and how.
type Options struct {
	Archive string
	Version string // of downlock
	Hosts   []string
	Secure  bool   // served over TLS
	Token   string // lets a browser in

	Reports string // a folder that scan --out wrote; "" for none
	// Make makes the report of a flight again from its recording, by the number of
	// the flight; nil where no report is made. The error says why it cannot.
	Make func(ctx context.Context, recording string, number int) (page []byte, err error)

	Rules    *detect.RuleSet // for the meaning of rules; nil for none
	Identity *identity.Key   // of the archive; nil in one with names
	// ReadOnly says why no verdict can be given here; "" where one can.
	ReadOnly string
	Share    bool              // others may read and add verdicts, as the umask says
	Warn     func(text string) // takes messages for whoever runs the desk
	Now      func() time.Time
}

// Desk is a desk at work. Its methods may be called by several goroutines.
type Desk struct {
	Options
	guard *guard
	words *words
	book  *book
	hub   *hub

	mu   sync.Mutex // held while the index is brought up to date
	now  *view      // read under seen
	seen sync.RWMutex

	writing sync.Mutex // verdicts are written one after the other, so that their times rise
	making  chan struct{}
	fleet   fleetView
}

// New reads the archive. The error is a schemas.Problem of a damaged or missing archive, or
// one of reading.
func New(o Options) (*Desk, error) {
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Warn == nil {
		o.Warn = func(string) {}
	}
	d := &Desk{Options: o, guard: newGuard(o.Hosts, o.Token, o.Secure), words: newWords(), book: newBook(), hub: newHub(), now: &view{}, making: make(chan struct{}, 1)}
	if err := d.readReviews(); err != nil {
		return nil, err
	}
	if o.ReadOnly == "" {
		d.book.soil() // the table may lack verdicts that are there
	}
	_, err := d.refresh()
	return d, err
}

// view is the archive as it was read last. It is never changed.
type view struct {
	months []*month // in order, the flights without a date last
	made   time.Time
	turn   int // counts the views of a desk
}

func (d *Desk) view() *view {
	d.seen.RLock()
	defer d.seen.RUnlock()
	return d.now
}

// Watch keeps the desk up to date until the context is done: with what scans commit and
// others decide. It also brings the table of verdicts up to date.
func (d *Desk) Watch(ctx context.Context, every time.Duration) {
	tick := time.NewTicker(every)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			d.keepTable()
			d.hub.close()
			return
		case <-tick.C:
			d.lookAround()
		case <-d.book.dirty:
			d.keepTable()
		}
	}
}

// lookAround looks once for what others have written.
func (d *Desk) lookAround() {
	if err := d.update(); err != nil {
		d.Warn(err.Error())
	}
	if err := d.readReviews(); err != nil {
		d.Warn(err.Error())
	}
}

// update rereads the months that have changed, and tells browsers where there were any.
func (d *Desk) update() error {
	changed, err := d.refresh()
	if changed {
		d.hub.tell("tables", d.millis(), nil)
	}
	return err
}

// keepTable brings the table of verdicts up to date.
func (d *Desk) keepTable() {
	if !d.book.take() {
		return
	}
	damaged, err := archive.KeepVerdicts(d.Archive, d.Share)
	for _, p := range damaged {
		d.Warn(p.Error())
	}
	if err != nil {
		d.Warn("verdicts are kept, but the table of verdicts lacks some until the next verdict or scan: " + err.Error())
	}
}

func (d *Desk) millis() int64 { return d.Now().UnixMilli() }

// Handler returns the pages.
func (d *Desk) Handler() http.Handler {
	m := http.NewServeMux()
	m.HandleFunc("GET /{$}", d.worklist)
	m.HandleFunc("GET /occurrence/{event}", d.occurrence)
	m.HandleFunc("GET /fleet/{event}", d.among)
	m.HandleFunc("GET /report/{event}", d.report)
	m.HandleFunc("GET /trends", d.trends)
	m.HandleFunc("GET /nights", d.nights)
	m.HandleFunc("GET /changes", d.changes)
	m.HandleFunc("GET /desk.css", d.style)
	m.HandleFunc("GET /desk.js", d.script)
	m.HandleFunc("POST /verdict", d.verdict)
	m.HandleFunc("POST /action", d.action)
	m.HandleFunc("/", func(w http.ResponseWriter, r *http.Request) {
		d.refuse(w, http.StatusNotFound, "This desk has no such page.")
	})
	return d.guard.wrap(m, d.refuse)
}

// refuse answers with an error that says what to do.
func (d *Desk) refuse(w http.ResponseWriter, code int, why string) {
	page, err := render("refused", struct {
		frame
		Why string
	}{frame{Title: http.StatusText(code), Version: d.Version}, why})
	if err != nil {
		http.Error(w, why, code)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(code)
	w.Write(page)
}

// failed answers a request that the archive cannot serve.
func (d *Desk) failed(w http.ResponseWriter, err error) {
	d.Warn(err.Error())
	d.refuse(w, http.StatusInternalServerError, fmt.Sprintf("The archive could not be read: %v.", err))
}

// show answers with a page.
func (d *Desk) show(w http.ResponseWriter, name string, data any) {
	page, err := render(name, data)
	if err != nil {
		d.failed(w, err)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.Write(page)
}
