package ingest

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/ipc"
	"github.com/apache/arrow/go/v17/arrow/memory"

	"downlock/schemas"
)

// A clock that steps back by more than an hour, in a long export by more than twelve, has
// passed midnight; one that then leaps on by more than twelve hours is a row from before.
func TestMidnightStep(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name     string
		midnight float64
		clocks   []float64
		want     []float64
	}{
		{"an hour back", midnightStepWide, []float64{7200, 3600}, []float64{7200, 3600}},
		{"a little more", midnightStepWide, []float64{7200, 3599.5}, []float64{7200, 3599.5 + 86400}},
		{"twelve hours back, long", midnightStepLong, []float64{50000, 6800}, []float64{50000, 6800}},
		{"a little more, long", midnightStepLong, []float64{50000, 6799.5}, []float64{50000, 6799.5 + 86400}},
		{"a row from before midnight", midnightStepWide, []float64{86399, 1, 86398, 2}, []float64{86399, 86401, 86398, 86402}},
		{"twelve hours on is no row from before", midnightStepWide, []float64{80000, 0, 43200}, []float64{80000, 86400, 86400 + 43200}},
		{"a little more is one", midnightStepWide, []float64{80000, 0, 43200.5}, []float64{80000, 86400, 43200.5}},
		{"none before the first day", midnightStepWide, []float64{0, 50000}, []float64{0, 50000}},
	} {
		a := axis{unit: 1, midnight: c.midnight}
		var got []float64
		for _, clock := range c.clocks {
			at, cause := a.clockTime(clock, nil)
			if cause != "" {
				t.Errorf("%s: %s", c.name, cause)
			}
			got = append(got, at)
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
}

// At a sample a second a parameter that changes by at most 10 a second: a single sample is a
// spike when both its steps are faster, in opposite directions, and its neighbours
// agree.
func TestSpikesByHand(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name   string
		values []float64
		loose  float64
		want   []float64
	}{
		{"out and back", []float64{0, 11, 0}, 0, []float64{0, 0}},
		{"as fast as it may be", []float64{0, 10, 0}, 0, []float64{0, 10, 0}},
		{"back as fast as it may be", []float64{0, 11, 1}, 0, []float64{0, 11, 1}},
		{"away slowly, back fast", []float64{0, 5, -14}, 0, []float64{0, 5, -14}},
		{"away fast, back slowly", []float64{0, 14, 9}, 0, []float64{0, 14, 9}},
		{"down and up", []float64{0, -11, 0}, 0, []float64{0, 0}},
		{"on in the same direction", []float64{0, 11, 22}, 0, []float64{0, 11, 22}},
		{"neighbours as far apart as may be", []float64{0, 31.5, 20}, 0, []float64{0, 20}},
		{"neighbours further apart", []float64{0, 32, 20.5}, 0, []float64{0, 32, 20.5}},
		{"times spread by a second", []float64{0, 20, 0}, 1, []float64{0, 20, 0}},
		{"times spread by a second, faster", []float64{0, 20.5, 0}, 1, []float64{0, 0}},
		{"two spikes", []float64{0, 50, 0, 50, 0}, 0, []float64{0, 0, 0}},
		{"the first and the last stay", []float64{50, 0, 0, 50}, 0, []float64{50, 0, 0, 50}},
		{"held to its first level", []float64{0, 30, 30, 0}, 0, []float64{0, 30, 30, 0}},
	} {
		ch := channel{numeric: true, parameter: schemas.Parameter{MaxRate: 10}, numbers: slices.Clone(c.values)}
		for i := range c.values {
			ch.times = append(ch.times, float64(i))
		}
		dropped := ch.dropSpikes(c.loose)
		if !slices.Equal(ch.numbers, c.want) || dropped != len(c.values)-len(c.want) || len(ch.times) != len(ch.numbers) {
			t.Errorf("%s: %v at %v, %d dropped, want %v", c.name, ch.numbers, ch.times, dropped, c.want)
		}
	}
	none := channel{numeric: true, numbers: []float64{0, 99, 0}, times: []float64{0, 1, 2}}
	if none.dropSpikes(0) != 0 {
		t.Error("a parameter without a rate has no spikes")
	}
}

