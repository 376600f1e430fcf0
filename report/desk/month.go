package desk

import (
	"cmp"
	"encoding/binary"
	"encoding/hex"
	"runtime"
	"slices"
	"strings"
	"sync"
	"time"

	"downlock/report"
	"downlock/report/archive"
	"downlock/report/review"
	"downlock/schemas"
)

// month is the index of the events of one month. It is never changed.
type month struct {
	name    string
	parts   [2]archive.Part // of events and flights, when it was read
	read    time.Time
	turn    int // of the view it was read for
	total   int // flights, also those without an event
	flights []flight
	// events has those of one occurrence together, the most severe first.
	events      []event
	occurrences []occurrence // in order of the flights' starts
	byID        []uint32     // places in events, in order of their ids
}

// flight is a flight with an event. Texts are places in words.
type flight struct {
	at                                     int64 // start, in ms since 1970; 0 where not known
	aircraft, registration, departure, end uint32
}

type event struct {
	id         eventKey
	at         int64 // start, in ms since 1970; 0 where not known
	rule       uint32
	occurrence uint32
	severity   uint8 // place in severities
	possible   bool
}

type occurrence struct {
	first  uint32 // in events
	count  uint32
	flight uint32
}

// severities in rising order.
var severities = []string{"low", "medium", "high"}

// eventKey is the id of an event as a number.
type eventKey uint64

func keyOf(id string) (eventKey, bool) {
	if !review.IsEventID(id) {
		return 0, false
	}
	var b [8]byte
	hex.Decode(b[2:], []byte(id[1:])) // which the form of an id allows
	return eventKey(binary.BigEndian.Uint64(b[:])), true
}

func (k eventKey) String() string {
	var b [8]byte
	binary.BigEndian.PutUint64(b[:], uint64(k))
	return "E" + hex.EncodeToString(b[2:])
}

// words numbers the texts that many events share, cleaned. Number 0 is the empty text.
type words struct {
	mu     sync.RWMutex
	list   []string
	number map[string]uint32 // of texts as the archive has them
	titles map[uint32]string // by rule
}

func newWords() *words {
	return &words{list: []string{""}, number: map[string]uint32{"": 0}, titles: map[uint32]string{}}
}

