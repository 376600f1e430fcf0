package svg

import (
	"encoding/xml"
	"io"
	"math"
	"math/rand"
	"slices"
	"strconv"
	"strings"
	"testing"

	"downlock/detect/readings"
)

// TestEscaping reads a drawing full of hostile text with another parser.
func TestEscaping(t *testing.T) {
	t.Parallel()
	text := `</svg><script>alert('1')</script>"&` + "\x00\x1b\ufffe\xff"
	c := New(10, 10, text, text)
	c.Text(1, 2, text, text)
	c.Rect(1, 2, 3, 4, text)
	c.Link(text, text, func() { c.Line(0, 0, 1, 1, text) })
	drawn := string(c.Bytes())
	d := xml.NewDecoder(strings.NewReader(drawn))
	var elements []string
	texts := 0
	for {
		token, err := d.Token()
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		switch x := token.(type) {
		case xml.StartElement:
			elements = append(elements, x.Name.Local)
		case xml.CharData:
			if strings.HasPrefix(string(x), `</svg><script>alert('1')</script>"&`) {
				texts++
			}
		}
	}
	if want := []string{"svg", "text", "rect", "a", "title", "path"}; !slices.Equal(elements, want) {
		t.Errorf("elements are %v, want %v", elements, want)
	}
	if texts != 2 {
		t.Errorf("the text is read back %d times, want 2", texts)
	}
}

// The expected paths are written by hand.
func TestPaths(t *testing.T) {
	t.Parallel()
	var p Path
	p.LineTo(1, 2)
	p.LineTo(1.26, 2)    // h, to 1.3
	p.LineTo(1.26, 1)    // v
	p.LineTo(2.3, 3)     // l
	p.LineTo(2.3, 3)     // no step
	p.LineTo(4, 3)       // h
	p.LineTo(4, 5)       // v
	p.Lift()             //
	p.LineTo(-0.04, 7.5) // starts again
	if got, want := string(p.d), "M1 2h0.3v-1l1 2h1.7v2M0 7.5"; got != want {
		t.Errorf("path is %s, want %s", got, want)
	}
	var dots Path
	dots.Dot(1, 1)
	dots.Dot(2.5, 0.5)
	if got, want := string(dots.d), "M1 1h0m1.5-0.5h0"; got != want {
		t.Errorf("dots are %s, want %s", got, want)
	}
	if got := string(appendTenths(nil, tenths(math.NaN()))) + " " + string(appendTenths(nil, tenths(math.Inf(1)))); got != "0 1000000" {
		t.Errorf("not a number and infinity are drawn at %s", got)
	}
}

func TestScaleAndTicks(t *testing.T) {
	t.Parallel()
	s := Scale{Low: 100, High: 200, From: 10, To: 60}
	for v, want := range map[float64]float64{100: 10, 200: 60, 150: 35, 90: 5} {
		if got := s.At(v); got != want {
			t.Errorf("%g is at %g, want %g", v, got, want)
		}
	}
	if s.Clamped(90) != 10 || s.Clamped(1e9) != 60 || (Scale{1, 1, 0, 10}).At(1) != 5 {
		t.Error("clamping fails")
	}
	for least, want := range map[float64]float64{0.9: 1, 1: 1, 1.1: 2, 2.5: 5, 6: 10, 300: 500, 0.03: 0.05, 0: 1, -1: 1} {
		if got := RoundStep(least); math.Abs(got-want) > 1e-12 {
			t.Errorf("step for %g is %g, want %g", least, got, want)
		}
	}
	for least, want := range map[float64]float64{0.05: 0.1, 7: 10, 11: 15, 40: 60, 700: 900, 86400: 86400, 90000: 100000} {
		if got := TimeStep(least); got != want {
			t.Errorf("time step for %g is %g, want %g", least, got, want)
		}
	}
	if got := Ticks(95, 131, 15); !slices.Equal(got, []float64{105, 120}) {
		t.Errorf("ticks are %v", got)
	}
	for _, bad := range [][3]float64{{0, 1, 0}, {1, 0, 1}, {0, 1e9, 1}, {math.NaN(), 1, 1}, {0, math.Inf(1), 1}} {
		if got := Ticks(bad[0], bad[1], bad[2]); got != nil {
			t.Errorf("ticks of %v are %v", bad, got)
		}
	}
}

