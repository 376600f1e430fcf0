package desk

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"os"
	"path"
	"regexp"

	"downlock/report"
)

// reportPolicy is the content security policy of a report. It shows what its own policy
// allows, its script included, in an origin of its own: a report that somebody has
// written by hand reaches neither the cookie nor a verdict.
const reportPolicy = "sandbox allow-scripts allow-downloads; default-src 'none'; style-src 'unsafe-inline'; script-src 'unsafe-inline'; img-src data: blob:; frame-ancestors 'self'"

// maxReport bounds a stored report. A usual one has 1 MB.
const maxReport = 32 << 20

// report answers with the report of the flight of an event: made again from the recording
// where that is possible, else the stored one, else the reason.
func (d *Desk) report(w http.ResponseWriter, r *http.Request) {
	f, err := d.find(d.view(), r.PathValue("event"))
	if err != nil {
		d.failed(w, err)
		return
	}
	if f == nil || f.flight.FlightID == "" {
		d.refuse(w, http.StatusNotFound, "The archive has no such event.")
		return
	}
	w.Header().Set("Content-Security-Policy", reportPolicy)
	page, why := d.makeReport(r.Context(), f)
	if page == nil {
		var stored error
		if page, stored = d.storedReport(f); stored != nil {
			d.refuse(w, http.StatusNotFound, fmt.Sprintf("There is no report of this flight: %v; and %v.", why, stored))
			return
		}
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.Write(outward.ReplaceAll(page, nil))
}

// outward are the links of a report to the pages beside it, which lead nowhere here. The
// policy of a report lets none lead to the worklist.
var outward = regexp.MustCompile(`<a href="\.\./[^"]*"[^>]*>[^<]*</a>`)

// makeReport makes one report at a time: a long recording takes seconds and some hundred
// MiB.
func (d *Desk) makeReport(ctx context.Context, f *found) ([]byte, error) {
	if d.Make == nil {
		return nil, errors.New("this desk makes no reports from recordings")
	}
	select {
	case d.making <- struct{}{}:
	case <-ctx.Done():
		return nil, ctx.Err()
	}
	defer func() { <-d.making }()
	return d.Make(ctx, f.flight.Recording, int(f.flight.Number))
}

// storedReport reads the report of a flight below the folder of reports; no link leads
// out of it.
func (d *Desk) storedReport(f *found) ([]byte, error) {
	if d.Reports == "" {
		return nil, errors.New("no folder of reports was given with --reports")
	}
	root, err := os.OpenRoot(d.Reports)
	if err != nil {
		return nil, errors.New("the folder of reports cannot be opened")
	}
	defer root.Close()
	for _, folder := range report.FlightFolders(f.flight.RecordingName, f.flight.Recording, int(f.flight.Number)) {
		var about struct {
			Flight struct {
				ID string `json:"id"`
			} `json:"flight"`
		}
		text, err := readBelow(root, path.Join(folder, report.FlightData))
		if err != nil || json.Unmarshal(text, &about) != nil || about.Flight.ID != f.flight.FlightID {
			continue // of another recording of that name
		}
		if page, err := readBelow(root, path.Join(folder, report.FlightPage)); err == nil {
			return page, nil
		}
	}
	return nil, errors.New("the folder of reports has no report of it")
}

func readBelow(root *os.Root, name string) ([]byte, error) {
	file, err := root.Open(name)
	if err != nil {
		return nil, err
	}
	defer file.Close()
	info, err := file.Stat()
	if err != nil {
		return nil, err
	}
	if !info.Mode().IsRegular() {
		return nil, errors.New("it is not a file")
	}
	text, err := io.ReadAll(io.LimitReader(file, maxReport+1))
	if err == nil && len(text) > maxReport {
		err = errors.New("it is too long")
	}
	return text, err
}
