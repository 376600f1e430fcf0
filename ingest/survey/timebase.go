package survey

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"downlock/ingest"
	"downlock/schemas"
)

// TimeBase describes the time of the rows.
type TimeBase struct {
	Column string `json:"column"`
	Form   string `json:"form"` // seconds, clock, date and time
	Unit   string `json:"unit,omitempty"`
	Date   string `json:"date,omitempty"`
	Clock  string `json:"clock,omitempty"`
	// DateFormat is the form of the dates, "" for the usual forms. DateFormats are the
	// choices where the data leave the form open, and Undated is their column.
	DateFormat  string   `json:"date_format,omitempty"`
	DateFormats []string `json:"date_formats,omitempty"`
	Undated     string   `json:"undated,omitempty"`
	Parameter   string   `json:"parameter,omitempty"` // of a long export
	Value       string   `json:"value,omitempty"`
	Evidence    []string `json:"evidence"`
	// UTC names the parameters of the clock of an export without a time column.
	UTC   schemas.UTCParameters `json:"-"`
	Doubt string                `json:"doubt,omitempty"`

	Rows      int     `json:"rows"`
	Start     float64 `json:"start"`    // s
	End       float64 `json:"end"`      // s
	Interval  float64 `json:"interval"` // usual time between rows, s
	Gaps      int     `json:"gaps"`     // longer than three usual intervals
	Longest   []Gap   `json:"longest_gaps"`
	Jumps     int     `json:"jumps"` // gaps of ten minutes and more
	StepsBack int     `json:"steps_back"`
	Repeats   int     `json:"repeats"` // rows with the same time as the row before
	Midnights int     `json:"midnights"`
}

// Gap is a stretch without samples.
type Gap struct {
	Start  float64 `json:"start"`  // s, of the sample before it
	Length float64 `json:"length"` // s
}

// slowRows (s) is the least interval of rows within which the order of samples matters.
const slowRows = 0.5

// oneTimeARow reports whether the columns of slow rows all have their samples at the times
// of the rows, as a tool writes them that drops the places of the words in the frame.
func (s *Survey) oneTimeARow() bool {
	if s.Time.Long() || s.Time.Column == "" || s.Time.Interval < slowRows || len(s.Columns) < 4 {
		return false
	}
	return !slices.ContainsFunc(s.Columns, func(c Column) bool {
		return c.Samples > 0 && math.Abs(c.Interval-s.Time.Interval) < 0.01*s.Time.Interval && c.Blank > 0.05
	}) && slices.ContainsFunc(s.Columns, func(c Column) bool { return c.Samples > 0 && c.Blank < 0.05 })
}

const (
	gapIntervals = 3   // usual intervals allowed between samples, as in ingest
	jumpSeconds  = 600 // s; a recorder that was off, or a clock that was set
	longestKept  = 5
	// intervalsKept bounds the different intervals kept, to a millisecond each; later
	// ones count to two digits.
	intervalsKept = 1000
)

// timeTally counts the times of rows or of one column's samples as they pass.
type timeTally struct {
	count       int
	first, last float64
	low, high   float64
	back        int
	repeats     int
	midnights   int
	intervals   map[int64]int // ms, or rounded to two digits: number of times
	offsets     map[int64]int // time within a second in ms: number of times
	longest     []Gap         // the longest intervals, longest first
}

func (t *timeTally) add(at float64) {
	if t.count == 0 {
		t.first, t.low, t.high = at, at, at
		t.intervals, t.offsets = map[int64]int{}, map[int64]int{}
	}
	t.low, t.high = min(t.low, at), max(t.high, at)
	t.offsets[int64(math.Round((at-math.Floor(at))*1000))%1000]++
	if t.count > 0 {
		t.interval(at)
	}
	t.count++
	t.last = at
}

func (t *timeTally) interval(at float64) {
	const day = 86400
	switch between := at - t.last; {
	case between < 0:
		t.back++
	case between == 0:
		t.repeats++
	default:
		ms := int64(math.Round(min(between, 1e12) * 1000))
		if _, known := t.intervals[ms]; !known && len(t.intervals) >= intervalsKept {
			digits := math.Pow(10, math.Floor(math.Log10(float64(max(ms, 1))))-1)
			ms = int64(math.Round(float64(ms)/digits) * digits)
		}
		t.intervals[ms]++
		if math.Floor(at/day) > math.Floor(t.last/day) {
			t.midnights++
		}
		t.keepLongest(Gap{t.last, between})
	}
}

