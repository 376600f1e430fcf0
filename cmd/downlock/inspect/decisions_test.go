package inspect

import (
	"encoding/json"
	"maps"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"downlock/cmd/downlock/command"
	"downlock/detect"
	"downlock/ingest"
	"downlock/schemas"
)

// completed is the demonstration's profile with its commented values in force.
func completed(t *testing.T) *schemas.Profile {
	t.Helper()
	text := regexp.MustCompile(`(?m)^  # (\w+: \S+ +#)`).ReplaceAllString(string(schemas.ShippedProfileText()), "  $1")
	p, err := schemas.ParseProfile("th120.yaml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// Group after group is filled in from a complete profile. Each time the rules that can
// newly be evaluated are those the group names, and in the end no decision is open.
func TestFillingGroupsOpensTheirRules(t *testing.T) {
	t.Parallel()
	const file = demoFolder + "tarnholm-07.csv.gz"
	full := completed(t)
	blank := *full
	blank.Systems, blank.Flaps, blank.Throttle = nil, schemas.Flaps{}, schemas.Throttle{}
	blank.Values, blank.Tables, blank.Criteria, blank.Limits = map[string]float64{}, maps.Clone(full.Tables), map[string]string{}, nil
	clear(blank.Tables)
	recording, err := ingest.Read(file, full)
	if err != nil {
		t.Fatal(err)
	}
	rules, err := detect.LoadRules()
	if err != nil {
		t.Fatal(err)
	}
	state := func() (groups []group, lacking map[string]bool) {
		t.Helper()
		d, err := detect.New(&blank, rules)
		if err != nil {
			t.Fatal(err)
		}
		parts := ruleParts(d.Detect(recording))
		i := inspection{profile: &blank, rules: rules, detector: d}
		if groups, err = i.openDecisions(recording, parts); err != nil {
			t.Fatal(err)
		}
		lacking = map[string]bool{}
		for _, p := range parts {
			lacking[p.Rule] = !p.Evaluable && len(p.Missing) > 0
		}
		return groups, lacking
	}
	groups, before := state()
	if len(groups) < 10 {
		t.Fatalf("%d groups", len(groups))
	}
	for n, g := range groups {
		for _, entry := range g.Fill {
			switch value, isValue := full.Values[entry]; {
			case isValue:
				blank.Values[entry] = value
			case entry == "flaps":
				blank.Flaps = full.Flaps
			case entry == "throttle":
				blank.Throttle = full.Throttle
			case entry == "systems":
				blank.Systems = full.Systems
			case full.Tables[entry] != nil:
				blank.Tables[entry] = full.Tables[entry]
			case full.Criteria[entry] != "":
				blank.Criteria[entry] = full.Criteria[entry]
			default:
				t.Fatalf("group %d: the complete profile has no %s", n, entry)
			}
		}
		left, after := state()
		var opened []string
		for rule, was := range before {
			if was && !after[rule] {
				opened = append(opened, rule)
			}
		}
		slices.Sort(opened)
		want := slices.DeleteFunc(slices.Clone(g.Opens), func(rule string) bool {
			return after[rule] && slices.Contains(g.Fill, "systems") // the type has no such system: that is decided too
		})
		if !slices.Equal(opened, want) {
			t.Errorf("group %d, %v, opens %v, said %v", n+1, g.Fill, opened, want)
		}
		before = after
		if n == len(groups)-1 && len(left) > 0 {
			t.Errorf("still open: %v", left)
		}
	}
}

// The columns of an export with the figures of a known type: scan would find the same.
func TestLikeTakesTheFiguresOfAKnownType(t *testing.T) {
	t.Parallel()
	known := filepath.Join(t.TempDir(), "th120.yaml")
	if err := os.WriteFile(known, schemas.ShippedProfileText(), 0o666); err != nil {
		t.Fatal(err)
	}
	const file = demoFolder + "tarnholm-07.csv.gz"
	draft, _ := inspected(t, command.ExitDone, "--suggest", "--like", known, file)
	got, err := schemas.ParseProfile("draft.yaml", []byte(draft))
	if err != nil {
		t.Fatal(err)
	}
	want, err := schemas.ShippedProfile()
	if err != nil {
		t.Fatal(err)
	}
	if !maps.Equal(got.Values, want.Values) || !maps.Equal(got.Criteria, want.Criteria) || len(got.Flaps.Detents) != 7 ||
		got.Flaps.Detents[3].Placard != 205 || !slices.Equal(got.Systems, want.Systems) || got.Throttle != want.Throttle || got.Engines != 2 || len(got.Tables) != len(want.Tables) {
		t.Errorf("not the figures of the known type:\n%s", draft)
	}
	// The columns are those of this export.
	renamed := filepath.Join(t.TempDir(), "renamed.csv")
	other := "time,IAS (kt),RALT (ft),Press Alt (ft),LH MLG DNLK,RH MLG DNLK,NLG DNLK\n0,20,0,340,1,1,1\n1,60,0,340,1,1,1\n2,130,50,390,1,1,1\n3,150,200,540,0,0,0\n"
	if err := os.WriteFile(renamed, []byte(other), 0o666); err != nil {
		t.Fatal(err)
	}
	draft, _ = inspected(t, command.ExitDone, "--suggest", "--like", known, renamed)
	if got, err = schemas.ParseProfile("draft.yaml", []byte(draft)); err != nil {
		t.Fatal(err)
	}
	if c := got.Columns["computed_airspeed"]; len(c) != 1 || c[0].Column != "IAS (kt)" || !maps.Equal(got.Values, want.Values) {
		t.Errorf("columns %+v", got.Columns)
	}
	// A profile that is none is told as that.
	_, said := inspected(t, command.ExitInputsFailed, "--suggest", "--like", renamed, file)
	if !strings.Contains(said, "renamed.csv") {
		t.Errorf("said %q", said)
	}
}

// The list is the same for scripts, and empty when every decision is made.
func TestOpenDecisionsEnd(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "complete.yaml")
	text := regexp.MustCompile(`(?m)^  # (\w+: \S+ +#)`).ReplaceAllString(string(schemas.ShippedProfileText()), "  $1")
	if err := os.WriteFile(path, []byte(text), 0o666); err != nil {
		t.Fatal(err)
	}
	const file = demoFolder + "tarnholm-07.csv.gz"
	out, _ := inspected(t, command.ExitDone, "--profile", path, file)
	if !strings.Contains(out, "\nno decision is open") {
		t.Errorf("still open:\n%s", out)
	}
	if err := os.WriteFile(path, []byte(strings.Replace(text, "\n  extension_time:", "\n  # extension_time:", 1)), 0o666); err != nil {
		t.Fatal(err)
	}
	out, _ = inspected(t, command.ExitDone, "--json", "--profile", path, file)
	if err := validInspection(t, out); err != nil {
		t.Error(err)
	}
	var doc inspectDocument
	if err := json.Unmarshal([]byte(out), &doc); err != nil {
		t.Fatal(err)
	}
	if open := doc.Files[0].Mapping.Open; len(open) != 1 || !slices.Equal(open[0].Fill, []string{"extension_time"}) || !slices.Equal(open[0].Opens, []string{"extension-slow"}) {
		t.Errorf("open: %+v", open)
	}
}
