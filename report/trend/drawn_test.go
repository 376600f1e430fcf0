package trend

import (
	"encoding/xml"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"testing"

	"downlock/report/trend/tally"
)

// shapes lists what a drawing shows, by the class of each shape, in order: the points of a
// path, with | where the pen is lifted, the box of a rectangle, the place and words of a text.
func shapes(t *testing.T, drawing []byte) map[string][]string {
	t.Helper()
	var tree struct {
		Shapes []struct {
			XMLName xml.Name
			Class   string `xml:"class,attr"`
			D       string `xml:"d,attr"`
			X       string `xml:"x,attr"`
			Y       string `xml:"y,attr"`
			Width   string `xml:"width,attr"`
			Height  string `xml:"height,attr"`
			Text    string `xml:",chardata"`
		} `xml:",any"`
	}
	if err := xml.Unmarshal(drawing, &tree); err != nil {
		t.Fatalf("%v in %s", err, drawing)
	}
	all := map[string][]string{}
	for _, s := range tree.Shapes {
		text := points(t, s.D)
		switch s.XMLName.Local {
		case "rect":
			text = s.X + "," + s.Y + " " + s.Width + "x" + s.Height
		case "text":
			text = s.X + "," + s.Y + " " + s.Text
		}
		all[s.Class] = append(all[s.Class], text)
	}
	return all
}

// points reads the data of a path as the SVG specification says: large letters are places,
// small ones steps.
func points(t *testing.T, data string) string {
	t.Helper()
	var out []string
	x, y := 0.0, 0.0
	for data != "" {
		command, rest := data[0], data[1:]
		end := strings.IndexAny(rest, "MLmlhv")
		if end < 0 {
			end = len(rest)
		}
		var n []float64
		for _, word := range strings.Fields(strings.ReplaceAll(rest[:end], "-", " -")) {
			v, err := strconv.ParseFloat(word, 64)
			if err != nil {
				t.Fatalf("%v in %s", err, data)
			}
			n = append(n, v)
		}
		data = rest[end:]
		switch command {
		case 'M', 'L':
			x, y = n[0], n[1]
		case 'm', 'l':
			x, y = x+n[0], y+n[1]
		case 'h':
			x += n[0]
			if n[0] == 0 {
				continue // a dot
			}
		case 'v':
			y += n[0]
		}
		if (command == 'M' || command == 'm') && len(out) > 0 {
			out = append(out, "|")
		}
		out = append(out, fmt.Sprintf("%.4g,%.4g", x, y))
	}
	return strings.Join(out, " ")
}

// checkShapes compares the shapes of the classes named with those expected, one a line.
func checkShapes(t *testing.T, drawing []byte, want map[string]string) {
	t.Helper()
	got := shapes(t, drawing)
	for class, text := range want {
		if g := strings.Join(got[class], "\n"); g != text {
			t.Errorf("%s: got\n%s\nwant\n%s", class, g, text)
		}
	}
}

// rowsOf writes the values of a chart, a line for each, with the notice of a month that is not
// over.
func rowsOf(v chartValues) string {
	lines := []string{strings.Join(v.Head, " | ")}
	for _, r := range v.Rows {
		cells := []string{strconv.FormatFloat(r.X, 'g', 5, 64)}
		for _, c := range r.Cells {
			cells = append(cells, string(c))
		}
		if r.NotOver {
			cells = append(cells, "hollow")
		}
		lines = append(lines, strings.Join(cells, " | "))
	}
	return strings.Join(lines, "\n")
}

// drawn is a tally of eleven months from June on, so that a month takes 46 units: 506 of the
// plot by 11, the first in the middle of 46 to 92. Each has so many events of two rules, on a
// thousand opportunities and 500 flights; none in September, and half in the last.
func drawn(first, second [11]int) *tally.Tally {
	t := &tally.Tally{Rules: []string{"gear-late", "of-our-own"}, Titles: map[string]string{}, Columns: []string{"aircraft"}, Strata: [][]string{{"TH-120"}}}
	for i := range 11 {
		cell := tally.Cell{Evaluated: 500, Opportunities: 1000}
		switch i {
		case 3:
			cell = tally.Cell{}
		case 10:
			cell = tally.Cell{Evaluated: 250, Opportunities: 500}
		}
		m := tally.Month{Name: fmt.Sprintf("%d-%02d", 2030+(i+5)/12, (i+5)%12+1), Flights: []int{500}, Cells: [][]tally.Cell{{cell}, {cell}}}
		for rule, n := range []int{first[i], second[i]} {
			for k := range n {
				m.Events = append(m.Events, tally.Event{Rule: rule, Flight: fmt.Sprint(m.Name, k), Certain: true})
			}
		}
		t.Months = append(t.Months, m)
	}
	return t
}

