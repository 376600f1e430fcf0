package report

import "html/template"

// Style is the style sheet of every page, for the pages of the packages below.
func Style() (template.CSS, error) {
	style, err := templateFiles.ReadFile("templates/style.css")
	return template.CSS(style), err
}

// File is one finished output.
type File struct {
	Name string
	Data []byte
}

// WriteFiles puts the files into dir, which is made when missing: all of them or
// none. With sync they are on disk before they get their names. The error is an
// OutputError. What is made is private unless share is set.
func WriteFiles(dir string, sync, share bool, files ...File) error {
	own := make([]file, len(files))
	for i, f := range files {
		own[i] = file{name: f.Name, data: f.Data}
	}
	return writeFiles(dir, sync, share, own...)
}

// FlightFolders lists the folders the report of a flight may be in, given its
// recording as the archive has it: the second where inputs shared a name.
func FlightFolders(recording, sha256 string, number int) []string {
	repeated := &Run{RepeatedNames: map[string]bool{recording: true}}
	return []string{flightFolder(&Run{}, recording, sha256, number), flightFolder(repeated, recording, sha256, number)}
}

// Clean replaces what a reader cannot see and what could mislead one.
func Clean(s string) string { return clean(s) }

// Guard puts an apostrophe before text a spreadsheet would run as a formula.
func Guard(s string) string { return guard(s) }