func (t *timeTally) keepLongest(g Gap) {
	if len(t.longest) == longestKept && g.Length <= t.longest[longestKept-1].Length {
		return
	}
	i, _ := slices.BinarySearchFunc(t.longest, g, func(a, b Gap) int { return cmp.Compare(b.Length, a.Length) })
	for i < len(t.longest) && t.longest[i].Length == g.Length {
		i++
	}
	t.longest = slices.Insert(t.longest, i, g)
	t.longest = t.longest[:min(len(t.longest), longestKept)]
}

// usual returns the median interval in seconds, or 0 when there is none.
func (t *timeTally) usual() float64 {
	total := 0
	var lengths []int64
	for ms, n := range t.intervals {
		total += n
		lengths = append(lengths, ms)
	}
	slices.Sort(lengths)
	sum := 0
	for _, ms := range lengths {
		if sum += t.intervals[ms]; 2*sum > total {
			return float64(ms) / 1000
		}
	}
	return 0
}

// longer counts the intervals of more than so many seconds.
func (t *timeTally) longer(seconds float64) (n int) {
	for ms, count := range t.intervals {
		if float64(ms)/1000 > seconds {
			n += count
		}
	}
	return n
}

func (t *timeTally) gaps(usual float64) []Gap {
	out := []Gap{}
	for _, g := range t.longest {
		if g.Length > gapIntervals*usual+0.0005 {
			out = append(out, Gap{rounded(g.Start), rounded(g.Length)})
		}
	}
	return out
}

// offset returns the usual time of a sample within its interval in s, or within a
// second, where the interval does not divide one. For a slow column it is the time of
// the first sample.
func (t *timeTally) offset(usual float64) float64 {
	if usual > 1 {
		return math.Round(math.Mod(t.first, usual)*1000) / 1000
	}
	period := int64(math.Round(usual * 1000))
	if period <= 0 || period > 1000 || 1000%period != 0 {
		period = 1000
	}
	within := map[int64]int{}
	for ms, n := range t.offsets {
		within[ms%period] += n
	}
	best, most := int64(0), 0
	for ms, n := range within {
		if n > most || n == most && ms < best {
			best, most = ms, n
		}
	}
	return float64(best) / 1000
}

func newTimeBase(found ingest.RawTime, t *timeTally) TimeBase {
	usual := t.usual()
	b := TimeBase{
		Column: found.Column, Form: found.Form, Unit: found.Unit, Date: found.Date, Clock: found.Clock,
		Parameter: found.Long.Parameter, Value: found.Long.Value, Evidence: append([]string{}, found.Evidence...), Doubt: found.Doubt, UTC: found.UTC,
		DateFormat: found.DateFormat, DateFormats: found.DateFormats, Undated: found.Undated,
		Rows: t.count, Start: rounded(t.low), End: rounded(t.high), Interval: usual,
		Gaps: t.longer(gapIntervals*usual + 0.0005), Longest: t.gaps(usual), Jumps: t.longer(jumpSeconds),
		StepsBack: t.back, Repeats: t.repeats,
	}
	if found.Form == "clock" || found.Form == "date and time" {
		b.Midnights = t.midnights
	}
	return b
}

// Long reports whether the export has a row per sample.
func (b TimeBase) Long() bool { return b.Parameter != "" }

// Seconds returns the duration of the recording.
func (b TimeBase) Seconds() float64 { return b.End - b.Start }

// RateText writes the usual interval of a column as a rate: 4 per s, 1 in 4 s.
func (c Column) RateText() string {
	switch {
	case c.Samples == 0:
		return "–"
	case c.Interval <= 0:
		return "once"
	case c.Interval <= 1:
		return fmt.Sprintf("%s per s", short(1/c.Interval))
	}
	return fmt.Sprintf("1 in %s s", short(c.Interval))
}
