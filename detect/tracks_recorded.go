package detect

import (
	"downlock/detect/readings"
	"downlock/detect/samples"
	"downlock/ingest"
	"downlock/schemas"
)

// Recorded says how well a parameter was recorded in one flight.
type Recorded struct {
	Parameter schemas.Parameter
	Column    string  // the export's name of it
	Samples   int     // in the flight
	Interval  float64 // s, the usual one
	Accuracy  float64 // ±, in the parameter's unit; 0 where none is stated or estimated
	// Estimated says in plain words how an accuracy was estimated, "" for one that
	// is stated. None is estimated where nothing was compared with the parameter.
	Estimated string
	// Gaps are the stretches of the flight, its ends included, without samples for
	// longer than the parameter allows.
	Gaps readings.Spans
	// Dropped counts over the whole recording: a dropped sample has no place.
	Dropped ingest.Dropped
}

// Recorded lists every parameter of the flight, in vocabulary order, those a
// check has taken out included.
func (t *Tracks) Recorded() []Recorded {
	if t.recorded == nil {
		t.recorded = t.listRecorded()
	}
	return t.recorded
}

func (t *Tracks) listRecorded() []Recorded {
	f := t.flight
	out := make([]Recorded, len(f.Recording.Series))
	for i, s := range f.Recording.Series {
		at := samples.Sampling(s)
		from, to := at.Within(f.Span)
		out[i] = Recorded{s.Parameter, s.Column, to - from, s.Interval, s.Accuracy, "", at.Gaps(f.Span), s.Dropped}
		if e, ok := f.signals.Estimate(s.Parameter, f.Span); ok && s.Accuracy == 0 {
			out[i].Accuracy, out[i].Estimated = e.Accuracy(), e.Evidence(unitWord(s.Parameter))
		}
	}
	return out
}

// Has says whether a parameter was recorded and no check has taken it out.
func (t *Tracks) Has(name string) bool { return t.flight.signals.Has(name) }

// Samples returns the samples of a recorded parameter within a span of seconds:
// their times, and the values of a number. Height has those it rests on.
func (t *Tracks) Samples(name string, within Span) (times, values []float64) {
	if name == heightName {
		return t.flight.height.Samples(readings.Spans{within})
	}
	at, values := t.flight.signals.Samples(name)
	from, to := at.Within(within)
	if values != nil {
		values = values[from:to]
	}
	return at.Times[from:to], values
}

// HasHeight says whether the height rests on a sample of the flight.
func (t *Tracks) HasHeight() bool { return t.flight.height.HasSamples(readings.Spans{t.flight.Span}) }

// unitWord is the unit of a parameter, "" for a pure number.
func unitWord(p schemas.Parameter) string {
	if p.Unit == "1" {
		return ""
	}
	return p.Unit
}

// HeightReferences are the times, in seconds, at which the height begins to be measured
// from another aerodrome: the highest point of each stay in the air.
func (t *Tracks) HeightReferences() (times []float64) {
	parts := t.flight.height // in the order of time, but for radio altitude, which comes first
	if len(parts) > 0 && parts[0].Shift == 0 && t.Has("radio_altitude") {
		parts = parts[1:]
	}
	for i, p := range parts {
		if i > 0 && p.Shift != parts[i-1].Shift {
			times = append(times, p.Where[0].Start)
		}
	}
	return times
}
