package report

import (
	"slices"
	"strings"

	"downlock/detect"
	"downlock/report/svg"
)

// band is a held parameter around an event: boxes of its nominal reading,
// hatching where it is undecided, and a dot per sample.
type band struct {
	name      string
	boxes     []box
	undecided []detect.Span
	from      []string // the parameters whose samples are dots
}

func (b band) row(tracks *detect.Tracks) row {
	return row{bandHeight + 3, func(c *svg.Canvas, x svg.Scale, top float64) {
		c.Text(chartLeft-8, top+bandHeight-3, "name", b.name)
		drawBoxes(c, x, top, b.boxes)
		for _, s := range visible(b.undecided, x) {
			from, to := x.Clamped(s.Start), x.Clamped(s.End)
			c.Rect(from, top, to-from, bandHeight, "undecided")
		}
		for _, name := range b.from {
			in, _ := tracks.Samples(name, detect.Span{Start: x.Low, End: x.High})
			if float64(len(in))*dotSpacing > x.To-x.From {
				continue
			}
			p := &svg.Path{}
			for _, t := range in {
				p.Dot(x.At(t), top+bandHeight+3)
			}
			c.Path(p, "dots")
		}
	}}
}

func newBand(name string, track detect.Held, boxes []box) band {
	return band{name, boxes, track.Undecided(), track.From}
}

// traceBands are the bands of a trace: lever, legs, horn and cutout, and
// whatever else that is held the rule reads.
func traceBands(result *detect.Result, rule *detect.Rule) []band {
	var bands []band
	shown := map[string]bool{}
	add := func(name, class string) {
		track, ok := result.Tracks.Parameter(name)
		if !ok || shown[name] {
			return
		}
		shown[name] = true
		boxes := onOff(track, class, "")
		if len(track.Values) > 2 {
			boxes = stateBoxes(track)
		}
		bands = append(bands, newBand(shortName(name), track, boxes))
	}
	add("gear_lever", "")
	for _, leg := range recordedLegs(result) {
		for _, name := range leg.track.From {
			shown[name] = true
		}
		bands = append(bands, newBand(leg.name, leg.track, legBoxes(leg.track)))
	}
	if readsGround(rule) {
		for _, p := range result.Tracks.Recorded() {
			if name := p.Parameter.Name; strings.HasSuffix(name, "strut_compressed") || name == "weight_on_wheels" {
				add(name, "on")
			}
		}
	}
	add("gear_horn", "alarm")
	add("gear_horn_cutout", "alarm")
	for _, p := range usedParameters(rule, result.Tracks) {
		class := "on"
		if strings.HasPrefix(p.Name, "gpws_") || strings.HasSuffix(p.Name, "_warning") {
			class = "alarm"
		}
		add(p.Name, class)
	}
	return bands
}

// readsGround says whether a rule asks if the aircraft is on the ground, which
// the struts tell.
func readsGround(rule *detect.Rule) bool {
	text := ruleText(rule)
	return slices.ContainsFunc([]string{"strut", "ground", "wheels", "lift_off", "touchdown"}, func(word string) bool {
		return strings.Contains(text, word)
	})
}
