package schemas

import (
	"strings"
	"testing"
)

func TestPlaceName(t *testing.T) {
	for path, want := range map[string]string{
		"title":                         "title",
		"rules/0":                       "rule 1",
		"rules/2/severity/by":           "rule 3, severity.by",
		"flaps/detents/1/classes/0":     "flaps.detent 2, class 1",
		"rules/2/measure/0/take":        "rule 3, measure 1, take",
		"tables/too_low_gear_floor/0/1": "tables.too_low_gear_floor 1.2",
		"columns/radio_altitude/unit":   "columns.radio_altitude.unit",
	} {
		if got := placeName(strings.Split(path, "/")); got != want {
			t.Errorf("%s: %q, want %q", path, got, want)
		}
	}
}
