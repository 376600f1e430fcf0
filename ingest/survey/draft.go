package survey

import (
	"fmt"
	"slices"
	"strings"
	"unicode"

	"downlock/schemas"
)

// Draft writes a commented profile from suggestions. Sure and likely mappings are in
// force, doubtful ones are commented out, and every decision of the user is marked
// DECIDE. schemas.ParseProfile accepts the text unless all suggestions are doubtful:
// then the user has to choose first. Without any suggestion Draft returns a problem.
func (s *Survey) Draft(suggestions []Suggestion, openings ...Opening) (string, error) {
	d := draft{survey: s, openings: openings}
	if err := s.recognised(suggestions); err != nil {
		return "", err
	}
	d.top(suggestions)
	d.time()
	d.columns(suggestions)
	d.flaps(suggestions)
	d.limits(suggestions)
	return d.text.String(), nil
}

// Opening is a set of entries to fill in and the rules that can then be evaluated.
type Opening struct {
	Fill  []string // names of values, tables and criteria; flaps, throttle, systems
	Said  string   // such as: filling these 4 opens 12 rules
	Rules []string
}

func (s *Survey) recognised(suggestions []Suggestion) error {
	if len(suggestions) == 0 {
		return &schemas.Problem{File: s.Name, Cause: "no column could be recognised, neither by its name nor by what it does",
			Hint: "`downlock inspect` shows what is in it; start from the commented profile that `downlock demo` writes, and name the columns yourself"}
	}
	return nil
}

// draft is a profile text under construction.
type draft struct {
	survey   *Survey
	openings []Opening
	text     strings.Builder
}

func (d *draft) line(format string, args ...any) {
	fmt.Fprintf(&d.text, format+"\n", args...)
}

// comment writes a comment on one line, because its text may come from a file.
func (d *draft) comment(indent, format string, args ...any) {
	d.line("%s# %s", indent, oneLine(fmt.Sprintf(format, args...)))
}

func oneLine(text string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r < ' ' || r == 0x7f || r == 0x85 || r == 0x2028 || r == 0x2029:
			return ' '
		case schemas.Hidden(r):
			return unicode.ReplacementChar
		}
		return r
	}, text)
}

func (d *draft) top(suggestions []Suggestion) {
	d.comment("", "Draft of a profile for exports like %s, made from that file.", d.survey.Name)
	d.comment("", "Every line is a suggestion: `high`, `medium` and `low` say how sure it is, with the evidence beside it. Low ones are")
	d.comment("", "commented out. DECIDE marks what only you can say. Limits, flap detents and warning criteria belong to your type: take them")
	d.comment("", "from your own approved manuals; the profile that `downlock demo` writes shows every entry.")
	d.line("schema: downlock profile 1")
	d.line("aircraft: type not stated # DECIDE")
	d.line("title: draft from a survey, not checked # DECIDE")
	legs, engines := legsAndEngines(suggestions)
	if len(legs) >= 2 {
		d.comment("", "Legs with a down-lock or strut of their own in the export. DECIDE: does the type have others?")
	} else {
		legs = []string{"nose", "left", "right"}
		d.comment("", "DECIDE: the export has no columns for single legs; nose, left and right are assumed.")
	}
	d.line("legs: [%s]", strings.Join(legs, ", "))
	if engines > 0 {
		d.comment("", "The highest engine number with a column. DECIDE: does the type have more?")
	} else {
		engines = 2
		d.comment("", "DECIDE: no engine column was recognised; two are assumed.")
	}
	d.line("engines: %d", engines)
	d.line("")
}

// legsAndEngines returns the legs with columns of their own, in the vocabulary's
// order, and the highest engine number.
func legsAndEngines(suggestions []Suggestion) (legs []string, engines int) {
	for _, leg := range []string{"nose", "left", "right", "left_body", "right_body"} {
		if slices.ContainsFunc(suggestions, func(s Suggestion) bool {
			return s.Confidence != Doubtful && (s.Parameter == leg+"_gear_down_locked" || s.Parameter == leg+"_strut_compressed")
		}) {
			legs = append(legs, leg)
		}
	}
	for _, s := range suggestions {
		for n := 1; n <= 4; n++ {
			engine := strings.HasPrefix(s.Parameter, "throttle_angle") || strings.HasPrefix(s.Parameter, "engine_")
			if engine && s.Confidence != Doubtful && strings.HasSuffix(s.Parameter, fmt.Sprint("_", n)) {
				engines = max(engines, n)
			}
		}
	}
	return legs, engines
}

