package schemas

import (
	"crypto/sha256"
	"encoding/csv"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"strconv"
	"strings"
	"unicode/utf8"
)

// Aerodrome is a place at which flights begin or end.
type Aerodrome struct {
	Code                string
	Latitude, Longitude float64 // deg, north and east positive
}

// Aerodromes are the aerodromes an operator flies to.
type Aerodromes []Aerodrome

// aerodromeReach (NM) is the farthest an aircraft on a runway may be from the
// aerodrome's reference point. It allows a position error of a mile; common practice.
const aerodromeReach = 5.0

// maxAerodromes bounds a list: there are some 50,000 aerodromes in the world.
const maxAerodromes = 100_000

const aerodromeHint = "write a line of headings, code,latitude,longitude, and then a line for each aerodrome: TARN,46.10,-27.90, in degrees, north and east positive"

// ReadAerodromes reads a list of aerodromes: CSV with the columns code, latitude and
// longitude in any order. It ignores other columns. The error is a Problem or comes
// from the file system.
func ReadAerodromes(path string) (Aerodromes, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return parseAerodromes(path, f)
}

func parseAerodromes(file string, r io.Reader) (list Aerodromes, err error) {
	rows := csv.NewReader(r)
	rows.TrimLeadingSpace = true
	problem := func(line, column int, format string, args ...any) *Problem {
		return &Problem{File: file, Line: line, Column: column, Cause: fmt.Sprintf(format, args...), Hint: aerodromeHint}
	}
	columns := map[string]int{}
	for {
		row, err := rows.Read()
		if err == io.EOF {
			break
		}
		var malformed *csv.ParseError
		if errors.As(err, &malformed) {
			return nil, problem(malformed.Line, malformed.Column, "%v", malformed.Err)
		}
		if err != nil {
			return nil, err
		}
		if len(columns) == 0 {
			for i, name := range row {
				columns[strings.ToLower(strings.TrimSpace(strings.TrimPrefix(name, "\ufeff")))] = i
			}
			for _, name := range []string{"code", "latitude", "longitude"} {
				if _, ok := columns[name]; !ok {
					return nil, problem(1, 0, "the list of aerodromes has no column %s", name)
				}
			}
			continue
		}
		place := func(name string) (line, column int) { return rows.FieldPos(columns[name]) }
		a := Aerodrome{Code: strings.TrimSpace(row[columns["code"]])}
		if line, column := place("code"); a.Code == "" || utf8.RuneCountInString(a.Code) > 40 {
			return nil, problem(line, column, "a code has 1 to 40 characters")
		}
		for _, degrees := range []struct {
			name string
			most float64
			to   *float64
		}{{"latitude", 90, &a.Latitude}, {"longitude", 180, &a.Longitude}} {
			text := strings.TrimSpace(row[columns[degrees.name]])
			v, err := strconv.ParseFloat(text, 64)
			if line, column := place(degrees.name); err != nil || !(math.Abs(v) <= degrees.most) {
				return nil, problem(line, column, "%q is not a %s in degrees", text, degrees.name)
			}
			*degrees.to = v
		}
		if list = append(list, a); len(list) > maxAerodromes {
			return nil, problem(0, 0, "the list has more than %d aerodromes", maxAerodromes)
		}
	}
	if len(list) == 0 {
		return nil, problem(0, 0, "the list of aerodromes is empty")
	}
	return list, nil
}

// SHA256 returns a hash of the list in hex, or "" for an empty list.
func (list Aerodromes) SHA256() string {
	if len(list) == 0 {
		return ""
	}
	h := sha256.New()
	for _, a := range list {
		fmt.Fprintf(h, "%q %v %v\n", a.Code, a.Latitude, a.Longitude)
	}
	return hex.EncodeToString(h.Sum(nil))
}

// At names the aerodrome at a position in degrees: the code of the nearest one
// within reach, or else the position to a tenth of a degree, as in N46.1 W027.9.
func (list Aerodromes) At(latitude, longitude float64) string {
	best, name := aerodromeReach, ""
	for _, a := range list {
		east := math.Remainder(a.Longitude-longitude, 360) * math.Cos(latitude*math.Pi/180)
		if miles := 60 * math.Hypot(a.Latitude-latitude, east); miles <= best {
			best, name = miles, a.Code
		}
	}
	if name == "" {
		name = hemisphere(latitude, "N", "S", 4) + " " + hemisphere(longitude, "E", "W", 5)
	}
	return name
}

func hemisphere(degrees float64, positive, negative string, width int) string {
	tenths := math.Round(degrees * 10)
	if tenths < 0 {
		positive = negative
	}
	return positive + fmt.Sprintf("%0*.1f", width, math.Abs(tenths)/10)
}
