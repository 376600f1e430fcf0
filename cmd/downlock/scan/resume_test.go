package scan

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"downlock/cmd/downlock/command"
	"downlock/report"
)

// TestResumedFlights: a run that is cut off after an input has told nothing of it. The
// next run, which skips the input, has its line, its flight in the index and in the
// tables beside it, and its event in the figures. Where the report is gone it says so.
func TestResumedFlights(t *testing.T) {
	t.Parallel()
	for _, reportGone := range []bool{false, true} {
		n, dir := newNights(t, 3), t.TempDir() // the second is damaged
		o := scanOptions{profile: n.profile, rules: []string{airbornePack(t)}, jobs: 1, maxSize: 100,
			archive: filepath.Join(dir, "archive"), out: filepath.Join(dir, "reports"), failOn: "low", quiet: true}
		var files []string
		for _, name := range []string{"flight-0000.csv", "flight-0001.csv", "flight-0002.csv"} {
			files = append(files, n.path(name))
		}
		var messages bytes.Buffer
		say := command.Messages{To: &messages}
		s, code := newScan(o, files, newStopping(say), say)
		if s == nil {
			t.Fatalf("exit code %d: %s", code, &messages)
		}
		cut := s.one(s.inputs[0])
		s.close()
		if cut.err != nil || len(cut.flights) != 1 {
			t.Fatalf("%+v: %s", cut, &messages)
		}
		if reportGone {
			os.RemoveAll(filepath.Join(o.out, cut.flights[0].Folder))
		}
		if s, code = newScan(o, files[1:], newStopping(say), say); s == nil {
			t.Fatalf("exit code %d: %s", code, &messages)
		}
		var stdout bytes.Buffer
		code = s.run(foundInputs{files: files[1:]}, &stdout, &messages)
		s.close()
		if code != command.ExitInputsFailedEvents {
			t.Errorf("exit code %d: %s", code, &messages)
		}
		lines := linesOf(&stdout)
		if len(lines) != 2 || !strings.HasPrefix(lines[0], files[0]+"\t1\t") || !strings.HasSuffix(lines[0], "\t"+filepath.Join(o.out, cut.flights[0].Folder, report.FlightPage)) || !strings.HasPrefix(lines[1], files[2]+"\t1\t") {
			t.Errorf("told %q", lines)
		}
		var index struct {
			Flights []struct{ Folder string }
		}
		data, err := os.ReadFile(filepath.Join(o.out, "index.json"))
		if err == nil {
			err = json.Unmarshal(data, &index)
		}
		table, _ := os.ReadFile(filepath.Join(o.out, "events.csv"))
		said := strings.Contains(messages.String(), files[0]+": flight 1, found by a run that was interrupted, has no report in "+o.out)
		want := 2
		if reportGone {
			want = 1
		}
		if err != nil || len(index.Flights) != want || bytes.Count(table, []byte("in-the-air")) != want || said != reportGone {
			t.Errorf("report gone: %v: %v, the index has %+v, the table\n%s\n%s", reportGone, err, index.Flights, table, &messages)
		}
		if figures := figuresOf(t, o.archive); figures.Flights != 2 || figures.Occurrences != 2 {
			t.Errorf("the figures are %+v", figures)
		}
	}
}
