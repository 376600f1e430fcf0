package export

import (
	"bytes"
	"strings"
	"testing"

	"downlock/schemas"
)

// A style by hand: a lever by words, a position, a speed in km/h, counts, a packed word and
// a column nobody may map.
func TestStyle(t *testing.T) {
	t.Parallel()
	p := &schemas.Profile{Columns: map[string]schemas.Sources{
		"computed_airspeed": {{Column: "speed", Unit: "kt", Accuracy: 1}},
		"flap_handle":       {{Column: "lever", Unit: "deg"}},
		"flap_angle":        {{Column: "flap", Unit: "deg"}},
		"gear_horn":         {{Column: "horn", TrueWhen: schemas.Tokens{"1"}}},
	}, Flaps: schemas.Flaps{Detents: []schemas.Detent{{Name: "0"}, {Name: "15", Angle: 15}, {Name: "40", Angle: 40}}}}
	times := []float64{0, 1, 2}
	table := Table{TimeName: "time", Columns: []Column{
		{Name: "speed", Times: times, Texts: []string{"100", "----", "120"}},
		{Name: "lever", Times: times, Numbers: []float64{0, 15, 40}},
		{Name: "flap", Times: times, Numbers: []float64{0, 10, 40}, Decimals: 1},
		{Name: "horn", Times: []float64{0, 0.5, 1, 1.5, 2}, Numbers: []float64{0, 0, 1, 1, 1}},
		{Name: "nose_position", Times: times, Numbers: []float64{1, 0.5, 0}, Decimals: 1},
	}}
	var columns []StyledColumn
	for _, line := range []string{
		"computed_airspeed | IAS | in km/h",
		"flap_handle | LEVER | cells 0=UP 40=FULL",
		"flap_angle | FLAP | row COUNTS | points 1000=0 1400=40",
		"nose_gear_down_locked | NOSE | from nose_position | level above",
		"nose_gear_up_locked | NOSE | from nose_position | level below",
		"gear_horn | WORD | bit 9",
		"- | N2 | from computed_airspeed",
	} {
		c, err := parseStyledColumn(strings.Split(line, " | "))
		if err != nil {
			t.Fatal(err)
		}
		columns = append(columns, c)
	}
	var b bytes.Buffer
	hand, err := Style{Name: "by hand", TimeName: "T", Format: Format{Layout: WideCSV}, Separator: ';', Encoding: "windows-1252", Columns: columns}.Write(&b, table, p)
	if err != nil {
		t.Fatal(err)
	}
	// 100 kt are 185.2 km/h; 10 deg lie at 1100 counts; bit 9 is 200 in hexadecimal digits.
	want := "T;IAS;LEVER;FLAP;NOSE;WORD;N2\n" +
		"s;;;COUNTS;;;\n" +
		"0.000;185.2000;UP;1000.0000;1.0;0000;100\n" +
		"0.500;;;;;0000;\n" +
		"1.000;----;15;1100.0000;0.5;0200;----\n" +
		"1.500;;;;;0200;\n" +
		"2.000;222.2400;FULL;1400.0000;0.0;0200;120\n"
	if b.String() != want {
		t.Errorf("%s\nwant\n%s", b.String(), want)
	}
	if s := hand.Columns["computed_airspeed"][0]; s.Unit != "km/h" || s.Accuracy != 1 || s.Column != "IAS" {
		t.Errorf("%+v", s)
	}
	if d := hand.Flaps.Detents; d[0].States[0] != "UP" || d[1].States != nil || d[2].States[0] != "FULL" {
		t.Errorf("%+v", d)
	}
	if s := hand.Columns["gear_horn"][0]; *s.Bit != 9 || s.Word != "hex" || s.TrueWhen[0] != "1" {
		t.Errorf("%+v", s)
	}
	if up := hand.Columns["nose_gear_up_locked"][0]; *up.TrueBelow != 0.01 || up.TrueAbove != nil {
		t.Errorf("%+v", up)
	}
	if hand.Columns[""] != nil || len(hand.Columns) != 6 {
		t.Errorf("%d parameters", len(hand.Columns))
	}
}
