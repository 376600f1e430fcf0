package detect

import (
	"testing"

	"downlock/detect/language"
	"downlock/ingest"
)

// The id of a flight is F and the first twelve digits of the SHA-256 of these words, by
// `printf 'flight abc 3' | sha256sum`; that of an event likewise, with E.
func TestIDsByHand(t *testing.T) {
	alike(t, "flight", flightID(&ingest.Recording{SHA256: "abc"}, 3), "F8f154a294c86")
	f := flightOf(40)
	f.ID = "F1"
	e := Event{Rule: ruleOf(t, "when: gear_horn"), Start: exactly(12.3456), End: exactly(20)}
	e.Rule.ID = "long-horn"
	e.complete(ReadTracks(f))
	alike(t, "event", e.ID, "Eadb1c7d32e6b")
}

// A limit may stand on either side; of two recorded numbers, or two that are none, neither is one.
func TestLimitsOnEitherSide(t *testing.T) {
	f := flightOf(40, along("computed_airspeed", 40, straight(0, 100)), along("ground_speed", 40, straight(0, 100)))
	env := ReadTracks(f)
	for text, want := range map[string]Limit{
		"computed_airspeed > 200":          {Of: "computed_airspeed", Name: "200", Upper: true},
		"computed_airspeed >= 200":         {Of: "computed_airspeed", Name: "200", Upper: true},
		"computed_airspeed < 200":          {Of: "computed_airspeed", Name: "200"},
		"computed_airspeed <= 200":         {Of: "computed_airspeed", Name: "200"},
		"200 > computed_airspeed":          {Of: "computed_airspeed", Name: "200"},
		"200 >= computed_airspeed":         {Of: "computed_airspeed", Name: "200"},
		"200 < computed_airspeed":          {Of: "computed_airspeed", Name: "200", Upper: true},
		"200 <= computed_airspeed":         {Of: "computed_airspeed", Name: "200", Upper: true},
		"computed_airspeed == 200":         {},
		"computed_airspeed > ground_speed": {},
		"abs(computed_airspeed) > 200":     {},
	} {
		found := env.Limits(&Rule{when: expressionOf(t, text, language.Condition)})
		if want.Of == "" && len(found) == 0 {
			continue
		}
		if want.Of == "" || len(found) != 1 {
			t.Errorf("%s: %+v", text, found)
			continue
		}
		l := found[0]
		alike(t, text, []any{l.Of, l.Name, l.Upper, l.Source, l.Unit, l.Gate, l.Within}, []any{want.Of, want.Name, want.Upper, "the rule itself", "kt", false, ""})
		value, ok := l.Curve.At(20)
		alike(t, text, []any{value, ok}, []any{200.0, true})
	}
}
