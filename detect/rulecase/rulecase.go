// Package rulecase reads and runs rule cases: short texts that state a few sampled
// series and the events a rule must find in them, worked out by hand. Notation
// describes the lines of a case.
package rulecase

import (
	"bufio"
	"cmp"
	_ "embed"
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"golang.org/x/tools/txtar"

	"downlock/detect"
	"downlock/schemas"
)

// Notation describes a file of rule cases, for its writer. The command
// `downlock rules --language` prints it.
//
//go:embed notation.txt
var Notation string

// Case is one case, ready to run.
type Case struct {
	File, Name  string
	Why         string
	Start, End  float64
	Values      map[string]float64
	Series      []Series
	Events      []Event
	None        []string
	Evaluations []Evaluation
	Measures    []Measure
	profile     *member             // nil: the caller's
	rules       *member             // nil: the caller's alone
	own         []schemas.Parameter // beyond the canonical ones
	lines       map[string]int      // of the first line that names a rule
}

// member is a profile or pack in a case file. below is the line above its first.
type member struct {
	text  []byte
	below int
}

// Series is the samples of one parameter.
type Series struct {
	Parameter     schemas.Parameter
	Every, Gap    float64
	Accuracy      float64
	Times, Values []float64 // a state is its index
}

// Event is an expected event.
type Event struct {
	Rule       string
	Certainty  detect.Certainty
	Severity   detect.Severity // "" is not looked at
	Start, End detect.Time
	Moment     bool
}

// Evaluation is an expected evaluation of a rule. Negative Seconds are not
// compared.
type Evaluation struct {
	Rule     string
	Coverage detect.Coverage
	Because  string
	Seconds  float64
}

// The names of the members that are not cases.
const (
	profileName = "profile.yaml"
	rulesName   = "rules.yaml"
)

// Parse reads a case file, in the order of its members; own are parameters that packs
// outside the file declare. The error is schemas.Problems, with a line for each mistake.
func Parse(file string, data []byte, own ...schemas.Parameter) ([]*Case, error) {
	archive := txtar.Parse(data)
	own = append(slices.Clone(own), declared(archive)...)
	var profile, rules *member
	var found schemas.Problems
	var cases []*Case
	line := 1 + strings.Count(string(archive.Comment), "\n")
	for _, f := range archive.Files {
		line++ // the member's own line
		switch f.Name {
		case profileName:
			profile = &member{f.Data, line - 1}
		case rulesName:
			rules = &member{f.Data, line - 1}
		default:
			c, problems := parseCase(file, f.Name, string(f.Data), line, own)
			cases, found = append(cases, c), append(found, problems...)
		}
		line += strings.Count(string(f.Data), "\n")
	}
	for _, c := range cases {
		c.profile, c.rules = profile, rules
	}
	if len(cases) == 0 {
		found = append(found, &schemas.Problem{File: file, Cause: "has no case", Hint: "a case begins with a line such as -- gear down late --"})
	}
	if len(found) > 0 {
		return nil, found.InOrder()
	}
	return cases, nil
}

// declared lists the parameters that a profile or rule pack in the file declares. Their
// mistakes are found when they are read.
func declared(archive *txtar.Archive) (own []schemas.Parameter) {
	for _, f := range archive.Files {
		var text struct{ Parameters []schemas.Parameter }
		if f.Name != profileName && f.Name != rulesName {
			continue
		}
		if doc, err := schemas.ParseDocument(f.Name, f.Data); err == nil && doc.Decode(&text) == nil {
			own = append(own, text.Parameters...)
		}
	}
	return own
}

func parseCase(file, name, text string, line int, own []schemas.Parameter) (*Case, schemas.Problems) {
	c := &Case{File: file, Name: name, Values: map[string]float64{}, own: own, lines: map[string]int{}}
	var found schemas.Problems
	scanner := bufio.NewScanner(strings.NewReader(text))
	for ; scanner.Scan(); line++ {
		content, _, _ := strings.Cut(scanner.Text(), "#")
		content = strings.TrimSpace(content)
		if content == "" {
			continue
		}
		word, rest, _ := strings.Cut(content, " ")
		if err := c.line(word, strings.TrimSpace(rest)); err != nil {
			p := &schemas.Problem{File: file, Line: line, Cause: name + ": " + err.Error(), Source: scanner.Text()}
			var unknown *unknownError
			if errors.As(err, &unknown) {
				p.Hint = schemas.Suggest(unknown.word, unknown.known)
			}
			p.Hint = cmp.Or(p.Hint, "`downlock rules --language` shows the lines of a case")
			found = append(found, p)
		}
		for _, rule := range c.rulesNamed() {
			if c.lines[rule] == 0 {
				c.lines[rule] = line
			}
		}
	}
	if c.End <= c.Start {
		found = append(found, &schemas.Problem{File: file, Line: line, Cause: name + ": no flight line", Hint: "add flight START..END airborne FROM..TO"})
	}
	return c, found
}

// unknownError says that a word is none of those known in its place.
type unknownError struct {
	what, word string
	known      []string
}

func (e *unknownError) Error() string { return fmt.Sprintf("unknown %s %q", e.what, e.word) }

// lineWords are the words a line of a case may begin with.
var lineWords = []string{"why", "flight", "value", "series", "event", "none", "evaluation", "partly", "measure"}

