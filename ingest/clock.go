package ingest

import "bytes"

// parseClock reads H:MM:SS or HH:MM:SS with an optional fraction (point or
// comma, at most nine digits) and an optional Z, in seconds since midnight.
// Hours run to 99, for elapsed times.
func parseClock(cell []byte) (seconds float64, ok bool) {
	if n := len(cell); n > 0 && (cell[n-1] == 'Z' || cell[n-1] == 'z') {
		cell = cell[:n-1]
	}
	hourDigits := bytes.IndexByte(cell, ':')
	if hourDigits != 1 && hourDigits != 2 || len(cell) < hourDigits+6 || cell[hourDigits+3] != ':' {
		return 0, false
	}
	hours, ok1 := digits(cell[:hourDigits])
	minutes, ok2 := digits(cell[hourDigits+1 : hourDigits+3])
	whole, ok3 := digits(cell[hourDigits+4 : hourDigits+6])
	if !ok1 || !ok2 || !ok3 || minutes > 59 || whole > 60 { // 60: a leap second
		return 0, false
	}
	total := hours*3600 + minutes*60 + whole
	rest := cell[hourDigits+6:]
	if len(rest) == 0 {
		return float64(total), true
	}
	places := len(rest) - 1
	fraction, ok := digits(rest[1:])
	if rest[0] != '.' && rest[0] != ',' || !ok || places > 9 {
		return 0, false
	}
	scale := powers[places]
	return (float64(total)*scale + float64(fraction)) / scale, true // exact below 2^53, so rounded once
}

func digits(text []byte) (n int, ok bool) {
	for _, c := range text {
		if c < '0' || c > '9' {
			return 0, false
		}
		n = n*10 + int(c-'0')
	}
	return n, len(text) > 0 && len(text) <= 9
}

// splitInstant splits ISO 8601 date and time at the T or blank between them.
func splitInstant(cell []byte) (date, rest []byte, ok bool) {
	colon := bytes.IndexByte(cell, ':')
	if colon < 0 {
		return nil, nil, false
	}
	i := bytes.LastIndexAny(cell[:colon], "T ") // the last: "02 Oct 2031 07:08:09"
	if i < len("3/4/31") {
		return nil, nil, false
	}
	return cell[:i], bytes.TrimSpace(cell[i+1:]), true
}

// splitOffset takes an offset from UTC (+02:00, -0530, +01) off a clock time;
// offset is in seconds, east positive.
func splitOffset(rest []byte) (clock []byte, offset float64, ok bool) {
	i := bytes.LastIndexAny(rest, "+-")
	if i < 0 {
		return rest, 0, true
	}
	zone := bytes.ReplaceAll(rest[i+1:], []byte{':'}, nil)
	n, ok := digits(zone)
	if !ok || len(zone) != 2 && len(zone) != 4 {
		return nil, 0, false
	}
	if len(zone) == 2 {
		n *= 100
	}
	offset = float64(n/100*3600 + n%100*60)
	if rest[i] == '-' {
		offset = -offset
	}
	return bytes.TrimSpace(rest[:i]), offset, true
}
