package report

import (
	"encoding/json"
	"os"
	"path/filepath"

	"downlock/schemas"
)

// ReadEntry returns the entry for the index of a flight whose reports an earlier run
// wrote into a folder below dir. The error is one of reading, or a schemas.Problem of a
// report that is of another flight than the one with the id.
func ReadEntry(dir, folder, id string) (FlightEntry, error) {
	path := filepath.Join(dir, folder, flightJSON)
	data, err := os.ReadFile(path)
	if err != nil {
		return FlightEntry{}, err
	}
	var doc document
	if err := json.Unmarshal(data, &doc); err != nil || doc.Schema != reportSchema || doc.Flight.ID != id {
		return FlightEntry{}, &schemas.Problem{File: path, Cause: "is not the report that was written of this flight",
			Hint: "scan its recording again with --rescan"}
	}
	return newEntry(folder, &doc), nil
}
