package identity

import (
	"math"
	"path/filepath"
	"strings"
	"time"

	"downlock/ingest"
	"downlock/schemas"
)

// latitude and longitude are the parameters that say where a flight was.
const latitude, longitude = "latitude", "longitude"

// withheldNote is what a report says of a recording whose identity is withheld.
const withheldNote = "identity withheld: date, time of day and positions are left out, names and hashes are tokens, the size is rounded, and second 0 is the first second of the recording"

// Recording gives the recording as results may know it. Nothing of r changes;
// what is not withheld is shared with it.
//
// Times begin again at the recording's first second, since in an export with
// clock times they are the time of day. A whole number is taken off, which is
// exact in binary and leaves every interval as it was.
func (k *Key) Recording(r *ingest.Recording, input Input) *ingest.Recording {
	if k == nil {
		return r
	}
	out := *r
	shift := first(r)
	out.Name, out.SHA256, out.Bytes = filepath.Base(input.Shown), k.Sum(r.SHA256), k.Coarse(r.Bytes)
	out.Epoch = time.Time{}
	out.Start, out.End = r.Start-shift, r.End-shift
	out.Series = withheld(r.Series, shift)
	out.Alternatives = withheld(r.Alternatives, shift)
	out.Notes, out.Repairs, out.Later = nil, nil, nil
	for i, n := range r.Notes {
		if i == len(r.Repairs) {
			out.Notes = append(out.Notes, withheldNote)
		}
		out.Notes = append(out.Notes, input.Text(n))
	}
	if len(r.Notes) == len(r.Repairs) {
		out.Notes = append(out.Notes, withheldNote)
	}
	for _, n := range r.Repairs {
		out.Repairs = append(out.Repairs, input.Text(n))
	}
	for _, later := range r.Later {
		out.Later = append(out.Later, k.Recording(later, input))
	}
	return &out
}

// withheld gives the series that are no positions, that many seconds earlier.
func withheld(series []*ingest.Series, shift float64) (out []*ingest.Series) {
	for _, s := range series {
		if s.Parameter.Name != latitude && s.Parameter.Name != longitude {
			out = append(out, s.Shifted(-shift))
		}
	}
	return out
}

// first is the whole second the recording begins in.
func first(r *ingest.Recording) float64 { return math.Floor(r.Start) }

// Month returns the month a flight began in, such as 2031-05, which stays known where
// the date is withheld. It returns "" where nothing is withheld or r, the recording as
// it was read, has no date. start is in seconds on the axis of the result.
func (k *Key) Month(start float64, r *ingest.Recording) string {
	if k == nil || r.Epoch.IsZero() {
		return ""
	}
	start += first(r)
	if math.IsNaN(start) || math.Abs(start) > 1e9 {
		return ""
	}
	at := r.Epoch.UTC().Add(time.Duration(math.Round(start*1000)) * time.Millisecond)
	if year := at.Year(); year < 1 || year > 9999 {
		return ""
	}
	return at.Format("2006-01")
}

// Profile gives the profile as results may know it: the type of the aircraft
// stays, since it tells no aircraft by itself; file, hash, title and registration
// do not. It is for words alone: nothing is looked up in it.
func (k *Key) Profile(p *schemas.Profile) *schemas.Profile {
	if k == nil {
		return p
	}
	out := *p
	out.File, out.SHA256, out.Title, out.Note = k.Token(Profile, p.File), k.Sum(p.SHA256), p.Aircraft, ""
	out.Registration = k.Token(Aircraft, plainRegistration(p.Registration))
	return &out
}

// plainRegistration makes the spellings of a registration one, so that it has
// one token.
func plainRegistration(text string) string {
	return strings.ToUpper(strings.Join(strings.Fields(text), ""))
}

// Coarse rounds a size to two digits: the exact one tells a file from others.
func (k *Key) Coarse(n int64) int64 {
	if k == nil {
		return n
	}
	unit := int64(1)
	for n/unit >= 100 {
		unit *= 10
	}
	return (n + unit/2) / unit * unit
}