func (d *draft) time() {
	if d.survey.Sheet != "" {
		d.line("sheet: %s", quoted(d.survey.Sheet))
	}
	t := d.survey.Time
	d.comment("", "Time of a row: %s.", strings.Join(t.Evidence, "; "))
	if t.Doubt != "" {
		d.comment("", "DECIDE: %s.", t.Doubt)
	}
	if d.survey.oneTimeARow() {
		d.comment("", "All cells of a row have one time, but a recorder samples its words one after the other. So each time is known only to within a row.")
		d.comment("", "DECIDE: if you know the frame, give the columns their time_offset; if all are sampled at the time of the row, add accuracy: 0 to time.")
	}
	if t.Column == "" {
		d.ratedTime()
		return
	}
	entries := []string{"column: " + quoted(t.Column)}
	if t.Unit != "" {
		entries = append(entries, "unit: "+t.Unit)
	}
	if t.Date != "" {
		entries = append(entries, "date: "+quoted(t.Date))
	}
	if t.Clock != "" {
		entries = append(entries, "clock: "+quoted(t.Clock))
	}
	if t.DateFormat != "" {
		entries = append(entries, "date_format: "+quoted(t.DateFormat))
	}
	d.line("time: {%s}", strings.Join(entries, ", "))
	if t.Undated != "" && t.Undated != t.Column {
		d.comment("", "DECIDE, then add to time: date: %s, date_format: %s", quoted(t.Undated), strings.Join(t.DateFormats, " or "))
	}
	if t.Long() {
		d.line("long: {parameter: %s, value: %s}", quoted(t.Parameter), quoted(t.Value))
	}
	d.line("")
}

// ratedTime writes the time of an export whose parameters have rates: the parameters
// of its clock, or else a column nobody reads.
func (d *draft) ratedTime() {
	u := d.survey.Time.UTC
	var entries []string
	for _, e := range [][2]string{{"year", u.Year}, {"month", u.Month}, {"day", u.Day}, {"hour", u.Hour}, {"minute", u.Minute}, {"second", u.Second}} {
		if e[1] != "" {
			entries = append(entries, e[0]+": "+quoted(e[1]))
		}
	}
	if len(entries) == 0 {
		d.comment("", "DECIDE: no parameters of a UTC clock were recognised; name them here: utc: {hour: ..., minute: ..., second: ...}.")
		d.line("time: {column: none}")
	} else {
		d.line("time: {utc: {%s}}", strings.Join(entries, ", "))
	}
	d.line("")
}

func (d *draft) columns(suggestions []Suggestion) {
	if !slices.ContainsFunc(suggestions, func(s Suggestion) bool { return s.Confidence != Doubtful }) {
		d.comment("", "DECIDE: no column's name says what it is. Remove the comment mark where a guess is right, and map the others by what they do.")
	}
	d.line("columns:")
	used := map[string]bool{}
	for _, s := range suggestions {
		used[s.Column] = true
		for _, name := range s.Samples {
			used[name] = true
		}
		d.comment("  ", "%s: %s.", s.Confidence, strings.Join(s.Evidence, "; "))
		if text := s.accuracy(d.survey.Column(s.Column)); text != "" && s.rests == nil {
			d.comment("  ", "%s", text)
		}
		for _, decision := range s.Decide {
			d.comment("  ", "DECIDE: %s.", decision)
		}
		mark, entries := "", s.source()
		if s.Confidence == Doubtful || s.Unit == schemas.DetentUnit {
			mark = "# " // detents need the entries of flaps
		}
		if unit := d.foreignUnit(s); unit != "" {
			mark, entries = "# ", append(entries, "stated_unit: "+quoted(unit))
			if s.rests == nil {
				entries = append(entries, "scale: NUMBER", "offset: NUMBER")
			}
		}
		d.line("  %s%s: {%s}", mark, s.Parameter, strings.Join(entries, ", "))
	}
	d.line("")
	var left []*Column
	for i := range d.survey.Columns {
		if c := &d.survey.Columns[i]; !used[c.Name] {
			left = append(left, c)
		}
	}
	if len(left) > 0 {
		d.comment("", "Columns without a suggestion, and what they do:")
		phases := d.survey.phases(d.survey.reference())
		for _, c := range left {
			d.comment("", "  %s: %s", c.Name, c.described())
			if told := d.survey.packedBits(c, phases); told != "" {
				d.comment("", "    %s. DECIDE: a parameter that is one of its bits has column, bit, word: decimal or hex, and true_when", told)
			}
		}
		d.line("")
	}
}

