package identity

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/memory"
	"github.com/google/go-cmp/cmp"

	"downlock/ingest"
	"downlock/schemas"
)

var key = &Key{[]byte("0123456789abcdef")}

// TestTokens compares with Python's hmac, hashlib and base64: the first letters of
// b32encode(hmac.digest(key, b"downlock token a TH-KXN", "sha256")), and so on.
func TestTokens(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ got, want string }{
		{key.Token(Aircraft, "TH-KXN"), "a-x4ntys5hj55i"},
		{key.Path("/d/x.csv"), "d-hclhdqcl2uyl/r-rmqwl2mjx6u4"},
		{key.Sum(strings.Repeat("ab", 32)), "7463867f52e56dba627705b693c9e8c6a12a304f8afb2c9b09160acc16a7103f"},
		{fmt.Sprint(key.Number(42)), "4895280459238806679"},
		{key.Check(), "18b56187d819e1703f489d46f3fe1f7a"},
		{key.Token(Aircraft, ""), ""}, {key.Sum(""), ""}, {fmt.Sprint(key.Number(0)), "0"},
	} {
		if c.got != c.want {
			t.Errorf("got %s, want %s", c.got, c.want)
		}
	}
	other := &Key{[]byte("0123456789abcdeg")}
	if key.Token(Aircraft, "x") == other.Token(Aircraft, "x") || key.Token(Aircraft, "x")[2:] == key.Token(Person, "x")[2:] {
		t.Error("tokens of other keys or kinds are the same")
	}
}

// TestNoKey: a nil key withholds nothing.
func TestNoKey(t *testing.T) {
	t.Parallel()
	var none *Key
	r := &ingest.Recording{Name: "x.csv", SHA256: "ab"}
	p := &schemas.Profile{File: "p.yaml"}
	err := errors.New(`"cell"`)
	in := none.Input("a/x.csv", nil, "")
	if none.Recording(r, in) != r || none.Profile(p) != p || none.Token(Aircraft, "x") != "x" || none.Sum("ab") != "ab" || none.Number(7) != 7 ||
		none.Coarse(12345) != 12345 || none.Path("/d/x") != "/d/x" || none.Check() != "" || in.Shown != "a/x.csv" || in.Error(err) != err || in.Text(`"x"`) != `"x"` {
		t.Error("something is withheld without a key")
	}
}

func TestKeyIsNotShown(t *testing.T) {
	t.Parallel()
	for _, form := range []string{"%v", "%+v", "%#v", "%s", "%q", "%x", "%d"} {
		if text := fmt.Sprintf(form, key); text != "key withheld" {
			t.Errorf("%s shows %s", form, text)
		}
		if text := fmt.Sprintf(form, struct{ K *Key }{key}); strings.Contains(text, "0123") || strings.Contains(text, "48") && form != "%x" {
			t.Errorf("%s of a struct shows %s", form, text)
		}
	}
}

func TestReadKey(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	for _, c := range []struct {
		name, text string
		mode       os.FileMode
		cause      string // of the error
		warns      bool
	}{
		{"good", "0123456789abcdef", 0o600, "", false},
		{"one short", "0123456789abcde", 0o600, "has 15 bytes; a key has at least 16", false},
		{"empty", "", 0o600, "has 0 bytes", false},
		{"group may read", "0123456789abcdef", 0o640, "", true},
		{"all may read", "0123456789abcdef", 0o604, "", true},
		{"longest", strings.Repeat("k", maxKeyBytes), 0o600, "", false},
		{"too long", strings.Repeat("k", maxKeyBytes+1), 0o600, "more than 4096 bytes", false},
	} {
		path := filepath.Join(dir, c.name)
		os.WriteFile(path, []byte(c.text), c.mode)
		os.Chmod(path, c.mode)
		got, warning, err := ReadKey(path)
		var problem *schemas.Problem
		if (c.cause == "") != (err == nil) || (warning != "") != c.warns {
			t.Errorf("%s: %v, %q", c.name, err, warning)
		} else if err != nil && (!errors.As(err, &problem) || !strings.Contains(problem.Cause, c.cause) || problem.Hint == "") {
			t.Errorf("%s: %v", c.name, err)
		} else if err == nil && string(got.secret) != c.text {
			t.Errorf("%s: not every byte counts", c.name)
		}
		if err != nil && len(c.text) > 0 && strings.Contains(err.Error(), c.text[:10]) {
			t.Errorf("%s: the key is in the error", c.name)
		}
	}
	for _, path := range []string{dir, filepath.Join(dir, "none")} {
		if _, _, err := ReadKey(path); err == nil {
			t.Errorf("%s is a key", path)
		}
	}
}

