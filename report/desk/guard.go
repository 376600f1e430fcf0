package desk

import (
	"crypto/rand"
	"crypto/subtle"
	"encoding/hex"
	"net"
	"net/http"
	"net/url"
	"slices"
	"strings"
)

// guard lets requests through to the pages. A request passes when
//
//   - its Host names the desk. A page elsewhere whose name was made to lead here
//     (rebinding) has another Host;
//   - its Origin, where it has one, is the desk's, and one that changes something has
//     one. Browsers let no page choose it;
//   - it has the cookie of this run. The address that the desk prints holds a token, and
//     opening it sets the cookie: HttpOnly, so that no script reads it, and
//     SameSite=Strict, so that no other site's page sends it.
//
// Token and cookie are 256 random bits each and are compared in constant time. Only POST
// changes something, and only /verdict takes it.
type guard struct {
	hosts         []string
	scheme        string
	token, cookie string
	name          string // of the cookie; browsers share cookies between ports
}

// tokenParameter is the parameter of the address that lets a browser in.
const tokenParameter = "token"

// NewToken returns a token nobody can guess.
func NewToken() string {
	var random [32]byte
	rand.Read(random[:]) // never fails, says its documentation
	return hex.EncodeToString(random[:])
}

func newGuard(hosts []string, token string, secure bool) *guard {
	g := &guard{hosts: hosts, scheme: "http", token: token, cookie: NewToken(), name: "downlock_desk"}
	if secure {
		g.scheme = "https"
	}
	for _, host := range hosts {
		if _, port, err := net.SplitHostPort(host); err == nil {
			g.name = "downlock_desk_" + port
			break
		}
	}
	return g
}

// policy is the content security policy of the desk's own pages.
const policy = "default-src 'none'; style-src 'self'; script-src 'self'; connect-src 'self'; frame-src 'self'; " +
	"form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

// wrap puts the guard before a handler. refuse answers those who do not pass.
func (g *guard) wrap(next http.Handler, refuse func(w http.ResponseWriter, code int, why string)) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "same-origin") // with none, browsers leave the Origin out of a form
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Cache-Control", "no-store")
		switch {
		case !slices.Contains(g.hosts, strings.ToLower(r.Host)):
			refuse(w, http.StatusMisdirectedRequest, "This desk answers only at its own address: open the address that downlock desk printed.")
		case r.Method != http.MethodGet && r.Method != http.MethodHead && r.Method != http.MethodPost:
			h.Set("Allow", "GET, HEAD, POST")
			refuse(w, http.StatusMethodNotAllowed, "The desk accepts GET, HEAD and POST.")
		case !g.sameOrigin(r):
			refuse(w, http.StatusForbidden, "This request comes from a page that is not the desk's, so it is refused.")
		case g.letIn(w, r):
		case !g.knows(r):
			refuse(w, http.StatusForbidden, "Open the address that downlock desk printed: it contains the token that signs this browser in. A desk that was started again has another token.")
		default:
			next.ServeHTTP(w, r)
		}
	})
}

// sameOrigin reports whether a request can be of the desk's own page.
func (g *guard) sameOrigin(r *http.Request) bool {
	reading := r.Method == http.MethodGet || r.Method == http.MethodHead
	if origin := r.Header["Origin"]; len(origin) > 0 || !reading {
		if len(origin) != 1 || origin[0] != g.scheme+"://"+strings.ToLower(r.Host) {
			return false
		}
	}
	site := r.Header.Get("Sec-Fetch-Site")
	return reading || site == "" || site == "same-origin"
}

// letIn gives a browser with the right token its cookie, and reports whether that was the
// answer.
func (g *guard) letIn(w http.ResponseWriter, r *http.Request) bool {
	if r.Method != http.MethodGet || r.URL.Path != "/" {
		return false
	}
	query := r.URL.Query()
	if !same(query.Get(tokenParameter), g.token) {
		return false
	}
	http.SetCookie(w, &http.Cookie{Name: g.name, Value: g.cookie, Path: "/", HttpOnly: true, SameSite: http.SameSiteStrictMode, Secure: g.scheme == "https"})
	query.Del(tokenParameter)
	http.Redirect(w, r, (&url.URL{Path: "/", RawQuery: query.Encode()}).String(), http.StatusSeeOther)
	return true
}

// knows reports whether the request has the cookie.
func (g *guard) knows(r *http.Request) bool {
	for _, c := range r.CookiesNamed(g.name) {
		if same(c.Value, g.cookie) {
			return true
		}
	}
	return false
}

// same compares in constant time; nothing is the same as an empty text.
func same(got, want string) bool {
	return want != "" && subtle.ConstantTimeCompare([]byte(got), []byte(want)) == 1
}
