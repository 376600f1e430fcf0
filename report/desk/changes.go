package desk

import (
	"encoding/json"
	"fmt"
	"net/http"
	"strconv"
	"strings"
	"sync"
	"time"
)

// hub tells the browsers that listen what has changed, as server-sent events.
type hub struct {
	mu        sync.Mutex
	listeners map[chan []byte]bool
	closed    bool
}

// mostListeners bounds the browsers that listen at the same time.
const mostListeners = 200

func newHub() *hub { return &hub{listeners: map[chan []byte]bool{}} }

// listen adds a listener; nil where there are too many.
func (h *hub) listen() chan []byte {
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.closed || len(h.listeners) >= mostListeners {
		return nil
	}
	c := make(chan []byte, 64)
	h.listeners[c] = true
	return c
}

func (h *hub) leave(c chan []byte) {
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.listeners[c] {
		delete(h.listeners, c)
		close(c)
	}
}

// tell sends one event to all. A listener that does not keep up is cut off: its browser
// comes back and says what it has seen last.
func (h *hub) tell(kind string, at int64, data any) {
	text := eventText(kind, at, data)
	h.mu.Lock()
	defer h.mu.Unlock()
	for c := range h.listeners {
		select {
		case c <- text:
		default:
			delete(h.listeners, c)
			close(c)
		}
	}
}

func (h *hub) close() {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.closed = true
	for c := range h.listeners {
		delete(h.listeners, c)
		close(c)
	}
}

// eventText is an event in the form of the HTML standard, "Server-sent events".
func eventText(kind string, at int64, data any) []byte {
	text, err := json.Marshal(data) // in one line
	if err != nil {
		text = []byte("null")
	}
	return fmt.Appendf(nil, "id: %d\nevent: %s\ndata: %s\n\n", at, kind, text)
}

// rowChange is the state of an occurrence, as a browser shows it.
type rowChange struct {
	Lead  string `json:"lead"` // id of its most severe event, by which its row goes
	Event string `json:"event"`
	State string `json:"state"`
	Open  bool   `json:"open"`
	Words string `json:"words"`
}

// tellVerdict tells of the verdict on an event.
func (d *Desk) tellVerdict(id eventKey) {
	if change, at, ok := d.rowChange(id); ok {
		d.hub.tell("verdict", at, change)
	}
}

func (d *Desk) rowChange(id eventKey) (change rowChange, at int64, ok bool) {
	v := d.view()
	p, ok := v.find(id)
	if !ok {
		return rowChange{}, 0, false
	}
	m, o := v.at(p)
	s := d.state(m.of(o))
	w, _ := d.book.of(id)
	return rowChange{m.of(o)[0].id.String(), id.String(), s.Name, s.Open, s.Words}, w.at.UnixMilli(), true
}

// rowChanges are the states of the occurrences a form was about.
func (d *Desk) rowChanges(groups []string) (changed []rowChange) {
	for _, group := range groups {
		first, _, _ := strings.Cut(strings.TrimSpace(group), " ")
		id, _, _ := strings.Cut(first, ":")
		if key, ok := keyOf(id); ok {
			if change, _, ok := d.rowChange(key); ok {
				changed = append(changed, change)
			}
		}
	}
	return changed
}

// changes is the stream of events. A browser that was away names the last one it has
// seen, and is told the verdicts since.
func (d *Desk) changes(w http.ResponseWriter, r *http.Request) {
	since, err := strconv.ParseInt(r.Header.Get("Last-Event-ID"), 10, 64)
	if err != nil {
		since, _ = strconv.ParseInt(r.URL.Query().Get("since"), 10, 64)
	}
	c := d.hub.listen()
	if c == nil {
		d.refuse(w, http.StatusServiceUnavailable, "Too many pages listen for changes. Close some.")
		return
	}
	defer d.hub.leave(c)
	control := http.NewResponseController(w)
	w.Header().Set("Content-Type", "text/event-stream")
	send := func(text []byte) bool {
		control.SetWriteDeadline(time.Now().Add(20 * time.Second)) // one that reads nothing is let go
		_, err := w.Write(text)
		return err == nil && control.Flush() == nil
	}
	if !send([]byte("retry: 2000\n\n")) {
		return
	}
	for _, id := range d.book.since(since) {
		if change, at, ok := d.rowChange(id); ok && !send(eventText("verdict", at, change)) {
			return
		}
	}
	if v := d.view(); since > 0 && v.made.UnixMilli() > since && !send(eventText("tables", v.made.UnixMilli(), nil)) {
		return
	}
	still := time.NewTicker(25 * time.Second)
	defer still.Stop()
	for {
		select {
		case text, more := <-c:
			if !more || !send(text) {
				return
			}
		case <-still.C:
			if !send([]byte(": still here\n\n")) {
				return
			}
		case <-r.Context().Done():
			return
		}
	}
}

// since lists the events with a verdict of after a time; none for 0.
func (b *book) since(at int64) (ids []eventKey) {
	if at <= 0 {
		return nil
	}
	b.mu.RLock()
	defer b.mu.RUnlock()
	for id, v := range b.latest {
		if v.at.UnixMilli() > at && len(ids) < mostAtOnce {
			ids = append(ids, id)
		}
	}
	return ids
}
