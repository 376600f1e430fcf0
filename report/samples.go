package report

import (
	"bytes"
	"cmp"
	"encoding/base64"
	"encoding/binary"
	"math"
	"slices"
	"sort"
	"sync"

	"github.com/klauspost/compress/gzip"

	"downlock/detect"
	"downlock/ingest"
)

// SampleChoice says which samples a flight's page holds.
type SampleChoice string

const (
	AllSamples   SampleChoice = "all"
	EventSamples SampleChoice = "events" // those around the events
	NoSamples    SampleChoice = "none"
)

// aroundTrace (s) is how much further than its strips the samples around an event reach,
// so that there is something to zoom out to.
const aroundTrace = 60.0

// sampleWindows are the stretches of a flight whose samples its page holds, in order and
// apart from each other.
func sampleWindows(result *detect.Result, choice SampleChoice) []detect.Span {
	f := result.Flight
	switch choice {
	case NoSamples:
		return nil
	case AllSamples:
		return []detect.Span{f.Span}
	}
	var windows []detect.Span
	for _, e := range result.Events {
		at := traceSpan(e, f.Span)
		windows = append(windows, detect.Span{Start: max(at.Start-aroundTrace, f.Span.Start), End: min(at.End+aroundTrace, f.Span.End)})
	}
	slices.SortFunc(windows, func(a, b detect.Span) int { return cmp.Compare(a.Start, b.Start) })
	var joined []detect.Span
	for _, w := range windows {
		if n := len(joined); n > 0 && w.Start <= joined[n-1].End {
			joined[n-1].End = max(joined[n-1].End, w.End)
			continue
		}
		joined = append(joined, w)
	}
	return joined
}

// mostSamples bounds the samples in a page: 2 hours of 60 parameters have 655,000, the
// longest flight of a wide-body with 200 parameters some 15 million. A browser holds 16 bytes
// of each once unpacked.
const mostSamples = 20_000_000

// affordable are the windows of the choice if the page can hold their samples; else those
// of the events, or none.
func affordable(result *detect.Result, choice SampleChoice) []detect.Span {
	rec := result.Recording()
	total := 0
	for _, s := range slices.Concat(rec.Series, rec.Alternatives) {
		total += s.Len()
	}
	whole := max(rec.End-rec.Start, result.Flight.Span.Seconds(), 1)
	for _, c := range []SampleChoice{choice, EventSamples} {
		windows := sampleWindows(result, c)
		seconds := 0.0
		for _, w := range windows {
			seconds += w.Seconds()
		}
		if float64(total)*seconds/whole <= mostSamples {
			return windows
		}
	}
	return nil
}

// sampledPart describes one series of the packed samples.
type sampledPart struct {
	Name         string   `json:"name"`  // of the parameter; that of a further source has its column behind it
	Label        string   `json:"label"` // in words
	Unit         string   `json:"unit"`
	Column       string   `json:"column"`
	Kind         string   `json:"kind"` // continuous, step, discrete or state
	States       []string `json:"states,omitempty"`
	Gap          number   `json:"gap"`                     // s, a longer interval is one
	Accuracy     number   `json:"accuracy,omitempty"`      // ±, stated or estimated
	TimeAccuracy number   `json:"time_accuracy,omitempty"` // ± s
	Decimals     int      `json:"decimals"`
	Count        int      `json:"count"`
	Unused       bool     `json:"unused,omitempty"` // a check has taken it out
}

// packSamples describes the series of a recording and packs their samples in the windows,
// with the one before and the one after each. A number keeps its decimals, up to six; one
// that no decimal states, such as a converted one, keeps four.
//
// Packed, the samples are the gzip of a row of varints, written in base64. For each series
// there are first its times, in microseconds, as runs: a difference to the time before and
// how often it comes in a row; then its values: differences of numbers times ten to the
// decimals, or runs of codes. Signed varints are zigzag.
func packSamples(result *detect.Result, windows []detect.Span) ([]sampledPart, string) {
	rec := result.Recording()
	accuracies := map[string]float64{}
	for _, p := range result.Tracks.Recorded() {
		accuracies[p.Parameter.Name] = p.Accuracy
	}
	var parts []sampledPart
	var stream []byte
	add := func(s *ingest.Series, name, label string, unused bool) {
		part := sampledPart{Name: clean(name), Label: clean(label), Unit: clean(shownUnit(s.Parameter.Unit)), Column: clean(s.Column),
			Kind: string(s.Parameter.Kind), States: cleanAll(s.Parameter.States), Gap: finite(s.Gap, 0), Unused: unused,
			Accuracy: finite(cmp.Or(s.Accuracy, accuracies[name]), 0), TimeAccuracy: finite(s.TimeAccuracy, 0)}
		times := s.TimeValues()
		chosen := chosenSamples(times, windows)
		part.Count = chosen.count()
		stream = appendTimes(stream, times, chosen)
		if s.Parameter.Numeric() {
			numbers := s.Numbers()
			part.Decimals = statedDecimals(numbers, chosen)
			stream = appendNumbers(stream, numbers, chosen, part.Decimals)
		} else {
			stream = appendCodes(stream, s.Codes(), chosen)
		}
		parts = append(parts, part)
	}
	for _, s := range rec.Series {
		add(s, s.Parameter.Name, words(s.Parameter.Name), !result.Tracks.Has(s.Parameter.Name))
	}
	for i, s := range rec.Alternatives {
		add(s, s.Parameter.Name+"/"+decimals(float64(i), 0), words(s.Parameter.Name)+" ("+s.Column+")", true)
	}
	return parts, base64.StdEncoding.EncodeToString(compressed(stream))
}

