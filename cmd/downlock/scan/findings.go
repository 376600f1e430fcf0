package scan

import (
	"downlock/detect"
	"downlock/ingest"
	"downlock/report"
	"downlock/report/archive"
)

// findings is what was found in an input, flight by flight and ready to be kept.
// Nothing of it is written before the last flight is done.
type findings struct {
	flights []flightLine
	reports []report.FlightFiles // where they are wanted
	rows    archive.Rows         // where an archive is kept
}

// detect finds the flights and their events, in the recording as results may
// know it, and lets go of the samples of each before it takes the next.
func (s *scan) detect(recording, shown *ingest.Recording) (found findings, err error) {
	found.rows.Recording = shown.SHA256
	for result, err := range s.detector.Results(shown) {
		if err != nil {
			return findings{}, err
		}
		stretch := recording.Stretches()[result.Recording().Stretch] // of the file, as it was read
		if err := s.identify(result.Flight, stretch); err != nil {
			return findings{}, err
		}
		found.flights = append(found.flights, newFlightLine(result))
		if s.options.out != "" {
			files, err := report.NewFlightFiles(s.report, result)
			if err != nil {
				return findings{}, err
			}
			found.reports = append(found.reports, files)
		}
		if s.archive != nil {
			found.rows.Add(s.kept, result)
		}
	}
	return found, nil
}

// identify notes when and where a flight was, from the recording as it was read: the
// month where the date is withheld, and the aerodromes.
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

// writeReports writes the reports of the flights, where they are wanted, and
// counts what is in them.
func (s *scan) writeReports(o *outcome, found findings) error {
	for i, line := range found.flights {
		if s.options.out != "" {
			files := found.reports[i]
			if err := files.Write(s.options.out, s.report); err != nil {
				return err
			}
			line.folder = files.Entry.Folder
			o.entries = append(o.entries, files.Entry)
		}
		o.flights = append(o.flights, line)
	}
	return nil
}
