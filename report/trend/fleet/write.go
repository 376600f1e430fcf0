package fleet

import (
	"cmp"
	"errors"
	"fmt"
	"hash/fnv"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"sync"
	"time"

	"github.com/parquet-go/parquet-go"

	"downlock/detect"
	pages "downlock/ingest/parquet"
	"downlock/schemas"
)

// Write makes the tables of an archive in dir.
func (f Fleet) Write(dir string) error {
	rules, err := f.rules()
	if err != nil {
		return err
	}
	errs := make([]error, f.Months)
	var wait sync.WaitGroup
	next := make(chan int)
	for range runtime.GOMAXPROCS(0) {
		wait.Go(func() {
			for i := range next {
				errs[i] = f.writeMonth(dir, i, rules)
			}
		})
	}
	for i := range f.Months {
		next <- i
	}
	close(next)
	wait.Wait()
	return errors.Join(errs...)
}

// output is the part of one table; its zero value is not ready.
type output[T any] struct {
	file   *os.File
	writer *parquet.GenericWriter[T]
	rows   []T
	err    error
}

// newOutput begins a part, with the settings of package archive's writer.
func newOutput[T any](dir, table, month string) *output[T] {
	o := &output[T]{}
	folder := filepath.Join(dir, "tables", table, "month="+month)
	if o.err = os.MkdirAll(folder, 0o777); o.err != nil {
		return o
	}
	if o.file, o.err = os.Create(filepath.Join(folder, "part.parquet")); o.err != nil {
		return o
	}
	o.writer = parquet.NewGenericWriter[T](o.file, parquet.CreatedBy("downlock", "", ""),
		parquet.KeyValueMetadata("downlock.table_version", strconv.Itoa(schemas.TableVersions[table])),
		parquet.Compression(pages.Zstd), parquet.DataPageVersion(2), parquet.PageBufferSize(256<<10), parquet.MaxRowsPerRowGroup(100_000))
	return o
}

func (o *output[T]) add(row T) {
	o.rows = append(o.rows, row)
	if len(o.rows) == 4096 {
		o.flush()
	}
}

func (o *output[T]) flush() {
	if o.err == nil {
		_, o.err = o.writer.Write(o.rows)
	}
	o.rows = o.rows[:0]
}

func (o *output[T]) close() error {
	o.flush()
	if o.writer != nil {
		o.err = errors.Join(o.err, o.writer.Close(), o.file.Close())
	}
	return o.err
}

// monthWriter writes the flights of one month into the five tables.
type monthWriter struct {
	Fleet
	month        int
	rates        []float64
	rules        []*detect.Rule
	source       *rand.Rand
	found        []schemas.EventRow // of the flight that is written
	flights      *output[schemas.FlightRow]
	events       *output[schemas.EventRow]
	evaluations  *output[schemas.EvaluationRow]
	measurements *output[schemas.MeasurementRow]
	audits       *output[schemas.AuditRow]
}

func (f Fleet) writeMonth(dir string, month int, rules []*detect.Rule) error {
	name := f.month(month).Format("2006-01")
	w := &monthWriter{f, month, f.baseRates(), rules, f.source(month), nil,
		newOutput[schemas.FlightRow](dir, schemas.FlightsTable, name),
		newOutput[schemas.EventRow](dir, schemas.EventsTable, name),
		newOutput[schemas.EvaluationRow](dir, schemas.EvaluationsTable, name),
		newOutput[schemas.MeasurementRow](dir, schemas.MeasurementsTable, name),
		newOutput[schemas.AuditRow](dir, schemas.AuditsTable, name)}
	recordings := make([]string, f.flightsIn(month))
	for i := range recordings {
		recordings[i] = fmt.Sprintf("%016x%016x%016x%016x", w.source.Uint64(), w.source.Uint64(), w.source.Uint64(), w.source.Uint64())
	}
	slices.Sort(recordings)
	for i, recording := range recordings {
		w.flight(i, recording)
	}
	return errors.Join(w.flights.close(), w.events.close(), w.evaluations.close(), w.measurements.close(), w.audits.close())
}

func (w *monthWriter) flight(i int, recording string) {
	aircraft := w.source.IntN(w.Aircraft)
	id := recording[:16] + "-1"
	start := w.Fleet.month(w.month).Add(time.Duration(i) * time.Minute / 2)
	airborne, landed := 420.0, 4800.0
	w.flights.add(schemas.FlightRow{
		Recording: recording, RecordingName: fmt.Sprintf("%s-%d-%05d.parquet", w.airframe(aircraft), w.month, i), FlightID: id, Number: 1,
		Aircraft: w.aircraftType(aircraft), Version: "invented", StartUTC: start, EndS: 5000,
		LiftOffUTC: start.Add(420 * time.Second), LiftOffS: &airborne, TouchdownUTC: start.Add(4800 * time.Second), TouchdownS: &landed,
		Approaches: 1, Registration: w.airframe(aircraft),
		DepartureAerodrome: aerodrome(w.source.IntN(aerodromes)), ArrivalAerodrome: aerodrome(w.source.IntN(aerodromes)),
	})
	for rule := range w.rules {
		w.evaluate(rule, aircraft, recording, id)
	}
	w.writeEvents()
	w.measure(aircraft, recording, id)
	for _, warning := range warnings {
		due, sounded := 6+w.source.Float64(), 6+w.source.Float64()
		w.audits.add(schemas.AuditRow{Recording: recording, FlightID: id, Warning: warning, Coverage: string(detect.Evaluated), Due: 1, Sounded: 1,
			DueSeconds: thousandths(due), SoundedSeconds: thousandths(sounded), AgreementSeconds: thousandths(min(due, sounded))})
	}
}

