package survey

import (
	"fmt"
	"strings"
	"testing"
)

// A flap of 0, 15 and 40 deg, each for a time, written as per cent, as a share and in
// counts (2440 up, 30 counts a degree): the drafts offer points at the three settings, with
// the angles left to the user, and read nothing before those are given.
func TestTravelInADraft(t *testing.T) {
	t.Parallel()
	angle := func(s int) float64 {
		switch {
		case s < 200:
			return 15
		case s < 220:
			return 15 - 0.75*float64(s-200)
		case s < 600:
			return 0
		case s < 640:
			return float64(s - 600)
		}
		return 40
	}
	for _, c := range []struct {
		header, want string
		write        func(deg float64) float64
	}{
		{"Flap Position [%]", `points: [[0, NUMBER], [37.5, NUMBER], [100, NUMBER]]`, func(v float64) float64 { return v * 2.5 }},
		{"Flap Position", `points: [[0, NUMBER], [0.375, NUMBER], [1, NUMBER]]`, func(v float64) float64 { return v / 40 }},
		{"Flap Position [COUNTS]", `points: [[2440, NUMBER], [2890, NUMBER], [3640, NUMBER]]`, func(v float64) float64 { return 2440 + 30*v }},
	} {
		var b strings.Builder
		fmt.Fprintf(&b, "time (s),IAS (kt),%s\n", c.header)
		for s := range 900 {
			fmt.Fprintf(&b, "%d,%d,%.4f\n", s, 20+min(s, 900-s, 130), c.write(angle(s)))
		}
		found := surveyText(t, b.String())
		draft, err := found.Draft(found.Suggest())
		if err != nil {
			t.Fatal(err)
		}
		line := ""
		for one := range strings.Lines(draft) {
			if strings.Contains(one, "flap_angle: {") {
				line = strings.TrimSpace(one)
			}
		}
		if !strings.HasPrefix(line, "# flap_angle: {column:") || !strings.Contains(line, "NUMBER") || !strings.Contains(line, c.want) {
			t.Errorf("%s: %q, want %s", c.header, line, c.want)
		}
	}
}

// Bits 3 and 9 of a word, 0x208 in all: the first is a strut, true on the ground and
// for some seconds of what the airspeed takes for the air. Read in
// decimal the digits 200 and 208 would set six bits.
func TestPackedBits(t *testing.T) {
	t.Parallel()
	var b strings.Builder
	b.WriteString("time (s),IAS (kt),DISC 7,DISC 8\n")
	for s := range 900 {
		speed := 20 + 130*min(1, max(0, float64(s-80)/30))*min(1, max(0, float64(820-s)/30))
		word := "0200"
		if s < 105 || s > 800 {
			word = "0208"
		}
		fmt.Fprintf(&b, "%d,%.1f,%s,0x%s\n", s, speed, word, word)
	}
	s := surveyText(t, b.String())
	for _, name := range []string{"DISC 7", "DISC 8"} {
		told := s.packedBits(s.Column(name), s.phases(s.reference()))
		if !strings.Contains(told, "in hex, bit 3 changes (1 for 100 % of the time on the ground and 3 % in the air), bit 9 is 1 throughout") {
			t.Errorf("%s: %s", name, told)
		}
	}
	if told := s.packedBits(s.Column("IAS (kt)"), phases{}); told != "" {
		t.Errorf("an airspeed %s", told)
	}
}