// foreignUnit is the unit the file states for the column of a number, where it is none of
// the known ones; a reader refuses it without the user's word.
func (d *draft) foreignUnit(s Suggestion) string {
	c := d.survey.Column(s.Column)
	if c == nil || s.Unit == "" || c.Unit == "" {
		return ""
	}
	if _, known := schemas.UnitName(c.Unit); known {
		return ""
	}
	return c.Unit
}

// source returns the entries of the mapping.
func (s Suggestion) source() []string {
	var entries []string
	add := func(name string, texts []string) {
		if len(texts) > 0 {
			all := make([]string, len(texts))
			for i, t := range texts {
				all[i] = quoted(t)
			}
			entries = append(entries, name+": ["+strings.Join(all, ", ")+"]")
		}
	}
	if add("samples", s.Samples); len(s.Samples) == 0 {
		entries = append(entries, "column: "+quoted(s.Column))
	}
	if s.Unit != "" {
		entries = append(entries, "unit: "+quoted(s.Unit))
	}
	if s.Scale != 0 {
		entries = append(entries, fmt.Sprintf("scale: %g", s.Scale))
	}
	if s.rests != nil {
		var points []string
		for _, at := range s.rests {
			points = append(points, fmt.Sprintf("[%s, NUMBER]", short(at)))
		}
		entries = append(entries, "points: ["+strings.Join(points, ", ")+"]")
	}
	for _, level := range []struct {
		name string
		at   *float64
	}{{"true_above", s.TrueAbove}, {"false_below", s.FalseBelow}, {"true_below", s.TrueBelow}, {"false_above", s.FalseAbove}} {
		if level.at != nil {
			entries = append(entries, fmt.Sprintf("%s: %g", level.name, *level.at))
		}
	}
	add("true_when", s.TrueWhen)
	add("false_when", s.FalseWhen)
	if len(s.States) > 0 {
		var pairs []string
		for text, state := range s.States {
			pairs = append(pairs, quoted(text)+": "+quoted(state))
		}
		slices.Sort(pairs)
		entries = append(entries, "states: {"+strings.Join(pairs, ", ")+"}")
	}
	return entries
}

// quoted writes text as a double-quoted YAML scalar, in which every character shows.
func quoted(text string) string {
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range text {
		switch {
		case r == '"' || r == '\\':
			b.WriteByte('\\')
			b.WriteRune(r)
		case schemas.Hidden(r) && r > 0xffff:
			fmt.Fprintf(&b, `\U%08x`, r)
		case schemas.Hidden(r):
			fmt.Fprintf(&b, `\u%04x`, r)
		default:
			b.WriteRune(r)
		}
	}
	b.WriteByte('"')
	return b.String()
}

// flaps lists the detents in which the handle was seen, for the user to classify.
func (d *draft) flaps(suggestions []Suggestion) {
	for _, s := range suggestions {
		c := d.survey.Column(s.Column)
		if s.Parameter != "flap_handle" || c == nil || c.Distinct > statesKept || c.Distinct < 2 {
			continue
		}
		d.comment("", "Detents seen in this recording. DECIDE: the angles, all classes (up, takeoff, intermediate, landing) and the placard speed of each,")
		d.comment("", "and the detents that this recording does not show; then remove the comment marks. The classes here are those it was used for.")
		d.comment("", "flaps:")
		d.comment("", "  parameters: [flap_handle]")
		d.comment("", "  tolerance: 1")
		d.comment("", "  detents:")
		classes := d.survey.detentClasses(c)
		for _, text := range detentTexts(c) {
			d.comment("", "    - {name: %s, angle: %s, classes: [%s]}", quoted(text), detentAngle(text), strings.Join(classes[text], ", "))
		}
	}
}
