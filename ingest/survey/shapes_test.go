package survey

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"downlock/ingest"
	"downlock/schemas"
)

// shapedFlight is a flight of 900 s, on the ground before 100 s and from 800 s, with a
// radio altitude eight times a row, two sources of the pressure altitude, the positions
// of three legs and a flap lever by words.
func shapedFlight(gearDown float64) string {
	height := func(s float64) float64 { return 1800 * max(0, math.Sin(math.Pi*(s-100)/700)) }
	var b strings.Builder
	b.WriteString("time (s),IAS (kt),")
	for n := range 8 {
		fmt.Fprintf(&b, "RALT_%d,", n+1)
	}
	b.WriteString("Pressure Altitude 1,Pressure Altitude 2,Gear_Nose_Position,Gear_Left_Position,Gear_Right_Position,Flap Lever\n")
	for s := range 900 {
		t := float64(s)
		fmt.Fprintf(&b, "%d,%.1f,", s, 20+130*min(1, max(0, (t-80)/30))*min(1, max(0, (820-t)/30)))
		for n := range 8 {
			fmt.Fprintf(&b, "%.2f,", height(t+float64(n)/8))
		}
		down := 1 - min(1, max(0, (t-120)/10)) + min(1, max(0, (t-700)/10))
		position := down*gearDown + (1-down)*(1-gearDown)
		lever := "1"
		if s > 200 {
			lever = "UP"
		}
		if s > 650 {
			lever = "FULL"
		}
		fmt.Fprintf(&b, "%.2f,%.2f,%.2f,%.2f,%.2f,%s\n", height(t)+340, height(t)+352, position, position, position, lever)
	}
	return b.String()
}

func TestShapesInADraft(t *testing.T) {
	t.Parallel()
	for _, gearDown := range []float64{1, 0} {
		text := shapedFlight(gearDown)
		s := surveyText(t, text)
		suggestions := s.Suggest()
		draft, err := s.Draft(suggestions)
		if err != nil {
			t.Fatal(err)
		}
		p := mustParse(t, s, suggestions)
		height := p.Columns["radio_altitude"]
		if len(height) != 1 || len(height[0].Samples) != 8 || height[0].Samples[7] != "RALT_8" {
			t.Errorf("radio altitude %+v\n%s", height, draft)
		}
		if a := p.Columns["pressure_altitude"]; len(a) != 1 || a[0].Column != "Pressure Altitude 1" || a[0].Samples != nil {
			t.Errorf("two sources of the pressure altitude are no samples: %+v", a)
		}
		for _, leg := range []string{"nose", "left", "right"} {
			g := p.Columns[leg+"_gear_down_locked"]
			switch {
			case len(g) != 1:
				t.Errorf("%s: %+v", leg, g)
			case gearDown == 1 && (g[0].TrueAbove == nil || *g[0].TrueAbove != 0.99 || *g[0].FalseBelow != 0.98):
				t.Errorf("%s, 1 is down: %+v", leg, g[0])
			case gearDown == 0 && (g[0].TrueBelow == nil || *g[0].TrueBelow != 0.01 || *g[0].FalseAbove != 0.02):
				t.Errorf("%s, 0 is down: %+v", leg, g[0])
			}
		}
		r, err := ingest.ReadBytes("shaped.csv", []byte(text), p)
		if err != nil {
			t.Fatal(err)
		}
		for _, one := range r.Series {
			switch one.Parameter.Name {
			case "radio_altitude":
				if one.Len() != 8*900 {
					t.Errorf("%d samples of the radio altitude, want 7200", one.Len())
				}
			case "left_gear_down_locked":
				if one.Dropped.Total() > 0 {
					t.Errorf("%d positions dropped", one.Dropped.Total())
				}
			}
		}
		// The lever by words waits for the angles; with those it is read.
		for _, want := range []string{`# flap_handle: {column: "Flap Lever", unit: "detent"}`, `{name: "UP", angle: 0, classes: [up]}`, `{name: "1", angle: 1, classes: [takeoff]}`, `{name: "FULL", angle: NUMBER, classes: [landing]}`} {
			if !strings.Contains(draft, want) {
				t.Errorf("the draft has no %s", want)
			}
		}
		filled := strings.Replace(draft, "# flap_handle", "flap_handle", 1)
		for line := range strings.Lines(draft) {
			if rest := strings.TrimPrefix(line, "# "); strings.HasPrefix(rest, "flaps:") || strings.HasPrefix(rest, "  parameters: [flap") || strings.HasPrefix(rest, "  tolerance:") || strings.HasPrefix(rest, "  detents:") || strings.HasPrefix(rest, "    - {name") {
				filled = strings.Replace(filled, line, strings.Replace(strings.Replace(rest, "NUMBER", "35", 1), "[]", "[intermediate]", 1), 1)
			}
		}
		lever := valuesOf(t, filled, text, "flap_handle")
		slices.Sort(lever)
		if got := slices.Compact(lever); !slices.Equal(got, []float64{0, 1, 35}) {
			t.Errorf("the lever's angles are %v", got)
		}
	}
}

// valuesOf reads an export with the text of a profile and returns a parameter's numbers.
func valuesOf(t *testing.T, profile, text, parameter string) []float64 {
	t.Helper()
	p, err := schemas.ParseProfile("filled.yaml", []byte(profile))
	if err != nil {
		t.Fatalf("%v\n%s", err, profile)
	}
	r, err := ingest.ReadBytes("shaped.csv", []byte(text), p)
	if err != nil {
		t.Fatal(err)
	}
	for _, one := range r.Series {
		if one.Parameter.Name == parameter {
			return slices.Clone(one.Numbers())
		}
	}
	t.Fatalf("no %s", parameter)
	return nil
}

// No class is proposed for a detent that the type, by its profile by hand, does not use
// for that; take-off and landing flap of most flights are found.
func TestProposedClassesOfDetents(t *testing.T) {
	t.Parallel()
	hand, err := schemas.ShippedProfile()
	if err != nil {
		t.Fatal(err)
	}
	known := map[string][]string{}
	for _, d := range hand.Flaps.Detents {
		known[d.Name] = d.Classes
	}
	found := map[string]int{}
	for _, file := range []string{"tarnholm-01.csv.gz", "tarnholm-04.csv.gz", "tarnholm-06.csv.gz", "tarnholm-07.csv.gz", "tarnholm-08.csv.gz", "tarnholm-10.csv.gz", "tarnholm-18.csv.gz"} {
		s := surveyFile(t, demoDir+file)
		c := s.Column("flap handle")
		if c == nil {
			t.Fatalf("%s has no flap handle", file)
		}
		for detent, classes := range s.detentClasses(c) {
			for _, class := range classes {
				if found[class]++; !slices.Contains(known[detent], class) {
					t.Errorf("%s: %s is proposed as %s, which is none of %v", file, detent, class, known[detent])
				}
			}
		}
	}
	if found["up"] < 5 || found["takeoff"] < 5 || found["landing"] < 5 {
		t.Errorf("found %v", found)
	}
}
