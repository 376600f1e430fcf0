package survey

import (
	"os"
	"path/filepath"
	"slices"
	"testing"

	"downlock/ingest"
	"downlock/schemas"
)

// FuzzSurvey surveys any input. The outcome is a survey or an error, and a draft made
// from the survey is a profile.
func FuzzSurvey(f *testing.F) {
	f.Add([]byte("time,airspeed,gear lever\n0,0,DN\n1,100,DN\n2,200,UP\n"))
	f.Add([]byte("p;x\ntime;ias\nhh:mm:ss;kt\n23:59:59;1,0\n00:00:00;2,5\n"))
	f.Add([]byte("t,parameter,value\n0,ias,1\n0,alt,2\n1,ias,3\n1,alt,4\n"))
	for _, pattern := range []string{"../../testdata/formats/*.parquet", "../../testdata/mat/*.mat"} {
		files, _ := filepath.Glob(pattern)
		for _, file := range files {
			data, err := os.ReadFile(file)
			if err != nil {
				f.Fatal(err)
			}
			f.Add(data)
		}
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		raw, err := ingest.OpenRawBytes("fuzz", data)
		if err != nil {
			return
		}
		s, err := Of(raw)
		if err != nil {
			return
		}
		suggestions := s.Suggest()
		text, err := s.Draft(suggestions)
		sure := func(s Suggestion) bool { return s.Confidence != Doubtful }
		if err != nil || !slices.ContainsFunc(suggestions, sure) {
			return // the user has to choose first
		}
		if _, err := schemas.ParseProfile("draft", []byte(text)); err != nil {
			t.Errorf("the draft is no profile: %v\n%s", err, text)
		}
	})
}