// line reads one line of a case.
func (c *Case) line(word, rest string) error {
	switch word {
	case "why":
		c.Why = strings.TrimSpace(c.Why + " " + rest)
		return nil
	case "flight":
		return c.flight(strings.Fields(rest))
	case "value":
		f := strings.Fields(rest)
		if len(f) != 2 {
			return fmt.Errorf("value needs a name and a number")
		}
		if known := valueNames(); !slices.Contains(known, f[0]) {
			return &unknownError{"value", f[0], known}
		}
		v, err := number(f[1])
		c.Values[f[0]] = v
		return err
	case "series":
		s, err := parseSeries(rest, c.own)
		c.Series = append(c.Series, s)
		return err
	case "event":
		e, err := parseEvent(strings.Fields(rest))
		c.Events = append(c.Events, e)
		return err
	case "none":
		c.None = append(c.None, rest)
		return nil
	case "evaluation":
		rule, rest, _ := strings.Cut(rest, " ")
		word, because, _ := strings.Cut(rest, " because ")
		coverage, err := oneOf(word, detect.Evaluated, detect.PartlyEvaluated, detect.NotEvaluable, detect.NoOpportunity)
		c.Evaluations = append(c.Evaluations, Evaluation{rule, coverage, because, -1})
		return err
	case "measure":
		m, err := parseMeasure(rest)
		c.Measures = append(c.Measures, m)
		return err
	case "partly":
		rule, seconds, _ := strings.Cut(rest, " ")
		v, err := number(seconds)
		c.Evaluations = append(c.Evaluations, Evaluation{rule, detect.PartlyEvaluated, "", v})
		return err
	}
	return &unknownError{"line", word, lineWords}
}

func valueNames() []string {
	var names []string
	for _, v := range schemas.Values() {
		names = append(names, v.Name)
	}
	return names
}

// flight sets the ends of the recording and adds struts at 4 Hz.
func (c *Case) flight(f []string) error {
	if len(f) != 3 || f[1] != "airborne" {
		return fmt.Errorf("write flight START..END airborne FROM..TO")
	}
	start, end, err := parseRange(f[0])
	if err != nil {
		return err
	}
	from, to, err := parseRange(f[2])
	if (end-start)/0.25 > mostSamples {
		return fmt.Errorf("the flight is longer than %d s", mostSamples/4)
	}
	c.Start, c.End = start, end
	for _, name := range []string{"nose_strut_compressed", "left_strut_compressed", "right_strut_compressed"} {
		p, _ := schemas.LookupParameter(name)
		s := Series{Parameter: p, Every: 0.25, Gap: 0.75}
		for i := 0; start+float64(i)*0.25 <= end; i++ {
			t, v := start+float64(i)*0.25, 1.0
			if t >= from && (t < to || to == end) {
				v = 0
			}
			s.Times, s.Values = append(s.Times, t), append(s.Values, v)
		}
		c.Series = append(c.Series, s)
	}
	return err
}

func parseRange(text string) (from, to float64, err error) {
	a, b, ok := strings.Cut(text, "..")
	if !ok {
		return 0, 0, fmt.Errorf("%q is not a range such as 10..20", text)
	}
	if from, err = number(a); err != nil {
		return 0, 0, err
	}
	to, err = number(b)
	return from, to, err
}

// number reads a finite number.
func number(text string) (float64, error) {
	v, err := strconv.ParseFloat(text, 64)
	if err != nil || math.IsInf(v, 0) || math.IsNaN(v) {
		return 0, fmt.Errorf("%q is not a number", text)
	}
	return v, nil
}

// oneOf reads one of a few words.
func oneOf[T ~string](word string, known ...T) (T, error) {
	if !slices.Contains(known, T(word)) {
		return "", fmt.Errorf("%q is not one of %q", word, known)
	}
	return T(word), nil
}

// parseEvent reads RULE CERTAINTY [SEVERITY] (start TIME end TIME | at TIME),
// TIME being T in A..B.
func parseEvent(f []string) (e Event, err error) {
	shape := fmt.Errorf("write event RULE certain|possible [SEVERITY] start T in A..B end T in A..B, or at T in A..B")
	if len(f) < 6 {
		return e, shape
	}
	e.Rule = f[0]
	if e.Certainty, err = oneOf(f[1], detect.Certain, detect.Possible); err != nil {
		return e, err
	}
	f = f[2:]
	if f[0] != "start" && f[0] != "at" {
		if e.Severity, err = oneOf(f[0], detect.Low, detect.Medium, detect.High); err != nil {
			return e, err
		}
		f = f[1:]
	}
	switch {
	case len(f) == 8 && f[0] == "start" && f[4] == "end":
		if e.Start, err = parseTime(f[1:4]); err != nil {
			return e, err
		}
		e.End, err = parseTime(f[5:8])
	case len(f) == 4 && f[0] == "at":
		e.Start, err = parseTime(f[1:4])
		e.End, e.Moment = e.Start, true
	default:
		return e, shape
	}
	return e, err
}

func parseTime(f []string) (t detect.Time, err error) {
	if t.Nominal, err = number(f[0]); err != nil {
		return t, err
	}
	if f[1] != "in" {
		return t, fmt.Errorf("write T in A..B, not %s", strings.Join(f, " "))
	}
	t.Earliest, t.Latest, err = parseRange(f[2])
	return t, err
}
