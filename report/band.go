package report

import (
	"strings"

	"downlock/detect"
	"downlock/ingest"
	"downlock/report/svg"
)

// band is a held parameter around an event: boxes of its nominal reading,
// hatching from the last sample of one value to the first of the next, where
// the change may have come at any time, and a dot per sample.
type band struct {
	name      string
	boxes     []box
	undecided []detect.Span
	samples   []*ingest.Series
}

func (b band) row() row {
	return row{bandHeight + 3, func(c *svg.Canvas, x svg.Scale, top float64) {
		c.Text(chartLeft-8, top+bandHeight-3, "name", b.name)
		drawBoxes(c, x, top, b.boxes)
		for _, s := range visible(b.undecided, x) {
			from, to := x.Clamped(s.Start), x.Clamped(s.End)
			c.Rect(from, top, to-from, bandHeight, "undecided")
		}
		y := svg.Scale{Low: 0, High: 0, From: top + bandHeight + 3, To: top + bandHeight + 3}
		for _, s := range b.samples {
			in := svg.Samples{Times: s.TimeValues()}.Range(x.Low, x.High)
			if float64(len(in))*dotSpacing > x.To-x.From {
				continue
			}
			p := &svg.Path{}
			for _, t := range in {
				p.Dot(x.At(t), y.From)
			}
			c.Path(p, "dots")
		}
	}}
}

// undecidedSpans are the times between samples of different value.
func undecidedSpans(runs []run) []detect.Span {
	var spans []detect.Span
	for i, r := range runs {
		if r.joined && i+1 < len(runs) {
			spans = append(spans, detect.Span{Start: r.last, End: runs[i+1].start})
		}
	}
	return spans
}

// traceBands are the bands of a trace: lever, legs, horn and cutout, and
// whatever else that is held the rule reads.
func traceBands(f *detect.Flight, rule *detect.Rule, span detect.Span) []band {
	var bands []band
	shown := map[*ingest.Series]bool{}
	discrete := func(s *ingest.Series, class string) {
		if s != nil && !shown[s] && s.Codes() != nil {
			shown[s] = true
			bands = append(bands, codeBand(s, span, class))
		}
	}
	discrete(f.Recording.Lookup("gear_lever"), "")
	for _, leg := range recordedLegs(f) {
		shown[leg.down], shown[leg.up] = true, true
		bands = append(bands, leg.band(span))
	}
	for _, s := range f.Recording.Series {
		if strings.HasSuffix(s.Parameter.Name, "strut_compressed") || s.Parameter.Name == "weight_on_wheels" {
			if readsGround(rule) {
				discrete(s, "on")
			}
		}
	}
	discrete(f.Recording.Lookup("gear_horn"), "alarm")
	discrete(f.Recording.Lookup("gear_horn_cutout"), "alarm")
	for _, s := range usedParameters(rule, f.Recording) {
		class := "on"
		if strings.HasPrefix(s.Parameter.Name, "gpws_") || strings.HasSuffix(s.Parameter.Name, "_warning") {
			class = "alarm"
		}
		discrete(s, class)
	}
	return bands
}

// readsGround says whether a rule asks if the aircraft is on the ground, which
// the struts tell.
func readsGround(rule *detect.Rule) bool {
	text := ruleText(rule)
	for _, word := range []string{"strut", "ground", "wheels", "lift_off", "touchdown"} {
		if strings.Contains(text, word) {
			return true
		}
	}
	return false
}

// codeBand is the band of a discrete, true in the class's look, or of a state.
func codeBand(s *ingest.Series, span detect.Span, class string) band {
	runs := codeRuns(s, span)
	b := band{name: shortName(s.Parameter.Name), undecided: undecidedSpans(runs), samples: []*ingest.Series{s}}
	if len(s.Parameter.States) > 0 {
		b.boxes = leverBoxes(runs, s.Parameter.States)
	} else {
		b.boxes = onOff(runs, class, "")
	}
	return b
}

func (l legSeries) band(span detect.Span) band {
	b := band{name: l.name, boxes: legBoxes(l.runs(span))}
	for _, s := range []*ingest.Series{l.down, l.up} {
		if s != nil {
			b.undecided = append(b.undecided, undecidedSpans(codeRuns(s, span))...)
			b.samples = append(b.samples, s)
		}
	}
	return b
}