// Pieces from 0 to 1 s and, after a gap, from 9 to 10 s, at ten units a second;
// worked out by hand.
func TestGapsStayOpen(t *testing.T) {
	t.Parallel()
	x, y := Scale{0, 10, 0, 100}, Scale{0, 2, 20, 0}
	line := readings.Curve{{Start: 0, End: 1, From: 1, To: 2}, {Start: 9, End: 10, From: 2, To: 1}}
	held := readings.Curve{{Start: 0, End: 1, From: 1, To: 1}, {Start: 1, End: 2, From: 2, To: 2}, {Start: 9, End: 10, From: 2, To: 2}}
	for _, c := range []struct {
		name string
		path *Path
		want string
	}{
		{"a line", Curve(line, false, x, y), "M0 10l10-10M90 0l10 10"},
		{"steps", Curve(held, true, x, y), "M0 10h10v-10h10M90 0h10"},
		{"a number that jumps", Curve(held, false, x, y), "M0 10h10M10 0h10M90 0h10"},
		{"dots", Dots([]float64{0, 1, 9, 10}, []float64{1, 2, 2, 1}, x, y), "M0 10h0m10-10h0m80 0h0m10 10h0"},
	} {
		if got := string(c.path.d); got != c.want {
			t.Errorf("%s is %s, want %s", c.name, got, c.want)
		}
	}
}

// TestThinning: at any density of samples every column keeps its extremes, and the
// path stays short.
func TestThinning(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewSource(2))
	const n, width = 100_000, 500.0
	x, y := Scale{0, n, 0, width}, Scale{0, 1, 0, 1000}
	values := make([]float64, n)
	for i := range values {
		values[i] = random.Float64()
	}
	const spike = 77_777
	values[spike] = 3
	var curve readings.Curve
	for i := 1; i < n; i++ {
		curve = append(curve, readings.Piece{Start: float64(i - 1), End: float64(i), From: values[i-1], To: values[i]})
	}
	path := string(Curve(curve, false, x, y).d)
	if len(path) > 30_000 {
		t.Errorf("the path has %d bytes", len(path))
	}
	lowest, highest, pen := math.Inf(1), math.Inf(-1), 0.0
	for _, at := range absoluteY(t, path) {
		lowest, highest, pen = min(lowest, at), max(highest, at), at
	}
	if math.Abs(highest-3000) > 0.1 || math.Abs(lowest-slices.Min(values)*1000) > 0.1 {
		t.Errorf("drawn from %g to %g, want %g to 3000", lowest, highest, slices.Min(values)*1000)
	}
	if math.Abs(pen-values[n-1]*1000) > 0.1 {
		t.Errorf("the line ends at %g, the samples at %g", pen, values[n-1]*1000)
	}
}

// absoluteY follows a path and returns every height on it.
func absoluteY(t *testing.T, path string) (heights []float64) {
	t.Helper()
	y := 0.0
	for len(path) > 0 {
		command := path[0]
		end := strings.IndexAny(path[1:], "MmLlhv") + 1
		if end == 0 {
			end = len(path)
		}
		numbers := parse(t, path[1:end])
		path = path[end:]
		switch command {
		case 'M':
			y = numbers[1]
		case 'l':
			y += numbers[1]
		case 'v':
			y += numbers[0]
		}
		heights = append(heights, y)
	}
	return heights
}

func parse(t *testing.T, s string) (numbers []float64) {
	t.Helper()
	for _, field := range strings.Fields(strings.ReplaceAll(s, "-", " -")) {
		v, err := strconv.ParseFloat(field, 64)
		if err != nil {
			t.Fatal(err)
		}
		numbers = append(numbers, v)
	}
	return numbers
}
