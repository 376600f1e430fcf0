package workbook

import (
	"encoding/xml"
	"math"
	"strconv"
	"strings"
	"time"
)

// format says whether the numbers of a style are shown as dates, as times, or as both;
// else they are numbers.
type format uint8

const (
	number format = 0
	date   format = 1
	clock  format = 2
)

// builtIn are the number formats every workbook has without listing them (ECMA-376 part
// 1, 18.8.30). Those from 27 to 36 and 50 to 58 differ by language, and some are a date
// in one and a time in another.
func builtIn(id int) format {
	switch {
	case id >= 14 && id <= 17:
		return date
	case id >= 18 && id <= 21, id >= 45 && id <= 47:
		return clock
	case id == 22, id >= 27 && id <= 36, id >= 50 && id <= 58:
		return date | clock
	}
	return number
}

// formatOf reads the code of a number format, such as yyyy-mm-dd or [h]:mm:ss.000. Only
// its first section counts, and in it the letters that are no text.
func formatOf(code string) (f format) {
	months := false
	for i := 0; i < len(code); i++ {
		switch c := code[i] | 0x20; {
		case code[i] == ';':
			i = len(code)
		case code[i] == '"':
			end := strings.IndexByte(code[i+1:], '"')
			if end < 0 {
				return f
			}
			i += end + 1
		case code[i] == '\\', code[i] == '_', code[i] == '*':
			i++
		case code[i] == '[':
			end := strings.IndexByte(code[i:], ']')
			if end < 0 {
				return f
			}
			if inside := strings.ToLower(code[i+1 : i+end]); inside != "" && strings.Trim(inside, inside[:1]) == "" && strings.Contains("hms", inside[:1]) {
				f |= clock // time gone by
			}
			i += end
		case strings.EqualFold(code[i:min(i+7, len(code))], "general"):
			i += 6
		case c == 'y', c == 'd':
			f |= date
		case c == 'h', c == 's':
			f |= clock
		case c == 'm':
			months = true
		}
	}
	if months && f == number { // else m may be minutes
		return date
	}
	return f
}

// readStyles reads the formats of the styles that cells refer to by number.
func (b *Book) readStyles(part string) error {
	codes := map[string]format{}
	cells := false
	return b.elements(part, func(d *decoder, e xml.StartElement) error {
		switch e.Name.Local {
		case "numFmt":
			if !cells { // those of conditional formats follow later
				codes[attribute(e, "numFmtId")] = formatOf(attribute(e, "formatCode"))
			}
		case "cellXfs", "cellStyleXfs", "cellStyles", "dxfs":
			cells = e.Name.Local == "cellXfs"
		case "xf":
			if !cells {
				return nil
			}
			id := attribute(e, "numFmtId")
			f, listed := codes[id]
			if !listed {
				n, _ := strconv.Atoi(id)
				f = builtIn(n)
			}
			b.formats = append(b.formats, f)
		}
		return nil
	})
}

const (
	millisecondsPerDay = 86_400_000
	mostDays           = 2_958_466 // the end of the year 9999
)

// show writes a day number as the date or time its format shows, to a millisecond; the
// number itself where it is neither.
func (b *Book) show(text string, f format) string {
	days, err := strconv.ParseFloat(text, 64)
	if f == number || err != nil || !(days >= 0 && days < mostDays) {
		return text
	}
	ms := int64(math.Round(days * millisecondsPerDay))
	whole := ms / millisecondsPerDay
	at := b.day(whole).Add(time.Duration(ms%millisecondsPerDay) * time.Millisecond)
	switch {
	case f == clock, f&clock != 0 && whole == 0:
		return at.Format("15:04:05.999")
	case f == date && ms%millisecondsPerDay == 0:
		return at.Format(time.DateOnly)
	}
	return at.Format("2006-01-02T15:04:05.999")
}

// day is the date of a day number. Day 1 is 1 January 1900, and the day 60 is counted for
// a 29 February that year did not have; or day 0 is 1 January 1904.
func (b *Book) day(number int64) time.Time {
	switch {
	case b.date1904:
		return time.Date(1904, 1, 1, 0, 0, 0, 0, time.UTC).AddDate(0, 0, int(number))
	case number < 60:
		number++
	}
	return time.Date(1899, 12, 30, 0, 0, 0, 0, time.UTC).AddDate(0, 0, int(number))
}