// Gear-late: 24 events on 6,000 before the recent period, 4 per 1,000, sigma 2, so the limits are
// 0 and 10; in the last month, on 500, sigma is 2.828 and the limit 12.485. The chart ends at
// 20, twice the limit, since the interval of 13 events, 6.922 to 22.230, ends above; so 5.9 units are 1 per
// 1,000. Intervals: 4 events 1.090 to 10.242, 2 on 500 0.484 to 14.449 (tables of Garwood's). The
// average goes from 4 by a fifth of the way: 5.8, 5.44, 5.152.
//
// The other: 16 per 1,000, sigma 4, limits 4 and 28; in the last month 16 - 3·5.657 is
// below nothing, and 32.971 above. The chart ends at 34.620, 1.05 times that: 3.4084 units are 1 per
// 1,000. 16 events 9.145 to 25.983, 3 0.619 to 8.767.
func TestDrawnRates(t *testing.T) {
	t.Parallel()
	tr, err := New(drawn([11]int{4, 4, 4, 0, 4, 4, 4, 13, 4, 4, 2}, [11]int{16, 16, 16, 0, 16, 16, 16, 16, 3, 16, 8}),
		Options{Level: 0.05, Correction: Holm, Months: 3, RunMonth: "2031-04"})
	if err != nil {
		t.Fatal(err)
	}
	chart, averages := tr.ruleCharts(0)
	d := tr.drawRates(0, chart, averages)
	if !strings.HasPrefix(string(d.SVG), `<svg class="chart" viewBox="0 0 560 162" role="img" aria-label="Events per 1,000 opportunities by month: `) {
		t.Errorf("the chart begins %.150s", d.SVG)
	}
	checkShapes(t, []byte(d.SVG), map[string]string{
		"recent":      "368,20 138x118", // of months 7 to 9
		"value":       "552,10 hollow: 2031-04, not over\n42,141 0\n42,111.5 5\n42,82 10\n42,52.5 15\n42,23 20",
		"grid":        "46,138 552,138\n46,108.5 552,108.5\n46,79 552,79\n46,49.5 552,49.5\n46,20 552,20\n368,20 368,141", // and the year
		"in-left":     "4,10 events per 1,000 opportunities",
		"tick strong": "69,151 2030-06\n391,151 2031",
		"tick":        "115,151 07\n161,151 08\n207,151 09\n253,151 10\n299,151 11\n345,151 12\n437,151 02\n483,151 03\n529,151 04",
		"axis":        "115,138 115,141\n161,138 161,141\n207,138 207,141\n253,138 253,141\n299,138 299,141\n345,138 345,141\n437,138 437,141\n483,138 483,141\n529,138 529,141\n46,138 552,138",
		"limits":      "46,79 92,79 138,79 184,79 | 230,79 276,79 322,79 368,79 414,79 460,79 506,79 506,64.3 552,64.3",
		"centre":      "46,114.4 552,114.4",
		"average":     "69,114.4 115,114.4 161,114.4 207,114.4 253,114.4 299,114.4 345,114.4 391,103.8 437,105.9 483,107.6",
		"whisker": strings.Join([]string{
			"69,131.6 69,77.6 | 67,131.6 71,131.6 | 67,77.6 71,77.6", "115,131.6 115,77.6 | 113,131.6 117,131.6 | 113,77.6 117,77.6", "161,131.6 161,77.6 | 159,131.6 163,131.6 | 159,77.6 163,77.6",
			"253,131.6 253,77.6 | 251,131.6 255,131.6 | 251,77.6 255,77.6", "299,131.6 299,77.6 | 297,131.6 301,131.6 | 297,77.6 301,77.6", "345,131.6 345,77.6 | 343,131.6 347,131.6 | 343,77.6 347,77.6",
			"391,97.2 391,20 | 389,97.2 393,97.2", "437,131.6 437,77.6 | 435,131.6 439,131.6 | 435,77.6 439,77.6", "483,131.6 483,77.6 | 481,131.6 485,131.6 | 481,77.6 485,77.6",
			"529,135.1 529,52.7 | 527,135.1 531,135.1 | 527,52.7 531,52.7"}, " | "),
		"rates":   "69,114.4 | 115,114.4 | 161,114.4 | 253,114.4 | 299,114.4 | 345,114.4 | 437,114.4 | 483,114.4 | 529,114.4",
		"signals": "391,57.3 395,61.3 391,65.3 387,61.3 391,57.3",
		"hollow":  "529,114.4",
	})
	page := `<a href="flights/gear-late.html#`
	usual := func(x, month string) string {
		return x + " | " + month + " | " + page + month + `">4</a> | 1,000 | 4 | 1.09 to 10.2 | 0 to 10 | 8 | `
	}
	if got, want := rowsOf(d.Values), strings.Join([]string{
		"month | events | opportunities | per 1,000 opportunities | 95 % interval | three-sigma limits | per 1,000 flights | remark",
		usual("69", "2030-06"), usual("115", "2030-07"), usual("161", "2030-08"), "207 | 2030-09 | 0 | 0 | – |  |  | – | no opportunity to show it",
		usual("253", "2030-10"), usual("299", "2030-11"), usual("345", "2030-12"),
		"391 | 2031-01 | " + page + `2031-01">13</a> | 1,000 | 13 | 6.92 to 22.2 | 0 to 10 | 26 | one point beyond three sigma`,
		usual("437", "2031-02"), usual("483", "2031-03"),
		"529 | 2031-04 | " + page + `2031-04">2</a> | 500 | 4 | 0.484 to 14.4 | 0 to 12.5 | 8 | not over, compared with nothing | hollow`,
	}, "\n"); got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
	chart, averages = tr.ruleCharts(1)
	checkShapes(t, []byte(tr.drawRates(1, chart, averages).SVG), map[string]string{
		"limits": "46,42.6 92,42.6 138,42.6 184,42.6 | 230,42.6 276,42.6 322,42.6 368,42.6 414,42.6 460,42.6 506,42.6 506,25.6 552,25.6\n" +
			"46,124.4 92,124.4 138,124.4 184,124.4 | 230,124.4 276,124.4 322,124.4 368,124.4 414,124.4 460,124.4 506,124.4", // none in the last month
		"rates":   "69,83.5 | 115,83.5 | 161,83.5 | 253,83.5 | 299,83.5 | 345,83.5 | 391,83.5 | 483,83.5 | 529,83.5",
		"signals": "437,123.8 441,127.8 437,131.8 433,127.8 437,123.8", // 3 per 1,000
	})
}

