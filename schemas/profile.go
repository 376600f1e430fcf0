package schemas

import (
	"os"
)

// Profile says how one aircraft type's export maps to canonical parameters, and
// what the type's limits and warning criteria are. It is read once and shared;
// nobody changes it.
type Profile struct {
	Schema   string
	Aircraft string // the type
	Title    string // one line for reports
	Note     string // where the figures come from
	// Registration is that of the one aircraft the profile is for; usually "".
	Registration string
	Legs         []string // nose left right left_body right_body: those the type has
	Engines      int
	Systems      []string // optional systems the type has
	Time         TimeColumns
	Long         LongColumns
	// Parts lists the endings of the names of files that make up one recording
	// together, such as -air.csv and -gear.csv; empty: every file is one of its own.
	Parts []string
	// InvalidTokens are cell texts that mean "no valid value", besides the usual
	// ones every reader knows.
	InvalidTokens Tokens `yaml:"invalid_tokens"`
	Columns       map[string]Sources
	Flaps         Flaps
	Throttle      Throttle
	Values        map[string]float64
	Tables        map[string][][2]float64
	// Criteria of the type's warnings and locks, in the rule language, by the names
	// of the vocabulary.
	Criteria map[string]string

	// File and SHA256 (hex) say where it was read from.
	File   string `yaml:"-"`
	SHA256 string `yaml:"-"`

	document *Document
}

// TimeColumns names the columns that hold the time of a row. Column may hold
// seconds, HH:MM:SS(.fff) or ISO 8601; Date and Clock, where given, hold a date
// and a UTC time of day (possibly once a second only) that set the date of time
// zero, or, where Column is empty, the time itself. They need not stand in the same
// row, and in a long export may be parameters. UTC does it for a MATLAB
// file, whose parameters have a rate and no time column.
type TimeColumns struct {
	Column string
	Unit   string // of a numeric Column; default s
	Date   string
	Clock  string
	// DateFormat is how dates are written where the usual forms leave a doubt: see
	// DateFormat. FileDate is a pattern of the file's name with the date of its first
	// row, for exports that hold none: see ParseFileDate.
	DateFormat string `yaml:"date_format"`
	FileDate   string `yaml:"file_date"`
	UTC        UTCParameters
}

// UTCParameters names the recorded parameters that hold the parts of the UTC
// clock and, where they are recorded, of its date.
type UTCParameters struct{ Year, Month, Day, Hour, Minute, Second string }

// LongColumns names the columns of a long export: one row per sample. A file
// that has all of them and the time column is read as long.
type LongColumns struct {
	Parameter string
	Value     string
}

// Sources is one column or several in order of preference: the first one the
// export has is used, and those after it are compared with it.
type Sources []Source

// Source is one export column and what its cells mean.
type Source struct {
	Column     string
	Unit       string            // as the export writes numbers; needed for numeric parameters
	Scale      float64           // applied before the unit conversion; 0 means 1
	Offset     float64           // added after Scale
	TrueWhen   Tokens            `yaml:"true_when"`  // cells that mean true
	FalseWhen  Tokens            `yaml:"false_when"` // cells that mean false; default: the usual opposite
	States     map[string]string // cell text -> canonical state
	Accuracy   float64           // ± in the canonical unit, 0: none stated
	AllowedGap float64           `yaml:"allowed_gap"` // seconds; 0: three typical intervals
	TimeOffset float64           `yaml:"time_offset"` // seconds after the time of its row that the word was sampled: its place in the frame
	Range      *[2]float64       // plausible values in the canonical unit, in place of the vocabulary's
}

// Tokens is one cell text or a list of them.
type Tokens []string

// UnmarshalYAML takes a scalar or a list.
func (t *Tokens) UnmarshalYAML(unmarshal func(any) error) error {
	var one string
	if err := unmarshal(&one); err == nil {
		*t = Tokens{one}
		return nil
	}
	var many []string
	if err := unmarshal(&many); err != nil {
		return err
	}
	*t = many
	return nil
}

// UnmarshalYAML takes one source or a list of them.
func (s *Sources) UnmarshalYAML(unmarshal func(any) error) error {
	var many []Source
	if err := unmarshal(&many); err == nil {
		*s = many
		return nil
	}
	var one Source
	if err := unmarshal(&one); err != nil {
		return err
	}
	*s = Sources{one}
	return nil
}

// Flaps gives the detents, and the parameters that tell which one is set, in
// order of preference. An angle within Tolerance (deg) of a detent, or beyond
// it, has reached it.
type Flaps struct {
	Parameters []string // flap_handle, flap_angle
	Tolerance  float64
	Detents    []Detent
}

// Detent is one flap setting. A detent may be of several classes: up, takeoff,
// intermediate, landing. Placard is the highest airspeed in kt, 0: none.
type Detent struct {
	Name    string
	Angle   float64
	Classes []string
	Placard float64
}

// Throttle says when a throttle counts as retarded: Parameter (throttle_angle
// or engine_n1, per engine) below RetardedBelow in its unit.
type Throttle struct {
	Parameter     string
	RetardedBelow float64 `yaml:"retarded_below"`
}

// ReadProfile reads and checks a profile. The error is Problems, or an error
// from the file system.
func ReadProfile(path string) (*Profile, error) {
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, err
	}
	return ParseProfile(path, data)
}
