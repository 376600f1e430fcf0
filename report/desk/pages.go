package desk

import (
	"bytes"
	"embed"
	"encoding/json"
	"html/template"
	"net/http"
	"strconv"
	"sync"

	"downlock/report"
)

//go:embed templates
var files embed.FS

// templates are compiled in, and a test renders them.
var templates = sync.OnceValues(func() (*template.Template, error) {
	return template.New("").Funcs(template.FuncMap{
		"counted": counted,
		"pair":    func(name, value string) choice { return choice{name, value} },
		"rest":    func(height int) int { return 100 - height },
		"one":     func(x float64) string { return strconv.FormatFloat(x, 'f', 1, 64) },
		"whole":   func(x float64) string { return strconv.FormatFloat(x, 'f', 0, 64) },
	}).ParseFS(files, "templates/*.html")
})

func render(name string, data any) ([]byte, error) {
	all, err := templates()
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	err = all.ExecuteTemplate(&b, name, data)
	return b.Bytes(), err
}

func (d *Desk) style(w http.ResponseWriter, r *http.Request) {
	style, err := report.Style()
	own, err2 := files.ReadFile("templates/desk.css")
	if err != nil || err2 != nil {
		http.NotFound(w, r)
		return
	}
	w.Header().Set("Content-Type", "text/css; charset=utf-8")
	w.Write(append([]byte(style), own...))
}

func (d *Desk) script(w http.ResponseWriter, r *http.Request) {
	text, err := files.ReadFile("templates/desk.js")
	if err != nil {
		http.NotFound(w, r)
		return
	}
	w.Header().Set("Content-Type", "text/javascript; charset=utf-8")
	w.Write(text)
}

func jsonOf(value any) []byte {
	text, err := json.Marshal(value)
	if err != nil { // texts and numbers alone, which all have a JSON form
		return []byte("{}")
	}
	return text
}