func floats(values ...float64) *array.Float64 {
	b := array.NewFloat64Builder(memory.DefaultAllocator)
	b.AppendValues(values, nil)
	return b.NewFloat64Array()
}

// TestRecording: the numbers are worked out by hand.
func TestRecording(t *testing.T) {
	t.Parallel()
	times := floats(36912.3, 36912.4, 36920.125)
	series := func(name string) *ingest.Series {
		return &ingest.Series{Parameter: schemas.Parameter{Name: name}, Times: times, Values: floats(1, 2, 3)}
	}
	r := &ingest.Recording{Name: "TH-KXN.csv", SHA256: "abcd", Unpacked: "cdef", Bytes: 123456, Format: "wide CSV", Epoch: time.Date(2031, 5, 31, 0, 0, 0, 0, time.UTC),
		Start: 36912.3, End: 36920.125, Series: []*ingest.Series{series("latitude"), series("flap_angle"), series("longitude"), series("gross_weight")},
		Notes: []string{"TH-KXN-air.csv: the recording begins at 10:15:12 UTC; its date is not recorded"}}
	in := key.Input("/d/TH-KXN.csv", []string{"/d/TH-KXN-air.csv", "/d/TH-KXN-gear.csv"}, "")
	got := key.Recording(r, in)
	if got.Name != filepath.Base(in.Shown) || got.SHA256 != key.Sum("abcd") || got.Unpacked != key.Sum("cdef") || got.Bytes != 120000 || !got.Epoch.IsZero() || got.Format != "wide CSV" {
		t.Errorf("got %+v", got)
	}
	if len(got.Series) != 2 || got.Series[0].Parameter.Name != "flap_angle" || got.Series[1].Parameter.Name != "gross_weight" {
		t.Errorf("got %d series", len(got.Series))
	}
	for i, want := range []float64{0.3, 0.4, 8.125} {
		if at := got.Series[0].Times.Value(i); at < want-1e-11 || at > want+1e-11 {
			t.Errorf("sample %d is at %v, want %v", i, at, want)
		}
		// The subtraction of a whole number is exact.
		if back := got.Series[0].Times.Value(i) + 36912; back != times.Value(i) {
			t.Errorf("sample %d is %v again, was %v", i, back, times.Value(i))
		}
	}
	if got.Start != r.Start-36912 || got.End != 8.125 || r.Series[0].Times.Value(0) != 36912.3 || r.Name != "TH-KXN.csv" {
		t.Errorf("from %v to %v; and the recording itself is as it was: %v", got.Start, got.End, r.Name)
	}
	if note := got.Notes[1]; strings.Contains(note, "TH-KXN") || strings.Contains(note, "10:15") || !strings.Contains(note, "its date is not recorded") {
		t.Errorf("the note says %s", note)
	}

	// The second flight begins after midnight, at the end of the month.
	if a, b := key.Month(0, r), key.Month(49488, r); a != "2031-05" || b != "2031-06" {
		t.Errorf("months %s and %s", a, b)
	}
}

func TestProfile(t *testing.T) {
	t.Parallel()
	p := &schemas.Profile{Aircraft: "TH-120", Title: "TH-120 of TH-KXN", Registration: "TH-KXN", File: "th-kxn.yaml", SHA256: "ab", Engines: 2}
	got := key.Profile(p)
	if got.Aircraft != "TH-120" || got.Title != "TH-120" || got.Registration != "a-x4ntys5hj55i" || got.SHA256 != key.Sum("ab") || got.File != key.Token(Profile, "th-kxn.yaml") || p.Title != "TH-120 of TH-KXN" {
		t.Errorf("got %+v", got)
	}
	p.Registration = " th-kxn"
	if same := key.Profile(p).Registration; same != got.Registration {
		t.Errorf("another spelling of a registration has the token %s", same)
	}
}

func TestCoarse(t *testing.T) {
	t.Parallel()
	for n, want := range map[int64]int64{0: 0, 7: 7, 99: 99, 100: 100, 104: 100, 105: 110, 123456: 120000, 995: 1000, 1 << 60: 1200000000000000000} {
		if got := key.Coarse(n); got != want {
			t.Errorf("%d becomes %d, want %d", n, got, want)
		}
	}
}

