package scan

import (
	"path/filepath"

	"downlock/detect"
	"downlock/ingest"
	"downlock/report"
	"downlock/report/archive"
)

// findings are the results of an input, flight by flight, ready to be written. Nothing
// is written before the last flight is done.
type findings struct {
	flights []flightLine
	reports []report.FlightFiles // none without an output folder
	rows    archive.Rows         // none without an archive
}

// detect finds the flights and their events. shown is the recording without the
// identity that is withheld from results. The samples of a flight are freed before the
// next flight is taken.
func (s *scan) detect(in input, recording, shown *ingest.Recording) (found findings, err error) {
	found.rows.Recording, found.rows.File = shown.Content(), shown.SHA256
	run := s.reportRun(in)
	for result, err := range in.detector.Results(shown) {
		if err != nil {
			return findings{}, err
		}
		stretch := recording.Stretches()[result.Recording().Stretch] // with its identity
		if err := s.identify(result.Flight, stretch); err != nil {
			return findings{}, err
		}
		found.flights = append(found.flights, newFlightLine(result))
		if s.options.out != "" {
			files, err := report.NewFlightFiles(run, result)
			if err != nil {
				return findings{}, err
			}
			found.reports = append(found.reports, files)
		}
		if s.stager != nil {
			found.rows.Add(in.Run, result)
		}
	}
	return found, nil
}

// identify sets the aerodromes of a flight, and its month where the date is withheld.
// recording is the one with its identity.
func (s *scan) identify(f *detect.Flight, recording *ingest.Recording) error {
	key, places := s.options.key, s.options.places
	if month := key.Month(f.Span.Start, recording); month != "" {
		f.Month = month
	}
	for _, end := range []struct {
		at *detect.Time
		to *string
	}{{f.LiftOff, &f.Departure}, {f.Touchdown, &f.Arrival}} {
		place, err := key.Place(end.at, recording, places)
		if err != nil {
			return err
		}
		if place != "" {
			*end.to = place
		}
	}
	return nil
}

// writeReports writes the reports of the flights, when there is an output folder, and
// notes the lines and index entries of the flights.
func (s *scan) writeReports(o *outcome, found findings) error {
	for i, line := range found.flights {
		if s.options.out != "" {
			files := found.reports[i]
			if err := files.Write(s.options.out, s.report); err != nil {
				return err
			}
			line.Folder = files.Entry.Folder
			line.Page = filepath.Join(s.options.out, line.Folder, report.FlightPage)
			o.entries = append(o.entries, files.Entry)
		}
		o.flights = append(o.flights, line)
	}
	return nil
}
