package identity

import (
	"math"
	"path/filepath"
	"strings"
	"time"

	"downlock/ingest"
	"downlock/schemas"
)

// latitude and longitude are the parameters that tell the place of a flight.
const latitude, longitude = "latitude", "longitude"

// withheldNote is the note in a report of a recording whose identity is withheld.
const withheldNote = "identity withheld: date, time of day and positions are left out, names and hashes are tokens, the size is rounded, and second 0 is the first second of the recording"

// Recording returns the recording for results, without identity. It does not change r;
// the two share all data that is not withheld.
//
// Times restart at the recording's first second, since in an export with clock times
// they are the time of day. A whole number is subtracted, which is exact in binary and
// keeps every interval.
func (k *Key) Recording(r *ingest.Recording, input Input) *ingest.Recording {
	if k == nil {
		return r
	}
	out := *r
	shift := first(r)
	out.Name, out.Bytes = filepath.Base(input.Shown), k.Coarse(r.Bytes)
	out.SHA256, out.Unpacked = k.Sum(r.SHA256), k.Sum(r.Unpacked)
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

// withheld returns the series without positions, shifted so many seconds earlier.
func withheld(series []*ingest.Series, shift float64) (out []*ingest.Series) {
	for _, s := range series {
		if s.Parameter.Name != latitude && s.Parameter.Name != longitude {
			out = append(out, s.Shifted(-shift))
		}
	}
	return out
}

// first returns the whole second in which the recording begins.
func first(r *ingest.Recording) float64 { return math.Floor(r.Start) }

// Month returns the month in which a flight began, such as 2031-05, which stays known
// where the date is withheld. It returns "" where nothing is withheld or r, the
// recording as it was read, has no date. start is in seconds on the axis of the
// result.
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

// Profile returns the profile for results, without file, hash, sheet, title and registration,
// and without the meanings of its own parameters.
// It keeps the type of the aircraft, which identifies no aircraft by itself. Results
// take only words from it; detection uses the whole profile.
func (k *Key) Profile(p *schemas.Profile) *schemas.Profile {
	if k == nil {
		return p
	}
	out := *p
	out.File, out.SHA256, out.Title, out.Note = k.Token(Profile, p.File), k.Sum(p.SHA256), p.Aircraft, ""
	out.Sheet, out.Own = "", nil
	for _, own := range p.Own {
		own.Meaning = "" // words of whoever wrote the profile
		out.Own = append(out.Own, own)
	}
	out.Registration = k.Token(Aircraft, plainRegistration(p.Registration))
	return &out
}

// plainRegistration returns one spelling of a registration for all its spellings, so
// that it has one token.
func plainRegistration(text string) string {
	return strings.ToUpper(strings.Join(strings.Fields(text), ""))
}

// Coarse rounds a size to two digits, since an exact size can identify a file.
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
