package review

import (
	"bytes"
	"context"
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"os/signal"
	"sort"
	"strconv"
	"strings"
	"syscall"
	"time"

	"downlock/cmd/downlock/command"
	"downlock/cmd/downlock/scan"
	"downlock/ingest"
	"downlock/report"
	"downlock/report/archive"
	"downlock/schemas"
)

// clip writes the samples around an event, from the recording that the ledger names.
func (o *reviewOptions) clip(id string, stdout io.Writer, say command.Messages) int {
	withheld, err := archive.Withheld(o.archive)
	if err != nil {
		say.Failure(err)
		return command.ExitOutput
	}
	if withheld != "" {
		say.Error(o.archive + ": identity is withheld in this archive: it has no samples and names no recording")
		say.Hint("the reports written with it have the samples around each event")
		return command.ExitUsage
	}
	found, code := o.find(id, say)
	if found == nil {
		return code
	}
	again, code := scan.NewAgain(scan.AgainOptions{Archive: o.archive, Profile: o.profile, Fleet: o.fleet, Rules: o.rules}, say)
	if again == nil {
		return code
	}
	stop, cancel := signal.NotifyContext(context.Background(), syscall.SIGINT, syscall.SIGTERM)
	defer cancel()
	recording, err := again.Flight(stop, found.event.Recording, found.event.FlightID)
	if err != nil {
		say.Error(fmt.Sprintf("%s: the samples cannot be read: %v", id, err))
		say.Hint("put the file back where it was, or scan it where it is now; use --profile or --fleet to give the profile it was scanned with")
		return command.ExitInputsFailed
	}
	text, rows := clipped(recording, found, o.around)
	if o.csv == "-" {
		_, err = stdout.Write(text)
	} else {
		err = command.WriteWhole(o.csv, text, o.share)
	}
	if err != nil {
		say.Failure(err)
		return command.ExitOutput
	}
	say.Note(fmt.Sprintf("%s of %s", command.Count(rows, "sample"), id))
	return command.ExitDone
}

// clipped lists the samples of all parameters from so many seconds before an event to as
// many after it, in the form in which a report's page saves them. Values are those of the
// recording in the canonical unit, none between samples.
func clipped(r *ingest.Recording, found *foundEvent, around float64) (text []byte, rows int) {
	e := &found.event
	from, to := e.StartS-around, max(e.EndS, e.StartS)+around
	var out bytes.Buffer
	w := csv.NewWriter(&out)
	w.UseCRLF = true
	w.Write([]string{"time_s", "time_utc", "parameter", "value", "unit", "recording", "flight", schemas.CautionColumn})
	recording, flight := report.Guard(report.Clean(found.flight.RecordingName)), strconv.Itoa(int(found.flight.Number))
	one := func(s *ingest.Series, name string) {
		times := s.TimeValues()
		first := sort.SearchFloat64s(times, from)
		var numbers []float64
		var codes []uint8
		unit := ""
		if s.Parameter.Numeric() {
			numbers, unit = s.Numbers(), strings.TrimPrefix(s.Parameter.Unit, "1")
		} else {
			codes = s.Codes()
		}
		for i := first; i < len(times) && times[i] <= to; i++ {
			value := ""
			if numbers != nil {
				value = strconv.FormatFloat(numbers[i], 'f', -1, 64)
			} else {
				value = stateOf(s.Parameter, codes[i])
			}
			w.Write([]string{trimmed(times[i], 6), utcOf(r.Epoch, times[i]), report.Guard(report.Clean(name)), value, unit, recording, flight, schemas.Caution})
			rows++
		}
	}
	for _, s := range r.Series {
		one(s, s.Parameter.Name)
	}
	for i, s := range r.Alternatives { // as the page names further sources
		one(s, s.Parameter.Name+"/"+strconv.Itoa(i))
	}
	w.Flush()
	return out.Bytes(), rows
}

func stateOf(p schemas.Parameter, code uint8) string {
	if int(code) < len(p.States) {
		return report.Guard(report.Clean(p.States[code]))
	}
	return strconv.FormatBool(code != 0)
}

func utcOf(epoch time.Time, t float64) string {
	if epoch.IsZero() {
		return ""
	}
	return epoch.Add(time.Duration(math.Round(t*1000)) * time.Millisecond).UTC().Format("2006-01-02T15:04:05.000Z")
}

// trimmed writes a number with at most so many decimals.
func trimmed(x float64, places int) string {
	text := strings.TrimRight(strconv.FormatFloat(x, 'f', places, 64), "0")
	return strings.TrimSuffix(text, ".")
}
