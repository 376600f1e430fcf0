package detect_test

import (
	"fmt"
	"maps"
	"math"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/memory"

	"downlock/detect"
	"downlock/ingest"
	"downlock/schemas"
	"downlock/testdata/effort"
)

// A misreading is a recording read with one mistake in the profile.
type misreading struct {
	name string
	// reads says which column each parameter reads that reads a wrong one.
	reads map[string]string
	// turned are the parameters whose values are exchanged.
	turned []string
}

// parameters are those that are read wrongly.
func (m misreading) parameters() []string {
	return append(slices.Collect(maps.Keys(m.reads)), m.turned...)
}

// of is a recording as the wrong profile reads it. Only columns of the same kind are
// taken for each other.
func (m misreading) of(r *ingest.Recording) *ingest.Recording {
	out := *r
	out.Series, out.Later = nil, nil
	for _, s := range r.Series {
		if from := m.reads[s.Parameter.Name]; from != "" {
			other := *r.Lookup(from)
			other.Parameter = s.Parameter
			s = &other
		}
		if slices.Contains(m.turned, s.Parameter.Name) {
			s = turned(s)
		}
		out.Series = append(out.Series, s)
	}
	return &out
}

// turned exchanges true and false, or the first and the last state.
func turned(s *ingest.Series) *ingest.Series {
	out := *s
	last := uint8(max(1, len(s.Parameter.States)-1))
	b := array.NewUint8Builder(memory.DefaultAllocator)
	for _, v := range s.Codes() {
		if v == 0 || v == last {
			v = last - v
		}
		b.Append(v)
	}
	out.Values = arrow.Array(b.NewUint8Array())
	return &out
}

// misreadings lists every mistake of the kinds looked for that a recording can be
// read with.
func misreadings(r *ingest.Recording) (all []misreading) {
	var numbers, discretes []string
	for _, s := range r.Series {
		name := s.Parameter.Name
		switch {
		case !s.Parameter.Numeric():
			all = append(all, misreading{name: name + " turned", turned: []string{name}})
			if s.Parameter.Kind == schemas.Discrete {
				discretes = append(discretes, name)
			}
		case strings.HasPrefix(name, "throttle_angle") || name == "speedbrake_handle":
			numbers = append(numbers, name)
		}
	}
	for _, family := range []string{"gear_down_locked", "gear_up_locked", "strut_compressed", "door_closed", "gpws_", "hydraulic"} {
		var names []string
		for _, name := range discretes {
			if strings.Contains(name, family) {
				names = append(names, name)
			}
		}
		if len(names) > 1 {
			all = append(all, misreading{name: "every " + family + " turned", turned: names})
		}
	}
	pair := func(a, b string) {
		all = append(all, misreading{name: a + " and " + b + " exchanged", reads: map[string]string{a: b, b: a}},
			misreading{name: a + " reads " + b, reads: map[string]string{a: b}},
			misreading{name: b + " reads " + a, reads: map[string]string{b: a}})
	}
	for _, names := range [][]string{discretes, numbers} {
		for i := 1; i < len(names); i++ {
			pair(names[i-1], names[i])
		}
	}
	if r.Lookup("computed_airspeed") != nil && r.Lookup("ground_speed") != nil {
		pair("computed_airspeed", "ground_speed")
	}
	return all
}

// certainFindings are the events said to be certain, in words.
func certainFindings(results []*detect.Result) (out []string) {
	for _, r := range results {
		for _, e := range r.Events {
			if e.Certainty == detect.Certain {
				out = append(out, fmt.Sprintf("%s %s %.0f to %.0f", e.Rule.ID, e.Severity, math.Round(e.Start.Nominal), math.Round(e.End.Nominal)))
			}
		}
	}
	slices.Sort(out)
	return out
}

// noticed lists the checks that failed, and those of the parameters that are said to be
// unconfirmed or unexplained.
func noticed(results []*detect.Result, parameters ...string) (ids []string) {
	for _, r := range results {
		for _, c := range r.Checks {
			if c.Outcome == detect.Failed && !slices.Contains(ids, c.ID) {
				ids = append(ids, c.ID)
			}
		}
		for _, o := range r.Observations {
			if (o.Kind == detect.Unconfirmed || o.Kind == detect.Unexplained) && slices.Contains(parameters, o.Parameter) {
				ids = append(ids, o.Parameter)
			}
		}
	}
	return ids
}

// flightsAtHand lists recordings and the profile each is read with.
func flightsAtHand(t *testing.T) map[string]*schemas.Profile {
	t.Helper()
	out := map[string]*schemas.Profile{}
	shipped := func(name string) *schemas.Profile {
		_, p := shippedDetectorOf(t, name)
		return p
	}
	file := func(name string) *schemas.Profile {
		p, err := schemas.ReadProfile(name)
		if err != nil {
			t.Fatal(err)
		}
		return p
	}
	for pattern, p := range map[string]*schemas.Profile{
		"../testdata/demo/tarnholm-*":        shipped("th120"),
		"../testdata/demo440/tarnholm-*":     shipped("th440"),
		"../testdata/x100/flight-?.csv.gz":   file("../testdata/x100/profile.yaml"),
		"../testdata/operations/op-?.csv.gz": file("../testdata/operations/profile.yaml"),
	} {
		files, _ := filepath.Glob(pattern)
		if len(files) == 0 {
			t.Fatalf("no file %s", pattern)
		}
		for _, f := range files {
			out[f] = p
		}
	}
	out["../testdata/x100/flight-6.csv.gz"] = file("../testdata/x100/profile-inverted.yaml")
	return out
}

// TestMisread reads every flight at hand with every single mistake: a check fails, or
// the certain findings are those of the right profile. With the right profile, no check
// fails. Every third flight alone in a usual run.
func TestMisread(t *testing.T) {
	t.Parallel()
	all := flightsAtHand(t)
	files := slices.Sorted(maps.Keys(all))
	for i, path := range files {
		if i%effort.Of(7, 3, 1) != 0 {
			continue
		}
		p := all[path]
		d, r := detectorOf(t, p), readFile(t, path, p)
		right := d.Detect(r)
		if failed := noticed(right); len(failed) > 0 {
			t.Errorf("%s: with the right profile %v failed", path, failed)
		}
		want := certainFindings(right)
		for _, m := range misreadings(r) {
			results := d.Detect(m.of(r))
			got := certainFindings(results)
			if len(noticed(results, m.parameters()...)) > 0 || slices.Equal(got, want) {
				continue
			}
			t.Errorf("%s: %s is not noticed, and the certain findings are\n%q\ninstead of\n%q", path, m.name, got, want)
		}
	}
}
