package schemas

import (
	"os"
)

// Profile maps one aircraft type's export to canonical parameters. It also holds the
// type's limits and warning criteria. It is read once and shared; nobody changes it.
type Profile struct {
	Schema   string
	Aircraft string // the type
	Title    string // one line for reports
	Note     string // the source of the figures
	// Registration belongs to the one aircraft the profile is for; usually "".
	Registration string
	Legs         []string // those the type has, of: nose left right left_body right_body
	Engines      int
	Systems      []string // optional systems the type has
	Time         TimeColumns
	Long         LongColumns
	// Parts lists the endings of the names of files that together make up one
	// recording, such as -air.csv and -gear.csv. If it is empty, every file is a
	// recording.
	Parts []string
	// InvalidTokens are cell texts that mean "no valid value". Every reader also
	// knows the usual ones.
	InvalidTokens Tokens `yaml:"invalid_tokens"`
	// Own are parameters the vocabulary does not have.
	Own      []Parameter `yaml:"parameters"`
	Columns  map[string]Sources
	Flaps    Flaps
	Sheet    string // of a workbook with several; "": the one with the time column
	Throttle Throttle
	Values   map[string]float64
	// Limits are values that change with a parameter, by the names of those values
	// the vocabulary marks so. A profile gives each as a value or as a limit.
	Limits map[string]Limit
	Tables map[string][][2]float64
	// Criteria of the type's warnings and locks, in the rule language, by the names
	// of the vocabulary.
	Criteria map[string]string

	// File is the file the profile was read from; SHA256 (hex) is the hash of its
	// text.
	File   string `yaml:"-"`
	SHA256 string `yaml:"-"`

	document *Document
}

// TimeColumns names the columns that hold the time of a row. Column may hold seconds,
// HH:MM:SS(.fff) or ISO 8601. Date and Clock are optional and hold a date and a UTC
// time of day, possibly only once a second. They set the date of time zero, or the
// time itself where Column is empty. They need not be filled in the same row, and in
// a long export they may be parameters. UTC serves a MATLAB file, whose parameters
// have a rate and no time column.
type TimeColumns struct {
	Column string
	Unit   string // of a numeric Column; default s
	Date   string
	Clock  string
	// DateFormat is the way dates are written where the usual forms leave a doubt;
	// see the type DateFormat. FileDate is for exports that hold no date. It is a
	// pattern of the file name with the date of the first row; see ParseFileDate.
	DateFormat string `yaml:"date_format"`
	FileDate   string `yaml:"file_date"`
	// Accuracy is how much earlier or later than the time of its row a sample may have
	// been taken, in s, where its source states no TimeOffset; nil for the time from
	// sample to sample in exports that have all slow parameters at one place in it.
	Accuracy *float64
	UTC      UTCParameters
}

// UTCParameters names the recorded parameters that hold the parts of the UTC
// clock and, where they are recorded, of its date.
type UTCParameters struct{ Year, Month, Day, Hour, Minute, Second string }

// LongColumns names the columns of a long export: one row per sample. A file
// that has all of them and the time column is read as long.
type LongColumns struct {
	Parameter string
	Value     string
	// Unit is the column with the unit of each row, where the export has one.
	Unit string
}

// Sources is one column, or several in order of preference. The first one in the
// export is used, and the later ones are compared with it.
type Sources []Source

// Source is one export column, or several with the samples of one row, and the meaning of
// the cells.
type Source struct {
	Column string
	// Samples are the columns of a word that is sampled several times in a row, in place
	// of Column: the first at the time of the row, the others evenly through it.
	Samples    []string
	Unit       string            // as the export writes numbers; needed for numeric parameters, see NeedsUnit; DetentUnit for a flap lever
	StatedUnit string            `yaml:"stated_unit"` // as the export's header says it; "": Unit, in any known spelling
	Scale      float64           // applied before the unit conversion; 0 means 1
	Offset     float64           // added after Scale
	TrueWhen   Tokens            `yaml:"true_when"`  // cells that mean true
	FalseWhen  Tokens            `yaml:"false_when"` // cells that mean false; default: the usual opposite
	States     map[string]string // cell text -> canonical state
	Accuracy   float64           // ± in the canonical unit; 0: none stated
	AllowedGap float64           `yaml:"allowed_gap"` // seconds; 0: three typical intervals
	TimeOffset float64           `yaml:"time_offset"` // seconds from the time of its row to the sampling of the word: its place in the frame
	Range      *[2]float64       // plausible values in the canonical unit; replaces the vocabulary's

	// Points lead from what the export writes, rising, to values in Unit. Straight lines
	// join them; the first and the last line go on beyond the ends.
	Points   [][2]float64
	Levels   `yaml:",inline"`
	WordBits `yaml:",inline"`
	Pair     `yaml:",inline"`
}

// Tokens are cell texts.
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

// Flaps holds the detents and the parameters that tell the set one, in order of
// preference. An angle within Tolerance (deg) of a detent, or beyond it, has reached
// it.
type Flaps struct {
	Parameters []string // flap_handle, flap_angle
	Tolerance  float64
	Detents    []Detent
}

// Detent is one flap setting. It may belong to several classes: up, takeoff,
// intermediate, landing. Placard is the highest airspeed in kt; 0: none. States are
// the cell texts for it in a column whose unit is DetentUnit; default: its name.
type Detent struct {
	Name    string
	Angle   float64
	Classes []string
	Placard float64
	States  Tokens
}

// Throttle says when a throttle counts as retarded: when Parameter is below
// RetardedBelow, in the parameter's unit. Parameter is recorded per engine, such as
// throttle_angle or engine_n1.
type Throttle struct {
	Parameter     string
	RetardedBelow float64 `yaml:"retarded_below"`
}

// Limit is a value as a table of points over a canonical numeric parameter: each is
// its number, in the parameter's unit, and the value there. A straight line joins
// neighbours; beyond the ends the value is that of the nearest point. Values rise
// throughout, or fall throughout.
type Limit struct {
	By     string
	Points [][2]float64
}

// ReadProfile reads and checks a profile. The error is Problems or comes from the
// file system.
func ReadProfile(path string) (*Profile, error) {
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, err
	}
	return ParseProfile(path, data)
}
