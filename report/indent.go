package report

// indented sets what json.Marshal wrote on lines, as json.Indent does with a blank for
// each depth. It knows that its input is right and compact, which saves a third of the time
// of a document.
func indented(data []byte) []byte {
	out := make([]byte, 0, len(data)+len(data)/2)
	depth := 0
	line := func() {
		out = append(out, '\n')
		for range depth {
			out = append(out, ' ')
		}
	}
	for i := 0; i < len(data); i++ {
		switch c := data[i]; c {
		case '"':
			from := i
			for i++; data[i] != '"'; i++ {
				if data[i] == '\\' {
					i++
				}
			}
			out = append(out, data[from:i+1]...)
		case '{', '[':
			out = append(out, c)
			if data[i+1] == c+2 { // in ASCII, the end of either is two after its beginning
				i++
				out = append(out, c+2)
				continue
			}
			depth++
			line()
		case '}', ']':
			depth--
			line()
			out = append(out, c)
		case ',':
			out = append(out, c)
			line()
		case ':':
			out = append(out, c, ' ')
		default:
			out = append(out, c)
		}
	}
	return out
}
