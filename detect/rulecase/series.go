package rulecase

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"downlock/schemas"
)

// mostSamples bounds one series of a case: an hour at 8 Hz.
const mostSamples = 8 * 3600

// parseSeries reads PARAMETER every S from T [accuracy A] [gap G]: VALUES.
func parseSeries(text string, own []schemas.Parameter) (Series, error) {
	head, values, ok := strings.Cut(text, ":")
	f := strings.Fields(head)
	if !ok || len(f) < 5 {
		return Series{}, fmt.Errorf("write series PARAMETER every S from T: VALUES")
	}
	p, known := schemas.FindParameter(f[0], own)
	if !known {
		var names []string
		for _, p := range slices.Concat(schemas.Parameters(), own) {
			names = append(names, p.Name)
		}
		return Series{}, &unknownError{"parameter", f[0], names}
	}
	s := Series{Parameter: p}
	settings := map[string]float64{}
	for i := 1; i+1 < len(f); i += 2 {
		v, err := number(f[i+1])
		if err != nil || !slices.Contains([]string{"every", "from", "accuracy", "gap"}, f[i]) {
			return s, fmt.Errorf("%s %s: write every, from, accuracy or gap and a number", f[i], f[i+1])
		}
		settings[f[i]] = v
	}
	s.Every, s.Accuracy, s.Gap = settings["every"], settings["accuracy"], settings["gap"]
	if s.Every <= 0 {
		return s, fmt.Errorf("every needs seconds above 0")
	}
	if s.Gap == 0 {
		s.Gap = 3 * s.Every
	}
	i := 0
	for _, token := range strings.Fields(values) {
		samples, err := parseSamples(p, token)
		if err != nil {
			return s, err
		}
		for _, v := range samples {
			if v != nil {
				s.Times = append(s.Times, settings["from"]+float64(i)*s.Every)
				s.Values = append(s.Values, *v)
			}
			i++
		}
		if i > mostSamples {
			return s, fmt.Errorf("more than %d samples", mostSamples)
		}
	}
	return s, nil
}

// parseSamples reads one token of VALUES; nil is a missing sample.
func parseSamples(p schemas.Parameter, token string) ([]*float64, error) {
	text, count, repeated := strings.Cut(token, "*")
	n := 1
	if repeated {
		var err error
		if n, err = strconv.Atoi(count); err != nil || n < 1 || n > mostSamples {
			return nil, fmt.Errorf("%q: write VALUE*COUNT", token)
		}
	}
	if ends, steps, ok := strings.Cut(text, "/"); ok {
		return parseRamp(ends, steps)
	}
	var v *float64
	if text != "-" {
		x, err := parseValue(p, text)
		if err != nil {
			return nil, err
		}
		v = &x
	}
	return slices.Repeat([]*float64{v}, n), nil
}

func parseRamp(ends, steps string) ([]*float64, error) {
	a, b, err := parseRange(ends)
	if err != nil {
		return nil, err
	}
	n, err := strconv.Atoi(steps)
	if err != nil || n < 2 || n > mostSamples {
		return nil, fmt.Errorf("%s/%s: write FIRST..LAST/COUNT", ends, steps)
	}
	out := make([]*float64, n)
	for i := range out {
		v := a + (b-a)*float64(i)/float64(n-1)
		out[i] = &v
	}
	return out, nil
}

func parseValue(p schemas.Parameter, text string) (float64, error) {
	if p.Kind == schemas.State {
		i := slices.Index(p.States, text)
		if i < 0 {
			return 0, fmt.Errorf("%s has no state %q, only %s", p.Name, text, strings.Join(p.States, ", "))
		}
		return float64(i), nil
	}
	v, err := number(text)
	if err == nil && p.Kind == schemas.Discrete && v != 0 && v != 1 {
		return 0, fmt.Errorf("%s is a discrete: write 0 or 1, not %s", p.Name, text)
	}
	return v, err
}