// Blocks that begin each 100 s: a stretch takes those that hold it and 120 s either side,
// with one more before, in which the first time may lie, and one after.
func TestPackedMargins(t *testing.T) {
	t.Parallel()
	p := &packedTimes{count: 95}
	for i := range 10 {
		p.starts, p.before = append(p.starts, float64(100*i)), append(p.before, 10*i)
	}
	for _, c := range []struct {
		start, end float64
		shifts     []float64
		from, to   int
		samples    int
	}{
		{500, 520, nil, 3, 8, 50},                // 380 to 640: from the block of 300 to that of 600, and one more
		{520, 580, nil, 3, 9, 60},                // 400 begins a block: the one before may hold 400 too; until 700
		{520.5, 579.5, nil, 4, 8, 40},            // 400.5 to 699.5
		{0, 10, nil, 0, 3, 30},                   // none before the first
		{900, 950, nil, 7, 10, 25},               // the last block is shorter
		{500, 520, []float64{50, -30}, 3, 8, 50}, // 380 and 640 are 360 and 620 before the shifts
		{500, 520, []float64{50}, 3, 7, 40},      // 330 and 590
	} {
		from, to := p.around(c.start, c.end, c.shifts)
		if from != c.from || to != c.to || p.samples(from, to) != c.samples {
			t.Errorf("%v to %v, shifted by %v: blocks %d to %d with %d samples, want %d to %d with %d", c.start, c.end, c.shifts, from, to, p.samples(from, to), c.from, c.to, c.samples)
		}
	}
	if got := p.samples(10, 10); got != 0 {
		t.Errorf("%d samples behind the last block", got)
	}
}

// Fifteen lists, one in the other, and the numbers in them are sixteen types below a column:
// as deep as they may nest.
func TestArrowDepth(t *testing.T) {
	t.Parallel()
	profile, err := schemas.ParseProfile("test.yaml", []byte("schema: downlock profile 1\naircraft: T\ntitle: test\nlegs: [nose, left, right]\nengines: 2\ntime: {column: time}\ncolumns:\n  computed_airspeed: {column: CAS, unit: kt}\n"))
	if err != nil {
		t.Fatal(err)
	}
	for depth, refused := range map[int]bool{15: false, 16: true} {
		nested := arrow.DataType(arrow.PrimitiveTypes.Float64)
		for range depth {
			nested = arrow.ListOf(nested)
		}
		schema := arrow.NewSchema([]arrow.Field{{Name: "time", Type: arrow.PrimitiveTypes.Float64}, {Name: "CAS", Type: arrow.PrimitiveTypes.Float64}, {Name: "deep", Type: nested, Nullable: true}}, nil)
		b := array.NewRecordBuilder(memory.DefaultAllocator, schema)
		for i := range 3 {
			b.Field(0).(*array.Float64Builder).Append(float64(i))
			b.Field(1).(*array.Float64Builder).Append(100)
			b.Field(2).AppendNull()
		}
		path := filepath.Join(t.TempDir(), "nested.arrow")
		file, err := os.Create(path)
		if err != nil {
			t.Fatal(err)
		}
		w, err := ipc.NewFileWriter(file, ipc.WithSchema(schema))
		if err == nil {
			err = w.Write(b.NewRecord())
		}
		if err == nil {
			err = w.Close()
		}
		if err != nil {
			t.Fatal(err)
		}
		file.Close()
		_, err = Read(path, profile)
		if got := err != nil && strings.Contains(err.Error(), "nest too deep"); got != refused {
			t.Errorf("%d deep: %v", depth, err)
		}
	}
}
