package report

import (
	"html/template"
	"slices"
)

// Style is the style sheet of every page, for the pages of the packages below.
func Style() (template.CSS, error) {
	style, err := templateFiles.ReadFile("templates/style.css")
	return template.CSS(style), err
}

// FlightFolders lists the folders the report of a flight may be in, given its
// recording as the archive has it: the second where inputs shared a name.
func FlightFolders(recording, sha256 string, number int) []string {
	repeated := &Run{RepeatedNames: map[string]bool{recording: true}}
	return []string{flightFolder(&Run{}, recording, sha256, number), flightFolder(repeated, recording, sha256, number)}
}

// Clean replaces characters a reader cannot see and those that could mislead one.
func Clean(s string) string { return clean(s) }

// Guard puts an apostrophe before text a spreadsheet would run as a formula.
func Guard(s string) string { return guard(s) }

// FlightData is the name of the data of a flight's report, beside FlightPage.
const FlightData = flightJSON

// Cautions are the cautions every page shows.
func Cautions() []string { return slices.Clone(cautions) }

// Page returns the page of the report, before it is written.
func (f FlightFiles) Page() []byte {
	for _, file := range f.files {
		if file.Name == flightHTML {
			return file.Data
		}
	}
	return nil
}