// add numbers a text.
func (w *words) add(text string) uint32 {
	w.mu.RLock()
	n, known := w.number[text]
	w.mu.RUnlock()
	if known {
		return n
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	if n, known = w.number[text]; !known {
		n = uint32(len(w.list))
		w.number[strings.Clone(text)] = n
		w.list = append(w.list, report.Clean(text))
	}
	return n
}

func (w *words) text(n uint32) string {
	w.mu.RLock()
	defer w.mu.RUnlock()
	return w.list[n]
}

// find returns the number of a text, false for one no event has.
func (w *words) find(text string) (uint32, bool) {
	w.mu.RLock()
	defer w.mu.RUnlock()
	n, known := w.number[text]
	return n, known
}

func (w *words) title(rule uint32) string {
	w.mu.RLock()
	defer w.mu.RUnlock()
	return cmp.Or(w.titles[rule], w.list[rule])
}

func (w *words) nameRule(rule uint32, title string) {
	w.mu.RLock()
	known := w.titles[rule] != ""
	w.mu.RUnlock()
	if known {
		return
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	w.titles[rule] = report.Clean(title)
}

// refresh rereads the months that have changed, and reports whether there were any.
func (d *Desk) refresh() (changed bool, err error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	before := d.view()
	flights, err := archive.Parts(d.Archive, schemas.FlightsTable)
	if err != nil {
		return false, err
	}
	events, err := archive.Parts(d.Archive, schemas.EventsTable)
	if err != nil {
		return false, err
	}
	parts := map[string][2]archive.Part{}
	for _, p := range flights {
		parts[p.Month] = [2]archive.Part{{}, p}
	}
	for _, p := range events {
		parts[p.Month] = [2]archive.Part{p, parts[p.Month][1]}
	}
	known := map[string]*month{}
	for _, m := range before.months {
		known[m.name] = m
	}
	next := &view{made: d.Now(), turn: before.turn + 1}
	var stale []int
	for name, now := range parts {
		m := known[name]
		if m == nil || m.parts != now {
			m = &month{name: name, parts: now, turn: next.turn}
			stale = append(stale, len(next.months))
		}
		next.months = append(next.months, m)
	}
	if len(stale) == 0 && len(parts) == len(before.months) {
		return false, nil
	}
	if err := d.readMonths(next.months, stale); err != nil {
		return false, err
	}
	slices.SortFunc(next.months, func(a, b *month) int { return strings.Compare(a.name, b.name) }) // "unknown" comes last
	d.seen.Lock()
	d.now = next
	d.seen.Unlock()
	return true, nil
}

// readMonths reads the months at some places, several at the same time.
func (d *Desk) readMonths(months []*month, places []int) error {
	errs := make([]error, len(places))
	var wait sync.WaitGroup
	slots := make(chan struct{}, min(4, runtime.GOMAXPROCS(0))) // each takes some MiB
	for i, place := range places {
		slots <- struct{}{}
		wait.Go(func() {
			defer func() { <-slots }()
			months[place], errs[i] = d.readMonth(months[place])
		})
	}
	wait.Wait()
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}

// eventCells are the columns of an event that the index is made of.
type eventCells struct {
	FlightID     string    `parquet:"flight_id,dict"`
	EventID      string    `parquet:"event_id"`
	Rule         string    `parquet:"rule,dict"`
	Title        string    `parquet:"title,dict"`
	Severity     string    `parquet:"severity,dict"`
	Certainty    string    `parquet:"certainty,dict"`
	StartUTC     time.Time `parquet:"start_utc,optional,timestamp(millisecond)"`
	StartS       float64   `parquet:"start_s"`
	OccurrenceID string    `parquet:"occurrence_id,optional,dict"`
}

// flightCells are those of a flight.
type flightCells struct {
	FlightID           string    `parquet:"flight_id"`
	Aircraft           string    `parquet:"aircraft,dict"`
	StartUTC           time.Time `parquet:"start_utc,optional,timestamp(millisecond)"`
	Registration       string    `parquet:"registration,optional,dict"`
	DepartureAerodrome string    `parquet:"departure_aerodrome,optional,dict"`
	ArrivalAerodrome   string    `parquet:"arrival_aerodrome,optional,dict"`
}

// rawEvent is an event before the occurrences are in order.
type rawEvent struct {
	event
	flight, cause uint32 // numbers of this month's flights, and of its occurrences
	start         float64
}

// readMonth reads a month of which only the name and the parts are known.
func (d *Desk) readMonth(of *month) (*month, error) {
	m := &month{name: of.name, parts: of.parts, turn: of.turn, read: d.Now()}
	flightOf, causeOf := map[string]uint32{}, map[string]uint32{}
	var raw []rawEvent
	err := archive.Columns(d.Archive, schemas.EventsTable, m.name, func(rows []eventCells) error {
		for i := range rows {
			e := &rows[i]
			id, ok := keyOf(e.EventID)
			if !ok {
				continue
			}
			rule := d.words.add(e.Rule)
			d.words.nameRule(rule, e.Title)
			raw = append(raw, rawEvent{
				event:  event{id: id, at: milliseconds(e.StartUTC), rule: rule, severity: uint8(max(0, slices.Index(severities, e.Severity))), possible: e.Certainty != "certain"},
				flight: numbered(flightOf, e.FlightID), cause: numbered(causeOf, cmp.Or(e.OccurrenceID, e.EventID)), start: e.StartS,
			})
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	m.flights = make([]flight, len(flightOf))
	err = archive.Columns(d.Archive, schemas.FlightsTable, m.name, func(rows []flightCells) error {
		m.total += len(rows)
		for i := range rows {
			f := &rows[i]
			if n, ok := flightOf[f.FlightID]; ok {
				m.flights[n] = flight{milliseconds(f.StartUTC), d.words.add(f.Aircraft), d.words.add(f.Registration), d.words.add(f.DepartureAerodrome), d.words.add(f.ArrivalAerodrome)}
			}
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	m.arrange(raw, len(causeOf))
	return m, nil
}

func numbered(numbers map[string]uint32, text string) uint32 {
	n, ok := numbers[text]
	if !ok {
		n = uint32(len(numbers))
		numbers[strings.Clone(text)] = n
	}
	return n
}

func milliseconds(t time.Time) int64 {
	if t.IsZero() {
		return 0
	}
	return t.UnixMilli()
}

// arrange puts events into occurrences, and occurrences into order.
func (m *month) arrange(raw []rawEvent, causes int) {
	begins := make([]float64, causes) // the first event of each
	for i := range begins {
		begins[i] = 1e18
	}
	for _, e := range raw {
		begins[e.cause] = min(begins[e.cause], e.start)
	}
	slices.SortStableFunc(raw, func(a, b rawEvent) int {
		return cmp.Or(cmp.Compare(m.flights[a.flight].at, m.flights[b.flight].at), cmp.Compare(a.flight, b.flight),
			cmp.Compare(begins[a.cause], begins[b.cause]), cmp.Compare(a.cause, b.cause),
			cmp.Compare(b.severity, a.severity), cmp.Compare(a.start, b.start))
	})
	m.events, m.byID = make([]event, len(raw)), make([]uint32, len(raw))
	for i := range raw {
		e := &raw[i]
		if i == 0 || raw[i-1].cause != e.cause || raw[i-1].flight != e.flight {
			m.occurrences = append(m.occurrences, occurrence{first: uint32(i), flight: e.flight})
		}
		last := len(m.occurrences) - 1
		m.occurrences[last].count++
		m.events[i], m.byID[i] = e.event, uint32(i)
		m.events[i].occurrence = uint32(last)
	}
	m.occurrences = slices.Clip(m.occurrences)
	slices.SortFunc(m.byID, func(a, b uint32) int { return cmp.Compare(m.events[a].id, m.events[b].id) })
}

// of returns the events of an occurrence, the most severe first.
func (m *month) of(o *occurrence) []event { return m.events[o.first : o.first+o.count] }

// place is where an occurrence is in a view.
type place struct{ month, occurrence uint32 }

func (v *view) at(p place) (*month, *occurrence) {
	m := v.months[p.month]
	return m, &m.occurrences[p.occurrence]
}

// find looks for an event.
func (v *view) find(id eventKey) (p place, ok bool) {
	for i, m := range v.months {
		n, found := slices.BinarySearchFunc(m.byID, id, func(e uint32, id eventKey) int { return cmp.Compare(m.events[e].id, id) })
		if found {
			return place{uint32(i), m.events[m.byID[n]].occurrence}, true
		}
	}
	return place{}, false
}
