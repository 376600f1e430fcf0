package columns

import (
	"math"
	"strconv"
	"time"

	"downlock/detect"
	"downlock/detect/readings"
	"downlock/detect/samples"
	"downlock/ingest"
	"downlock/ingest/accuracy"
	"downlock/schemas"
)

// source is one source of a parameter in one stretch.
type source struct {
	ranked
	recording  *ingest.Recording
	understood *detect.Understood
	distrusted string // the reason why no rule uses any of it
}

func newSource(s ranked, r *ingest.Recording, u *detect.Understood) source {
	out := source{ranked: s, recording: r, understood: u}
	out.distrusted, _ = u.Samples.Distrusted(s.Parameter.Name)
	return out
}

// excursion is the reason why a radio altitude is not used for a while.
const excursion = "jumps while the pressure altitude does not"

// line is a continuous parameter as rules use it, without the samples that are taken
// out; nil for others and for those of another source.
func (s *source) line() *readings.Line {
	if s.Parameter.Kind != schemas.Continuous || s.Len() == 0 {
		return nil
	}
	if s.rank == 1 && s.distrusted == "" {
		return s.understood.Samples.Line(s.Parameter.Name)
	}
	return &readings.Line{Sampling: samples.Sampling(s.Series), Values: s.Numbers(), Accuracy: s.Accuracy}
}

// state states the source; its accuracy is estimated where the profile states none.
func (s *source) state() schemas.CanonicalParameter {
	p := s.Parameter
	out := schemas.CanonicalParameter{Parameter: p.Name, SourceRank: s.rank, Kind: p.Kind, Unit: p.Unit, States: p.States, Meaning: p.Meaning,
		Column: s.Column, Samples: s.Len(), IntervalS: s.Interval, LongestS: s.Longest, GapS: s.Gap, TimeAccuracyS: s.TimeAccuracy,
		OutOfRange: s.Dropped.Range, Spikes: s.Dropped.Spike, Invalid: s.Dropped.Token, Distrusted: s.distrusted}
	if s.Accuracy > 0 {
		out.Accuracy, out.AccuracyIs = s.Accuracy, schemas.AccuracyStated
		return out
	}
	if line := s.line(); line != nil {
		if e := accuracy.Of(line.Times, line.Values, line.Gap); e.Accuracy() > 0 {
			out.Accuracy, out.AccuracyIs, out.Evidence = e.Accuracy(), schemas.AccuracyEstimated, e.Evidence(p.Unit)
		}
	}
	return out
}

// write writes the samples of the source.
func (s *source) write(to sink) error {
	times, numbers, codes := s.TimeValues(), s.Numbers(), s.Codes()
	used, margins := s.line(), []float64(nil)
	if used != nil && s.Accuracy == 0 {
		margins = accuracy.Margins(used.Times, used.Values, used.Gap)
	}
	rows := make([]schemas.CanonicalRow, 0, min(len(times), rowsAtOnce))
	flight, next := 0, 0 // the flight at hand, the next sample that is used
	for i, at := range times {
		row := schemas.CanonicalRow{Stretch: int32(s.recording.Stretch + 1), Parameter: s.Parameter.Name, SourceRank: int32(s.rank),
			Unit: s.Parameter.Unit, TimeS: at, TimeUTC: s.utc(at), Accuracy: s.Accuracy, Distrusted: s.distrusted}
		row.Flight, flight = s.flightAt(at, flight)
		if numbers != nil {
			row.Value = numbers[i]
		} else {
			row.Value, row.State = float64(codes[i]), s.stateText(codes[i])
		}
		switch isUsed := used != nil && next < len(used.Times) && used.Times[next] == at; {
		case isUsed && margins != nil:
			row.Accuracy = margins[next]
			next++
		case isUsed:
			next++
		case used != nil:
			row.Distrusted = excursion
		}
		switch {
		case row.Accuracy == 0:
		case margins != nil:
			row.AccuracyIs = schemas.AccuracyEstimated
		default:
			row.AccuracyIs = schemas.AccuracyStated
		}
		if rows = append(rows, row); len(rows) == rowsAtOnce {
			if err := to.write(rows); err != nil {
				return err
			}
			rows = rows[:0]
		}
	}
	return to.write(rows)
}

// stateText is a discrete or a state in words.
func (s *source) stateText(code uint8) string {
	if s.Parameter.Kind == schemas.Discrete {
		return strconv.FormatBool(code == 1)
	}
	return s.Parameter.States[code]
}

// flightAt returns the number of the flight at a time, 0 for none, and the place to
// begin from for the next time.
func (s *source) flightAt(at float64, from int) (number int32, next int) {
	flights := s.understood.Flights
	for from < len(flights) && flights[from].Span.End < at {
		from++
	}
	if from < len(flights) && flights[from].Span.Start <= at {
		return int32(flights[from].Number), from
	}
	return 0, from
}

// utc is the time of day at t seconds to the microsecond, the zero time without a date.
func (s *source) utc(t float64) time.Time {
	if s.recording.Epoch.IsZero() || math.Abs(t) > 1e9 {
		return time.Time{}
	}
	whole, part := math.Modf(t)
	at := s.recording.Epoch.UTC().Add(time.Duration(whole)*time.Second + time.Duration(math.Round(part*1e6))*time.Microsecond)
	if at.Year() < 1 || at.Year() > 9999 {
		return time.Time{}
	}
	return at.Truncate(time.Microsecond)
}
