package detect

import (
	"flag"
	"os"
	"reflect"
	"testing"

	"downlock/schemas"
)

var update = flag.Bool("update", false, "prepare the packs anew")

// TestPreparedPacks wants the same rules from the prepared packs as from the packs.
func TestPreparedPacks(t *testing.T) {
	written := &RuleSet{}
	for file, pack := range map[string]struct {
		yaml     []byte
		prepared string
	}{
		builtinFile[:len(builtinFile)-5]:           {builtinPack, preparedBuiltin},
		measurementsFile[:len(measurementsFile)-5]: {measurementsPack, preparedMeasurements},
	} {
		doc, err := schemas.ParseDocument(file, pack.yaml)
		if err != nil {
			t.Fatal(err)
		}
		var text, got packText
		if err := doc.Decode(&text); err != nil {
			t.Fatal(err)
		}
		prepared, err := schemas.Prepare(pack.yaml, &text)
		if err != nil {
			t.Fatal(err)
		}
		if *update {
			if err := os.WriteFile("packs/"+file+".prepared", prepared, 0o666); err != nil {
				t.Fatal(err)
			}
			continue
		}
		if string(prepared) != pack.prepared {
			t.Fatalf("packs/%s.prepared is not of %[1]s.yaml: go test ./detect -run TestPrepared -update", file)
		}
		if !schemas.ReadPrepared(pack.yaml, pack.prepared, &got) || !reflect.DeepEqual(got, text) {
			t.Errorf("%s: what is prepared is not what is written", file)
		}
	}
	if *update {
		return
	}
	for _, err := range []error{written.add(builtinFile, builtinPack), written.add(measurementsFile, measurementsPack)} {
		if err != nil {
			t.Fatal(err)
		}
	}
	got, err := LoadRules()
	if err != nil {
		t.Fatal(err)
	}
	if len(got.Rules) != len(written.Rules) || len(got.Measurements) != len(written.Measurements) || !reflect.DeepEqual(got.Packs, written.Packs) {
		t.Errorf("%d rules and %d measurements of %v, want %d and %d of %v", len(got.Rules), len(got.Measurements), got.Packs,
			len(written.Rules), len(written.Measurements), written.Packs)
	}
}

// A prepared pack is taken as it is, here with a title that is not the written one; one of another file, or with a
// mistake in it, is not, and leaves nothing behind.
func TestWhatIsPrepared(t *testing.T) {
	t.Parallel()
	data := []byte(packHead + "rules:\n  - {id: a, title: written, meaning: m, basis: common practice, when: gear_horn}\n")
	doc, err := schemas.ParseDocument("p.yaml", data)
	if err != nil {
		t.Fatal(err)
	}
	prepared := func(of []byte, change func(*packText)) string {
		var text packText
		if err := doc.Decode(&text); err != nil {
			t.Fatal(err)
		}
		change(&text)
		out, err := schemas.Prepare(of, &text)
		if err != nil {
			t.Fatal(err)
		}
		return string(out)
	}
	titled := func(p *packText) { p.Rules[0].Title = "prepared" }
	for name, c := range map[string]struct{ prepared, want string }{
		"of this file":     {prepared(data, titled), "prepared"},
		"of another file":  {prepared(append([]byte("# "), data...), titled), "written"},
		"with a mistake":   {prepared(data, func(p *packText) { titled(p); p.Rules[0].When = "no_such_name" }), "written"},
		"nothing prepared": {"", "written"},
	} {
		set := &RuleSet{}
		if err := set.addPrepared("p.yaml", data, c.prepared); err != nil {
			t.Fatal(err)
		}
		alike(t, name, []any{len(set.Rules), set.Rules[0].Title, len(set.Packs)}, []any{1, c.want, 1})
	}
}