// Where no month has an event, or an opportunity, the chart ends at 1 per 1,000.
func TestDrawnNothing(t *testing.T) {
	t.Parallel()
	counted := drawn([11]int{}, [11]int{})
	for m := range counted.Months {
		counted.Months[m].Cells[0][0] = tally.Cell{}
	}
	tr, err := New(counted, Options{Level: 0.05, Correction: Holm, Months: 3})
	if err != nil {
		t.Fatal(err)
	}
	chart, averages := tr.ruleCharts(0)
	checkShapes(t, []byte(tr.drawRates(0, chart, averages).SVG), map[string]string{
		"value": "42,141 0.0\n42,82 0.5\n42,23 1.0", "rates": "", "whisker": "", "limits": "", "hollow": "", "recent": "414,20 138x118",
	})
}

// Up to twelve months each is named, up to three years every third, January by its year; beside
// the first there is no room once there are more than twelve.
func TestMonthsOnTheAxis(t *testing.T) {
	t.Parallel()
	for months, want := range map[int]string{
		12: "2030-12 2031 02 03 04 05 06 07 08 09 10 11",
		13: "2030-12 2031 04 07 10",
		36: "2030-12 2031 04 07 10 2032 04 07 10 2033 04 07 10",
		37: "2030-12 2031 2032 2033",
	} {
		counted := &tally.Tally{}
		for m := range months {
			counted.Months = append(counted.Months, tally.Month{Name: fmt.Sprintf("%d-%02d", 2030+(m+11)/12, (m+11)%12+1)})
		}
		tr := &Trend{Tally: counted}
		p := tr.newPlot("", "", 0, 1)
		got := shapes(t, p.Bytes())
		names := slices.Concat(got["tick strong"], got["tick"])
		slices.SortFunc(names, func(a, b string) int {
			x, _, _ := strings.Cut(a, ",")
			y, _, _ := strings.Cut(b, ",")
			at, _ := strconv.ParseFloat(x, 64)
			other, _ := strconv.ParseFloat(y, 64)
			return int(10*at) - int(10*other)
		})
		for i, n := range names {
			_, names[i], _ = strings.Cut(n, " ")
		}
		if got := strings.Join(names, " "); got != want {
			t.Errorf("%d months: %s, want %s", months, got, want)
		}
		if first := got["tick strong"][0]; months == 37 && first != "62,151 2030-12" { // not left of the plot
			t.Errorf("the first month stands at %s", first)
		}
	}
	counted := &tally.Tally{}
	for m := range 24 { // the second month is a January's neighbour or third: 2031-03, 2031-04
		counted.Months = append(counted.Months, tally.Month{Name: fmt.Sprintf("%d-%02d", 2031+(m+2)/12, (m+2)%12+1)})
	}
	p := (&Trend{Tally: counted}).newPlot("", "", 0, 1)
	if got := shapes(t, p.Bytes())["tick"]; len(got) == 0 || !strings.HasSuffix(got[0], " 07") {
		t.Errorf("beside the first month stands %q", got)
	}
}
