package trend

import (
	"fmt"

	"downlock/schemas"
)

// Period is a run of months, both included, as places in Tally.Months.
type Period struct{ First, Last int }

func (p Period) has(month int) bool { return p.First <= month && month <= p.Last }

const (
	year         = 12 // months
	fewestMonths = 6  // worth to compare with the same months of the year before
)

// usualMonths is how long the two periods are when nothing else is asked for: a
// year, or what there is beyond the first year, or half of what there is.
func usualMonths(have int) int {
	switch {
	case have >= year+fewestMonths:
		return min(year, have-year)
	default:
		return have / 2
	}
}

// choosePeriods compares the newest months with the same months of the year
// before, so that effects of the season are the same in both; where the
// archive does not reach back so far, with those right before.
func (t *Trend) choosePeriods() error {
	n, have := t.Options.Months, t.over()
	if n == 0 {
		n = usualMonths(have)
	}
	if have < 2 || 2*n > have {
		n = max(n, 1)
		beside := ""
		if t.NotOver() != "" {
			beside = " beside " + t.NotOver() + ", which is not over"
		}
		return &schemas.Problem{File: t.Archive, Cause: fmt.Sprintf("holds %d months in a row%s; comparing two periods of %d needs %d", have, beside, n, 2*n),
			Hint: "choose shorter periods with --months, or wait until there are more flights"}
	}
	t.Recent = Period{have - n, have - 1}
	back := n
	if n < year && n+year <= have {
		back = year
	}
	t.Before = Period{have - n - back, have - 1 - back}
	return nil
}

// over is the number of months that are over. The newest one was not when the archive was
// added to in it: it is shown, and compared with nothing, since half a month is held
// against whole ones otherwise, and a weekend can make an alert of an indicator.
func (t *Trend) over() int {
	months := len(t.Tally.Months)
	if months > 0 && t.Tally.Months[months-1].Name == t.RunMonth {
		return months - 1
	}
	return months
}

// NotOver names the month that is not over, "" where there is none.
func (t *Trend) NotOver() string {
	if t.over() < len(t.Tally.Months) {
		return t.RunMonth
	}
	return ""
}

// Name writes a period.
func (t *Trend) Name(p Period) string {
	first, last := t.Tally.Months[p.First].Name, t.Tally.Months[p.Last].Name
	if first == last {
		return first
	}
	return first + " to " + last
}

// SameSeason says that both periods are the same months of the year, in which a
// season cancels.
func (t *Trend) SameSeason() bool { return (t.Recent.First-t.Before.First)%year == 0 }

// before names the period the recent one is compared with.
func (t *Trend) before() string {
	if t.Recent.First-t.Before.Last > 1 {
		return "the same months a year before"
	}
	return "the period before"
}
