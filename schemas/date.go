package schemas

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"
)

// DateFormat is the way an export writes dates: DD/MM/YYYY, D.M.YYYY, DD-MON-YY,
// YYYYMMDD and the like. YYYY is the year, YY its last two digits (69 to 99 are 1969
// to 1999, as in POSIX strptime). MM is the month in two digits, M in one or two, MON
// its first three letters in English. DD and D are the day. Everything else stands
// for itself.
type DateFormat struct {
	text  string
	match *regexp.Regexp
	parts []string // of the groups: Y, M, D
}

// dateParts are the parts of a date format, the longer before the shorter.
var dateParts = []struct{ text, part, match string }{
	{"YYYY", "Y", `(\d{4})`}, {"YY", "Y", `(\d{2})`}, {"MON", "M", `([A-Za-z]{3})`}, {"MM", "M", `(\d{2})`}, {"M", "M", `(\d{1,2})`},
	{"DD", "D", `(\d{2})`}, {"D", "D", `(\d{1,2})`},
}

// ParseDateFormat reads a format. The error says which part the format lacks.
func ParseDateFormat(text string) (*DateFormat, error) {
	f := &DateFormat{text: text}
	source := f.read(text)
	if err := f.complete(); err != nil {
		return nil, err
	}
	f.match = regexp.MustCompile("^" + source + "$")
	return f, nil
}

// ParseFileDate reads the pattern of a file name. In it * stands for any text, and a
// date format in braces stands for the date, as in *_{YYYYMMDD}_*.csv.
func ParseFileDate(text string) (*DateFormat, error) {
	before, rest, _ := strings.Cut(text, "{")
	date, after, shut := strings.Cut(rest, "}")
	if !shut || strings.ContainsAny(before+date+after, "{}") {
		return nil, fmt.Errorf("%q has no date in braces", text)
	}
	f := &DateFormat{text: text}
	date = f.read(date)
	if err := f.complete(); err != nil {
		return nil, err
	}
	around := func(part string) string {
		return strings.ReplaceAll(regexp.QuoteMeta(part), `\*`, ".*")
	}
	f.match = regexp.MustCompile("^" + around(before) + date + around(after) + "$")
	return f, nil
}

// read builds the regular expression of a format and notes its parts.
func (f *DateFormat) read(text string) (match string) {
	for text != "" {
		i := slices.IndexFunc(dateParts, func(p struct{ text, part, match string }) bool { return strings.HasPrefix(text, p.text) })
		if i < 0 {
			r := []rune(text)[0]
			match, text = match+regexp.QuoteMeta(string(r)), text[len(string(r)):]
			continue
		}
		match += dateParts[i].match
		f.parts = append(f.parts, dateParts[i].part)
		text = text[len(dateParts[i].text):]
	}
	return match
}

func (f *DateFormat) complete() error {
	sorted := slices.Sorted(slices.Values(f.parts))
	if !slices.Equal(sorted, []string{"D", "M", "Y"}) {
		return fmt.Errorf("%q is not a date format: it needs a year, a month and a day, once each", f.text)
	}
	return nil
}

// String returns the format as it was written.
func (f *DateFormat) String() string { return f.text }

var monthNames = strings.Fields("jan feb mar apr may jun jul aug sep oct nov dec")

// Date reads a date; ok is false where the text is no date in this format.
func (f *DateFormat) Date(text string) (day time.Time, ok bool) {
	groups := f.match.FindStringSubmatch(text)
	if groups == nil {
		return day, false
	}
	var y, m, d int
	for i, part := range f.parts {
		cell := groups[i+1]
		n, err := strconv.Atoi(cell)
		if err != nil {
			n = slices.Index(monthNames, strings.ToLower(cell)) + 1
		}
		switch part {
		case "Y":
			y = n
			if len(cell) == 2 {
				y += 2000
				if n >= 69 {
					y -= 100
				}
			}
		case "M":
			m = n
		default:
			d = n
		}
	}
	day = time.Date(y, time.Month(m), d, 0, 0, 0, 0, time.UTC)
	return day, day.Day() == d && day.Month() == time.Month(m) // a 30 February is 1 or 2 March
}

const fileDateHint = "write it as *_{YYYYMMDD}_*, with the date in braces"

func (p *Profile) checkTime() (found Problems) {
	const example = "DD/MM/YYYY, D.M.YYYY, DD-MON-YY or YYYYMMDD"
	if text := p.Time.DateFormat; text != "" {
		if _, err := ParseDateFormat(text); err != nil {
			found = append(found, p.document.Problem("/time/date_format", err.Error(), "write it as "+example))
		}
	}
	if text := p.Time.FileDate; text != "" {
		if _, err := ParseFileDate(text); err != nil {
			found = append(found, p.document.Problem("/time/file_date", err.Error(), fileDateHint))
		}
	}
	return found
}
