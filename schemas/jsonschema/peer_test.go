package jsonschema_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"maps"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/goccy/go-yaml"
	peer "github.com/santhosh-tekuri/jsonschema/v6"
	"github.com/santhosh-tekuri/jsonschema/v6/kind"

	"downlock/schemas"
	"downlock/schemas/schematest"
	"downlock/testdata/effort"
)

// documents are right documents, by the schema they follow, and some with what chance seldom
// spoils.
func documents(t *testing.T) map[string][]any {
	t.Helper()
	read := func(pattern string) (all []any) {
		files, err := filepath.Glob(pattern)
		if err != nil || len(files) == 0 {
			t.Fatalf("%s: %d files, %v", pattern, len(files), err)
		}
		for _, file := range files {
			text, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			all = append(all, decodeYAML(t, text))
		}
		return all
	}
	return map[string][]any{
		schemas.ProfileSchema: append(read("../profiles/th120.yaml"), decodeYAML(t, []byte(profile)),
			decodeYAML(t, []byte(strings.Replace(profile, "month: m, ", "", 1))),
			decodeYAML(t, []byte(strings.Replace(profile, "{U: UP}", manyStates+", allowed_gap: 0, bit: 64", 1)))),
		schemas.RulePackSchema: append(read("../../detect/packs/measurements.yaml"), decodeYAML(t, []byte(ownPack)),
			decodeYAML(t, []byte(strings.NewReplacer("due: a", "due: a, required: b", "always: low", "always: low, by: a, low: 1").Replace(ownPack)))),
		schemas.FleetSchema:   {decodeYAML(t, []byte(fleet))},
		schemas.VerdictSchema: {decodeYAML(t, []byte(verdict))},
		schemas.ActionSchema:  {decodeYAML(t, []byte(action)), decodeYAML(t, []byte(strings.ReplaceAll(action, "due", "crew-contact")))},
	}
}

const (
	profile = "{schema: downlock profile 1, aircraft: a, title: t, legs: [left, right], engines: 1, time: {utc: {year: y, month: m, day: d, hour: h, minute: i, second: s}}, " +
		"columns: {gear_horn: [{column: c, true_when: 1}], gear_lever: {samples: [a, b], states: {U: UP}, bits: [0, 3]}}, values: {a: 1}, tables: {b: [[1, 2]]}}"
	ownPack = "{schema: downlock rules 1, pack: mine, parameters: [{name: one, kind: state, states: [A, B], meaning: x}, {name: two, unit: 1, kind: step, range: [0, 1.5], meaning: y}], " +
		"warnings: [{warning: w, title: t, due: a, sounded: b, delay: 2.5, optional: [c, d]}], measurements: [{id: m, of: a, around: [-5, 5]}], rules: [{id: r, severity: {always: low, lowered_while: a}}, {id: s, severity: {by: a, low: 1}}, {id: t, severity: high}]}"
	fleet   = "{schema: downlock fleet 1, title: all, inputs: [{files: 'a*', profile: p.yaml}, {files: b, profile: q, registration: TH-AAA, file_date: '{YYYYMMDD}'}]}"
	verdict = `{schema: downlock verdict 1, event_id: E0123456789ab, verdict: "false", cause: a sensor, by: me, at_utc: "2026-11-27T01:02:03Z", evidence: ` +
		"0123456789abcdef0123456789abcdef0123456789abcdef0123456789abcdef}"
	manyStates = "{s1: A, s2: A, s3: A, s4: A, s5: A, s6: A, s7: A, s8: A, s9: A, s10: A, s11: A, s12: A, s13: A, s14: A, s15: A, s16: A, s17: A, s18: A, s19: A, s20: A, " +
		"s21: A, s22: A, s23: A, s24: A, s25: A, s26: A, s27: A, s28: A, s29: A, s30: A, s31: A, s32: A, s33: A, s34: A, s35: A, s36: A, s37: A, s38: A, s39: A, s40: A, s41: A}"
	action = `{schema: downlock action 1, event_id: E0123456789ab, action: due, value: none, by: me, at_utc: "2026-11-27T01:02:03.5Z"}`
)

func decodeYAML(t *testing.T, text []byte) (value any) {
	t.Helper()
	if err := yaml.Unmarshal(text, &value); err != nil {
		t.Fatal(err)
	}
	return value
}

