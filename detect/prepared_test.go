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