func TestText(t *testing.T) {
	t.Parallel()
	in := key.Input("/d/TH-KXN.csv.gz", []string{"/d/TH-KXN.csv.gz"}, "fleet/th-kxn.yaml")
	shown, name := in.Shown, filepath.Base(in.Shown)
	for text, want := range map[string]string{
		"/d/TH-KXN.csv.gz: is empty":                     shown + ": is empty",
		"part TH-KXN.csv is missing":                     "part " + name + " is missing",
		`"TA4417 \"x\" 2" is not a time`:                 "(withheld) is not a time",
		`has no column "a"; it has: "TH-KXN", "b"`:       "has no column (withheld); it has: (withheld), (withheld)",
		"row 12, at 2031-05-04T10:15:00.5 and 4/5/2031":  "row 12, at (withheld)T(withheld) and (withheld)",
		"on 4 May 2031, 20310504 and 04.05.2031 1234567": "on (withheld), (withheld) and (withheld) 1234567",
		"FLT_20310504 and x2031-05-04":                   "FLT_(withheld) and x(withheld)",
		"hash " + strings.Repeat("0a", 32):               "hash (withheld)",
		"the unit of fleet/th-kxn.yaml":                  "the unit of " + key.Token(Profile, "fleet/th-kxn.yaml"),
		"lasts from 10 to 4500.25 s, 3 of 4 columns":     "lasts from 10 to 4500.25 s, 3 of 4 columns",
	} {
		if got := in.Text(text); got != want {
			t.Errorf("%s\nbecomes %s\nwant    %s", text, got, want)
		}
	}
}

// TestError: errors keep their kinds, so callers can still handle them.
func TestError(t *testing.T) {
	t.Parallel()
	in := key.Input("/d/TH-KXN.csv", []string{"/d/TH-KXN.csv"}, "p.yaml")
	problem := &schemas.Problem{File: "/d/TH-KXN.csv", Line: 3, Column: 7, Cause: `"TA1" is not a time`, Hint: "mend /d/TH-KXN.csv", Source: "TA1,2"}
	want := &schemas.Problem{File: in.Shown, Line: 3, Column: 7, Cause: "(withheld) is not a time", Hint: "mend " + in.Shown}
	if diff := cmp.Diff(want, in.Error(fmt.Errorf("with a name: %w", problem))); diff != "" {
		t.Error(diff)
	}
	if diff := cmp.Diff(schemas.Problems{want, want}, in.Error(schemas.Problems{problem, problem})); diff != "" {
		t.Error(diff)
	}
	elsewhere := &schemas.Problem{File: "inside TH-OTHER.zip", Cause: "is empty"}
	if got := in.Error(elsewhere).Error(); got != in.Shown+": is empty" {
		t.Errorf("got %s", got)
	}
	ofProfile := &schemas.Problem{File: "p.yaml", Cause: "time"}
	if got := in.Error(ofProfile).Error(); got != key.Token(Profile, "p.yaml")+": time" {
		t.Errorf("got %s", got)
	}
	_, missing := os.Open("/d/TH-KXN.csv")
	if got := in.Error(missing); !errors.Is(got, fs.ErrNotExist) || strings.Contains(got.Error(), "KXN") {
		t.Errorf("got %v", got)
	}
	if got := in.Error(errors.New("/d/TH-KXN.csv: downlock failed")); got.Error() != in.Shown+": downlock failed" {
		t.Errorf("got %v", got)
	}
	if in.Error(nil) != nil {
		t.Error("no error becomes one")
	}
}

// TestFieldsAreKnown fails where a recording, a series or a profile gets a new field.
// Somebody must decide whether results may hold it or it identifies a flight.
func TestFieldsAreKnown(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		of     any
		fields string
	}{
		{ingest.Recording{}, "Name SHA256 Unpacked Bytes Format Epoch Start End Series Alternatives Absent Notes Repairs Month Later Stretch"},
		{ingest.Series{}, "Parameter Column Times Values Interval Gap Accuracy Dropped Longest packed source shifts TimeAccuracy delay Exact Samples Step undecided"},
		{schemas.Profile{}, "Schema Aircraft Title Note Registration Legs Engines Systems Time Long Parts InvalidTokens Columns Flaps Throttle Values Limits Tables Criteria File SHA256 document Own Sheet"},
	} {
		typ := reflect.TypeOf(c.of)
		for i := range typ.NumField() {
			if name := typ.Field(i).Name; !slices.Contains(strings.Fields(c.fields), name) {
				t.Errorf("%v has a field %s: withhold it in recording.go where it identifies, and name it here", typ, name)
			}
		}
	}
}