// TestAsPeer spoils right documents at a few places by chance, and wants the same
// objections, to the same keywords at the same places, from a full implementation.
func TestAsPeer(t *testing.T) {
	t.Parallel()
	met := map[string]bool{}
	for name, right := range documents(t) {
		ours, err := schemas.Schema(name)
		if err != nil {
			t.Fatal(err)
		}
		theirs, err := schematest.Compile(name)
		if err != nil {
			t.Fatal(err)
		}
		random := rand.New(rand.NewPCG(1, uint64(len(name))))
		wrong := 0
		for i := range effort.Of(150, 600, 8000) {
			value := right[i%len(right)]
			if i >= len(right) {
				for range 1 + random.IntN(3) {
					value = spoilt(random, value)
				}
			}
			var got []string
			if o := ours.Validate(value); o != nil {
				wrong++
				for _, leaf := range o.Leaves() {
					got = append(got, strings.Join(leaf.At, "/")+": "+leaf.Keyword+" "+strings.Join(leaf.Names, " "))
					met[leaf.Keyword] = true
				}
			}
			slices.Sort(got)
			if want := objections(t, theirs, value); !slices.Equal(got, want) {
				text, _ := json.Marshal(value)
				t.Fatalf("%s: %s\n got %s\nwant %s", name, text, strings.Join(got, "\n     "), strings.Join(want, "\n     "))
			}
		}
		if wrong == 0 {
			t.Errorf("%s: no wrong document", name)
		}
	}
	for _, keyword := range []string{"additionalProperties", "const", "dependentRequired", "enum", "exclusiveMinimum", "maxItems", "maxLength", "maxProperties", "maximum",
		"minItems", "minLength", "minProperties", "minimum", "not", "oneOf", "pattern", "required", "type", "uniqueItems"} {
		if !met[keyword] {
			t.Errorf("no document was wrong by %s", keyword)
		}
	}
}

// objections lists those of the full implementation, in order.
func objections(t *testing.T, schema *peer.Schema, value any) (all []string) {
	t.Helper()
	text, err := json.Marshal(value)
	if err != nil {
		t.Fatal(err)
	}
	plain, err := peer.UnmarshalJSON(bytes.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	var walk func(e *peer.ValidationError)
	walk = func(e *peer.ValidationError) {
		for _, c := range e.Causes {
			walk(c)
		}
		if len(e.Causes) == 0 {
			var names []string
			switch k := e.ErrorKind.(type) {
			case *kind.AdditionalProperties:
				names = slices.Sorted(slices.Values(k.Properties))
			case *kind.Required:
				names = k.Missing
			}
			keyword := strings.ToLower(strings.TrimPrefix(fmt.Sprintf("%T", e.ErrorKind), "*kind."))
			if path := e.ErrorKind.KeywordPath(); len(path) > 0 {
				keyword = path[0]
			}
			all = append(all, strings.Join(e.InstanceLocation, "/")+": "+keyword+" "+strings.Join(names, " "))
		}
	}
	if err := schema.Validate(plain); err != nil {
		walk(err.(*peer.ValidationError))
	}
	slices.Sort(all)
	return all
}

// spoilt returns a copy of a value with one change somewhere in it, which may do no harm.
func spoilt(random *rand.Rand, value any) any {
	switch v := value.(type) {
	case map[string]any:
		if len(v) == 0 || random.IntN(8) == 0 {
			break
		}
		v = maps.Clone(v)
		key := slices.Sorted(maps.Keys(v))[random.IntN(len(v))]
		switch random.IntN(10) {
		case 0:
			delete(v, key)
		case 1:
			v["it's \"new\""] = anything(random)
		case 2:
			v[slices.Sorted(maps.Keys(v))[random.IntN(len(v))]] = v[key]
		default:
			v[key] = spoilt(random, v[key])
		}
		return v
	case []any:
		if len(v) == 0 || random.IntN(8) == 0 {
			break
		}
		v = slices.Clone(v)
		at := random.IntN(len(v))
		switch random.IntN(6) {
		case 0:
			return slices.Delete(v, at, at+1)
		case 1:
			return append(v, v[at])
		case 2:
			return slices.Concat(slices.Repeat(v, 1+60/len(v)), v)
		default:
			v[at] = spoilt(random, v[at])
		}
		return v
	}
	return anything(random)
}

func anything(random *rand.Rand) any {
	of := []any{nil, true, false, 0, -1, 1, 2, 3.0, 2.5, 0.125, -12345.5, 40000, uint64(40001), "", "x", "due", "none", "low", "yes", "gatekeeper", "a'b\"c\n", "é",
		strings.Repeat("long ", 500), fmt.Sprint(random.IntN(1e6)), []any{}, []any{1, 2}, []any{"a", "a"}, []any{1, 1.0}, map[string]any{}, map[string]any{"column": "c"},
		map[string]any{"by": "x", "always": "low"}, map[string]any{"always": "low", "low": 1}, map[string]any{"clock": "c"}, map[string]any{"utc": map[string]any{"day": "d"}}}
	return of[random.IntN(len(of))]
}