// evaluate writes the evaluation of one rule and its event, if there is one.
func (w *monthWriter) evaluate(rule, aircraft int, recording, id string) {
	r := w.rules[rule]
	row := schemas.EvaluationRow{Recording: recording, FlightID: id, Rule: r.ID, Coverage: string(detect.Evaluated), ScopeSeconds: 600}
	known := 1.0
	switch {
	case w.without(rule, aircraft):
		row.Coverage, row.ScopeSeconds, known = string(detect.NotEvaluable), 0, 0
		row.Missing = []string{"nose_wheel_angle: not recorded"}
	case w.source.Float64() < partlyShare:
		row.Coverage, row.UnknownSeconds = string(detect.PartlyEvaluated), float64(w.source.IntN(600))
		known = 1 - row.UnknownSeconds/row.ScopeSeconds
	}
	if w.source.Float64() < known*w.rates[rule]*w.factor(rule, w.month, aircraft) {
		row.Events = 1
		event := w.event(r, recording, id, eventID(id, r.ID))
		w.found = append(w.found, event)
		if w.Causes > 0 && w.source.IntN(w.Causes) == 0 {
			w.addFurther(event, rule, aircraft)
		}
	}
	setOpportunities(&row, rule, known)
	w.evaluations.add(row)
}

// event makes an event that is an occurrence of its own.
func (w *monthWriter) event(r *detect.Rule, recording, flight, id string) schemas.EventRow {
	return schemas.EventRow{Recording: recording, FlightID: flight, EventID: id, OccurrenceID: id, Rule: r.ID, Title: r.Title, Group: r.Group,
		Severity: string(severities[min(w.source.IntN(6), 2)]), Certainty: string(certainties[min(w.source.IntN(4), 1)]),
		Phase: string(detect.ApproachPhase), StartS: 4500, EndS: 4510}
}

// addFurther adds events of the same cause, of the rules that follow. They begin within
// a minute, so that those of two causes come mixed.
func (w *monthWriter) addFurther(first schemas.EventRow, rule, aircraft int) {
	for k := range 1 + w.source.IntN(8) {
		next := (rule + 1 + k) % len(w.rules)
		if w.without(next, aircraft) {
			continue
		}
		e := w.event(w.rules[next], first.Recording, first.FlightID, eventID(first.EventID, w.rules[next].ID))
		e.OccurrenceID, e.StartS = first.EventID, first.StartS+float64(w.source.IntN(60))
		if w.source.IntN(2) == 0 {
			e.Phase = string(detect.Landing)
		}
		w.found = append(w.found, e)
	}
}

// writeEvents writes the events of a flight in order of time.
func (w *monthWriter) writeEvents() {
	slices.SortStableFunc(w.found, func(a, b schemas.EventRow) int { return cmp.Compare(a.StartS, b.StartS) })
	for _, e := range w.found {
		w.events.add(e)
	}
	w.found = w.found[:0]
}

// setOpportunities notes one to three opportunities of the rule for the flight, by its
// recording, so that rates by opportunity differ from those by flight.
func setOpportunities(row *schemas.EvaluationRow, rule int, known float64) {
	all, none := int32(1+(rule+int(row.Recording[0]))%3), int32(0)
	row.Opportunity = string(detect.OpenApproach)
	row.Opportunities, row.OpportunitiesEvaluated, row.OpportunitiesPartly, row.OpportunitiesNot = &all, &none, &none, &none
	switch row.Coverage {
	case string(detect.Evaluated):
		row.OpportunitiesEvaluated = &all
	case string(detect.PartlyEvaluated):
		row.OpportunitiesPartly = &all
	default:
		row.OpportunitiesNot = &all
	}
	open := thousandths(float64(all) * known)
	row.OpportunitiesKnown = &open
}

var (
	severities  = []detect.Severity{detect.High, detect.Medium, detect.Low}
	certainties = []detect.Certainty{detect.Possible, detect.Certain}
)

func (w *monthWriter) measure(aircraft int, recording, id string) {
	for n, m := range measured {
		for i, value := range w.values(w.source, n, m.mean+w.slower(n, w.month, aircraft)) {
			number, begins, ends := int32(i+1), float64(500+700*i), float64(600+700*i)
			row := schemas.MeasurementRow{Recording: recording, FlightID: id, Measurement: m.name, Unit: m.unit,
				Outcome: string(detect.Measured), Certainty: string(detect.Certain), Coverage: string(detect.Evaluated), Value: &value,
				Opportunity: string(m.of), OpportunityNumber: &number, OpportunityBeginsS: &begins, OpportunityEndsS: &ends}
			if w.source.IntN(50) == 0 {
				row.Outcome, row.Value = string(detect.DidNotHappen), nil
			}
			w.measurements.add(row)
		}
	}
}

func eventID(flight, rule string) string {
	digest := fnv.New64a()
	digest.Write([]byte(flight + rule))
	return fmt.Sprintf("E%012x", digest.Sum64()>>16)
}

func thousandths(x float64) float64 { return math.Round(x*1000) / 1000 }