// samplesLevel takes a quarter of the time of the best compression, for 3 % more bytes.
const samplesLevel = 6

// writers of gzip are used again: each has more than a megabyte of tables.
var writers = sync.Pool{New: func() any {
	zip, _ := gzip.NewWriterLevel(nil, samplesLevel) // one of gzip's
	return zip
}}

// compressed is the gzip of a stream.
func compressed(stream []byte) []byte {
	packed := bytes.NewBuffer(make([]byte, 0, len(stream)/2))
	zip := writers.Get().(*gzip.Writer)
	defer writers.Put(zip)
	zip.Reset(packed)
	_, _ = zip.Write(stream) // a bytes.Buffer takes every write
	_ = zip.Close()
	return packed.Bytes()
}

// places are stretches of places in a series, each from the first up to before the second.
type places [][2]int

// count is how many they are.
func (p places) count() (n int) {
	for _, r := range p {
		n += r[1] - r[0]
	}
	return n
}

// chosenSamples lists the places of the samples in the windows, and the ones next to them.
func chosenSamples(times []float64, windows []detect.Span) (chosen places) {
	next := 0
	for _, w := range windows {
		from := sort.SearchFloat64s(times, w.Start)
		to := sort.Search(len(times), func(i int) bool { return times[i] > w.End })
		from, to = max(next, from-1), min(to+1, len(times))
		if from < to {
			chosen, next = append(chosen, [2]int{from, to}), to
		}
	}
	return chosen
}

// appendTimes appends runs of equal differences: the difference in microseconds, and its
// length.
func appendTimes(stream []byte, times []float64, chosen places) []byte {
	before, difference, length := int64(0), int64(0), uint64(0)
	for _, r := range chosen {
		for _, t := range times[r[0]:r[1]] {
			at := int64(math.Round(t * 1e6))
			if d := at - before; length > 0 && d != difference {
				stream = binary.AppendUvarint(binary.AppendVarint(stream, difference), length)
				difference, length = d, 1
			} else {
				difference, length = d, length+1
			}
			before = at
		}
	}
	if length > 0 {
		stream = binary.AppendUvarint(binary.AppendVarint(stream, difference), length)
	}
	return stream
}

// Decimals of numbers: most that are tried, and those of numbers which none of them states.
const (
	mostDecimals  = 6
	otherDecimals = 4
)

// statedDecimals is the least number of decimals that states every chosen number.
func statedDecimals(numbers []float64, chosen places) int {
	n, factor := 0, 1.0
	for _, r := range chosen {
		for _, v := range numbers[r[0]:r[1]] {
			for {
				scaled := v * factor
				if math.Abs(scaled-math.Round(scaled)) <= 1e-9*max(1, math.Abs(scaled)) {
					break
				}
				if n++; n > mostDecimals {
					return otherDecimals
				}
				factor = math.Pow10(n)
			}
		}
	}
	return n
}

func appendNumbers(stream []byte, numbers []float64, chosen places, decimals int) []byte {
	before, factor := int64(0), math.Pow10(decimals)
	for _, r := range chosen {
		for _, v := range numbers[r[0]:r[1]] {
			at := int64(math.Round(min(max(v, -1e12), 1e12) * factor))
			stream = binary.AppendVarint(stream, at-before)
			before = at
		}
	}
	return stream
}

// appendCodes appends runs: a code and its length.
func appendCodes(stream []byte, codes []uint8, chosen places) []byte {
	code, length := uint8(0), uint64(0)
	for _, r := range chosen {
		for _, c := range codes[r[0]:r[1]] {
			if length > 0 && c != code {
				stream = binary.AppendUvarint(binary.AppendUvarint(stream, uint64(code)), length)
				length = 0
			}
			code, length = c, length+1
		}
	}
	if length > 0 {
		stream = binary.AppendUvarint(binary.AppendUvarint(stream, uint64(code)), length)
	}
	return stream
}
